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
from PIL import Image, ImageOps

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

    def run(self, *words: str, status: int = 0) -> str:
        """Run a command of the copy, which ends with that status, and return what it answers."""
        environment = {**os.environ, "PYTHONPATH": str(self.root)}
        environment["GREASECHECK_LOGBOOK"] = str(self.root / "season.logbook")
        command = (sys.executable, "-m", "greasecheck", *words)
        done = subprocess.run(
            command, cwd=self.root, env=environment, capture_output=True, text=True, check=False
        )
        assert done.returncode == status, done.stderr
        return done.stdout


@pytest.fixture
def house(tmp_path: Path) -> House:
    for name in ("greasecheck", "calibration"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    return House(root=tmp_path)


def test_a_recipe_is_a_member_and_a_row(house: House) -> None:
    house.insert("greasecheck/model/__init__.py", '    OWN = "own"', '    SOAP_SODA = "soap+soda"')
    house.insert("greasecheck/reference/cautions.py", '    OWN = "own"', '    SODA = "soda"')
    house.append("calibration/recipes.csv", "soap+soda,soap;soda,2.0,0.9,1.0,0.3")
    house.append("calibration/cautions.csv", 'lye,soda,care,"Soda stings: wear goggles."')
    assert "Soda stings" in house.run("cautions", "soda")
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
    house.append("calibration/fat_melting.csv", "wombat,44,55")
    house.run("tub", "12", "--new")
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
    house.run("tub", "12", "--new")
    house.run("change", "12", "--recipe", "soap")
    house.run("skull", "fox 1", "--species", "fox", "--tub", "12")
    house.run("season", "page.html")
    page = (house.root / "page.html").read_text(encoding="utf-8")
    assert "Water changes" in page
    house.run("season", "--charts", "charts")
    assert (house.root / "charts" / "changes-12.svg").is_file()


def test_a_check_is_a_limit_a_row_its_words_and_its_place(house: House) -> None:
    house.insert(
        "greasecheck/measure/checks/limits.py",
        "# Exposure, light and colours of the sheet",
        'SIZE = Limit(name="sheet_width_px", doubtful=9e3, refused=100.0)',
    )
    house.insert(
        "greasecheck/measure/checks/verdict.py",
        "    if placement.tag_scale is not None:",
        "    rows.append(limits.SIZE.check(placement.pixels_per_mm * placement.geometry.width_mm))",
    )
    house.insert(
        "greasecheck/words/photos/check_texts.py",
        'WATER = {\n    "fine',
        'THE_PHOTO_AND_SHEET["sheet_width_px"] = "the sheet has few pixels: go closer"',
    )
    house.insert(
        "greasecheck/model/check_places.py",
        "# What lies in the camera,",
        'CHECKS_AT[Place.CHART] += " sheet_width_px"',
    )
    photo = str(ROOT / "sample_images" / "02_tub12_january.jpg")
    [reading] = json.loads(house.run("read", photo, "--json"))["readings"]
    [row] = [row for row in reading["checks"] if row["name"] == "sheet_width_px"]
    assert row["advice"] == "the sheet has few pixels: go closer"
    assert not row["passed"]
    assert reading["verdict"] == "doubtful"


def test_a_sheet_is_a_geometry_and_its_patch_values(house: House) -> None:
    tables = house.root / "calibration"
    design = (tables / "sheet_v2.toml").read_text(encoding="utf-8")
    for old, new in (
        ("version = 2", "version = 6"),
        ("v2_nominal", "v6_nominal"),
        ("id = 5", "id = 9"),
    ):
        assert design.count(old) == 1
        design = design.replace(old, new)
    (tables / "sheet_v6.toml").write_text(design, encoding="utf-8")
    shutil.copy(tables / "sheet_v2_nominal.cgats", tables / "sheet_v6_nominal.cgats")
    house.run("sheet", "print", "area.png", "--dpi", "200")
    with Image.open(house.root / "area.png") as area:
        photo = ImageOps.expand(area.convert("RGB"), 200, (120, 120, 120))
    photo.point(lambda level: round(0.85 * level)).save(house.root / "photo.jpg")
    answer = house.run("read", "photo.jpg", "--json", status=1)  # neither jar nor bone
    [reading] = json.loads(answer)["readings"]
    assert reading["sheet_version"] == 6
    assert {row["name"]: row["passed"] for row in reading["checks"]}["sheet_px_per_mm"]


def test_a_form_of_leaching_is_a_member_a_spectrum_and_a_weight(house: House) -> None:
    house.insert(
        "greasecheck/predict/model/kinetics.py",
        '    BROAD = "broad spectrum of rates"',
        '    ONE_POOL = "one pool"',
    )
    house.insert(
        "greasecheck/predict/fit/parameters.py",
        '        slow = _logit_normal("slow_share", z[0])',
        "        if self.form is Form.ONE_POOL:\n"
        "            return Spectrum(ratios=np.ones_like(z[:1]), weights=np.ones_like(z[:1]))",
    )
    house.insert(
        "greasecheck/predict/fit/posterior.py", "Form.TWO_POOLS: 0.36", "Form.ONE_POOL: 0.2,"
    )
    house.run("tub", "12", "--new")
    house.run("change", "12", "--recipe", "soap")
    house.run("skull", "fox 1", "--species", "fox", "--tub", "12")
    [tub] = json.loads(house.run("forecast", "12", "--json"))["tubs"]
    assert "one pool" in [found["form"] for found in tub["forms"]]
