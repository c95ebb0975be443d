"""What DEVELOPERS.md says of adding things, done literally in a copy of the package."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

import greasecheck

ROOT = Path(greasecheck.__file__).parents[1]
pytestmark = pytest.mark.skipif(
    not (ROOT / "calibration").is_dir(), reason="an installed wheel is not for adding to"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """A copy of the package, for changes."""

    root: Path

    def insert(self, file: str, line_after: str, line: str) -> None:
        """Add a line of code before another one."""
        path = self.root / file
        text = path.read_text(encoding="utf-8")
        assert text.count(line_after) == 1
        path.write_text(text.replace(line_after, f"{line}\n{line_after}"), encoding="utf-8")

    def append(self, file: str, line: str) -> None:
        """Add a row to a table."""
        with (self.root / file).open("a", encoding="utf-8") as table:
            table.write(f"{line}\n")

    def run(self, *words: str) -> str:
        """Run a command of the copy and return what it answers."""
        environment = {**os.environ, "PYTHONPATH": str(self.root)}
        environment["GREASECHECK_LOGBOOK"] = str(self.root / "season.logbook")
        command = (sys.executable, "-m", "greasecheck", *words)
        done = subprocess.run(
            command, cwd=self.root, env=environment, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        return done.stdout


@pytest.fixture
def house(tmp_path: Path) -> House:
    for name in ("greasecheck", "calibration"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    return House(root=tmp_path)


def test_a_recipe_is_a_member_and_a_row(house: House) -> None:
    house.insert("greasecheck/model/__init__.py", '    OWN = "own"', '    SOAP_SODA = "soap+soda"')
    house.append("calibration/recipes.csv", "soap+soda,soap,2.0,0.9,1.0,0.3")
    house.run("tub", "12", "--volume", "40")
    house.run("skull", "marten 1", "--species", "marten", "--tub", "12")
    house.run("change", "12", "--recipe", "soap+soda")
    answer = json.loads(house.run("forecast", "12", "--json"))
    assert answer["schema"] == 1
    house.run("book", "export", "out")
    assert "soap+soda" in (house.root / "out" / "baths.csv").read_text(encoding="utf-8")


def test_a_species_is_a_row(house: House) -> None:
    header = (house.root / "calibration" / "species.csv").read_text(encoding="utf-8").splitlines()
    names = next(line for line in header if not line.startswith("#")).split(",")
    values = {"species": "wombat", "low_days": "200", "high_days": "400"}
    like = dict(zip(names, header[-1].split(","), strict=True))
    house.append("calibration/species.csv", ",".join((like | values)[name] for name in names))
    house.run("tub", "12")
    house.run("change", "12", "--recipe", "soap")
    house.run("skull", "wombat 1", "--species", "wombat", "--tub", "12")
    [tub] = json.loads(house.run("forecast", "12", "--json"))["tubs"]
    median = next(one["at"] for one in tub["degreased"]["quantiles"] if one["probability"] == 0.5)
    soak = datetime.fromisoformat(median) - datetime.fromisoformat(tub["made_at"])
    assert 200 < soak.days < 400


CHART = '''"""The chart of how often a tub's water was changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.report.charts.style import TUB_HEIGHT_PT, Chart

if TYPE_CHECKING:
    from greasecheck.report.charts.data import TubData


def changes_chart(data: TubData) -> Chart:
    """Chart the changes of a tub, one after the other."""
    return Chart(
        name=f"changes-{data.number}",
        title="Water changes",
        words=f"{len(data.changes)} changes",
        height_pt=TUB_HEIGHT_PT,
        draw=lambda axes: axes.step([one.at for one in data.changes], range(len(data.changes))),
    )
'''


def test_a_chart_is_a_function_and_its_place_in_the_registry(house: House) -> None:
    (house.root / "greasecheck/report/charts/changes.py").write_text(CHART, encoding="utf-8")
    registry = "greasecheck/report/charts/registry.py"
    house.insert(registry, "    bone_chart,\n)", "    changes_chart,")
    house.insert(
        registry,
        "from greasecheck.report.charts.season import",
        "from greasecheck.report.charts.changes import changes_chart",
    )
    house.run("tub", "12")
    house.run("change", "12", "--recipe", "soap")
    house.run("skull", "fox 1", "--species", "fox", "--tub", "12")
    house.run("season", "page.html")
    page = (house.root / "page.html").read_text(encoding="utf-8")
    assert "Water changes" in page
    house.run("season", "--charts", "charts")
    assert (house.root / "charts" / "changes-12.svg").is_file()
