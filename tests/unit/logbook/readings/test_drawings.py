from __future__ import annotations

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.drawings import drawn_of


@pytest.mark.parametrize(
    "text", ["{", "7", '[["tap", 1]]', '[["wave", 1, [[3, 4]]]]', "[" * 50_000], ids=str.__len__
)
def test_what_is_no_drawing_is_refused(text: str) -> None:
    with pytest.raises(LogbookError):
        drawn_of(text)
