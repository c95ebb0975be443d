"""Whatever stands in a user's file, its reader takes it soundly or says what is wrong."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.property.readers import ODD, READERS, read_with, samples


@pytest.mark.parametrize("name", sorted(READERS))
@settings(deadline=None, max_examples=40)
@given(
    changes=st.lists(
        st.tuples(
            st.floats(0, 1),
            st.integers(0, 12),
            st.one_of(st.sampled_from(ODD), st.binary(max_size=8)),
        ),
        min_size=1,
        max_size=3,
    ),
    which=st.integers(0, 3),
    kept=st.sampled_from([1.0, 1.0, 1.0, 0.9, 0.3]),
)
def test_a_spoiled_file_is_read_soundly_or_refused_in_words(
    name: str, changes: list[tuple[float, int, bytes]], which: int, kept: float
) -> None:
    sound = samples()[name]
    content = sound[which % len(sound)]
    for place, length, put in changes:
        at = int(place * len(content))
        content = content[:at] + put + content[at + length :]
    read_with(READERS[name], content[: int(kept * len(content))])


@pytest.mark.parametrize("name", sorted(READERS))
@pytest.mark.parametrize("content", [b"", b"\0" * 100, b"[" * 100_000, b"x" * 200_000 + b"\n1\n"])
def test_what_is_no_such_file_is_refused_or_empty(name: str, content: bytes) -> None:
    read_with(READERS[name], content)
