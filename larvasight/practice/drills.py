"""The drills: each is one declaration on the shared runner of ``practice.rounds``."""

from dataclasses import dataclass, replace
from enum import StrEnum

from larvasight.practice.measuring import BLOCK_CELLS
from larvasight.practice.own_combs import Half


class Shows(StrEnum):
    """What lies before the learner at once."""

    PATCH = "patch"
    ONE_CELL = "one-cell"
    OWN_PAGE = "own-page"


class Feedback(StrEnum):
    """When the learner is told."""

    AFTER_EACH = "after-each"
    AFTER_COMB = "after-comb"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """One kind of exercise.

    ``key`` is stored with every answer and never changes. ``n_cells`` is about how many whole
    cells a comb shows, ``n_asked`` how many of them are asked; None asks all. ``is_side`` puts a
    whole side of comb before the learner, larger than can be judged at once. ``own`` takes the
    comb from own photos, the cells of that half; None draws one.
    """

    key: str
    title: str
    task: str
    shows: Shows
    feedback: Feedback
    n_cells: int
    trains: str
    n_asked: int | None = None
    is_side: bool = False
    own: Half | None = None


PICK_FROM_PATCH = Drill(
    key="pick-from-patch",
    title="Pick from a patch",
    task="Mark every larva you would graft, then press Enter.",
    shows=Shows.PATCH,
    feedback=Feedback.AFTER_COMB,
    n_cells=30,
    trains="Picking as on a real comb: choose among many cells, then see why.",
)
# The same drill, and stored as such, on a comb that is gone over part by part.
PICK_FROM_SIDE = replace(
    PICK_FROM_PATCH, title="Pick from a whole comb side", n_cells=600, is_side=True
)
TAKE_OR_LEAVE = Drill(
    key="take-or-leave",
    title="Take or leave",
    task="Would you take this one to graft?",
    shows=Shows.ONE_CELL,
    feedback=Feedback.AFTER_EACH,
    n_cells=30,
    n_asked=10,
    trains="The line between young enough and too old: ages near your own line, told at once.",
)
# The same drills, and stored as such, on own photos; the cells kept apart are for tests only.
PICK_ON_OWN = replace(PICK_FROM_PATCH, title="Pick on your own combs", own=Half.PRACTICE)
TAKE_ON_OWN = replace(TAKE_OR_LEAVE, title="Take or leave on your own combs", own=Half.PRACTICE)
TEST_ON_OWN = replace(PICK_FROM_PATCH, title="Test on your own combs", own=Half.TEST)
FIND_YOUR_EDGES = Drill(
    key="find-your-edges",
    title="Where do you draw the line?",
    task="Would you take this one to graft?",
    shows=Shows.ONE_CELL,
    feedback=Feedback.AFTER_COMB,
    n_cells=60,
    n_asked=BLOCK_CELLS,
    trains="See the youngest and the oldest you take: up to 40 cells, nothing told until the end.",
)
NAME_THE_STAGE = Drill(
    key="name-the-stage",
    title="Name the stage",
    task="What do you see?",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_EACH,
    n_cells=1,
    trains="Egg, just hatched, right age, closed C, far too old: what is it? Told at once.",
)
YOUNGER_OF_TWO = Drill(
    key="younger-of-two",
    title="Younger of two",
    task="Which one is younger?",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_EACH,
    n_cells=2,
    trains="Small steps of age: two larvae side by side, nearer in age the better you are.",
)
PUT_IN_ORDER = Drill(
    key="put-in-order",
    title="Put in order",
    task="Put them in order, the youngest first.",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_EACH,
    n_cells=5,
    trains="The whole scale of ages: rows of five larvae from the youngest to the oldest.",
)
SEARCH_A_SIDE = Drill(
    key="search-a-side",
    title="Search a comb side",
    task="Find where eggs are hatching, and fill the bar.",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_COMB,
    n_cells=600,
    trains="Finding the right place on a whole side through a loupe: fill a bar of 15 cups.",
    is_side=True,
)
TOOL_GOES_IN = Drill(
    key="tool-goes-in",
    title="Where the tool goes in",
    task="Choose the tool and the hand, and set the tip.",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_EACH,
    n_cells=1,
    trains="Lifting a larva: which tool, which hand, and where its tip goes down.",
)
AGAINST_THE_CLOCK = Drill(
    key="against-the-clock",
    title="Against the clock",
    task="Would you take this one to graft?",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_COMB,
    n_cells=30,
    n_asked=20,
    trains="Pace, once you pick well: 20 cells, each in a little more than your own usual time.",
)
CHECK = Drill(
    key="check-without-warm-up",
    title="Check without warm-up",
    task="Would you take this one to graft?",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_COMB,
    n_cells=24,
    n_asked=20,
    trains="Has your eye kept it? 20 or 40 fresh cells before you practise, told at the end.",
)
SCREEN_TEST = Drill(
    key="screen-test",
    title="The screen test",
    task="Mark every larva you would graft.",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_COMB,
    n_cells=24,
    trains="Four parts on fresh comb, over two days and a week: what stands, what comes next.",
)
COURSE_DAY_TEST = Drill(
    key="course-day-test",
    title="Short test of a course day",
    task="Would you take this one to graft?",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_COMB,
    n_cells=24,
    n_asked=20,
    trains="Where you stand after a day's course: 40 cells and a sheet of paper. It has no pass.",
)
# On paper, for a group or at home: not in the list of drills.
PRINTED_SHEET = Drill(
    key="printed-sheet",
    title="Printed sheet",
    task="Tick every larva you would graft.",
    shows=Shows.PATCH,
    feedback=Feedback.AFTER_COMB,
    n_cells=32,
    n_asked=24,
    trains="Picking without a screen: 24 cells on paper, their key on the second page.",
)
# A teacher's own marks, to show where they draw the line: never counted as picks.
TEACHERS_LINE = Drill(
    key="teachers-line",
    title="The teacher's line",
    task="Would you take this one to graft?",
    shows=Shows.OWN_PAGE,
    feedback=Feedback.AFTER_COMB,
    n_cells=30,
    n_asked=60,
    trains="For teachers: mark 60 cells or more, and see where you draw the line yourself.",
)
DRILLS: tuple[Drill, ...] = (
    PICK_FROM_PATCH,
    TAKE_OR_LEAVE,
    NAME_THE_STAGE,
    YOUNGER_OF_TWO,
    PUT_IN_ORDER,
    FIND_YOUR_EDGES,
    SEARCH_A_SIDE,
    TOOL_GOES_IN,
    AGAINST_THE_CLOCK,
    CHECK,
    SCREEN_TEST,
    COURSE_DAY_TEST,
)


def drill_of(key: str) -> Drill:
    """Return the drill with this key; ValueError when there is none."""
    for drill in DRILLS:
        if drill.key == key:
            return drill
    msg = f"key must be one of {[drill.key for drill in DRILLS]}, got {key!r}"
    raise ValueError(msg)
