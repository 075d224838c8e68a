"""Durations of queen rearing: what is published, what is derived, what is common practice."""

from larvasight.geometry.facts import Fact, Label

_BUECHLER = "Büchler et al. 2013, BEEBOOK queen rearing, section "
_CUSHMAN = "Cushman, grafting timetable, as quoted on dave-cushman.net"
_CHUDA = "Chuda-Mickiewicz & Samborski 2015, Acta Sci. Pol. Zootechnica 14(4)"
_CONNOR = "Connor, as quoted in beeculture.com (egg to first egg: 16 + 7 + 2 + 3 days)"


def _published(name: str, value: float, unit: str, source: str) -> Fact:
    return Fact(name=name, value=value, unit=unit, label=Label.PUBLISHED, source=source)


def _derived(name: str, value: float, unit: str, source: str) -> Fact:
    return Fact(name=name, value=value, unit=unit, label=Label.DERIVED, source=source)


def _practice(name: str, value: float, unit: str) -> Fact:
    return Fact(name=name, value=value, unit=unit, label=Label.COMMON_PRACTICE)


def _memory(name: str, value: float, unit: str, source: str) -> Fact:
    return Fact(name=name, value=value, unit=unit, label=Label.FROM_MEMORY, source=source)


# The three starts.
EDGE_LEAD = _derived(
    "from a hatching edge seen to grafting", 18.0, "h", "middle of the best ages, 12-24 h"
)
EDGE_PATCH = _derived(
    "time in which the eggs of a marked patch at the edge were laid",
    4.0,
    "h",
    "judgement: some dozen cells beside each other",
)
COMB_LEAD_LEAST = _practice("least time from comb in the nest to grafting", 4.0, "d")
COMB_LEAD_MOST = _practice("most time from comb in the nest to grafting", 5.0, "d")
COMB_SETTLE = _derived(
    "from comb in the nest to the first egg on it",
    12.0,
    "h",
    "judgement: found, polished, then laid in; fits the four to five days of common practice",
)
CONFINED_LEAD = _published(
    "from the queen's confinement to grafting", 4.0, "d", _BUECHLER + "2.1.5 (four days before)"
)
CONFINED_LEAST = _published("least confinement", 12.0, "h", _BUECHLER + "2.1.5 (12-24 h)")
CONFINED_MOST = _published("most confinement", 24.0, "h", _BUECHLER + "2.1.5 (12-24 h)")
CAGE_HOLDS = _published(
    "time within which bees may gnaw a push-in cage open", 2.0, "d", _BUECHLER + "2.1.5"
)
LAYING_SEEN = _derived(
    "from confinement to seeing that she lays",
    4.0,
    "h",
    "Crailsheim et al. 2013, BEEBOOK artificial rearing, 4.2: after a few hours",
)
EGGS_PER_HOUR = _memory(
    "eggs a confined queen lays",
    30.0,
    "1/h",
    "from memory: 1,000-1,500 a day at the height of the season, about half on one comb",
)
LARVAE_PER_CUP = _derived(
    "right larvae wanted for each cup", 2.0, "ratio", "judgement: not every one lies well"
)

# Before the grafting.
DRONE_EMERGENCE = _practice("drone, egg to emergence", 24.0, "d")
DRONE_SEALED = _memory("drone, egg to sealing", 10.0, "d", "from memory")
DRONE_EGGS_LATE = _derived(
    "least time from drone eggs to grafting",
    17.0,
    "d",
    "24 d to emergence and 12 d to maturity, less about 19 d from grafting to mating",
)
DRONE_EGGS_EARLY = _derived(
    "good time from drone eggs to grafting",
    19.0,
    "d",
    "24 d to emergence and 14 d to maturity, less about 19 d from grafting to mating",
)
DRONE_LOOK_FROM = _derived(
    "from looking for sealed drone brood to grafting",
    9.0,
    "d",
    "eggs of 17-19 d before are sealed by then",
)
POLISH_EARLY = _practice("longest time for bees to polish the comb", 3.0, "d")
POLISH_LATE = _practice("shortest time for bees to polish the comb", 1.0, "d")
FEED = _published("feeding before", 3.0, "d", _BUECHLER + "2.1.4 (three days or more)")
STARTER_EARLY = _practice("starter made up at the earliest, before grafting", 24.0, "h")
STARTER_LATE = _practice("starter made up at the latest, before grafting", 2.0, "h")
SEARCH_FIRST = _practice("first search for rogue cells at the earliest, before grafting", 24.0, "h")
SEARCH_AGAIN = _practice("second search for rogue cells, after grafting", 5.0, "d")

GRAFT_SPAN = _derived(
    "grafting early or late that still counts as on time",
    2.0,
    "h",
    "judgement: the share of right larvae moves by little",
)

# Cells.
ACCEPTED = _published(
    "accepted where all is well done", 0.8, "share", _BUECHLER + "2.1.7 (at least 80 %)"
)
CHECK_EARLY = _practice("acceptance checked at the earliest, after grafting", 20.0, "h")
CHECK_LATE = _practice("acceptance checked at the latest, after grafting", 28.0, "h")
FINISHER_EARLY = _published("cells to the finisher, earliest", 24.0, "h", _CUSHMAN)
FINISHER_LATE = _published(
    "cells to the finisher, latest", 48.0, "h", _BUECHLER + "2.1.4 (about two days)"
)
SEALED_EARLY = _published(
    "cells sealed, earliest, after grafting", 4.5, "d", "Rosecomb Apiaries 2012 (some still open)"
)
SEALED_USUAL = _published(
    "cells sealed, after grafting", 5.0, "d", "Rosecomb Apiaries 2012 (5 d after grafting)"
)
SEALED_LATE = _published(
    "cells sealed, latest, after grafting", 6.5, "d", f"{_CUSHMAN} (some time during day 6)"
)
HANDS_OFF_FROM = _practice("cells left alone from, after grafting", 5.0, "d")
HANDS_OFF_TO = _practice("cells left alone to, after grafting", 9.5, "d")
RIPE = _practice("ripe cells to nucs or incubator, after grafting", 10.0, "d")
CUPS_PER_BUILDER = _published(
    "most cells for one colony to build", 20.0, "ratio", "Alley and Caldeira, as quoted on the web"
)

# Queens.
QUEEN_TOTAL = _published("queen, egg to emergence at 34.5 C", 385.0, "h", _CHUDA)
SEALED_WARM_C = _published("warm sealed cells", 34.5, "degC", _CHUDA)
SEALED_COOL_C = _published("cool sealed cells", 32.0, "degC", _CHUDA)
COOL_DELAY = _published("later emergence at 32 C than at 34.5 C", 27.0, "h", _CHUDA)
EMERGENCE_SPREAD = _derived(
    "spread of emergence either way", 24.0, "h", "15-17 d (americasbeekeeper.com)"
)
OLDER_EARLY = _published(
    "how much earlier larvae older than thought emerge",
    36.0,
    "h",
    "The Apiarist, as quoted on the web (24-36 h older: up to a day and a half early)",
)
MATURE_EARLY = _derived(
    "emergence to first mating flights", 5.0, "d", "5-6 d (a queen seller's page)"
)
MATURE_USUAL = _published("emergence to maturity", 7.0, "d", _CONNOR)
MATING_LATE = _derived(
    "emergence to last usual mating flights",
    9.0,
    "d",
    "7 d to maturity and 2 d of flights (Connor, beeculture.com); bad weather takes longer",
)
LAYING_AFTER = _published("last mating flight to first eggs", 3.0, "d", _CONNOR)
FIRST_EGGS_EARLY = _derived(
    "grafting to first eggs, earliest", 24.0, "d", "28 d from egg to egg less egg stage and age"
)
FIRST_EGGS_LATE = _derived(
    "grafting to first eggs, look by", 28.0, "d", "24 d and four days for weather"
)

# Day of grafting, for the paper.
ROOM_LEAST_C = _published("grafting room, coolest", 24.0, "degC", _BUECHLER + "2.1.6")
ROOM_MOST_C = _published("grafting room, warmest", 26.0, "degC", _BUECHLER + "2.1.6")
ROOM_HUMIDITY = _published("grafting room, least humidity", 0.5, "share", _BUECHLER + "2.1.6")

FACTS: tuple[Fact, ...] = tuple(value for value in list(globals().values()) if type(value) is Fact)
