"""When a bath that was left alone proves a skull, and when it refutes it."""

import pytest

from greasecheck.predict.advice.proof import Proof


@pytest.mark.parametrize(
    ("span", "gain_share", "std", "holds", "is_refuted"),
    [
        (0.7, 0.90, 0.04, True, False),  # 0.90 + 2 x 0.04 < 1
        (0.7, 0.90, 0.06, False, False),  # 0.90 + 2 x 0.06 > 1: too early to say so
        (0.99, 1.50, 0.01, False, False),  # more than may be, but not left to its end
        (1.0, 0.99, 0.50, True, False),  # at the end the estimate decides
        (1.0, 1.00, 0.01, False, True),
        (1.0, 1.50, 0.50, False, True),
    ],
)
def test_proof_holds_early_by_two_standard_errors_and_at_the_end_by_the_estimate(
    span: float, gain_share: float, std: float, *, holds: bool, is_refuted: bool
) -> None:
    found = Proof(span=span, gain_share=gain_share, std=std)
    assert (found.holds, found.is_refuted) == (holds, is_refuted)
