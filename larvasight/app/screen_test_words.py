"""What is said of the screen test: its parts, what comes next, what a try came to."""

from dataclasses import dataclass
from datetime import date

from larvasight.desk.screen_test import KeptTry, Now, ScreenTest, WrongPick
from larvasight.grading import NOT_COUNTED_H, Limits
from larvasight.paper.lettering import NO_BREAK, span_text
from larvasight.paper.marks import Mark, Shape
from larvasight.paper.report_words import date_text
from larvasight.practice.line import when_text
from larvasight.practice.measuring import KNOWN_TO_H
from larvasight.practice.readiness import (
    CHECK_AFTER_DAYS,
    CHECK_PICKS,
    CHECK_WRONG_MOST,
    COMB_PICKS_MOST,
    DAY_PICKS_MOST,
    DAY_WRONG_MOST,
    N_PICKS,
    TOO_OLD_MOST,
    WRONG_MOST,
    Part,
    TryState,
    is_line_met,
)
from larvasight.practice.scoring import OUTCOME_WORDS, Outcome

MET = Mark(colour="#009E73", shape=Shape.DISC, word="met")
UNDER_WAY = Mark(colour="#E69F00", shape=Shape.WEDGE, word="under way")
TO_COME = Mark(colour="#FFFFFF", shape=Shape.OPEN_DISC, word="to come")
UNFINISHED = Mark(colour="#FFFFFF", shape=Shape.OPEN_DISC, word="not finished")
NOT_MET = Mark(colour="#D55E00", shape=Shape.CROSS, word="not met")

WHAT_IT_IS = (
    "Fresh comb that is never practised on, and nothing is told before a try has ended. A try "
    f"takes at least two days, and {CHECK_AFTER_DAYS} days later a check ends it."
)
NO_LICENCE = (
    "A pass on the screen is not a licence. It shows that you tell ages on drawn comb. It does not "
    "show live skill: bees, glare, your hand and the lift are not in it. Your teacher, and the law "
    "where you live, decide what you may do with bees."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One part of the test as it is listed: its sign and word, what it asks, where it stands."""

    mark: Mark
    title: str
    asks: str
    told: str


def state_words(test: ScreenTest) -> str:
    """Return in one line where a learner stands."""
    going_on = test.open_try
    if going_on is not None:
        return f"Try {len(test.tries)} is under way, begun {_date(going_on.attempt.begun_on)}."
    if test.passed_on is not None:
        return f"Passed the screen test on {_date(test.passed_on)}."
    if test.latest is None:
        return "Not begun yet."
    return f"Not passed so far: {_many(len(test.tries), 'try', 'tries')}."


def next_words(test: ScreenTest) -> str:
    """Return what comes next and when."""
    when = when_text(test.from_day, test.today)
    going_on = test.open_try
    n_today = 0 if going_on is None else going_on.n_today
    if test.now is Now.BEGIN and test.passed_on is not None:
        return "Nothing more is to be done. The test can be taken again: one try a week."
    if test.now is Now.BEGIN:
        return (
            f"Next: the first {DAY_PICKS_MOST} picks, about ten minutes. At most "
            f"{DAY_PICKS_MOST} count on one day. One try may be begun each week."
        )
    if test.now is Now.PICK:
        left = min(DAY_PICKS_MOST - n_today, N_PICKS - going_on.result.n_picks) if going_on else 0
        return f"Next: {_many(left, 'more pick', 'more picks')} today."
    if test.now is Now.MEASURE:
        again = "Once more, as the" if going_on and going_on.attempt.n_blocks else "The"
        return f"Next: up to 40 single cells. {again} oldest that you take is measured by them."
    if test.now is Now.CHECK:
        return f"Next: the check, {CHECK_PICKS} picks, before you practise anything today."
    if test.now is Now.WARMED_UP:
        return (
            "The check counts only without warm-up, and you have practised today. Do it first "
            "thing on another day."
        )
    if going_on is None:
        return f"Another try may be begun {when}: one a week, so that practice lies between."
    if going_on.result.state is TryState.WAITING:
        return f"Next: the check without warm-up, {when} or later."
    return f"{n_today} picks counted today, which is all for one day. Go on {when} or later."


def button_words(test: ScreenTest) -> str:
    """Return what the button says; empty where nothing can be done today."""
    words = {
        Now.BEGIN: "Take it again"
        if test.passed_on
        else "Begin another try"
        if test.tries
        else "Begin the test",
        Now.PICK: "Go on picking",
        Now.MEASURE: "Measure the oldest I take",
        Now.CHECK: "Begin the check",
    }
    going_on = test.open_try
    if test.now in words and going_on is not None and going_on.broken_off is not None:
        return "Go on with the open comb"
    return words.get(test.now, "")


def part_rows(test: ScreenTest, limits: Limits) -> tuple[PartRow, ...]:
    """Return the four parts with where the latest try stands in each."""
    latest = test.latest
    held = limits if latest is None else latest.limits
    latest_h = f"{held.old_h + NOT_COUNTED_H:.0f}{NO_BREAK}h"
    asks = {
        Part.PICKS: (
            f"{N_PICKS} fresh picks",
            f"On two days or more, {DAY_PICKS_MOST} a day and {COMB_PICKS_MOST} a comb at most. "
            f"Wrong may be {WRONG_MOST}, and {DAY_WRONG_MOST} on one day.",
        ),
        Part.TOO_OLD: (
            "Hardly one too old",
            f"Of these picks {TOO_OLD_MOST} may be too old: the costly mistake.",
        ),
        Part.LINE: (
            "The oldest you take",
            f"Known to within {KNOWN_TO_H:.0f}{NO_BREAK}h, and not past {latest_h}.",
        ),
        Part.CHECK: (
            "A check without warm-up",
            f"{CHECK_PICKS} picks, {CHECK_AFTER_DAYS} days after the last of the {N_PICKS} or "
            f"later. Wrong may be {CHECK_WRONG_MOST}.",
        ),
    }
    rows = []
    for part, (title, asked) in asks.items():
        mark, told = (TO_COME, "") if latest is None else _stand(part, latest)
        if latest is not None and not latest.is_open and mark in (UNDER_WAY, TO_COME):
            mark = UNFINISHED
        rows.append(PartRow(mark=mark, title=title, asks=asked, told=told))
    return tuple(rows)


def result_words(one: KeptTry) -> tuple[str, ...]:
    """Return what a try that has ended came to, with how sure that is."""
    result = one.result
    said = [result.sentence] if result.state is TryState.NOT_PASSED else []
    if result.n_picks:
        surely = ""
        if result.right_at_least is not None and result.n_picks >= N_PICKS // 2:
            surely = (
                f" So you are right in at least {100.0 * result.right_at_least:.0f} of 100 such "
                "picks; that holds 19 times in 20."
            )
        said.append(
            f"{_wrong_of(result.n_wrong, result.n_picks).capitalize()} ({WRONG_MOST} or fewer pass)"
            f"{_too_old_of(result.n_too_old)}.{surely}"
        )
    if one.attempt.edges is not None:
        old = one.attempt.edges.old_edge_h
        said.append(
            f"The oldest you take lies most likely within {span_text(max(old.lo, 0.0), old.hi)}."
        )
    if result.n_check:
        said.append(
            f"In the check: {_wrong_of(result.n_check_wrong, result.n_check)} "
            f"({CHECK_WRONG_MOST} or fewer pass)."
        )
    return tuple(said)


def wrong_words(wrong: WrongPick) -> str:
    """Return what one wrong pick was."""
    said = OUTCOME_WORDS[wrong.outcome]
    if wrong.outcome is Outcome.TOO_OLD and wrong.cell.age_h is not None:
        said = f"{said}, {wrong.cell.age_h:.0f}{NO_BREAK}h"
    return said


def wrong_list(one: KeptTry) -> str:
    """Return all wrong picks of a try that has ended, day by day; empty without any."""
    days = sorted({wrong.day for wrong in one.wrong})
    lines = []
    for day in days:
        told = [wrong_words(wrong) for wrong in one.wrong if wrong.day == day]
        lines.append(f"Wrong on {_date(day)}: {'; '.join(told)}.")
    return "\n".join(lines)


def try_words(test: ScreenTest) -> tuple[str, ...]:
    """Return a line for each try, the latest first."""
    words = {TryState.PASSED: "passed", TryState.NOT_PASSED: "not passed"}
    lines = []
    for number, one in reversed(list(enumerate(test.tries, 1))):
        told = words.get(one.result.state, "given up" if one.is_given_up else "under way")
        lines.append(f"Try {number}, begun {_date(one.attempt.begun_on)}: {told}.")
    return tuple(lines)


def _stand(part: Part, one: KeptTry) -> tuple[Mark, str]:
    """Return where a try stands in one part; of an open one no mistakes are told."""
    result = one.result
    if part in result.not_met:
        return NOT_MET, ""
    all_picked = result.n_picks >= N_PICKS
    if part is Part.PICKS:
        if all_picked:
            return MET, f"On {_many(result.n_days, 'day', 'days')}, {result.n_combs} combs."
        told = f"{result.n_picks} of {N_PICKS} so far, on {_many(result.n_days, 'day', 'days')}."
        return UNDER_WAY, told
    if part is Part.TOO_OLD:
        return (MET, "") if all_picked else (UNDER_WAY, "")
    if part is Part.LINE:
        edges = one.attempt.edges
        if edges is not None and is_line_met(edges, one.limits):
            return MET, ""
        return (UNDER_WAY, "Once more.") if one.attempt.n_blocks else (TO_COME, "")
    if result.state is TryState.PASSED:
        return MET, ""
    if result.n_check:
        return UNDER_WAY, f"{result.n_check} of {CHECK_PICKS} so far."
    day = result.check_from
    return TO_COME, "" if day is None else f"From {_date(day)} on."


def _wrong_of(n_wrong: int, n: int) -> str:
    return f"{n_wrong or 'none'} of {n} picks wrong"


def _too_old_of(n: int) -> str:
    return f", {n} of them too old" if n else ""


def _date(day: date) -> str:
    return date_text(day.day, day.month, day.year)


def _many(n: int, one: str, more: str) -> str:
    return f"{n} {one if n == 1 else more}"
