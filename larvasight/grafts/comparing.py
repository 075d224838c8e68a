"""Which tool, priming, age or hand takes better: within the same day where both were used."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from larvasight.geometry.facts import Fact, Label
from larvasight.grafts.acceptance import Takes, counted, has_outcome, takes_of
from larvasight.grafts.batch import Batch, Cup
from larvasight.grafts.kinds import Factor, Stage
from larvasight.stats import Interval, newcombe_difference
from larvasight.stats.comparing import (
    SIGNIFICANCE,
    Pair,
    fisher_p,
    trials_to_tell,
    within_strata,
)

WORTH = Fact(
    name="difference of two shares accepted that is worth knowing",
    value=0.1,
    unit="share",
    label=Label.DERIVED,
    source="judgement: 10 queens in 100 cups, as between 70 and 80 of 100",
)
FACTS: tuple[Fact, ...] = (WORTH,)
# Cups of each kind grafted on the same days before only these are compared: fewer show nothing.
_SHARED_LEAST: Final = 10
_SHARE_ENDS: Final = (0.01, 0.99)


class Verdict(StrEnum):
    """What a comparison comes to."""

    FIRST = "first"
    SECOND = "second"
    NO_DIFFERENCE = "no-difference"
    TOO_FEW = "too-few"


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One tool, kind of priming, age or person, and what was accepted of its cups."""

    value: str
    takes: Takes


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two levels of a factor held against each other.

    ``is_within_day``: only cups of days (or bars) that hold both are compared, each day by
    itself, so that weather and colony of that day cannot make the difference. ``difference`` is
    the first share minus the second; ``interval`` its interval by Klingenberg over several days,
    by Newcombe otherwise. ``n_needed`` more cups of each would tell a difference of 10 in 100
    apart.
    """

    factor: Factor
    first: Level
    second: Level
    is_within_day: bool
    difference: float
    interval: Interval
    verdict: Verdict
    n_needed: int


def levels_of(batches: Iterable[Batch], factor: Factor) -> list[Level]:
    """Return what was accepted for each value of a factor, the most used first."""
    cups: dict[str, list[Cup]] = defaultdict(list)
    for batch in counted(batches):
        for cup in batch.cups:
            value = value_of(batch, cup, factor)
            if value:
                cups[value].append(cup)
    found = [Level(value=value, takes=takes_of(those)) for value, those in cups.items()]
    known = [level for level in found if level.takes.n_known]
    return sorted(known, key=lambda level: (-level.takes.n_known, level.value))


def compare(batches: Sequence[Batch], factor: Factor) -> list[Comparison]:
    """Hold every level of a factor against the most used one.

    Parameters
    ----------
    batches : sequence of Batch
        All batches; practice grafts are left out.
    factor : Factor
        What is compared.

    Returns
    -------
    list of Comparison
        Empty unless two levels have cups whose outcome is known.
    """
    levels = levels_of(batches, factor)
    strata = _strata(batches, factor)
    return [_comparison(factor, levels[0], other, strata) for other in levels[1:]]


def value_of(batch: Batch, cup: Cup, factor: Factor) -> str:
    """Return a cup's value of a factor, empty where it was not noted."""
    second = batch.alternation
    if second is not None and second.factor is factor and cup.number % 2 == 0:
        return second.value
    primed = {None: "", True: "yes", False: "no"}
    values: dict[Factor, str | None] = {
        Factor.TOOL: batch.tool,
        Factor.PRIMING: primed[batch.is_primed],
        Factor.FEEDING: batch.feeding,
        Factor.AGE: batch.age_band,
        Factor.GRAFTER: batch.grafter,
    }
    return str(values[factor] or "")


def needed_more(share: float, n_least: int) -> int:
    """Return how many more cups of each kind would tell a difference worth knowing.

    Parameters
    ----------
    share : float
        Share accepted of both kinds together, 0-1.
    n_least : int
        Cups that the smaller group holds.

    Returns
    -------
    int
        0 when there are enough.
    """
    low, high = _SHARE_ENDS
    half = WORTH.value / 2.0
    middle = min(max(share, low + half), high - half)
    return max(0, trials_to_tell(middle - half, middle + half) - n_least)


def _strata(batches: Sequence[Batch], factor: Factor) -> list[dict[str, tuple[int, int]]]:
    """Return accepted and known cups by value, for each bar that alternates and each other day."""
    found: dict[object, Counter[tuple[str, bool]]] = defaultdict(Counter)
    for batch in counted(batches):
        second = batch.alternation
        alternates = second is not None and second.factor is factor
        counts = found[batch.id if alternates else batch.grafted_on]
        for cup in batch.cups:
            if has_outcome(cup):
                taken = cup.reached is not Stage.GRAFTED
                counts[value_of(batch, cup, factor), taken] += 1
    strata = []
    for counts in found.values():
        values = {value for value, _ in counts}
        strata.append({v: (counts[v, True], counts[v, True] + counts[v, False]) for v in values})
    return strata


def _comparison(
    factor: Factor,
    first: Level,
    second: Level,
    strata: Sequence[dict[str, tuple[int, int]]],
) -> Comparison:
    pairs = [
        Pair(k1=k1, n1=n1, k2=k2, n2=n2)
        for stratum in strata
        if first.value in stratum and second.value in stratum
        for (k1, n1), (k2, n2) in [(stratum[first.value], stratum[second.value])]
    ]
    least = min(sum(pair.n1 for pair in pairs), sum(pair.n2 for pair in pairs))
    if least >= _SHARED_LEAST:
        return _within_days(factor, first, second, pairs, least)
    return _across_days(factor, first, second)


def _within_days(
    factor: Factor, first: Level, second: Level, pairs: Sequence[Pair], least: int
) -> Comparison:
    within = within_strata(pairs)
    assert within is not None  # there are pairs, and each holds cups of both
    p, interval = within.p, within.interval
    if len(pairs) == 1:  # with one day only there is nothing to put together
        only = pairs[0]
        p = fisher_p(only)
        interval = _newcombe(only)
    n_all = sum(pair.n1 + pair.n2 for pair in pairs)
    share = sum(pair.k1 + pair.k2 for pair in pairs) / n_all
    return _judged(
        Comparison(
            factor=factor,
            first=first,
            second=second,
            is_within_day=True,
            difference=within.difference,
            interval=interval,
            verdict=Verdict.TOO_FEW,
            n_needed=needed_more(share, least),
        ),
        is_apart=p < SIGNIFICANCE,
    )


def _across_days(factor: Factor, first: Level, second: Level) -> Comparison:
    one, two = first.takes, second.takes
    interval = _newcombe(Pair(k1=one.n_accepted, n1=one.n_known, k2=two.n_accepted, n2=two.n_known))
    share = (one.n_accepted + two.n_accepted) / (one.n_known + two.n_known)
    return _judged(
        Comparison(
            factor=factor,
            first=first,
            second=second,
            is_within_day=False,
            difference=one.n_accepted / one.n_known - two.n_accepted / two.n_known,
            interval=interval,
            verdict=Verdict.TOO_FEW,
            n_needed=needed_more(share, min(one.n_known, two.n_known)),
        ),
        is_apart=interval.lo > 0.0 or interval.hi < 0.0,
    )


def _newcombe(pair: Pair) -> Interval:
    interval = newcombe_difference(pair.k1, pair.n1, pair.k2, pair.n2)
    assert interval is not None  # both have cups
    return interval


def _judged(found: Comparison, *, is_apart: bool) -> Comparison:
    if is_apart and not math.isclose(found.difference, 0.0, abs_tol=1e-12):
        verdict = Verdict.FIRST if found.difference > 0.0 else Verdict.SECOND
    else:
        verdict = Verdict.TOO_FEW if found.n_needed else Verdict.NO_DIFFERENCE
    return replace(found, verdict=verdict)
