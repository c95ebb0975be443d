"""Commands of every day answer at once: they import nothing heavy."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from greasecheck.cli import INTERRUPTED, main
from greasecheck.reference.folder import data_folder
from tests.benchmarks.start_up import HEAVY, LIGHT, make_small_logbook, modules_of

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("start_up") / "season.logbook"
    make_small_logbook(path)
    return path


@pytest.mark.parametrize("command", LIGHT)
def test_a_light_command_imports_nothing_heavy(command: str, logbook: Path) -> None:
    modules = modules_of(command, logbook)
    assert "greasecheck" in modules
    assert modules.isdisjoint(HEAVY)


def test_reading_a_photo_of_the_sheet_waits_for_no_library_that_it_does_not_need(
    logbook: Path,
) -> None:
    photo = data_folder("sample_images") / "03_tub12_february.jpg"
    modules = modules_of(f"read --no-log {photo}", logbook)
    assert "greasecheck.measure.bone.look" in modules
    unneeded = {"scipy", "skimage", "sklearn", "matplotlib", "jinja2", "numpy.ma"}
    assert modules.isdisjoint(unneeded)


def test_photos_are_found_before_anything_heavy_is_loaded() -> None:
    code = "import sys; from greasecheck.measure.many import find_photos; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, text=True
    )
    assert "greasecheck.measure.workers" in loaded.stdout.split()
    assert set(HEAVY).isdisjoint(loaded.stdout.split())


def test_ctrl_c_while_it_is_loaded_ends_it_quietly(monkeypatch: pytest.MonkeyPatch) -> None:
    class Interrupted:
        def __getattr__(self, name: str) -> object:
            raise KeyboardInterrupt

    monkeypatch.setitem(sys.modules, "greasecheck.cli.app", Interrupted())
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == INTERRUPTED
