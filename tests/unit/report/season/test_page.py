from __future__ import annotations

import base64
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from greasecheck.model import Bound
from greasecheck.report.charts.registry import Part
from greasecheck.report.season.cards import tub_card
from greasecheck.report.season.page import season_page
from greasecheck.words.figures import haze_words
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
    assert page.index("Invented:") < page.index('id="today"') < page.index('id="tub-12"')
    assert "Invented" not in season_page(replace(samples.season(), simulated=False))


def test_signs_that_are_not_known_are_named_as_those_that_are(page: str) -> None:
    assert "Not known: yellow patches by the last photos of its soak</p>" in page


def test_the_page_says_where_the_day_to_promise_stands(page: str) -> None:
    skulls = page.partition('id="skulls"')[2].partition("</details>")[0]
    assert "<h2>Skulls, and what day to promise</h2>" in skulls
    assert "Day to promise: <strong>" in skulls


def test_why_clear_and_degreased_differ_is_said_once(page: str) -> None:
    assert page.count("so the two days differ") == 1


def test_the_photo_is_in_the_page(page: str) -> None:
    content = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', page)
    assert [base64.b64decode(one) for one in content] == [samples.picture().jpeg]


def test_an_empty_season_is_a_page_too() -> None:
    empty = replace(
        samples.season(),
        tasks=(),
        tubs=(),
        skulls=(),
        recipes=(),
        risks=(),
        charts=dict.fromkeys(Part, ()),
        cautions=(),
    )
    page = season_page(empty)
    for words in ("Nothing to do today", "No tub is entered", "No skull is entered", "has soaked"):
        assert words in page


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
    answer = samples.answered(shown, told)
    card = tub_card(shown, samples.history(), told, samples.bones()[:1], (), None, answer=answer)
    values = {fact.name: fact.value for fact in card.facts}
    low, middle, high = told.forecast.grease_left_share
    assert values["Haze"] == "12.0 ± 0.4 per metre"
    meanings = {fact.name: fact.meaning for fact in card.facts}
    assert meanings["Haze"].endswith(", rises 1.2 a day in this water")
    assert values[f"Yellowness of {samples.NASTY}"] == "35 ± 1"
    assert values["Grease left in the bone"] == f"{middle:.0%} ({low:.0%} to {high:.0%})"
    assert meanings["Water runs clear"].startswith("a fresh bath left for 14 days gains ")
    assert card.inside == f"{samples.NASTY} (fox)"


def test_a_card_names_what_is_in_the_tub_now_not_what_was_taken_out() -> None:
    shown = replace(samples.today(), skulls=("cat 2",))
    answer = samples.answered(shown, None)
    card = tub_card(shown, samples.history(), None, (), (), None, answer=answer)
    assert card.inside == "cat 2"


@pytest.mark.parametrize(
    ("trend", "words"),
    [(None, "2026"), (0.04, ", flat in this water"), (-0.5, ", falls 0.5 a day in this water")],
)
def test_a_haze_tells_its_course(trend: float | None, words: str) -> None:
    shown = replace(samples.today(haze=samples.logged()), trend_per_m_per_day=trend)
    answer = samples.answered(shown, None)
    card = tub_card(shown, samples.history(), None, (), (), None, answer=answer)
    assert card.facts[0].meaning.endswith(words)
