"""The steps up to grafting: drones, comb, the three starts, the colonies that raise the cells."""

from datetime import tzinfo

from larvasight.growth import EGG_STAGE_H
from larvasight.timetable import facts
from larvasight.timetable.spec import DAY_H, PlanSpec, Start, graft_at, start_at
from larvasight.timetable.steps import Days, Kind, Step, Words

_EGG_STAGES = (
    "72\N{EN DASH}76 h at the warmth of the nest (honeybeesuite.com)",
    "first hatching seen at 72\N{EN DASH}84 h (Waller 1980, USDA Handbook 335)",
    "3.12 \N{PLUS-MINUS SIGN} 0.25 days (Morini & Bueno 1996)",
)

_DRONES = Words(
    key="drones",
    title="Drone eggs must be laid",
    kind=Kind.LOOK,
    why=(
        "Drones need 24 days to emerge and 12 to 14 more to ripen. To fly when your queens do, "
        "about 19 days after grafting, their eggs must be laid by now. Earlier is better."
    ),
    sources_differ=(
        "ripe after 12 days (apiary101)",
        "after 12\N{EN DASH}14 days (a handbook on the web)",
        "after about 14 days (adelaidebeesales, kvbeekeeping)",
    ),
)
_SEALED_DRONES = Words(
    key="sealed-drones",
    title="Look for sealed drone brood",
    kind=Kind.LOOK,
    why="Without sealed drone brood in the colonies around, do not begin: queens would find no "
    "ripe drones.",
)
_POLISH = Words(
    key="polish",
    title="Give the comb to be polished",
    kind=Kind.DO,
    why="A dark comb of 8 to 10 generations, set beside brood, is cleaned and polished; the queen "
    "then lays in it at once.",
)
_FEED = Words(
    key="feed",
    title="Feed breeder and starter",
    kind=Kind.DO,
    why="Half sugar, half water for three days or more where no nectar comes in: a hungry colony "
    "gives larvae little jelly and accepts few.",
)
_EDGE = Words(
    key="edge",
    title="Find and mark a hatching edge",
    kind=Kind.DO,
    why=(
        "Where eggs meet the smallest larvae, hatching is going on now. Mark that patch and put "
        "the comb back: the larvae in it will be of one age. No queen is confined."
    ),
    warning="Shade the comb, keep it level and warm, and put it back within a few minutes.",
)
_COMB_IN = Words(
    key="comb-in",
    title="Put the comb into the breeder's nest",
    kind=Kind.DO,
    why=(
        "An empty, polished comb in the middle of her nest is laid in within half a day or so. "
        "After four to five days its oldest larvae are of the right age. The queen stays free."
    ),
)
_CONFINE = Words(
    key="confine",
    title="Confine the queen to the comb",
    kind=Kind.DO,
    why=(
        "She lays on this comb only, so that the hour of the eggs is known. Four days are counted "
        "from the start of confinement: three of egg, one of larva."
    ),
    sources_differ=(
        "12\N{EN DASH}24 h, four days before (BEEBOOK, Büchler et al. 2013)",
        "five days before, box put in on day \N{MINUS SIGN}5 (Cushman): larvae are 24\N{EN DASH}48 "
        "h old unless she lays late",
        *_EGG_STAGES,
    ),
    warning="Look that she is on the comb and unhurt, and that bees can reach her to feed her.",
)
_LAYS = Words(
    key="lays",
    title="See that she lays",
    kind=Kind.LOOK,
    why="Queens often take some hours to settle. If she begins late, everything is later by as "
    "much: correct the plan.",
)
_RELEASE = Words(
    key="release",
    title="Release the queen",
    kind=Kind.DO,
    why="Eggs laid later would be too young. Leave the comb in the nest: its larvae must be fed.",
    warning="Bees may gnaw a push-in cage open and free her within two days: look after her.",
)
_STARTER = Words(
    key="starter",
    title="Make up the starter",
    kind=Kind.DO,
    why=(
        "Crowded with young nurse bees, with pollen and honey, and without a queen or open brood, "
        "so that it wants queens when the bar comes."
    ),
    sources_differ=(
        "a few hours before grafting, or the day before: keepers do either (common practice)",
    ),
)
_SEARCH = Words(
    key="search",
    title="Search for rogue cells",
    kind=Kind.DO,
    why="In starter and finisher, shake every comb and look under the bees: a cell of their own "
    "hatches first, and one virgin kills the whole batch.",
)


def steps_before(spec: PlanSpec, tz: tzinfo) -> list[Step]:
    """Return the steps that come before grafting."""
    graft = Days(zero_at=graft_at(spec, tz), tz=tz)
    start = Days(zero_at=start_at(spec, tz), tz=tz)
    early, late = facts.DRONE_EGGS_EARLY.value, facts.DRONE_EGGS_LATE.value
    look_d = max(facts.DRONE_LOOK_FROM.value - spec.lead_h / DAY_H, 1.0)
    steps = [
        graft.by_day(
            (-early, -early, -late),
            _DRONES,
            facts.DRONE_EMERGENCE,
            facts.DRONE_EGGS_EARLY,
            facts.DRONE_EGGS_LATE,
        ),
        start.by_day(
            (-look_d, -1.0, 0.0),
            _SEALED_DRONES,
            facts.DRONE_SEALED,
            facts.DRONE_LOOK_FROM,
        ),
    ]
    if spec.start is not Start.EDGE:
        most, least = facts.POLISH_EARLY.value, facts.POLISH_LATE.value
        span = (-most, -most, -least)
        steps.append(start.by_day(span, _POLISH, facts.POLISH_EARLY, facts.POLISH_LATE))
    feed_d = spec.lead_h / DAY_H + facts.FEED.value
    steps.append(graft.by_day((-feed_d, -feed_d, 0.0), _FEED, facts.FEED))
    steps += _start_steps(spec, graft, start)
    starter = (-facts.STARTER_EARLY.value, -facts.STARTER_EARLY.value, -facts.STARTER_LATE.value)
    steps.append(graft.by_hour(starter, _STARTER, facts.STARTER_EARLY, facts.STARTER_LATE))
    search = (-facts.SEARCH_FIRST.value, -facts.STARTER_LATE.value, 0.0)
    steps.append(graft.by_hour(search, _SEARCH, facts.SEARCH_FIRST))
    return steps


def _start_steps(spec: PlanSpec, graft: Days, start: Days) -> list[Step]:
    if spec.start is Start.EDGE:
        half_h = facts.EDGE_PATCH.value / 2.0
        span = (-half_h, 0.0, half_h)
        return [start.by_hour(span, _EDGE, facts.EDGE_LEAD, facts.EDGE_PATCH)]
    if spec.start is Start.COMB:
        least, most = facts.COMB_LEAD_LEAST, facts.COMB_LEAD_MOST
        usual_d = spec.lead_h / DAY_H
        span = (-max(most.value, usual_d), -usual_d, -min(least.value, usual_d))
        return [graft.by_day(span, _COMB_IN, least, most, facts.COMB_SETTLE)]
    seen_h = min(spec.settle_h + facts.LAYING_SEEN.value, spec.caged_h)
    lays = (min(seen_h, facts.LAYING_SEEN.value), seen_h, spec.caged_h)
    return [
        start.by_hour(
            (-1.0, 0.0, 1.0),
            _CONFINE,
            facts.CONFINED_LEAD,
            facts.CONFINED_LEAST,
            facts.CONFINED_MOST,
            EGG_STAGE_H,
        ),
        start.by_hour(lays, _LAYS, facts.LAYING_SEEN),
        start.by_hour(
            (spec.caged_h - 1.0, spec.caged_h, spec.caged_h + 1.0),
            _RELEASE,
            facts.CONFINED_MOST,
            facts.CAGE_HOLDS,
        ),
    ]
