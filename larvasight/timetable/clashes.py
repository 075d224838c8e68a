"""Several batches in one season: where they get in each other's way."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import combinations

from larvasight.timetable.days import day_words
from larvasight.timetable.plan import NamedPlan, Plan

# Steps that fill a day of their own.
_WORK_DAYS = ("graft", "ripe")


class ClashKind(StrEnum):
    """What two or more batches want at the same time."""

    NUCS = "nucs"
    STARTER = "starter"
    BREEDER = "breeder"
    SAME_DAY = "same day"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Where batches get in each other's way: which, when, and one sentence about it."""

    kind: ClashKind
    names: tuple[str, ...]
    from_at: datetime
    to_at: datetime
    sentence: str


def find_clashes(batches: Sequence[NamedPlan]) -> tuple[Clash, ...]:
    """Return all clashes by time.

    Nucs are taken from the day ripe cells come in to the last day of looking for eggs; a starter
    from making it up until its cells are with the finisher; a breeder from start to grafting.
    """
    found = [*_nucs(batches)]
    for one, other in combinations(batches, 2):
        found += _same_colony(one, other)
        found += _same_day(one, other)
    return tuple(sorted(found, key=lambda clash: (clash.from_at, clash.names)))


def _nuc_span(batch: NamedPlan) -> tuple[datetime, datetime]:
    plan = batch.plan
    return plan.step("ripe").from_at, plan.step("first-eggs").to_at


def _nucs(batches: Sequence[NamedPlan]) -> Iterator[Clash]:
    """Yield each time at which a batch comes in for which too few nucs are free."""
    told: set[tuple[datetime, tuple[str, ...]]] = set()
    for batch in batches:
        at, until = _nuc_span(batch)
        there = [other for other in batches if _holds(_nuc_span(other), at)]
        wanted = sum(other.plan.spec.n_nucs for other in there)
        owned = min(other.plan.spec.n_nucs_owned for other in there)
        if wanted <= owned or not batch.plan.spec.n_nucs:
            continue
        to_at = min(until, *(_nuc_span(other)[1] for other in there))
        names = tuple(other.name for other in there)
        if (at, names) in told:
            continue
        told.add((at, names))
        who = names[0] if len(names) == 1 else _and(names)
        sentence = (
            f"{wanted} nucs are wanted from {day_words(at.date())} to {day_words(to_at.date())} "
            f"({who}), and you have {owned}."
        )
        yield Clash(kind=ClashKind.NUCS, names=names, from_at=at, to_at=to_at, sentence=sentence)


def _same_colony(one: NamedPlan, other: NamedPlan) -> Iterator[Clash]:
    for kind, name, spans in (
        (ClashKind.STARTER, _same(one.plan.spec.starter, other.plan.spec.starter), _starter_span),
        (ClashKind.BREEDER, _same(one.plan.spec.breeder, other.plan.spec.breeder), _breeder_span),
    ):
        from_at = max(spans(one.plan)[0], spans(other.plan)[0])
        to_at = min(spans(one.plan)[1], spans(other.plan)[1])
        if not name or from_at >= to_at:
            continue
        names = (one.name, other.name)
        sentence = (
            f"{_and(names)} both use {name} as {kind.value} from {day_words(from_at.date())} to "
            f"{day_words(to_at.date())}."
        )
        yield Clash(kind=kind, names=names, from_at=from_at, to_at=to_at, sentence=sentence)


def _same_day(one: NamedPlan, other: NamedPlan) -> Iterator[Clash]:
    for first in _WORK_DAYS:
        for second in _WORK_DAYS:
            here, there = one.plan.step(first), other.plan.step(second)
            if here.usual_at.date() != there.usual_at.date():
                continue
            sentence = (
                f"On {day_words(here.usual_at.date())} two things are due: {here.title.lower()} "
                f"({one.name}) and {there.title.lower()} ({other.name})."
            )
            yield Clash(
                kind=ClashKind.SAME_DAY,
                names=(one.name, other.name),
                from_at=min(here.usual_at, there.usual_at),
                to_at=max(here.usual_at, there.usual_at),
                sentence=sentence,
            )


def _starter_span(plan: Plan) -> tuple[datetime, datetime]:
    return plan.step("starter").from_at, plan.step("finisher").to_at


def _breeder_span(plan: Plan) -> tuple[datetime, datetime]:
    key = next(key for key in ("edge", "comb-in", "confine") if plan.has(key))
    return plan.step(key).usual_at, plan.graft_at


def _holds(span: tuple[datetime, datetime], at: datetime) -> bool:
    return span[0] <= at <= span[1]


def _same(one: str, other: str) -> str:
    """Return a name if both are the same and not empty."""
    tidy = [" ".join(name.split()) for name in (one, other)]
    return tidy[0] if tidy[0] and tidy[0].casefold() == tidy[1].casefold() else ""


def _and(names: Sequence[str]) -> str:
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else names[0]
