"""The record of grafts as window and commands use it: read, changed, put into figures."""

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from itertools import groupby
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

import numpy as np

from larvasight.grafts import Batch, Factor
from larvasight.grafts.acceptance import (
    DayTakes,
    EyeDay,
    Step,
    Takes,
    by_day,
    counted,
    cups_of,
    steps_of,
    takes_of,
)
from larvasight.grafts.comparing import Comparison, Level, compare, levels_of
from larvasight.grafts.typed import Read, read_batch
from larvasight.practice import CONTENT_CODES, TOO_FEW, AnswerTable
from larvasight.sheet import Content
from larvasight.stats.edges import EdgePosterior, Estimate

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import Learner, Plan

# Answers before a graft that tell where the eye drew the line then.
_EYE_DAYS = 30
# The latest are enough to know it to about an hour.
_EYE_ANSWERS_MOST = 400
# Days beside which the eye is told: working it out takes a moment for each.
_EYE_DAYS_MOST = 12
_LARVA_CODE = CONTENT_CODES.index(Content.LARVA)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """All batches, the newest first, and what their forms can name."""

    batches: tuple[Batch, ...]
    plans: "tuple[Plan, ...]"
    learners: "tuple[Learner, ...]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One factor: its levels, the most used first, and each held against the most used."""

    factor: Factor
    levels: tuple[Level, ...]
    comparisons: tuple[Comparison, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Everything that batches say; practice grafts are only counted in ``n_practice_cups``."""

    takes: Takes
    days: tuple[DayTakes, ...]
    steps: tuple[Step, ...]
    compared: tuple[Compared, ...]
    n_practice_cups: int


def kept(store: "Store") -> Kept:
    """Return all batches of the records with the plans and learners that they may name."""
    return Kept(
        batches=tuple(store.batches()),
        plans=tuple(store.plans()),
        learners=tuple(store.learners()),
    )


def read_typed(
    typed: Mapping[str, str],
    *,
    now: datetime,
    zone: tzinfo,
    learners: "Sequence[Learner]",
    changed: Batch | None = None,
    plan_id: UUID | None = None,
) -> Read:
    """Read what is typed about a batch; the grafter is tied to the learner of that name.

    Parameters
    ----------
    typed : mapping of str to str
        What stands in the fields, see ``grafts.typed``.
    now : datetime
        Aware; nothing was grafted later.
    zone : tzinfo
        This computer's zone; a batch that is changed keeps its own clock.
    learners : sequence of Learner
        Who is known.
    changed : Batch, optional
        The batch that is changed; a new one without it.
    plan_id : UUID, optional
        The plan of its comb.
    """
    is_own = changed is None or _same_clock(changed.grafted_at, zone)
    own = None if changed is None else changed.grafted_at.tzinfo
    name = typed.get("grafter", "")
    learner_id = learner_id_of(name, learners)
    if learner_id is None and changed is not None and _folded(changed.grafter) == _folded(name):
        # Learners may be renamed; what was noted before stays theirs.
        known = {learner.id for learner in learners}
        learner_id = changed.learner_id if changed.learner_id in known else None
    return read_batch(
        typed,
        batch_id=uuid4() if changed is None else changed.id,
        zone=zone if is_own or own is None else own,
        now=now,
        cups=() if changed is None else changed.cups,
        learner_id=learner_id,
        plan_id=plan_id,
    )


def learner_id_of(name: str, learners: "Sequence[Learner]") -> UUID | None:
    """Return the learner of this name, None when nobody has it; case and spaces do not matter."""
    folded = {_folded(learner.name): learner.id for learner in learners}
    return folded.get(_folded(name))


def tell(batches: Sequence[Batch]) -> Told:
    """Return everything that batches say."""
    cups = cups_of(batches)
    compared = []
    for factor in Factor:
        levels = levels_of(batches, factor)
        if len(levels) > 1:
            comparisons = tuple(compare(batches, factor))
            compared.append(Compared(factor=factor, levels=tuple(levels), comparisons=comparisons))
    return Told(
        takes=takes_of(cups),
        days=by_day(batches),
        steps=steps_of(cups),
        compared=tuple(compared),
        n_practice_cups=sum(len(batch.cups) for batch in batches if batch.is_practice),
    )


def eye_and_takes(store: "Store", batches: Sequence[Batch], learner_id: UUID) -> list[EyeDay]:
    """Return a learner's latest twelve days of grafting with where the eye drew the line then.

    The line rests on the answers of the 30 days before grafting, the latest 400 at most. Days
    with fewer than ``TOO_FEW`` such answers, or whose cups were not looked at, are left out.
    The oldest day comes first.
    """
    table = store.answers(learner_id)
    own = [batch for batch in counted(batches) if batch.learner_id == learner_id]
    own.sort(key=lambda batch: batch.grafted_at, reverse=True)
    found: list[EyeDay] = []
    for day, group in groupby(own, lambda batch: batch.grafted_on):
        of_day = list(group)
        takes = takes_of(cups_of(of_day))
        oldest_h = oldest_taken_h(table, of_day[-1].grafted_at) if takes.n_known else None
        if oldest_h is not None:
            found.append(EyeDay(day=day, oldest_h=oldest_h, takes=takes))
        if len(found) == _EYE_DAYS_MOST:
            break
    return found[::-1]


def oldest_taken_h(table: AnswerTable, before: datetime) -> Estimate | None:
    """Return the oldest age that a learner took half of the time, as larvae look.

    Parameters
    ----------
    table : AnswerTable
        All final answers of the learner.
    before : datetime
        Aware; answers of the 30 days before it count.

    Returns
    -------
    Estimate or None
        Hours; None from fewer than ``TOO_FEW`` larvae.
    """
    until_ms = before.timestamp() * 1000.0
    from_ms = until_ms - timedelta(days=_EYE_DAYS) / timedelta(milliseconds=1)
    counts = (table.answered_utc_ms >= from_ms) & (table.answered_utc_ms < until_ms)
    counts &= (table.content == _LARVA_CODE) & np.isfinite(table.looks_age_h)
    where = np.flatnonzero(counts)[-_EYE_ANSWERS_MOST:]
    if len(where) < TOO_FEW:
        return None
    posterior = EdgePosterior()
    posterior.update_many(table.looks_age_h[where], table.taken[where])
    return posterior.old_edge_h


def _same_clock(moment: datetime, zone: tzinfo) -> bool:
    return moment.astimezone(zone).utcoffset() == moment.utcoffset()


def _folded(name: str) -> str:
    tidy = unicodedata.normalize("NFKC", " ".join(name.split()))
    return unicodedata.normalize("NFKC", tidy.casefold())
