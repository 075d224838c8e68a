"""What ages to expect on the comb at grafting, and what to do for better ones."""

from dataclasses import dataclass, replace

from larvasight.grading import Limits
from larvasight.timetable import facts
from larvasight.timetable.spec import (
    LEAD_SPANS_H,
    USUAL_LEAD_H,
    USUAL_SETTLE_H,
    PlanSpec,
    Start,
    ages_at_graft,
    laying_h,
)

# Which confinements are compared, and the hours early or late that are told.
CAGED_TRIED_H = (4.0, 6.0, 8.0, 12.0, 16.0, 20.0, 24.0, 30.0, 36.0, 48.0)
LATE_TRIED_H = (-6.0, -3.0, -1.0, 0.0, 1.0, 3.0, 6.0)
_LEAD_STEP_H = 1.0
_EGG_STAGES_H = (72.0, 76.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedAges:
    """Shares of all brood on the comb, 0-1; they add up to 1.

    Attributes
    ----------
    unhatched, h0_12, h12_24, over_24 : float
        Eggs, and larvae by hours after hatching.
    right_of_larvae, too_old_of_larvae : float
        Of the larvae alone: of the best ages, and older than the oldest usable age.
    mean_h : float
        Mean age of all brood, eggs negative.
    most_larvae_h : tuple of float
        Ages between which eight of ten larvae lie.
    """

    unhatched: float
    h0_12: float
    h12_24: float
    over_24: float
    right_of_larvae: float
    too_old_of_larvae: float
    mean_h: float
    most_larvae_h: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """What grafting some hours late (or early, negative) makes of the ages."""

    late_h: float
    ages: ExpectedAges


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One start at its best hour: the ages it gives, and how many right larvae."""

    spec: PlanSpec
    ages: ExpectedAges
    n_right: float


def expected_ages(
    spec: PlanSpec,
    limits: Limits | None = None,
    *,
    late_h: float = 0.0,
    egg_stage_h: float | None = None,
) -> ExpectedAges:
    """Return the ages to expect on the comb at grafting.

    Parameters
    ----------
    spec : PlanSpec
        The plan.
    limits : Limits, optional
        Best and usable ages; the usual ones without them.
    late_h : float
        How much later than planned, negative for earlier. Eggs laid meanwhile on a comb where
        the queen is free count as well.
    egg_stage_h : float, optional
        Mean egg stage; the usual one without it.
    """
    limits = limits or Limits()
    stage = {} if egg_stage_h is None else {"egg_stage_h": egg_stage_h}
    ages = ages_at_graft(spec, **stage)
    if late_h:
        moved = ages.later(late_h)
        is_open = spec.start is Start.COMB
        ages = replace(moved, youngest_h=ages.youngest_h) if is_open else moved
    unhatched = ages.share_below(0.0)
    larvae = max(1.0 - unhatched, 1e-9)
    best = ages.share_between(limits.best_young_h, limits.best_old_h)
    return ExpectedAges(
        unhatched=unhatched,
        h0_12=ages.share_between(0.0, 12.0),
        h12_24=ages.share_between(12.0, 24.0),
        over_24=1.0 - ages.share_below(24.0),
        right_of_larvae=best / larvae,
        too_old_of_larvae=(1.0 - ages.share_below(max(limits.old_h, 0.0))) / larvae,
        mean_h=ages.mean_h,
        most_larvae_h=(ages.age_at(0.1, of_larvae=True), ages.age_at(0.9, of_larvae=True)),
    )


def right_between(spec: PlanSpec, limits: Limits | None = None) -> tuple[float, float]:
    """Return the share of larvae of the best ages for egg stages of 72 and of 76 hours.

    Sources differ by as much, and colonies do. Lower share first.
    """
    shares = [expected_ages(spec, limits, egg_stage_h=h).right_of_larvae for h in _EGG_STAGES_H]
    return min(shares), max(shares)


def taken_age_h(spec: PlanSpec, limits: Limits | None = None) -> float:
    """Return the mean age of the usable larvae, which are those that a good eye takes."""
    limits = limits or Limits()
    return ages_at_graft(spec).mean_between(limits.young_h, limits.old_h)


def best_lead_h(spec: PlanSpec, limits: Limits | None = None) -> float:
    """Return from start to grafting the whole hours at which most larvae are of the best ages."""
    low_h, high_h = LEAD_SPANS_H[spec.start]
    if spec.start is Start.CONFINED:
        low_h = max(low_h, spec.caged_h)
    n_steps = int((high_h - low_h) / _LEAD_STEP_H)
    tried = [low_h + _LEAD_STEP_H * k for k in range(n_steps + 1)]
    return max(tried, key=lambda h: expected_ages(replace(spec, lead_h=h), limits).right_of_larvae)


def n_right(spec: PlanSpec, limits: Limits | None = None) -> float:
    """Return about how many larvae of the best ages the comb holds at grafting."""
    limits = limits or Limits()
    best = ages_at_graft(spec).share_between(limits.best_young_h, limits.best_old_h)
    return best * laying_h(spec) * spec.eggs_per_h


def best_confinement_h(spec: PlanSpec, limits: Limits | None = None) -> float | None:
    """Return the shortest confinement that gives enough right larvae for all cups.

    Shorter ones give more even combs. Grafting is taken at the best hour of each; two larvae are
    wanted for each cup.

    Returns
    -------
    float or None
        Hours; None where no confinement up to two days gives enough.
    """
    wanted = spec.n_cups * facts.LARVAE_PER_CUP.value
    for caged_h in CAGED_TRIED_H:
        if caged_h <= spec.settle_h:
            continue
        tried = replace(
            spec, start=Start.CONFINED, caged_h=caged_h, lead_h=USUAL_LEAD_H[Start.CONFINED]
        )
        if n_right(replace(tried, lead_h=best_lead_h(tried, limits)), limits) >= wanted:
            return caged_h
    return None


def early_and_late(spec: PlanSpec, limits: Limits | None = None) -> tuple[Late, ...]:
    """Return what grafting some hours early or late makes of the ages."""
    return tuple(
        Late(late_h=hours, ages=expected_ages(spec, limits, late_h=hours)) for hours in LATE_TRIED_H
    )


def compare_starts(spec: PlanSpec, limits: Limits | None = None) -> tuple[Comparison, ...]:
    """Return the three starts, the preferred first, each grafted at its best hour."""
    found = []
    for start in Start:
        own = spec.start is start
        settle_h = spec.settle_h if own else USUAL_SETTLE_H[start]
        caged_h = spec.caged_h if own else facts.CONFINED_LEAST.value
        tried = replace(
            spec, start=start, lead_h=USUAL_LEAD_H[start], settle_h=settle_h, caged_h=caged_h
        )
        best = replace(tried, lead_h=best_lead_h(tried, limits))
        ages = expected_ages(best, limits)
        found.append(Comparison(spec=best, ages=ages, n_right=n_right(best, limits)))
    return tuple(found)
