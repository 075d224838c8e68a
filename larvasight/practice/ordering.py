"""Put in order: rows of larvae from youngest to oldest, the steps between them narrowing."""

import math
from collections.abc import Sequence

STEPS_H = (10.0, 6.0, 4.0)
ROW_CELLS = 5
N_ROWS = 4
# One pair of neighbours changed over is good enough to go on, two are not.
_ON_FROM = 0.8
# More pairs wrong than that: back to wider steps.
_BACK_BELOW = 0.4


def order_score(ages_h: Sequence[float]) -> float:
    """Return how well a row was put in order: Kendall's tau-b with the order of ages.

    1 is the right order, -1 the reverse; one pair of neighbours changed over among five is
    .8. Equal ages say nothing.

    Parameters
    ----------
    ages_h : sequence of float
        Ages in the learner's order, the one said to be youngest first; h.

    Returns
    -------
    float
        NaN where all ages are equal.

    Raises
    ------
    ValueError
        If there are fewer than two ages or one is not a number.
    """
    from scipy.stats import kendalltau  # heavy: only when first needed

    if len(ages_h) < 2 or any(math.isnan(age_h) for age_h in ages_h):
        msg = f"ages_h must hold at least 2 numbers, got {list(ages_h)}"
        raise ValueError(msg)
    if len(set(ages_h)) == 1:
        return math.nan
    return float(kendalltau(range(len(ages_h)), ages_h).statistic)


def next_step(step: int, score: float) -> int:
    """Return the index into ``STEPS_H`` for the next row.

    Parameters
    ----------
    step : int
        Index of the row just put in order.
    score : float
        Its ``order_score``.

    Raises
    ------
    ValueError
        If ``step`` is no index of ``STEPS_H``.
    """
    if not 0 <= step < len(STEPS_H):
        msg = f"step must lie between 0 and {len(STEPS_H) - 1}, got {step}"
        raise ValueError(msg)
    # Tau of a row changed in one place is .8 but for rounding.
    if score >= _ON_FROM - 1e-9:
        return min(step + 1, len(STEPS_H) - 1)
    return max(step - 1, 0) if score < _BACK_BELOW else step
