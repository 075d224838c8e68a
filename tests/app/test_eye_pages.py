"""Name the stage, Younger of two, Put in order in the window: asked, stored, told, resumed."""

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QPushButton

from larvasight.app import eye_page
from larvasight.app.drill_pages import PAGES
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.order_page import OrderPage
from larvasight.app.pair_page import PairPage
from larvasight.app.practise_page import PractisePage
from larvasight.app.stage_page import StagePage
from larvasight.errors import StoreBusyError
from larvasight.practice.drills import NAME_THE_STAGE, PUT_IN_ORDER, YOUNGER_OF_TWO
from larvasight.practice.ordering import N_ROWS
from larvasight.practice.stages import N_CELLS, STAGE_WORDS, Stage, stage_of
from larvasight.practice.staircase import N_PAIRS

WAIT_MS = 20_000
DRILLS = (NAME_THE_STAGE, YOUNGER_OF_TWO, PUT_IN_ORDER)
NUMBER_KEYS = (Qt.Key.Key_1, Qt.Key.Key_2, Qt.Key.Key_3, Qt.Key.Key_4, Qt.Key.Key_5)


@pytest.fixture
def open_page(qtbot, context):
    """Return a function that opens a drill's page and begins."""
    made = []

    def make(drill):
        page = PAGES[drill.key](context)
        made.append(page)
        qtbot.addWidget(page)
        page.resize(1000, 700)
        page.show()
        qtbot.waitExposed(page)
        page.begin(drill)
        return page

    yield make
    for page in made:
        page.leave()
    wait_for_jobs()


def said(words_of, page):
    return " ".join(words_of(page)).replace("\N{NO-BREAK SPACE}", " ")


def visible_buttons(page):
    return [button for button in page.findChildren(QPushButton) if button.isVisible()]


def true_stage(page):
    return stage_of(page.bout.tiles[0].age_h, page.bout.limits)


def wait_told(qtbot, page):
    qtbot.waitUntil(lambda: page.is_told, timeout=WAIT_MS)


def name(qtbot, page, stage):
    qtbot.keyClick(page.sight, NUMBER_KEYS[stage])
    wait_told(qtbot, page)


def choose(qtbot, page, *, rightly):
    left, right = page.bout.tiles
    is_left = (left.age_h < right.age_h) is rightly
    qtbot.keyClick(page.sight, Qt.Key.Key_Left if is_left else Qt.Key.Key_Right)
    wait_told(qtbot, page)


def put_in_order(page):
    ages_h = [tile.age_h for tile in page.bout.tiles]
    for place, index in enumerate(sorted(range(5), key=lambda k: ages_h[k])):
        page.row.carry(page.row.order.index(index), place)


# Name the stage.


def test_the_name_given_is_told_at_once_with_the_true_age(open_page, qtbot, words_of):
    page = open_page(NAME_THE_STAGE)
    assert isinstance(page, StagePage)
    assert all(button.isVisible() for button in page.buttons.values())
    assert "right age and closed C" in said(words_of, page)
    before = page.sight.accessibleName()
    name(qtbot, page, true_stage(page))
    told = said(words_of, page)
    assert "Yes, it is " in told
    assert " old" in page.sight.accessibleName() != before
    assert not any(button.isVisible() for button in page.buttons.values())


def test_a_wrong_name_is_set_right_with_what_tells_the_two_apart(open_page, qtbot, words_of):
    page = open_page(NAME_THE_STAGE)
    true = true_stage(page)
    wrong = Stage.CLOSED_C if true is Stage.RIGHT_AGE else Stage.RIGHT_AGE
    name(qtbot, page, wrong)
    told = said(words_of, page)
    assert "No, it is " in told
    assert f"You said {STAGE_WORDS[wrong]}." in told
    assert "In a closed C the ends turn towards each other" in told


def test_a_larva_large_for_its_age_is_told_so(open_page, qtbot, words_of):
    page = open_page(NAME_THE_STAGE)
    for _ in range(N_CELLS):
        (tile,) = page.bout.tiles
        name(qtbot, page, true_stage(page))
        is_odd = tile.looks_age_h is not None and abs(tile.looks_age_h - tile.age_h) > 3.0
        assert ("for its age: it looks" in said(words_of, page)) is is_odd
        if page.bout.is_done:
            break
        qtbot.keyClick(page.sight, Qt.Key.Key_Return)


def test_after_twenty_cells_it_is_said_what_was_mixed_up(open_page, qtbot, words_of, press, rows):
    page = open_page(NAME_THE_STAGE)
    for k in range(N_CELLS):
        true = true_stage(page)
        name(qtbot, page, true if k else Stage((true + 1) % 5))
        qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    assert page.bout is None
    told = said(words_of, page)
    assert "19 of 20 named rightly." in told
    assert "Most often you called" in told
    assert sum(row[0] is not None for row in rows().values()) == N_CELLS
    press(page, "20 more")
    assert page.bout.n_done == 0


def test_only_one_answer_is_taken_and_keys_held_down_do_nothing(open_page, qtbot, rows, context):
    page = open_page(NAME_THE_STAGE)
    context.keeper.flush(5.0)
    qtbot.keyClick(page.sight, Qt.Key.Key_1)
    qtbot.keyClick(page.sight, Qt.Key.Key_2)
    wait_told(qtbot, page)
    qtbot.keyClick(page.sight, Qt.Key.Key_3)
    assert context.keeper.flush(5.0)
    assert [row[0] for row in rows().values()] == ["egg"]


# Younger of two.


def test_both_ages_are_told_and_the_gap_follows_the_answers(open_page, qtbot, words_of):
    page = open_page(YOUNGER_OF_TWO)
    assert isinstance(page, PairPage)
    assert "about 12 h apart" in said(words_of, page)
    choose(qtbot, page, rightly=True)
    assert "one is younger" in said(words_of, page)
    assert page.sight.accessibleName().count(" h old ") == 2
    qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    choose(qtbot, page, rightly=True)
    assert "Two right in a row. The next two are closer: about 8 h apart." in said(words_of, page)
    qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    choose(qtbot, page, rightly=False)
    told = said(words_of, page)
    assert "No, the " in told
    assert "The next two are easier: about 12 h apart." in told


def test_a_pair_is_chosen_with_the_mouse_too(open_page, qtbot):
    page = open_page(YOUNGER_OF_TWO)
    qtbot.mouseClick(page.sight, Qt.MouseButton.LeftButton, pos=page.sight.centre(1).toPoint())
    wait_told(qtbot, page)
    qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    corner = QPoint(2, 2)
    qtbot.mouseClick(page.sight, Qt.MouseButton.LeftButton, pos=corner)
    assert page.bout.is_open


def test_twelve_pairs_end_with_how_many_were_right(open_page, qtbot, words_of):
    page = open_page(YOUNGER_OF_TWO)
    for k in range(N_PAIRS):
        choose(qtbot, page, rightly=k > 0)
        qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    assert "11 of 12 pairs right." in said(words_of, page)


# Put in order.


def test_a_row_is_moved_with_the_keyboard_and_told_with_the_true_ages(open_page, qtbot, words_of):
    page = open_page(PUT_IN_ORDER)
    assert isinstance(page, OrderPage)
    before = list(page.row.order)
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Space, Qt.Key.Key_Right, Qt.Key.Key_Right):
        qtbot.keyClick(page.row, key)
    assert page.row.order == [before[0], before[2], before[3], before[1], before[4]]
    assert "taken up" in page.row.accessibleName()
    qtbot.keyClick(page.row, Qt.Key.Key_Space)
    qtbot.keyClick(page.row, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert page.row.order == [before[0], before[2], before[1], before[3], before[4]]
    put_in_order(page)
    first, second, *rest = page.row.order
    page.row.carry(0, 1)
    assert page.row.order == [second, first, *rest]
    qtbot.keyClick(page.row, Qt.Key.Key_Return)
    wait_told(qtbot, page)
    told = said(words_of, page)
    assert "9 of 10 pairs the right way round" in told
    assert "This is the true order" in told
    assert page.row.order == [first, second, *rest]
    assert page.row.accessibleName().count(" old") == 5
    assert "you had it 2nd" in page.row.accessibleName()


def test_a_row_is_moved_with_the_mouse_and_stands_still_once_told(open_page, qtbot):
    page = open_page(PUT_IN_ORDER)
    before = list(page.row.order)
    from_px, to_px = (page.row.centre(place).toPoint() for place in (0, 2))
    qtbot.mousePress(page.row, Qt.MouseButton.LeftButton, pos=from_px)
    qtbot.mouseMove(page.row, to_px)
    page.row.grab()
    qtbot.mouseRelease(page.row, Qt.MouseButton.LeftButton, pos=to_px)
    assert page.row.order == [before[1], before[2], before[0], *before[3:]]
    qtbot.mouseClick(page.done_button, Qt.MouseButton.LeftButton)
    wait_told(qtbot, page)
    told = list(page.row.order)
    qtbot.keyClick(page.row, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert page.row.order == told


def test_rows_get_closer_and_end_after_four(open_page, qtbot, words_of):
    page = open_page(PUT_IN_ORDER)
    for step_h in (10, 6, 4, 4):
        assert f"about {step_h} h older" in said(words_of, page)
        put_in_order(page)
        qtbot.keyClick(page.row, Qt.Key.Key_Return)
        wait_told(qtbot, page)
        assert "Yes, all five in order" in said(words_of, page)
        qtbot.keyClick(page.row, Qt.Key.Key_Return)
    told = said(words_of, page)
    assert "40 of 40 pairs stood the right way round." in told
    assert f"{N_ROWS} rows were wholly in order" in told


# All three.


@pytest.mark.parametrize("drill", DRILLS)
def test_the_picture_changes_with_what_is_told(open_page, qtbot, drill):
    page = open_page(drill)
    drawn = page.sight.grab().toImage()
    assert page.sight.grab().toImage() == drawn
    qtbot.keyClick(
        page.sight,
        {NAME_THE_STAGE: Qt.Key.Key_3, YOUNGER_OF_TWO: Qt.Key.Key_Left}.get(
            drill, Qt.Key.Key_Return
        ),
    )
    wait_told(qtbot, page)
    assert page.sight.grab().toImage() != drawn


@pytest.mark.parametrize("drill", DRILLS)
def test_stopped_halfway_it_goes_on_there(open_page, qtbot, words_of, press, context, drill):
    page = open_page(drill)
    key = {NAME_THE_STAGE: Qt.Key.Key_3, YOUNGER_OF_TWO: Qt.Key.Key_Left}.get(
        drill, Qt.Key.Key_Return
    )
    qtbot.keyClick(page.sight, key)
    wait_told(qtbot, page)
    qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    with qtbot.waitSignal(page.ended):
        press(page, "Stop here")
    assert context.keeper.flush(5.0)
    assert context.store.unfinished_round(context.learner.id) is None
    page.begin(drill)
    assert page.bout.n_done == 1
    told = said(words_of, page)
    assert "You go on where you stopped." in told
    assert " 2 of " in told


@pytest.mark.parametrize("drill", DRILLS)
def test_records_that_cannot_be_read_are_said_and_tried_again(
    open_page, qtbot, words_of, press, context, monkeypatch, drill
):
    def fail(*_args, **_how):
        raise StoreBusyError("The records are busy.")

    with monkeypatch.context() as broken:
        broken.setattr(context.store, "kept_rounds", fail)
        page = open_page(drill)
        assert "The records are busy." in said(words_of, page)
        assert page.bout is None
    qtbot.waitUntil(lambda: any(b.text() == "Try again" for b in visible_buttons(page)))
    press(page, "Try again")
    assert page.bout is not None


def test_missing_pictures_are_said(open_page, words_of, monkeypatch):
    monkeypatch.setattr(eye_page, "shipped_tiles", lambda: None)
    page = open_page(NAME_THE_STAGE)
    assert "install larvasight again" in said(words_of, page)


def test_the_drills_are_begun_from_the_list_and_lead_back(qtbot, context, press):
    page = PractisePage(context)
    qtbot.addWidget(page)
    page.resize(1000, 700)
    context.set_learner(context.learner)
    page.show()
    qtbot.waitExposed(page)
    for drill in DRILLS:
        page.begin(drill)
        assert page._own.shown.bout is not None
        press(page, "Stop here")
        assert page.start.isVisible()


def test_another_learner_finds_no_question_of_the_one_before(qtbot, context):
    page = PractisePage(context)
    qtbot.addWidget(page)
    context.set_learner(context.learner)
    page.show()
    page.begin(NAME_THE_STAGE)
    shown = page._own.shown
    other = context.store.add_learner("Noor", now=context.now())
    context.set_learner(other)
    assert shown.bout is None
    assert page.start.isVisible()
