"""Noting what became of a cup: one mark after the other, each checked against the days before."""

from dataclasses import replace
from datetime import date

from larvasight.errors import GraftInvalidError
from larvasight.geometry.facts import Fact, Label
from larvasight.grafts.batch import Batch, Cup
from larvasight.grafts.kinds import DATED, Fate, Stage, stages_up_to
from larvasight.grafts.words import STAGE_WORDS, day_words

EMERGED_LEAST = Fact(
    name="least time from grafting to emergence",
    value=8.0,
    unit="d",
    label=Label.DERIVED,
    source="15 d from egg to emergence (americasbeekeeper.com, 15-17 d) less 3 d as an egg, 3 d as "
    "the oldest larva that becomes a queen, and a day of doubt",
)
CAPPED_LEAST = Fact(
    name="least time from grafting to capping",
    value=2.0,
    unit="d",
    label=Label.DERIVED,
    source="some sealed 4.5 d after grafting (Rosecomb Apiaries 2012) less a day and a half for "
    "larvae older than thought, and a day of doubt",
)
MATED_LEAST = Fact(
    name="least time from grafting to mating",
    value=12.0,
    unit="d",
    label=Label.DERIVED,
    source="least time to emergence and 5-6 d until mature, less a day of doubt",
)
FACTS: tuple[Fact, ...] = (CAPPED_LEAST, EMERGED_LEAST, MATED_LEAST)
# A queen lays after she has mated.
_LEAST = {
    Stage.CAPPED: CAPPED_LEAST,
    Stage.EMERGED: EMERGED_LEAST,
    Stage.MATED: MATED_LEAST,
    Stage.LAYING: MATED_LEAST,
}
_BECAME = {
    Stage.ACCEPTED: "been accepted",
    Stage.CAPPED: "been capped",
    Stage.EMERGED: "emerged",
    Stage.MATED: "mated",
    Stage.LAYING: "begun to lay",
}


def reached(batch: Batch, number: int, stage: Stage, *, seen_on: date, today: date) -> Batch:
    """Note that a cup came to a stage.

    Marked back to an earlier stage, a cup loses the days of the later ones.

    Parameters
    ----------
    batch : Batch
        Where the cup belongs.
    number : int
        The cup's number.
    stage : Stage
        What it came to; not grafted, see ``cleared``.
    seen_on, today : date
        When that was seen, and the present day where the bees are.

    Returns
    -------
    Batch
        With the changed cup.

    Raises
    ------
    GraftInvalidError
        If the day lies before grafting or an earlier stage, sooner after grafting than bees can
        be, or has not come yet.
    """
    cup = cup_of(batch, number)
    earlier = {s: day for s, day in cup.days.items() if s in stages_up_to(stage)[:-1]}
    changed = replace(cup, reached=stage, fate=Fate.OPEN, days={**earlier, stage: seen_on})
    problem = day_problem(batch.grafted_on, changed, today)
    if problem:
        raise GraftInvalidError(problem)
    return with_cup(batch, changed)


def fated(batch: Batch, number: int, fate: Fate) -> Batch:
    """Note that a cup was lost after the stage it came to, or was given away alive.

    Raises
    ------
    GraftInvalidError
        If its queen lays already and is to be lost, or nothing of it lives to be given away.
    """
    cup = cup_of(batch, number)
    if fate is Fate.LOST and cup.reached is Stage.LAYING:
        msg = f"The queen of cup {number} lays, so the cup cannot be lost; mark it back first."
        raise GraftInvalidError(msg)
    if fate is Fate.GIVEN_AWAY and cup.reached is Stage.GRAFTED:
        msg = f"Cup {number} is not accepted yet, so there is nothing to give away."
        raise GraftInvalidError(msg)
    return with_cup(batch, replace(cup, fate=fate))


def cleared(batch: Batch, number: int) -> Batch:
    """Take back all that is noted of a cup but that it was grafted."""
    return with_cup(batch, Cup(number=number))


def cup_of(batch: Batch, number: int) -> Cup:
    """Return a cup by its number; ValueError when there is none."""
    if not 1 <= number <= len(batch.cups):
        msg = f"number must lie between 1 and {len(batch.cups)}, got {number}"
        raise ValueError(msg)
    return batch.cups[number - 1]


def with_cup(batch: Batch, cup: Cup) -> Batch:
    """Return a batch with this cup in the place of the one of its number."""
    cup_of(batch, cup.number)
    cups = list(batch.cups)
    cups[cup.number - 1] = cup
    return replace(batch, cups=tuple(cups))


def day_problem(grafted_on: date, cup: Cup, today: date) -> str:
    """Return one sentence on what is wrong with a cup's days, empty when nothing is."""
    before, before_words = grafted_on, "grafted"
    for stage in DATED:
        day = cup.days.get(stage)
        if day is None:
            continue
        if day > today:
            return f"Cup {cup.number}: {day_words(day)} has not come yet; give the day it was seen."
        if day < before:
            return (
                f"Cup {cup.number} cannot have {_BECAME[stage]} on {day_words(day)}: it was "
                f"{before_words} on {day_words(before)}."
            )
        least = _LEAST.get(stage)
        if least is not None and (day - grafted_on).days < least.value:
            return (
                f"Cup {cup.number} cannot have {_BECAME[stage]} on {day_words(day)}: it was "
                f"grafted on {day_words(grafted_on)}, and that takes {least.value:.0f} days or "
                "more. Is the day of grafting right?"
            )
        before, before_words = day, STAGE_WORDS[stage]
    return ""
