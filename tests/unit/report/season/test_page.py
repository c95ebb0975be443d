from __future__ import annotations

import base64
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from greasecheck.logbook.today import Ask
from greasecheck.model import Bound
from greasecheck.predict.advice.change_interval import ChangeVerdict
from greasecheck.predict.advice.done import DoneVerdict
from greasecheck.predict.advice.stage import SkullStage, Stage
from greasecheck.predict.advice.stalled import StallVerdict
from greasecheck.report.season.cards import tub_card
from greasecheck.report.season.page import season_page
from greasecheck.report.season.records import Task, Urgency
from greasecheck.report.season.tasks import most_pressing_first, stage_task, tub_tasks
from greasecheck.report.words import haze_words
from tests.unit.report import season_samples as samples

VOID = {"meta", "link", "br", "img", "path", "use"}


class Outline(HTMLParser):
    """Collects what a page is made of, and refuses tags that do not close."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.ids: list[str] = []
        self.links: set[str] = set()
        self.attributes: set[str] = set()
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        named = dict(attrs)
        self.attributes |= set(named)
        self.ids += [named["id"] or ""] if "id" in named else []
        if tag == "a":
            self.links.add(named["href"] or "")
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.fixture(scope="module")
def page() -> str:
    return season_page(samples.season())


@pytest.fixture(scope="module")
def outline(page: str) -> Outline:
    found = Outline()
    found.feed(page)
    return found


def test_the_page_is_whole(outline: Outline) -> None:
    assert outline.open == []
    assert len(outline.ids) == len(set(outline.ids))


def test_every_link_leads_somewhere_on_the_page(outline: Outline) -> None:
    assert {link.removeprefix("#") for link in outline.links} <= set(outline.ids)
    assert all(link.startswith("#") for link in outline.links)


def test_a_name_with_markup_is_text(outline: Outline) -> None:
    assert "script" not in outline.tags
    assert not any(name.startswith("on") for name in outline.attributes)
    said = "".join(outline.words)
    assert samples.NASTY in said


def test_the_page_asks_nothing_of_a_network(page: str) -> None:
    away = re.findall(r"""(?:src|href)="(?!#|data:)([^"]*)""", page)
    assert away == []
    assert "@import" not in page
    assert set(re.findall(r"https?://[^\"' <]+", page)) <= {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
    }


def test_today_comes_before_the_tubs_and_an_invented_season_says_so(page: str) -> None:
    assert page.index("Invented:") < page.index('id="today"') < page.index('id="tubs"')
    assert "Invented" not in season_page(replace(samples.season(), simulated=False))


def test_the_photo_is_in_the_page(page: str) -> None:
    content = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', page)
    assert [base64.b64decode(one) for one in content] == [samples.picture().jpeg]


def test_an_empty_season_is_a_page_too() -> None:
    empty = replace(
        samples.season(), tasks=(), tubs=(), skulls=(), recipes=(), risks=(), charts=(), cautions=()
    )
    page = season_page(empty)
    for words in ("Nothing to do today", "No tub is entered", "No skull is entered", "has soaked"):
        assert words in page


def words_of(*tasks: Task) -> list[tuple[Urgency, str]]:
    return [(task.urgency, task.what) for task in tasks]


def test_what_the_log_asks_for_stands_on_the_list() -> None:
    asked = samples.today(haze=samples.logged(bound=Bound.ABOVE), probable=True, refused=True)
    tasks = list(tub_tasks(asked, None))
    tub = f"tub 12 ({samples.NASTY})"
    assert words_of(*tasks) == [
        (Urgency.TODAY, f"Was the water of {tub} changed? Confirm it"),
        (Urgency.PHOTO, f"Take the photo of {tub} again"),
        (Urgency.PHOTO, f"Dilute the sample of {tub} and photograph it"),
    ]
    assert tasks[0].why == "its haze fell from 20 to 3 per metre by 16 Jan 2026"
    assert tasks[1].why == "the jar is empty; fill it"
    assert {task.link for task in tasks} == {"tub-12"}


def test_a_late_photo_is_asked_for_with_the_day_of_the_last() -> None:
    [task] = tub_tasks(samples.today(haze=samples.logged(), name=None), None)
    assert task.what == "Photograph the water of tub 12"
    assert task.why == "the last one is of 21 Jan 2026"


def test_a_sample_to_dilute_is_one_photo_not_two() -> None:
    murky = samples.today(haze=samples.logged(bound=Bound.ABOVE))
    assert set(murky.asks) == {Ask.DILUTE, Ask.TAKE_PHOTO}
    (task,) = tub_tasks(murky, None)
    assert task.what.startswith("Dilute the sample")


def test_a_tub_without_skulls_needs_no_photo() -> None:
    idle = replace(samples.today(haze=samples.logged()), skulls=())
    assert list(tub_tasks(idle, None)) == []


def test_an_unnamed_tub_goes_by_its_number() -> None:
    [task] = tub_tasks(samples.today(bath=False, name=None), None)
    assert task.what == "Enter what bath tub 12 holds"


def test_the_advice_stands_on_the_list_with_its_reasons() -> None:
    told = samples.advice()
    stalled = replace(
        told,
        stall=replace(
            told.stall,
            verdict=StallVerdict.STALLED,
            began_at=samples.at(18),
            reasons=("since then it is slow", "is the heater on?"),
        ),
        change=replace(told.change, verdict=ChangeVerdict.CHANGE),
        skulls=(replace(told.skulls[0], verdict=DoneVerdict.DONE),),
    )
    fresh = samples.today(haze=samples.logged(day=19))
    tasks = list(tub_tasks(fresh, stalled))
    assert [task.urgency for task in tasks] == [Urgency.TROUBLE, Urgency.TODAY, Urgency.TODAY]
    assert tasks[1].why == told.change.reasons[0]
    assert tasks[0].why == "Since 23 Jan 2026 it is slow. Is the heater on?"
    assert "is done: take it out of tub 12" in tasks[2].what
    quiet = replace(
        stalled, stall=told.stall, change=replace(told.change, verdict=ChangeVerdict.WAIT)
    )
    soaking = replace(quiet, skulls=(replace(told.skulls[0], verdict=DoneVerdict.WATER_NOT_CLEAR),))
    assert list(tub_tasks(fresh, soaking)) == []


def test_the_most_pressing_comes_first_and_order_is_kept_otherwise() -> None:
    tasks = [
        Task(urgency=urgency, what=str(n))
        for n, urgency in enumerate((Urgency.KNOW, Urgency.TODAY, Urgency.TROUBLE, Urgency.TODAY))
    ]
    assert [task.what for task in most_pressing_first(tasks)] == ["2", "1", "3", "0"]


def stage(stage: Stage, due_day: float | None) -> SkullStage:
    return SkullStage(
        stage=stage,
        since=samples.START,
        next_step="dry it",
        next_at=None if due_day is None else samples.at(due_day),
        promise_at=None,
    )


def test_a_step_stands_on_the_list_once_it_is_due() -> None:
    due = stage_task("vixen", stage(Stage.RINSING, 10), samples.NOW)
    assert due is not None
    assert due.what == "vixen: dry it"
    assert due.why == "soaking after whitening since 5 Jan 2026"
    assert stage_task("vixen", stage(Stage.RINSING, 30), samples.NOW) is None
    assert stage_task("vixen", stage(Stage.RINSING, None), samples.NOW) is None
    assert stage_task("vixen", stage(Stage.SOAKING, 10), samples.NOW) is None


@pytest.mark.parametrize(
    ("bound", "words"),
    [
        (None, "12.0 ± 0.4 per metre"),
        (Bound.ABOVE, "above 12.0 per metre"),
        (Bound.BELOW, "below 12.0 per metre"),
    ],
)
def test_a_haze_has_its_unit_and_its_uncertainty_or_side(bound: Bound | None, words: str) -> None:
    assert haze_words(samples.logged(bound=bound)) == words


def test_a_card_tells_the_numbers_of_log_and_advice() -> None:
    told = samples.advice()
    shown = samples.today(haze=samples.logged())
    card = tub_card(shown, samples.history(), told, samples.bones()[:1], (), None)
    values = {fact.name: fact.value for fact in card.facts}
    low, middle, high = told.forecast.gain_now_per_m
    assert values["Haze"] == "12.0 ± 0.4 per metre"
    meanings = {fact.name: fact.meaning for fact in card.facts}
    assert meanings["Haze"].endswith(", rises 1.2 a day in this water")
    assert values[f"Yellowness of {samples.NASTY}"] == "35 ± 1 (E313)"
    assert (
        values["Fresh soak of 3 days gains"] == f"{middle:.1f} per metre ({low:.1f} to {high:.1f})"
    )
    assert card.title == f"Tub 12 ({samples.NASTY}): {samples.NASTY} (fox)"


@pytest.mark.parametrize(
    ("trend", "words"),
    [(None, "2026"), (0.04, ", flat in this water"), (-0.5, ", falls 0.5 a day in this water")],
)
def test_a_haze_tells_its_course(trend: float | None, words: str) -> None:
    shown = replace(samples.today(haze=samples.logged()), trend_per_m_per_day=trend)
    card = tub_card(shown, samples.history(), None, (), (), None)
    assert card.facts[0].meaning.endswith(words)


def test_the_headline_says_what_matters_most() -> None:
    told, shown = samples.advice(), samples.today()

    def headline(stall: StallVerdict, change: ChangeVerdict) -> str:
        advice = replace(
            told,
            stall=replace(told.stall, verdict=stall, began_at=samples.at(18)),
            change=replace(told.change, verdict=change),
        )
        return tub_card(shown, samples.history(), advice, (), (), None).headline

    assert "too slowly since 23 Jan 2026" in headline(StallVerdict.STALLED, ChangeVerdict.CHANGE)
    assert (
        headline(StallVerdict.STEADY, ChangeVerdict.CLEAR)
        == "The water is clear; the bone decides."
    )
    assert headline(StallVerdict.STEADY, ChangeVerdict.WAIT).startswith("Clear about ")


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (DoneVerdict.DONE, "and the bone has settled: done."),
        (DoneVerdict.YELLOW_PATCHES, "but the bone has yellow patches."),
        (DoneVerdict.BONE_PALING, "but the bone still pales."),
        (DoneVerdict.LOOK_AT_BONE, "the bone decides."),
    ],
)
def test_in_clear_water_the_bone_has_the_last_word(verdict: DoneVerdict, words: str) -> None:
    told = samples.advice()
    clear = replace(
        told,
        change=replace(told.change, verdict=ChangeVerdict.CLEAR),
        skulls=(replace(told.skulls[0], verdict=verdict),),
    )
    card = tub_card(samples.today(), samples.history(), clear, (), (), None)
    assert card.headline.startswith("The water is clear")
    assert card.headline.endswith(words)
    assert {fact.name: fact.value for fact in card.facts}["Next water change"] == "not needed"


def test_a_tub_that_cannot_be_advised_says_why() -> None:
    shown = samples.today(bath=False)
    assert tub_card(shown, None, None, (), (), None).headline.startswith("No skull degreases")
    wrong = tub_card(shown, None, None, (), (), None, fault="a bath of 400 degrees")
    assert wrong.headline == "a bath of 400 degrees"
