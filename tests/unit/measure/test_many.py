from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NoReturn

import pytest

from greasecheck.errors import PhotoError
from greasecheck.measure.many import find_photos, map_photos


def name_length(path: Path) -> int:
    return len(path.name)


def test_folders_are_searched_and_files_taken_as_named(tmp_path: Path) -> None:
    wanted = [tmp_path / "b.JPG", tmp_path / "c.gif", tmp_path / "deep" / "a.heic"]
    others = [tmp_path / "notes.txt", tmp_path / ".hidden.jpg", tmp_path / ".trash" / "c.jpg"]
    for path in (*wanted, *others):
        path.parent.mkdir(exist_ok=True)
        path.touch()
    named = tmp_path / "notes.txt"
    assert find_photos([tmp_path]) == tuple(wanted)
    assert find_photos([named, wanted[0], tmp_path]) == (named, *wanted)
    assert find_photos([]) == ()


@pytest.mark.parametrize(
    ("installed", "wanted"), [(True, ["a.DNG", "b.jpg"]), (False, ["a.jpg", "b.jpg"])]
)
def test_raw_files_stand_for_the_pictures_beside_them_where_they_can_be_read(
    installed: bool, wanted: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a.jpg", "a.DNG", "b.jpg", ".c.dng"):
        (tmp_path / name).touch()
    monkeypatch.setattr("greasecheck.measure.many.reads_raw", lambda: installed)
    assert [path.name for path in find_photos([tmp_path])] == wanted
    assert [path.name for path in find_photos([tmp_path / "a.jpg"])] == ["a.jpg"]


def test_a_folder_that_may_not_be_looked_into_is_not_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def closed(folder: Path, onerror: Callable[[OSError], None]) -> Iterator[NoReturn]:
        onerror(PermissionError(13, "Permission denied", str(folder / "locked")))
        yield from ()

    monkeypatch.setattr("greasecheck.measure.many.os.walk", closed)
    with pytest.raises(PhotoError, match="locked: Permission denied"):
        find_photos([tmp_path])


@pytest.mark.parametrize("processes", [1, 2])
@pytest.mark.parametrize("count", [0, 1, 3, 25])
def test_results_come_in_order(count: int, processes: int) -> None:
    paths = [Path("x" * (n + 1)) for n in range(count)]
    assert list(map_photos(name_length, paths, processes)) == list(range(1, count + 1))


def test_a_stop_leaves_the_rest_undone() -> None:
    paths = [Path("x" * (n + 1)) for n in range(200)]
    results = map_photos(name_length, paths, 2)
    assert next(results) == 1
    results.close()  # type: ignore[attr-defined]
    assert next(results, None) is None
