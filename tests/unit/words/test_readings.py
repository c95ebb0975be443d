from dataclasses import replace

from greasecheck.measure import read_photo
from greasecheck.model import Verdict
from greasecheck.reference import data_folder
from greasecheck.words.photos.readings import patch_share_words, too_murky

MURKY = data_folder("sample_images") / "04_tub14_february.jpg"


def test_a_refused_photo_is_not_called_too_murky() -> None:
    reading = read_photo(MURKY)
    assert too_murky(reading)
    assert not too_murky(replace(reading, verdict=Verdict.REFUSED))


def test_a_share_of_patches_is_shown_with_its_error() -> None:
    bone = read_photo(MURKY).bone
    assert bone is not None
    sure = replace(bone, yellow_patch_share=0.354, yellow_share_std=0.071)
    assert patch_share_words(sure) == "35 ± 7 %"
