"""What the page of Where the tool goes in says."""

from larvasight.desk.tool_entry import ToolCell
from larvasight.paper.marks import Mark, Shape
from larvasight.practice.tool_entry import (
    FLEXIBLE_REACH,
    RIGID_REACH,
    Entry,
    EntryTool,
    Hand,
    Judged,
    Landing,
    has_side_for,
    judge,
)
from larvasight.practice.tool_steps import N_CELLS, STEP_WORDS, ToolCourse, ToolStep

TASK = "Where would you set the tip?"
BEFORE = (
    "A larva is lifted from behind: the tool goes under the back of its curve, never against the "
    "open side. A flexible tip with a plunger goes straight down behind the back, and its tongue "
    "slides under the larva. A rigid hook or needle comes from the side, under the back."
)
PRACTICE = (
    "This is common practice, taught by people who graft; no study of it was found. How near the "
    f"back counts is our judgement: {FLEXIBLE_REACH.value:g} mm for the flexible tip, "
    f"{RIGID_REACH.value:g} mm for the hook."
)
CAUTION = (
    "Same side up: it must lie in the cup as it lay in the cell. Never turn a larva over, and "
    "never let it dry."
)
DRY = "This one lies nearly dry: on the comb take well fed ones first."
KEYS = (
    "Click where the tip goes, or move it with the arrow keys (with Shift farther). Enter sets it. "
    "1 and 2 choose the tool, H the hand."
)
RIGID_KEYS = "Drag from the tip, or press Page Up and Page Down, to turn the hook."
TOOL_WORDS: dict[EntryTool, str] = {
    EntryTool.FLEXIBLE: "Flexible tip with plunger",
    EntryTool.RIGID: "Rigid hook or needle",
}
HAND_WORDS: dict[Hand, str] = {Hand.RIGHT: "Right hand", Hand.LEFT: "Left hand"}
HIT_MARK = Mark(colour="#009E73", shape=Shape.DISC, word="hit")
OPEN_MARK = Mark(colour="#D55E00", shape=Shape.SQUARE, word="open side")
BODY_MARK = Mark(colour="#D55E00", shape=Shape.SQUARE, word="on the larva")
END_MARK = Mark(colour="#D55E00", shape=Shape.SQUARE, word="at an end")
ASLANT_MARK = Mark(colour="#D55E00", shape=Shape.SQUARE, word="aslant")
WALL_MARK = Mark(colour="#E69F00", shape=Shape.WEDGE, word="too near the wall")
FAR_MARK = Mark(colour="#E69F00", shape=Shape.WEDGE, word="too far off")
MARKS: dict[Landing, Mark] = {
    Landing.BEHIND: HIT_MARK,
    Landing.OPEN_SIDE: OPEN_MARK,
    Landing.ON_BODY: BODY_MARK,
    Landing.AT_END: END_MARK,
    Landing.ASLANT: ASLANT_MARK,
    Landing.WALL: WALL_MARK,
    Landing.TOO_FAR: FAR_MARK,
}
_WRONG: dict[Landing, str] = {
    Landing.OPEN_SIDE: "It would push against the inside of the curve, and turn or hurt the larva.",
    Landing.ON_BODY: "The tip would press on the larva. Set it down just behind its back.",
    Landing.AT_END: "Lifted at an end, it hangs over and turns. Go under the middle of the back.",
    Landing.ASLANT: "It would push the larva along and turn it. Come straight under the back.",
    Landing.WALL: "There is no room for the tip between the back and the wall.",
    Landing.TOO_FAR: "The tool ends before it is under the larva. Set it down nearer to the back.",
}


def step_words(course: ToolCourse, hand: Hand | None) -> str:
    """Say what the cells are like now; ``hand`` is the one that must be used."""
    if course.step is ToolStep.OTHER_HAND and hand is not None:
        return f"Now with your other hand, the {hand.value} one."
    return f"Now: {STEP_WORDS[course.step]}."


def count_words(at: int) -> str:
    """Say how far one is."""
    return f"Cell {at} of {N_CELLS}"


def told_words(entry: Entry, judged: Judged, cell: ToolCell) -> str:
    """Say in a sentence what would happen to the larva; of one that lies dry, to leave it."""
    words = _told(entry, judged, cell)
    return f"{words} {DRY}" if cell.is_dry else words


def _told(entry: Entry, judged: Judged, cell: ToolCell) -> str:
    if judged.landing is Landing.BEHIND:
        if entry.tool is EntryTool.RIGID:
            return "The hook goes in under the back, from the side of your hand."
        return "Straight down behind the back: push on, and the tongue slides under the larva."
    words = _WRONG[judged.landing]
    if judged.landing is Landing.WALL and entry.tool is EntryTool.RIGID:
        thin = Entry(tool=EntryTool.FLEXIBLE, hand=entry.hand, tip_xy_mm=entry.tip_xy_mm)
        if judge(thin, cell.floor).is_hit:
            return "Too narrow for a hook; a flexible tip would slide down the wall here."
    is_away = entry.tool is EntryTool.RIGID and not has_side_for(cell.floor, entry.hand)
    if is_away:
        hand = entry.hand.value
        words += (
            f" Its back is out of reach of a hook in the {hand} hand: take the flexible tip or the "
            "other hand, or turn the comb."
        )
    return words


def off_words(judged: Judged) -> str:
    """Say how far from the edge of the body the tip came down."""
    if judged.landing in (Landing.ON_BODY, Landing.ASLANT) or judged.off_mm < 0.0:
        return ""
    return f"{judged.off_mm:.1f} mm from the edge of its body."


def moved_words(before: ToolCourse, after: ToolCourse) -> str:
    """Say that the cells will be other ones; empty where they stay as they are."""
    if after.step > before.step:
        return f"Four of five were hits. Next: {STEP_WORDS[after.step]}."
    if after.step < before.step:
        return f"Back to {STEP_WORDS[after.step]} for a while."
    return ""


def bout_title(n_hits: int, n: int) -> str:
    """Say how many entries of a row of cells were hits."""
    return f"{n_hits} of {n} would have gone under the larva."


def bout_words(judged: list[Judged], course: ToolCourse) -> str:
    """Say what the others were, and what comes next."""
    found = [MARKS[one.landing].word for one in judged if not one.is_hit]
    counted = [f"{found.count(word)} {word}" for word in dict.fromkeys(found)]
    others = f"Missed: {', '.join(counted)}. " if counted else ""
    return f"{others}Next time: {STEP_WORDS[course.step]}. {CAUTION}"
