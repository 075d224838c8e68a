"""The steps from grafting to the first eggs."""

from datetime import date, datetime, tzinfo

from larvasight.growth import EGG_STAGE_H
from larvasight.timetable import facts
from larvasight.timetable.days import day_words
from larvasight.timetable.expected import taken_age_h
from larvasight.timetable.spec import DAY_H, PlanSpec, cool_delay_h, graft_at, later
from larvasight.timetable.steps import Days, Kind, Step, Words

_GRAFT = Words(
    key="graft",
    title="Graft",
    kind=Kind.DO,
    why=(
        "Take larvae that curve on their jelly, not yet a C, not much bigger than an egg. Cups for "
        "60 larvae are filled in 8 to 10 minutes with practice; with fewer you keep to the time."
    ),
    warning="Larvae must neither dry out nor be turned over: damp cloth over the bar, no sun.",
)
_CHECK = Words(
    key="check",
    title="Count what was accepted",
    kind=Kind.LOOK,
    why="Accepted cups have a collar of wax and jelly in them. Well managed, at least 80 of 100 "
    "are accepted. Be quick: open cells chill.",
    sources_differ=(
        "at least 80 % (BEEBOOK, Büchler et al. 2013)",
        "81 % of 6,666 (Wilkinson & Brown 2002)",
        "70\N{EN DASH}80 of 100 (Caldeira)",
    ),
)
_FINISHER = Words(
    key="finisher",
    title="Cells to the finisher",
    kind=Kind.DO,
    why="A strong colony feeds them on above an excluder. No more than 20 cells to one colony.",
    sources_differ=("after 24 h (Cushman)", "after about two days (BEEBOOK, Büchler et al. 2013)"),
)
_AGAIN = Words(
    key="search-again",
    title="Search for rogue cells again",
    kind=Kind.DO,
    why="Bees may have raised cells of their own from larvae in starter or finisher. One virgin "
    "kills the batch.",
    warning="Do it before the cells are sealed for long; do not shake the bar itself.",
)
_SEALED = Words(
    key="sealed",
    title="Cells are sealed",
    kind=Kind.HAPPENS,
    why="About five days after grafting. Note the day: cells sealed a day early hold older larvae "
    "than you thought.",
    sources_differ=(
        "5 days after grafting, some open at 4\N{VULGAR FRACTION ONE HALF} days (Rosecomb 2012)",
        "some time during day 6 (Cushman)",
        "day 9 from the egg, so about day 5 (The Apiarist)",
        "day 7\N{VULGAR FRACTION ONE HALF} from the egg, so about day 4 (liquisearch)",
    ),
)
_REST = Words(
    key="hands-off",
    title="Hands off the cells",
    kind=Kind.REST,
    why="Pupae forming now are torn by knocks and harmed by cold. Leave them upright, warm and in "
    "peace. For the exact days no study was found: this is the usual rule.",
)
_RIPE = Words(
    key="ripe",
    title="Cells to nucs or incubator",
    kind=Kind.DO,
    why="Ripe cells bear careful handling, and it is before the first queen emerges. Keep them "
    "upright and warm on the way.",
    sources_differ=("10 days after grafting (Cushman; UNYFA; Tallahassee)",),
)
_MATING = Words(
    key="mating",
    title="Mating flights",
    kind=Kind.REST,
    why="Queens ripen in five to seven days and fly on warm, calm afternoons. Do not open nucs in "
    "the middle of the day; bad weather moves everything back.",
    sources_differ=(
        "ripe 5\N{EN DASH}6 days after emergence (a queen seller's page)",
        "about 7 days (Connor, beeculture.com)",
        "flights on day 20\N{EN DASH}24 from the egg (liquisearch)",
    ),
)
_EGGS = Words(
    key="first-eggs",
    title="Look for first eggs",
    kind=Kind.LOOK,
    why="From egg to her first egg a queen needs 28 days or more: 16 to emerge, about 7 to ripen, "
    "2 of flights, 3 more to lay.",
    sources_differ=(
        "laying within 48 h of the last flight (eversweet)",
        "3 days (Connor, beeculture.com)",
        "from day 23 after the egg (liquisearch)",
    ),
)


def steps_after(spec: PlanSpec, tz: tzinfo) -> list[Step]:
    """Return grafting and what comes after it."""
    graft = Days(zero_at=graft_at(spec, tz), tz=tz)
    cool_d = cool_delay_h(spec.sealed_c) / DAY_H
    ripe_d = facts.RIPE.value + cool_d * _share_of_sealed()
    rest_to_d = facts.HANDS_OFF_TO.value + cool_d * _share_of_sealed()
    again, quarter_d = facts.SEARCH_AGAIN.value, 0.25
    span_h = facts.GRAFT_SPAN.value
    check_h = (facts.CHECK_EARLY.value, DAY_H, facts.CHECK_LATE.value)
    finisher_h = (facts.FINISHER_EARLY.value, facts.FINISHER_EARLY.value, facts.FINISHER_LATE.value)
    return [
        graft.by_hour((-span_h, 0.0, span_h), _GRAFT, facts.GRAFT_SPAN, EGG_STAGE_H),
        graft.by_hour(check_h, _CHECK, facts.CHECK_EARLY, facts.CHECK_LATE, facts.ACCEPTED),
        graft.by_hour(
            finisher_h,
            _FINISHER,
            facts.FINISHER_EARLY,
            facts.FINISHER_LATE,
            facts.CUPS_PER_BUILDER,
        ),
        graft.by_day((again - quarter_d, again, again + quarter_d), _AGAIN, facts.SEARCH_AGAIN),
        graft.by_day(
            (facts.SEALED_EARLY.value, facts.SEALED_USUAL.value, facts.SEALED_LATE.value),
            _SEALED,
            facts.SEALED_EARLY,
            facts.SEALED_USUAL,
            facts.SEALED_LATE,
        ),
        graft.by_day(
            (facts.HANDS_OFF_FROM.value, facts.HANDS_OFF_FROM.value, rest_to_d),
            _REST,
            facts.HANDS_OFF_FROM,
            facts.HANDS_OFF_TO,
        ),
        graft.by_day((ripe_d - quarter_d, ripe_d, ripe_d + quarter_d), _RIPE, facts.RIPE),
        *_queen_steps(spec, graft),
    ]


def emergence_h(spec: PlanSpec) -> tuple[float, float, float]:
    """Return hours from grafting to emergence: earliest, usual and latest of the usual spread.

    Larvae older than thought emerge up to ``facts.OLDER_EARLY`` before the usual hour.
    """
    usual_h = (
        facts.QUEEN_TOTAL.value
        - EGG_STAGE_H.value
        - taken_age_h(spec)
        + cool_delay_h(spec.sealed_c)
    )
    spread_h = facts.EMERGENCE_SPREAD.value
    return usual_h - spread_h, usual_h, usual_h + spread_h


def earliest_emergence_h(spec: PlanSpec) -> float:
    """Return hours from grafting to the emergence of larvae that were older than thought."""
    return emergence_h(spec)[1] - facts.OLDER_EARLY.value


def _share_of_sealed() -> float:
    """Return how much of the sealed time lies between sealing and the day cells are ripe."""
    usual_d = (facts.QUEEN_TOTAL.value - EGG_STAGE_H.value - facts.EDGE_LEAD.value) / DAY_H
    sealed_d = facts.SEALED_USUAL.value
    return (facts.RIPE.value - sealed_d) / (usual_d - sealed_d)


def _queen_steps(spec: PlanSpec, graft: Days) -> list[Step]:
    """Return emergence, as seen or as expected, and what follows from it."""
    span_h = emergence_h(spec)
    cool_d = cool_delay_h(spec.sealed_c) / DAY_H
    early_d, late_d = facts.FIRST_EGGS_EARLY.value + cool_d, facts.FIRST_EGGS_LATE.value + cool_d
    early_at = later(graft.zero_at, earliest_emergence_h(spec), graft.tz)
    words = _emergence(spec, spec.emerged_at, early_at.date())
    rests_on = (facts.QUEEN_TOTAL, facts.EMERGENCE_SPREAD, facts.OLDER_EARLY, facts.COOL_DELAY)
    if spec.emerged_at is not None:
        seen_at = spec.emerged_at.astimezone(graft.tz)
        emerged = Days(zero_at=seen_at, tz=graft.tz)
        emergence = emerged.by_day((0.0, 0.0, 0.0), words, *rests_on)
        # What is between emergence and first eggs stays as long as it is.
        moved_d = _hours_between(graft.zero_at, seen_at) / DAY_H - span_h[1] / DAY_H
        early_d, late_d = early_d + moved_d, late_d + moved_d
    else:
        early, usual, late = (hours / DAY_H for hours in span_h)
        emergence = graft.by_day((early, usual, late), words, *rests_on)
        emerged = Days(zero_at=emergence.usual_at, tz=graft.tz)
    flights = (facts.MATURE_EARLY.value, facts.MATURE_USUAL.value, facts.MATING_LATE.value)
    return [
        emergence,
        emerged.by_day(flights, _MATING, facts.MATURE_EARLY, facts.MATURE_USUAL, facts.MATING_LATE),
        graft.by_day(
            (early_d, early_d, late_d),
            _EGGS,
            facts.FIRST_EGGS_EARLY,
            facts.FIRST_EGGS_LATE,
            facts.LAYING_AFTER,
        ),
    ]


def _hours_between(begin: datetime, end: datetime) -> float:
    return (end - begin).total_seconds() / 3600.0


def _emergence(spec: PlanSpec, seen_at: datetime | None, early: date) -> Words:
    warm, cool = facts.SEALED_WARM_C.value, facts.SEALED_COOL_C.value
    delay_h = cool_delay_h(spec.sealed_c)
    why = (
        f"Sixteen days from the egg when sealed cells are kept at {warm:g} °C; at {cool:g} °C a "
        "day and three hours later, and the queens are as good."
    )
    if delay_h >= 0.5:
        why += f" At your {spec.sealed_c:g} °C this is {delay_h:.0f} h later than in the warm."
    if seen_at is not None:
        why = "As you saw it. Mating and first eggs are counted from here."
    return Words(
        key="emergence",
        title="Queens emerge",
        kind=Kind.HAPPENS,
        why=why,
        sources_differ=(
            "16 days 1 hour at 34.5 °C, 17 days 4 hours at 32 °C (Chuda-Mickiewicz & Samborski "
            "2015)",
            "15\N{EN DASH}17 days (americasbeekeeper)",
            "12 days after grafting, 11 if warm or from older larvae (Cushman)",
        ),
        warning=(
            ""
            if seen_at is not None
            else "Larvae older than you thought emerge up to a day and a half early, from "
            f"{day_words(early)} on, and the first queen kills the others: have the cells apart "
            "before."
        ),
    )
