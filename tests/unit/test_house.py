"""The house keeps its rules: small folders, small files, every room named for newcomers."""

from __future__ import annotations

from pathlib import Path

import pytest

import greasecheck

PACKAGE = Path(greasecheck.__file__).parent
ROOT = PACKAGE.parent
MOST_FILES, MOST_LINES = 12, 500
FOLDERS = sorted({path.parent for path in PACKAGE.rglob("*.py")})
pytestmark = pytest.mark.skipif(
    not (ROOT / "DEVELOPERS.md").exists(), reason="an installed wheel has no DEVELOPERS.md"
)


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_folder_holds_a_dozen_files_at_most(folder: Path) -> None:
    files = [path for path in folder.glob("*.py") if path.name != "__init__.py"]
    assert len(files) <= MOST_FILES


def test_no_file_is_longer_than_can_be_read_at_once() -> None:
    long = {
        path.name: lines
        for path in PACKAGE.rglob("*.py")
        if (lines := path.read_text(encoding="utf-8").count("\n")) > MOST_LINES
    }
    assert long == {}


def test_every_room_stands_in_the_page_for_developers() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = [path for path in FOLDERS if PACKAGE not in (path.parent, path)]
    missing = [str(room.relative_to(PACKAGE)) for room in rooms if f"`{room.name}/`" not in page]
    assert missing == []
