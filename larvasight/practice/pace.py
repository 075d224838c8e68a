"""Against the clock: a time limit from the learner's own pace, eased when it hurts."""

from collections.abc import Sequence
from statistics import median

from larvasight.errors import require_between

N_OWN_LEAST = 20
# Right picks among all from which pace is practised at all: never speed before skill.
RIGHT_SHARE_LEAST = 0.9

_TIMES_MEDIAN = 1.2
_TOO_QUICK_MS = 200.0
_TOO_SLOW_TIMES = 3.0
_WRONG_TO_EASE = 2
_EASE_TIMES = 1.2


def own_pace_ms(responses_ms: Sequence[float]) -> float | None:
    """Return a learner's usual time for a right answer, ms.

    Answers quicker than 200 ms were no looking, and those slower than three times the median were
    something else.

    Parameters
    ----------
    responses_ms : sequence of float
        Times of right answers given one cell at a time.

    Returns
    -------
    float or None
        None with fewer than 20 times that count.
    """
    looked = [ms for ms in responses_ms if ms >= _TOO_QUICK_MS]
    if not looked:
        return None
    slowest_ms = _TOO_SLOW_TIMES * median(looked)
    kept = [ms for ms in looked if ms <= slowest_ms]
    return median(kept) if len(kept) >= N_OWN_LEAST else None


def time_limit_ms(pace_ms: float, answers_right: Sequence[bool]) -> float:
    """Return the time allowed for the next cell, ms.

    It is 1.2 times the learner's usual time, and as much again for every two wrong since it was
    last eased.

    Parameters
    ----------
    pace_ms : float
        The learner's usual time, see ``own_pace_ms``; 200 ms or more.
    answers_right : sequence of bool
        Answers of this round so far; too late is wrong.

    Raises
    ------
    ValueError
        If ``pace_ms`` is below 200 ms or not a number.
    """
    require_between("pace_ms", pace_ms, _TOO_QUICK_MS, float("inf"))
    n_wrong = sum(not is_right for is_right in answers_right)
    return pace_ms * _TIMES_MEDIAN * _EASE_TIMES ** (n_wrong // _WRONG_TO_EASE)
