"""Every code of a comparison of recipes and of a camera's round has its words."""

from greasecheck.model.camera_notices import NoticeKind
from greasecheck.model.recipe_ratios import RecipeNoteCode, RecipeVerdict
from greasecheck.words.photos.camera import NOTICES
from greasecheck.words.recipes import NOTES, REASONS


def test_every_code_has_words() -> None:
    assert set(NOTES) == set(RecipeNoteCode)
    assert set(REASONS) == set(RecipeVerdict) - {RecipeVerdict.NOT_RANKED}
    assert set(NOTICES) == set(NoticeKind)
