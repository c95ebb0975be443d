"""The house keeps its rules: small folders, small files, every room named for newcomers."""

from __future__ import annotations

import re
from graphlib import TopologicalSorter
from pathlib import Path

import grimp
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


def test_no_sql_numbers_its_placeholders() -> None:
    """Python 3.12.0 to 3.12.3 take "?1" for a named one, and warn of a tuple."""
    numbered = re.compile(r"= \?\d")
    found = [path for path in PACKAGE.rglob("*.py") if numbered.search(path.read_text("utf-8"))]
    assert found == []


def test_every_room_stands_in_the_page_for_developers() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = [path for path in FOLDERS if PACKAGE not in (path.parent, path)]
    missing = [str(room.relative_to(PACKAGE)) for room in rooms if f"`{room.name}/`" not in page]
    assert missing == []


def test_no_module_imports_itself_by_a_detour() -> None:
    graph = grimp.build_graph("greasecheck", cache_dir=None)
    imports = {name: graph.find_modules_directly_imported_by(name) for name in graph.modules}
    assert len(tuple(TopologicalSorter(imports).static_order())) >= len(imports)
