"""An invented season for tests of the page and its charts: one tub fitted for real."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from io import BytesIO

from PIL import Image

from greasecheck.answers import TubAnswer
from greasecheck.garage.answers import tub_answer
from greasecheck.garage.soaks.refresh import brief_of
from greasecheck.logbook.records import Attempt, Bath, LoggedReading, ProbableChange, Tub
from greasecheck.logbook.today import TubToday
from greasecheck.model import BoneState, Bound, ReadingKind, Recipe, Verdict
from greasecheck.model.recipe_ratios import Hindrance, RateRatio, RatioInterval, RecipeVerdict
from greasecheck.predict.advice.bone_trend import BoneLook
from greasecheck.predict.advice.decisions import TubAdvice, advise
from greasecheck.predict.advice.done import SkullBone
from greasecheck.predict.records import HazeReading, SoakingSkull, TubHistory, WaterChange
from greasecheck.predict.yellowing.records import RiskInterval, RiskReason, YellowingRisk
from greasecheck.reference.cautions import Ingredient, cautions_for
from greasecheck.report.charts.data import SeasonData, TubData, TubEnd
from greasecheck.report.charts.registry import season_charts, tub_charts
from greasecheck.report.season.cards import tub_card
from greasecheck.report.season.records import (
    Picture,
    RecipeRow,
    RiskRow,
    Season,
    SkullRow,
)
from greasecheck.words.risk import MEANINGS

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
DAYS = 20
NOW = START + timedelta(days=DAYS)
NASTY = "<script>alert('fox')</script> & \"$x_1$\""
CLEAN_YI = 22.5


def at(day: float) -> datetime:
    return START + timedelta(days=day)


def history() -> TubHistory:
    """A fox's tub, changed every 4 days; one doubtful reading and two bounds."""
    readings = [
        HazeReading(
            at=at(day + 0.4),
            attenuation_per_m=2.0 + 6.0 * (day % 4) * 0.97**day,
            std_per_m=0.4,
            verdict=Verdict.DOUBTFUL if day == 9 else Verdict.GOOD,
        )
        for day in range(DAYS)
    ]
    bounds = [
        HazeReading(at=at(3.6), attenuation_per_m=15.0, std_per_m=1.0, bound=Bound.ABOVE),
        HazeReading(at=at(4.1), attenuation_per_m=9.0, std_per_m=1.0, bound=Bound.BELOW),
    ]
    return TubHistory(
        skulls=(SoakingSkull(name=NASTY, species="fox", since=START),),
        changes=tuple(WaterChange(at=at(day), temperature_c=40.0) for day in range(0, DAYS, 4)),
        readings=(*readings, *bounds),
    )


def bones() -> tuple[SkullBone, ...]:
    return tuple(
        SkullBone(
            name=name,
            looks=tuple(
                BoneLook(
                    at=at(day),
                    yi_e313=45.0 - 0.6 * day,
                    yi_std=0.6,
                    yellow_patch_share=0.2,
                    state=BoneState.BLOTTED,
                    verdict=Verdict.DOUBTFUL if day == 6 else Verdict.GOOD,
                )
                for day in days
            ),
        )
        for name, days in ((NASTY, range(1, DAYS, 5)), ("vixen", range(2, DAYS, 4)), ("cub", ()))
    )


@cache
def advice() -> TubAdvice:
    return advise(history(), NOW, bones=bones()[:1])


def logged(
    *,
    haze: float | None = 12.0,
    bound: Bound | None = None,
    bone: float | None = 33.0,
    day: float = 16,
) -> LoggedReading:
    return LoggedReading(
        key="a",
        tub=12,
        taken_at=at(day),
        verdict=Verdict.GOOD,
        wrong=False,
        kind=ReadingKind.JAR,
        skull=None,
        bone_area_mm2=4000.0,
        drawn=None,
        photo_path="photos/one.jpg",
        attenuation_per_m=haze,
        attenuation_std_per_m=0.4,
        bound=bound,
        decay_per_m=None,
        decay_std_per_m=None,
        level_mm=None,
        level_std_mm=None,
        turbidity=None,
        turbidity_std=None,
        turbidity_unit=None,
        tint_yi=None,
        bone_yi_e313=bone,
        bone_yi_std=0.6,
        bone_yellow_patch_share=0.2,
        bone_yellow_share_std=0.03,
        bone_state=BoneState.BLOTTED,
        note=None,
    )


def today(
    *,
    haze: LoggedReading | None = None,
    probable: bool = False,
    refused: bool = False,
    bath: bool = True,
    name: str | None = NASTY,
) -> TubToday:
    return TubToday(
        at=NOW,
        tub=Tub(number=12, name=name),
        haze=haze,
        trend_per_m_per_day=1.25 if haze else None,
        bath=Bath(tub=12, filled_at=at(16), recipe=Recipe.SOAP, temperature_c=40.0)
        if bath
        else None,
        skulls=(NASTY,),
        soak_since=START,
        bone=logged(),
        unentered=(
            ProbableChange(
                tub=12, earliest=at(10), latest=at(11), before_per_m=20.0, after_per_m=3.0
            ),
        )
        if probable
        else (),
        refused=Attempt(
            photo_sha256="b",
            photo_path="photos/two.jpg",
            tried_at=NOW,
            tub=12,
            taken_at=NOW,
            problem="the jar is empty",
            hint="fill it",
        )
        if refused
        else None,
    )


def tub_data(*, fitted: bool = True) -> TubData:
    found = history()
    return TubData(
        number=12,
        readings=found.readings,
        changes=found.changes,
        forecast=advice().forecast if fitted else None,
        now=NOW,
        bones=bones(),
        clean_yi=CLEAN_YI,
    )


def ratio(*, ranked: bool = True) -> RateRatio:
    return RateRatio(
        recipe=Recipe.AMMONIA,
        baseline=Recipe.SOAP,
        tubs=3,
        baseline_tubs=4,
        verdict=RecipeVerdict.OPEN if ranked else RecipeVerdict.NOT_RANKED,
        hindrance=None if ranked else Hindrance.FEW_TUBS,
        ratio=1.3 if ranked else None,
        intervals=tuple(
            RatioInterval(probability=p, low=1.3 / width, high=1.3 * width)
            for p, width in ((0.5, 1.2), (0.8, 1.5), (0.95, 2.0))
        )
        if ranked
        else (),
        probability_faster=0.8 if ranked else None,
        plain_ratio=1.2 if ranked else None,
        more_tubs_each=6,
    )


def risk(probability: float = 0.3) -> YellowingRisk:
    return YellowingRisk(
        probability=probability,
        intervals=tuple(
            RiskInterval(probability=p, low=probability * (1 - p), high=probability + 0.3 * p)
            for p in (0.5, 0.8, 0.95)
        ),
        reasons=tuple(
            RiskReason(feature=name, value=1.0, std=0.1, odds_factor=2.0)
            for name in tuple(MEANINGS)[:4]
        ),
        unmeasured=("yellow_patch_share",),
    )


def picture() -> Picture:
    content = BytesIO()
    Image.new("RGB", (60, 40), (120, 90, 60)).save(content, format="JPEG")
    return Picture(jpeg=content.getvalue(), words="What was found on the photo of 21 Jan 2026")


def answered(shown: TubToday, told: TubAdvice | None) -> TubAnswer:
    return tub_answer(shown, brief_of(told) if told else None, made_at=shown.at)


def season() -> Season:
    """A whole page, with a nasty name wherever a person's words go."""
    first = today(haze=logged(), refused=True)
    answer = answered(first, advice())
    charts = tub_charts(tub_data())
    whole = SeasonData(
        now=NOW,
        ends={NASTY: TubEnd(dates=advice().degreased)},
        ratios=[ratio()],
        risks={NASTY: risk()},
    )
    return Season(
        made_at=NOW,
        tasks=answer.tasks,
        tubs=(tub_card(first, history(), advice(), bones(), charts, picture(), answer=answer),),
        skulls=(
            SkullRow(
                name=NASTY,
                species="fox",
                owner=NASTY,
                stage="soaking",
                next_step="soak on",
                next_day="2 Mar 2026",
                promise="24 Mar 2026",
            ),
        ),
        recipes=(RecipeRow(title="ammonia against soap: open", lines=("3 against 4 tubs",)),),
        recipe_notes=("few tubs",),
        risks=(RiskRow(name=NASTY, standing="soaking", risk=risk()),),
        risk_trust=("no follow-up yet",),
        cautions=cautions_for(*Ingredient),
        charts=season_charts(whole),
        simulated=True,
    )
