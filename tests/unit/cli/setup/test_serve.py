"""Without --lan the page answers to this computer's own names alone, and asks for no code."""

from __future__ import annotations

from contextlib import contextmanager, nullcontext
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest

from greasecheck.cli.setup import serve
from greasecheck.live.access.origin import LOOPBACK
from greasecheck.measure.reading import ReadSettings

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from greasecheck.live.parts import LiveSettings

LAN = frozenset({*LOOPBACK, "garage.local"})


@pytest.mark.parametrize(("lan", "names"), [(False, LOOPBACK), (True, LAN)])
def test_phones_are_let_in_by_a_code_and_only_when_asked_to(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    lan: bool,
    names: frozenset[str],
) -> None:
    served: list[LiveSettings] = []

    @contextmanager
    def serving(settings: LiveSettings, _: object) -> Iterator[object]:
        served.append(settings)
        yield SimpleNamespace(port=8377, run=lambda: None)

    monkeypatch.setattr("greasecheck.live.server.serving", serving)
    monkeypatch.setattr("greasecheck.live.server.listen", lambda *_, **__: nullcontext())
    monkeypatch.setattr("greasecheck.live.access.origin.lan_names", lambda: LAN)
    monkeypatch.setattr("greasecheck.live.access.origin.lan_addresses", lambda: ("192.0.2.7",))
    path = tmp_path / "season.greasecheck"
    serve._serve(path, None, ReadSettings(), 8377, lan=lan, show=False)
    [settings] = served
    assert (settings.names, settings.pairing is not None) == (names, lan)
    assert (settings.logbook, settings.photos) == (path, tmp_path / "season.photos")
    told = capsys.readouterr()
    assert ("pairing code: " in told.err) is lan
    assert ("is not encrypted" in told.out) is lan
