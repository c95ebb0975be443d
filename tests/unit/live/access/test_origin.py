"""Nothing is answered to other names, to other pages' posts, or to who is not paired."""

from __future__ import annotations

import socket
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from werkzeug.datastructures import Headers

from greasecheck.errors import LiveError
from greasecheck.live.access.origin import (
    LOOPBACK,
    is_own_name,
    is_own_page,
    lan_addresses,
    lan_names,
)
from greasecheck.live.access.pairing import (
    CODE_DIGITS,
    COOKIE,
    MOST_ADDRESSES,
    MOST_PAIRED,
    TRIES,
    TRIES_OF_ALL,
    WAIT_S,
    Pairing,
)
from greasecheck.live.app import MOST_NUMBER
from tests.unit.live.phones import OWN, Phone, begin_season, make_phone, paired

if TYPE_CHECKING:
    from pathlib import Path

    from werkzeug.test import TestResponse


@pytest.mark.parametrize(
    ("host", "own"),
    [
        ("localhost", True),
        ("LOCALHOST:8377", True),
        ("127.0.0.1:8377", True),
        ("[::1]:8377", True),
        ("evil.example", False),
        ("localhost.evil.example", False),
        ("evil.example:8377", False),
        ("localhost:8377@evil.example", False),
        ("localhost evil", False),
        ("", False),
        ("192.168.1.5", False),
    ],
)
def test_only_own_names_are_answered(host: str, own: bool) -> None:
    assert is_own_name(host, LOOPBACK) is own


@pytest.mark.parametrize(
    ("headers", "own"),
    [
        ({"Origin": "http://localhost:1"}, True),
        ({"Sec-Fetch-Site": "same-origin", "Origin": "http://localhost:1"}, True),
        ({"Sec-Fetch-Site": "same-origin"}, True),
        ({"Sec-Fetch-Site": "cross-site", "Origin": "http://localhost:1"}, False),
        ({"Sec-Fetch-Site": "same-site"}, False),
        ({"Sec-Fetch-Site": "none"}, False),
        ({"Origin": "null"}, False),
        ({"Origin": "http://evil.example"}, False),
        ({"Origin": "http://localhost:2"}, False),
        ({}, False),
    ],
)
def test_posts_of_other_pages_are_told_apart(headers: dict[str, str], own: bool) -> None:
    assert is_own_page(Headers(headers), "localhost:1") is own


def test_own_names_on_the_network_hold_the_loopback_and_every_address() -> None:
    assert {*LOOPBACK, *lan_addresses(), socket.gethostname().lower()} <= lan_names()
    assert not any(address.startswith("127.") for address in lan_addresses())


def test_a_computer_without_network_has_no_addresses(monkeypatch: pytest.MonkeyPatch) -> None:
    def unreachable(*_: object) -> None:
        raise OSError

    monkeypatch.setattr(socket.socket, "connect", unreachable)
    monkeypatch.setattr(socket, "getaddrinfo", unreachable)
    assert lan_addresses() == ()


def test_a_foreign_name_gets_no_page(phone: Phone) -> None:
    answer = phone.client.get("/", headers={"Host": "evil.example"})
    assert answer.status_code == 421
    assert "by the door" not in answer.text


def test_a_post_from_another_page_changes_nothing(phone: Phone) -> None:
    token = phone.token()
    for headers in ({}, {"Origin": "http://evil.example"}, {"Sec-Fetch-Site": "cross-site"}):
        answer = phone.client.post("/tubs/12/changed", data={"form_token": token}, headers=headers)
        assert answer.status_code == 403
    assert phone.count("baths") == 1


def test_a_post_without_a_token_of_ours_changes_nothing(phone: Phone) -> None:
    for token in ("", "a.b", f"{phone.token()}0"):
        answer = phone.client.post("/tubs/12/changed", data={"form_token": token}, headers=OWN)
        assert answer.status_code == 400
        assert "started anew" in answer.text
    assert phone.count("baths") == 1


NUMBER = f"<int(max={MOST_NUMBER}):number>"


def all_requests(phone: Phone) -> list[tuple[str, TestResponse]]:
    """Ask for everything there is, and something there is not."""
    found = []
    for rule in phone.app.url_map.iter_rules():
        path = rule.rule.replace("<token>", "abc").replace(NUMBER, "12")
        for method in sorted((rule.methods or set()) | {"POST", "PUT", "DELETE"}):
            if path != "/pair":
                headers = {} if method in {"GET", "HEAD"} else OWN
                answer = phone.client.open(path, method=method, headers=headers)
                found.append((f"{method} {path}", answer))
    found.append(("GET nowhere", phone.client.get("/static/style.css")))
    return found


def test_every_address_has_its_headers(phone: Phone) -> None:
    for _, answer in all_requests(phone):
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Referrer-Policy"] == "same-origin"


class Clock:
    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class Terminal(list[str]):
    """Keeps the codes that were shown."""

    @property
    def code(self) -> str:
        return self[-1]


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def terminal() -> Terminal:
    return Terminal()


@pytest.fixture
def pairing(terminal: Terminal, clock: Clock) -> Pairing:
    return Pairing(terminal.append, clock)


@pytest.fixture
def guarded(tmp_path: Path, pairing: Pairing) -> Phone:
    begin_season(tmp_path / "season.logbook", datetime.now(UTC))
    return make_phone(tmp_path, pairing=pairing)


def test_without_the_code_nothing_is_answered(guarded: Phone) -> None:
    answers = all_requests(guarded)
    assert len(answers) > 40
    for asked, answer in answers:
        assert answer.status_code in {303, 403}, asked
        assert answer.location in {None, "/pair"}, asked
        for secret in ("by the door", "tub 12", "Tub 12", "fox 3"):
            assert secret not in answer.text, asked
    assert guarded.count("entries") == 4


def test_who_was_paired_before_a_restart_is_told_to_pair_again(guarded: Phone) -> None:
    answer = guarded.client.post("/tubs/12/reading", data={"haze": "13.2"}, headers=OWN)
    assert answer.status_code == 403
    assert "not paired any more" in answer.text
    assert 'href="/pair"' in answer.text


def test_who_is_not_paired_sends_little(guarded: Phone) -> None:
    token = guarded.token("/pair")
    answer = guarded.post("/pair", {"code": "1" * 150_000}, token=token)
    assert answer.status_code == 413


def test_the_code_lets_in_once_typed(guarded: Phone, pairing: Pairing, terminal: Terminal) -> None:
    paired(guarded, pairing, f" {terminal.code} ")
    assert "by the door" in guarded.get("/").text
    cookie = guarded.client.get_cookie(COOKIE)
    assert cookie is not None
    assert cookie.http_only
    assert cookie.same_site == "Strict"
    assert len(cookie.value) > 40


def test_a_cookie_from_elsewhere_is_worth_nothing(
    guarded: Phone, pairing: Pairing, terminal: Terminal
) -> None:
    guarded.client.set_cookie(COOKIE, "chosen by somebody else")
    assert guarded.get("/").status_code == 303
    paired(guarded, pairing, terminal.code)
    cookie = guarded.client.get_cookie(COOKIE)
    assert cookie is not None
    assert cookie.value != "chosen by somebody else"
    assert not pairing.knows("chosen by somebody else")
    assert not pairing.knows(None)
    assert not pairing.knows("\udcff")


def test_guessing_is_stopped_for_who_guesses(
    guarded: Phone, pairing: Pairing, terminal: Terminal, clock: Clock
) -> None:
    assert len(terminal.code.replace(" ", "")) == CODE_DIGITS
    for _ in range(TRIES):
        token = guarded.token("/pair")
        answer = guarded.post("/pair", {"code": "0"}, token=token)
        assert answer.status_code == 403
        assert "not the code" in answer.text
    with pytest.raises(LiveError, match="too many"):
        pairing.pair(terminal.code, "127.0.0.1")
    assert pairing.knows(pairing.pair(terminal.code, "192.168.1.7")), "others still pair"
    assert len(terminal) == 1, "a stranger does not change the code that another types"
    clock.now_s = WAIT_S + 0.1
    assert pairing.knows(pairing.pair(terminal.code, "127.0.0.1"))


def test_wrong_codes_before_a_right_one_are_forgotten(pairing: Pairing, terminal: Terminal) -> None:
    for _ in range(2):
        for _ in range(TRIES - 1):
            with pytest.raises(LiveError, match="not the code"):
                pairing.pair("0", "phone")
        assert pairing.knows(pairing.pair(terminal.code, "phone"))


def test_guessing_from_many_addresses_renews_the_code(pairing: Pairing, terminal: Terminal) -> None:
    for number in range(TRIES_OF_ALL):
        with pytest.raises(LiveError, match="not the code"):
            pairing.pair("0", f"address {number}")
    assert len(terminal) == 2
    assert len(pairing._wrong) <= MOST_ADDRESSES


def test_odd_codes_are_wrong_codes(pairing: Pairing) -> None:
    for typed in ("", "١٢٣٤٥٦٧٨", "9" * 5000):
        with pytest.raises(LiveError, match="not the code"):
            pairing.pair(typed, f"from {typed[:3]}")


def test_the_oldest_of_too_many_phones_is_forgotten(pairing: Pairing, terminal: Terminal) -> None:
    secrets = [pairing.pair(terminal.code, "phone") for _ in range(MOST_PAIRED + 1)]
    assert not pairing.knows(secrets[0])
    assert all(pairing.knows(secret) for secret in secrets[1:])
