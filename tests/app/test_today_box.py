"""Today on the first screen: what it is, which parts are done, the button for the next."""

import pytest
from PySide6.QtCore import Qt

from larvasight.app.today_box import TodayBox
from larvasight.desk.todays import TodayPart, Todays

NEXT_TIME = "Next time: in 3 days."


def part(key, n_done=0, n=40, minutes=6.0, *, is_done=False):
    return TodayPart(
        key=key,
        title=key.replace("-", " ").capitalize(),
        n=n,
        n_done=n_done,
        why=f"Why {key}.",
        minutes=minutes,
        is_done=is_done,
    )


@pytest.fixture
def box(qtbot, dressing):
    made = TodayBox(dressing, next_time=lambda: NEXT_TIME)
    qtbot.addWidget(made)
    made.show()
    return made


def show(box, *parts):
    box.show_today(Todays(parts=parts))


def test_it_names_minutes_parts_amounts_and_reasons(box, words_of):
    show(box, part("younger-of-two", n=12, minutes=2.0), part("take-or-leave"))
    told = words_of(box)
    assert "Today: about 8 minutes" in told
    assert "Younger of two, 12 pairs" in told
    assert "Take or leave, 40 cells" in told
    assert "Why take-or-leave." in told
    assert box.button.text() == "Start: Younger of two"


def test_every_sign_has_its_word(box, words_of):
    show(box, part("a", is_done=True), part("b", n_done=10), part("c"), part("d"))
    told = words_of(box)
    assert "done" in told
    assert "10 of 40 done" in told
    assert told.count("later") == 2


def test_the_button_starts_the_first_part_that_is_not_done(box, qtbot):
    show(box, part("a", is_done=True), part("b", n_done=10), part("c"))
    assert box.button.text() == "Go on: B"
    with qtbot.waitSignal(box.started) as told:
        qtbot.mouseClick(box.button, Qt.MouseButton.LeftButton)
    assert told.args == ["b"]
    assert box.is_open


def test_what_is_left_is_told_in_minutes_once_begun(box, words_of):
    show(box, part("a", is_done=True), part("b", minutes=4.0))
    assert "Today: about 4 minutes more" in words_of(box)


def test_when_all_is_done_it_says_when_to_come_back(box, words_of):
    show(box, part("a", is_done=True))
    told = words_of(box)
    assert "Done for today." in told
    assert NEXT_TIME in told
    assert not box.button.isVisible()
    assert not box.is_open


def test_without_a_plan_nothing_is_shown(box):
    show(box, part("a"))
    box.show_today(None)
    assert not box.isVisible()
    assert not box.is_open


def test_one_minute_is_said_as_one(box, words_of):
    show(box, part("a", minutes=0.4))
    assert "Today: about 1 minute" in words_of(box)
