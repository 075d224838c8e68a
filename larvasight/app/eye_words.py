"""What the pages of Name the stage, Younger of two and Put in order say."""

from collections.abc import Sequence

from larvasight.desk.pair_bout import ChosenYounger
from larvasight.desk.row_bout import N_ROW_PAIRS, OrderedRow
from larvasight.desk.stage_bout import NamedStage
from larvasight.grading import Limits, age_words, looks_note
from larvasight.paper.marks import Mark, Shape
from larvasight.paper.stage_words import STAGE_AS, mixed_sentence
from larvasight.practice.ordering import STEPS_H
from larvasight.practice.stages import STAGE_WORDS, Stage, StageCourse, stage_table
from larvasight.practice.staircase import GapStaircase
from larvasight.render.tiles import Tile

RIGHT_MARK = Mark(colour="#009E73", shape=Shape.DISC, word="right")
WRONG_MARK = Mark(colour="#D55E00", shape=Shape.CROSS, word="not right")
GOING_ON = "You go on where you stopped."
STAGE_KEYS = "Keys 1 to 5 do the same."
PAIR_KEYS = "The left and right arrow keys do the same, or click the cell."
ORDER_KEYS = (
    "Drag the cells. Or with the keyboard: the arrow keys go from cell to cell, Space takes one up "
    "and the arrows carry it. Enter is done."
)
_SIDES = ("left", "right")
_PLACES = ("1st", "2nd", "3rd", "4th", "5th")
_LOOKS: dict[Stage, str] = {
    Stage.EGG: "A straight pearly rod, standing or lying, glued to the floor by one end.",
    Stage.JUST_HATCHED: "As small as an egg, but lying, and a little bent.",
    Stage.RIGHT_AGE: "A small open curve on its jelly, not much longer than an egg.",
    Stage.CLOSED_C: "The ends turn towards each other, and the body has grown thick.",
    Stage.TOO_OLD: "A fat coil that reaches from wall to wall.",
}
_BETWEEN: dict[Stage, str] = {
    Stage.EGG: (
        "An egg is a straight rod, glued by one end. A larva just hatched is as small, but it lies "
        "and is bent."
    ),
    Stage.JUST_HATCHED: (
        "Just hatched it is no longer than an egg and hardly bent. At the right age it curves on "
        "its bed of jelly."
    ),
    Stage.RIGHT_AGE: (
        "At the right age the curve is open and leaves much floor. In a closed C the ends turn "
        "towards each other and the body is thick."
    ),
    Stage.CLOSED_C: (
        "A closed C still leaves floor about it. One far too old is a fat coil from wall to wall."
    ),
}


def count_words(at: int, n: int, unit: str) -> str:
    """Say how far one is."""
    return f"{unit} {at} of {n}"


def old_words(tile: Tile, limits: Limits) -> str:
    """Say how old what lies in a cell is."""
    age_h = tile.age_h or 0.0
    if age_h < 0.0:
        left_h = round(-age_h)
        return f"hatches in {left_h} h" if left_h >= 1 else "about to hatch"
    return f"{age_words(age_h, limits)} old"


# Name the stage.


def stage_button(stage: Stage) -> str:
    """Return what a button says."""
    words = STAGE_WORDS[stage]
    return f"{stage + 1}   {words[0].upper()}{words[1:]}"


def stages_asked(course: StageCourse) -> str:
    """Say which stages come now, and how."""
    if course.is_mixed:
        return "All five stages, in any order."
    return f"For now only these: {_stage_names(course)}."


def _stage_names(course: StageCourse) -> str:
    names = [STAGE_WORDS[stage] for stage in course.stages]
    return f"{', '.join(names[:-1])} and {names[-1]}"


def stage_verdict(told: NamedStage) -> str:
    """Say whether a name was right."""
    return f"{'Yes' if told.is_right else 'No'}, it is {STAGE_AS[told.true]}"


def stage_sentences(told: NamedStage, tile: Tile, limits: Limits) -> list[str]:
    """Say how old it is, what to see in it, and what comes next."""
    age = old_words(tile, limits)
    age = f"This egg {age.replace('about', 'is about')}." if told.age_h < 0.0 else f"It is {age}."
    said = "" if told.is_right else f"You said {STAGE_WORDS[told.named]}. "
    near, far = sorted((told.true, told.named))
    looks = _BETWEEN[near] if far - near == 1 else _LOOKS[told.true]
    note = looks_note(told.age_h, told.looks_age_h)
    return [f"{said}{age}", note, looks, _stage_joins(told)]


def _stage_joins(told: NamedStage) -> str:
    joined = [stage for stage in told.after.stages if stage not in told.before.stages]
    if not joined:
        return ""
    order = " All five then come in any order." if told.after.is_mixed else ""
    return f"Eight of ten right. From now on also: {STAGE_WORDS[joined[0]]}.{order}"


def named_title(named: Sequence[tuple[Stage, Stage]]) -> str:
    """Say how many of some cells were named rightly."""
    n_right = sum(true is said for true, said in named)
    return f"{n_right} of {len(named)} named rightly."


def named_words(named: Sequence[tuple[Stage, Stage]], course: StageCourse) -> str:
    """Say which were confused, and what comes next."""
    table = stage_table([true for true, _ in named], [said for _, said in named])
    mixed = mixed_sentence(table)
    after = f"Next time only these: {_stage_names(course)}."
    if course.is_mixed:
        after = "Next time: all five stages, in any order."
    return f"{mixed} {after}".strip()


# Younger of two.


def gap_words(stairs: GapStaircase) -> str:
    """Say how far apart a pair is."""
    return f"These two look about {stairs.gap_h:.0f} h apart."


def pair_verdict(told: ChosenYounger) -> str:
    """Say whether the younger one was chosen."""
    side = _SIDES[told.younger]
    return f"{'Yes' if told.is_right else 'No'}, the {side} one is younger"


def pair_sentences(told: ChosenYounger, limits: Limits) -> list[str]:
    """Say both ages, and how far apart the next pair is."""
    younger, older = told.tiles[told.younger], told.tiles[1 - told.younger]
    ages = (
        f"The younger is {old_words(younger, limits)}, the other {old_words(older, limits)}: "
        "look at size, then at how far the curve has closed."
    )
    gap = f"about {told.after.gap_h:.0f} h apart."
    moved = ""
    if told.after.step > told.before.step:
        moved = f"Two right in a row. The next two are closer: {gap}"
    elif told.after.step < told.before.step:
        moved = f"The next two are easier: {gap}"
    return [ages, moved]


def pairs_title(rights: Sequence[bool]) -> str:
    """Say how many pairs were right."""
    return f"{sum(rights)} of {len(rights)} pairs right."


def pairs_words(stairs: GapStaircase) -> str:
    """Say how close in age pairs are by now."""
    if stairs.step == 0:
        return "You work at pairs 12 h apart. Look at the size of the body against the floor first."
    return (
        f"You have come to pairs about {stairs.gap_h:.0f} h apart. Next time begins a step easier."
    )


# Put in order.


def step_words(step: int) -> str:
    """Say how far apart the cells of a row are."""
    return f"From one to the next they look about {STEPS_H[step]:.0f} h older."


def row_verdict(told: OrderedRow) -> str:
    """Say how well a row was put in order."""
    if told.is_right:
        return "Yes, all five in order"
    return f"{told.n_right} of {N_ROW_PAIRS} pairs the right way round"


def row_sentence(told: OrderedRow) -> str:
    """Say what the row shows now, and what the next is like."""
    shown = "" if told.is_right else "This is the true order, youngest first. "
    step = f"steps of about {STEPS_H[told.after]:.0f} h."
    if told.after > told.step:
        return f"{shown}The next row is closer: {step}"
    if told.after < told.step:
        return f"{shown}The next row is wider: {step}"
    return f"{shown}The next row has {step}"


def put_words(place: int, put: int) -> str:
    """Say where the learner had put the cell of a place."""
    return "" if place == put else f"you had it {_PLACES[put]}"


def rows_title(n_rights: Sequence[int]) -> str:
    """Say how many pairs of some rows stood the right way round."""
    n = N_ROW_PAIRS * len(n_rights)
    return f"{sum(n_rights)} of {n} pairs stood the right way round."


def rows_words(n_rights: Sequence[int], step: int) -> str:
    """Say how many rows were right, and what comes next."""
    n_whole = sum(n_right == N_ROW_PAIRS for n_right in n_rights)
    whole = {0: "No row was wholly in order", 1: "One row was wholly in order"}.get(
        n_whole, f"{n_whole} rows were wholly in order"
    )
    return f"{whole}. Next time: steps of about {STEPS_H[step]:.0f} h."
