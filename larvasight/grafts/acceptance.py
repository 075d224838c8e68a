"""How many cups were accepted, day by day, and where the others were lost on the way to laying."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from larvasight.grafts.batch import Batch, Cup
from larvasight.grafts.kinds import STAGES, Fate, Stage
from larvasight.stats import Estimate, Interval, wilson_interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Takes:
    """How many cups were accepted of those of which it is known.

    ``n_open`` cups are not looked at yet and count for neither. ``share`` is the Wilson
    interval, None while nothing is known.
    """

    n_known: int
    n_accepted: int
    n_open: int
    share: Interval | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayTakes:
    """What was accepted of all cups grafted on one day."""

    day: date
    takes: Takes


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeDay:
    """A day's takes of one learner, and the oldest age, h, that this one took before it."""

    day: date
    oldest_h: Estimate
    takes: Takes


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The way from one stage to the next.

    Of ``n_reached`` cups that came to ``stage``, ``n_lost`` came no further, ``n_given_away``
    left this record alive and ``n_open`` are not known yet; ``n_on`` came to the next.
    """

    stage: Stage
    n_reached: int
    n_lost: int
    n_given_away: int
    n_open: int

    @property
    def n_on(self) -> int:
        """Cups known to have come to the next stage."""
        return self.n_reached - self.n_lost - self.n_given_away - self.n_open


def counted(batches: Iterable[Batch]) -> list[Batch]:
    """Return the batches that count for acceptance: all but practice grafts."""
    return [batch for batch in batches if not batch.is_practice]


def has_outcome(cup: Cup) -> bool:
    """Return whether it is known if a cup was accepted."""
    return cup.reached is not Stage.GRAFTED or cup.fate is Fate.LOST


def takes_of(cups: Iterable[Cup]) -> Takes:
    """Return how many of some cups were accepted."""
    every = list(cups)
    known = [cup for cup in every if has_outcome(cup)]
    n_accepted = sum(cup.reached is not Stage.GRAFTED for cup in known)
    return Takes(
        n_known=len(known),
        n_accepted=n_accepted,
        n_open=len(every) - len(known),
        share=wilson_interval(n_accepted, len(known)),
    )


def by_day(batches: Iterable[Batch]) -> tuple[DayTakes, ...]:
    """Return the acceptance of each day of grafting, oldest first, practice grafts left out."""
    ordered = sorted(counted(batches), key=_grafted_on)
    return tuple(
        DayTakes(day=day, takes=takes_of(cup for batch in group for cup in batch.cups))
        for day, group in groupby(ordered, _grafted_on)
    )


def steps_of(cups: Iterable[Cup]) -> tuple[Step, ...]:
    """Return every stage in its order with what became of the cups that came to it."""
    every = list(cups)
    return tuple(_step(every, stage) for stage in STAGES)


def cups_of(batches: Iterable[Batch]) -> list[Cup]:
    """Return all cups of the batches that count for acceptance."""
    return [cup for batch in counted(batches) for cup in batch.cups]


def _step(cups: Sequence[Cup], stage: Stage) -> Step:
    rank = STAGES.index(stage)
    here = [cup for cup in cups if cup.reached is stage]
    return Step(
        stage=stage,
        n_reached=sum(STAGES.index(cup.reached) >= rank for cup in cups),
        n_lost=sum(cup.fate is Fate.LOST for cup in here),
        n_given_away=sum(cup.fate is Fate.GIVEN_AWAY for cup in here),
        n_open=sum(cup.fate is Fate.OPEN for cup in here),
    )


def _grafted_on(batch: Batch) -> date:
    return batch.grafted_on
