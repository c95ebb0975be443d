"""Probabilities as people read them: nothing computed is certain."""


def odds_words(probability: float) -> str:
    """Return a probability in whole percent, never as 0 or 100.

    Parameters
    ----------
    probability : float
        0 to 1.

    Examples
    --------
    >>> odds_words(0.5), odds_words(0.003), odds_words(1.0)
    ('50%', 'under 1%', 'over 99%')
    """
    if probability < 0.01:
        return "under 1%"
    return "over 99%" if probability > 0.99 else f"{probability:.0%}"
