from dataclasses import replace

from greasecheck.measure import read_photo
from greasecheck.model import Verdict
from greasecheck.reference import data_folder
from greasecheck.words.photos.readings import too_murky

MURKY = data_folder("sample_images") / "04_tub14_february.jpg"


def test_a_refused_photo_is_not_called_too_murky() -> None:
    reading = read_photo(MURKY)
    assert too_murky(reading)
    assert not too_murky(replace(reading, verdict=Verdict.REFUSED))
