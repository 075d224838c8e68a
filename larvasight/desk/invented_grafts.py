"""Invented grafts of two seasons, to look at pages and charts without bees."""

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Final
from uuid import UUID

import numpy as np

from larvasight.grafts import (
    CUPS_A_BAR,
    AgeBand,
    Alternation,
    Batch,
    Cup,
    Factor,
    Fate,
    Feeding,
    Stage,
    Times,
    Tool,
)

# Chance of each step after acceptance, and days after grafting on which it is seen.
_STEPS: Final = (
    (Stage.CAPPED, 0.94, 5),
    (Stage.EMERGED, 0.93, 12),
    (Stage.MATED, 0.80, 24),
    (Stage.LAYING, 0.95, 28),
)
_EVERY_DAYS: Final = 9
_DAYS_A_SEASON: Final = 8
_SHARE_ACCEPTED: Final = 0.75
_DRY_WORSE: Final = 0.06
_GIVEN_AWAY: Final = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class _Day:
    """One day of grafting: its luck is shared by all its bars."""

    day: date
    luck: float


def invented_batches(
    rng: np.random.Generator,
    *,
    last_day: date,
    zone: tzinfo,
    learner_id: UUID | None = None,
    grafter: str = "Mira Example",
) -> list[Batch]:
    """Return invented batches of two seasons, oldest first.

    Nothing in them is measured: three in four cups are accepted, more or fewer on good and bad
    days, whatever the tool; dry cups do a little worse.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    last_day : date
        Day of the last graft; its cups are not looked at yet.
    zone : tzinfo
        Zone of the place.
    learner_id, grafter : UUID and str
        Who made half of the grafts.
    """
    batches = []
    for day in _days(rng, last_day):
        for bar in range(2):
            made = _bar(rng, day, bar, zone, last_day)
            if bar == 0:
                made = replace(made, grafter=grafter, learner_id=learner_id)
            batches.append(made)
    practice = replace(batches[0], id=_id(rng), is_practice=True, notes="To train the hand.")
    first = batches[0].grafted_at - timedelta(days=6)
    cups = tuple(Cup(number=cup.number) for cup in practice.cups)
    return [replace(practice, grafted_at=first, cups=cups), *batches]


def _days(rng: np.random.Generator, last_day: date) -> list[_Day]:
    ago = [365 + _EVERY_DAYS * k for k in reversed(range(_DAYS_A_SEASON))]
    ago += [_EVERY_DAYS * k for k in reversed(range(_DAYS_A_SEASON))]
    return [
        _Day(day=last_day - timedelta(days=days), luck=float(rng.normal(0.0, 0.12))) for days in ago
    ]


def _bar(rng: np.random.Generator, day: _Day, bar: int, zone: tzinfo, last_day: date) -> Batch:
    grafted_at = datetime.combine(day.day, time(9 + bar, 30 * int(rng.integers(2))), zone)
    second = Alternation(factor=Factor.PRIMING, value="no") if rng.random() < 0.4 else None
    batch = Batch(
        id=_id(rng),
        grafted_at=grafted_at,
        grafter="Noor Example",
        breeder=("Heather 3", "Orchard 1")[int(rng.integers(2))],
        comb="dark comb, caged",
        tool=(Tool.RIGID, Tool.FLEXIBLE)[(bar + day.day.toordinal()) % 2],
        cup_kind="plastic, brown",
        is_primed=True,
        feeding=Feeding.WELL_FED,
        age_band=(AgeBand.FROM_12, AgeBand.UNDER_12)[int(rng.random() < 0.2)],
        times=Times.SINGLE,
        magnification=2.5,
        light="cold lamp",
        place="honey room",
        room_c=round(float(rng.normal(25.0, 1.2)), 1),
        humidity_pct=round(float(rng.normal(55.0, 5.0))),
        out_min=float(rng.integers(8, 26)),
        is_covered=True,
        alternation=second,
        cups=tuple(Cup(number=number) for number in range(1, CUPS_A_BAR + 1)),
    )
    return replace(batch, cups=tuple(_cup(rng, day, batch, cup, last_day) for cup in batch.cups))


def _cup(rng: np.random.Generator, day: _Day, batch: Batch, cup: Cup, last_day: date) -> Cup:
    """Let a cup go as far as chance and the time since grafting allow."""
    is_dry = batch.alternation is not None and cup.number % 2 == 0
    if batch.grafted_on == last_day:
        return cup
    if rng.random() > _SHARE_ACCEPTED + day.luck - _DRY_WORSE * is_dry:
        return replace(cup, fate=Fate.LOST)
    reached, days = Stage.ACCEPTED, {Stage.ACCEPTED: batch.grafted_on + timedelta(days=1)}
    for stage, chance, after_days in _STEPS:
        seen_on = batch.grafted_on + timedelta(days=after_days)
        if seen_on > last_day:
            return replace(cup, reached=reached, days=days)
        if rng.random() > chance:
            return replace(cup, reached=reached, fate=Fate.LOST, days=days)
        reached, days = stage, days | {stage: seen_on}
        if stage is Stage.CAPPED and rng.random() < _GIVEN_AWAY:
            return replace(cup, reached=reached, fate=Fate.GIVEN_AWAY, days=days)
    return replace(cup, reached=reached, days=days)


def _id(rng: np.random.Generator) -> UUID:
    return UUID(bytes=rng.bytes(16), version=4)
