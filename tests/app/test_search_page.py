"""Search a comb side in the window: a round field, cups that fill, a side told as a whole."""

from dataclasses import replace
from functools import cache
from uuid import uuid4

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt

from larvasight.app import search_page
from larvasight.app.cell_item import Rim
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.search_page import SearchPage
from larvasight.app.search_words import next_words, time_words, told_remarks, told_title
from larvasight.desk.practising import shipped_tiles
from larvasight.desk.search_side import prepare_search
from larvasight.desk.searching import SearchTold
from larvasight.errors import AssetMissingError
from larvasight.grading import Limits
from larvasight.practice import Answer
from larvasight.practice.drills import SEARCH_A_SIDE
from larvasight.practice.searching import N_CUPS, Searched, SearchLevel

WAIT_MS = 30_000
LEFT = Qt.MouseButton.LeftButton


@cache
def side_once():
    return prepare_search(
        SearchLevel.BROAD, 2, limits=Limits(), library=shipped_tiles(), n_cells=130
    )


def small_side(level, seed, *, limits, library):
    del seed, limits, library
    side = side_once()
    asked = tuple(replace(cell, id=uuid4()) for cell in side.comb.asked)
    return replace(side, comb=replace(side.comb, asked=asked), level=level)


@pytest.fixture
def page(qtbot, context, monkeypatch):
    monkeypatch.setattr(search_page, "prepare_search", small_side)
    made = SearchPage(context)
    qtbot.addWidget(made)
    made.resize(1000, 700)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.leave()
    wait_for_jobs()


@pytest.fixture
def session(page, qtbot):
    page.begin(SEARCH_A_SIDE)
    qtbot.waitUntil(lambda: page.work.session is not None, timeout=WAIT_MS)
    return page.work.session


def seen(page):
    """Return the cells that lie in the field now."""
    return np.flatnonzero(page.work.sight.in_field())


def kept(context, n=1):
    context.keeper.flush(5.0)
    rounds = context.store.kept_rounds(context.learner.id, [SEARCH_A_SIDE.key])
    assert len(rounds) == n
    return rounds[-1]


def finish(page, qtbot):
    page.work.end()
    qtbot.waitUntil(page.told.isVisible, timeout=WAIT_MS)


def test_only_a_round_field_of_the_side_is_seen(page, session):
    sight = page.work.sight
    middle = QPoint(sight.viewport().rect().center())
    corner = QPoint(4, 4)
    assert sight.is_in_field(middle)
    assert not sight.is_in_field(corner)
    assert sight.cell_at(corner) is None
    assert 0 < len(seen(page)) < len(session.side.comb.asked)


def test_without_a_matched_screen_the_field_shows_as_much_comb_as_a_loupe(page, session):
    sight = page.work.sight
    px_per_mm = session.side.comb.sheet.scale.px_per_mm
    assert 2.0 * sight.radius_px / px_per_mm == pytest.approx(60.0, rel=0.01)
    assert sight.magnification is None


def test_on_a_matched_screen_comb_is_as_large_as_through_the_loupe(page, session, context):
    sight = page.work.sight
    context.loupe.match(sight.screen(), 85.6 * 3.0)  # three px to a mm
    assert sight.magnification == 2.5
    scale = sight.transform().m11() * session.side.comb.sheet.scale.px_per_mm
    assert scale == pytest.approx(2.5 * 3.0)
    assert 2.0 * sight.radius_px * sight.transform().m11() == pytest.approx(60.0 * 7.5)
    context.loupe.use(8.0)  # no round field is seen under a microscope
    assert sight.magnification == 3.5


def test_a_larva_that_is_clicked_fills_a_cup_and_is_kept(page, session, qtbot, rows, words_of):
    index = int(seen(page)[0])
    point = page.work.sight.centre_on_screen(index)
    qtbot.mouseClick(page.work.sight.viewport(), LEFT, pos=point)
    assert session.taken == [index]
    assert "1 of 15 cups filled" in words_of(page.work)
    qtbot.waitUntil(lambda: page.work.sight.face_of(index).rim is Rim.INK, timeout=WAIT_MS)
    assert rows()[session.side.comb.asked[index].id][:2] == ("take", 0)
    qtbot.keyClick(page.work.sight, Qt.Key.Key_Z)
    assert session.taken == []
    qtbot.waitUntil(lambda: rows()[session.side.comb.asked[index].id][0] is None)


def test_arrow_keys_move_the_field_and_space_takes(page, session, qtbot):
    sight = page.work.sight
    before = sight.middle
    is_right = before.x() > session.side.comb.sheet.photo.width_px / 2.0
    for _ in range(9):
        qtbot.keyClick(sight, Qt.Key.Key_Left if is_right else Qt.Key.Key_Right)
    qtbot.waitUntil(lambda: abs(sight.middle.x() - before.x()) > 50.0)
    qtbot.waitUntil(lambda: sight.in_field()[sight.place])  # once the glide has ended
    place = sight.place
    assert sight.in_field()[place]
    qtbot.keyClick(sight, Qt.Key.Key_Space)
    assert session.taken == [place]


def test_a_place_that_the_field_was_dragged_away_from_comes_along(page, session, qtbot):
    sight = page.work.sight
    qtbot.keyClick(sight, Qt.Key.Key_Left)
    lost = sight.place
    width_px = session.side.comb.sheet.photo.width_px
    far = 0.0 if sight.middle.x() > width_px / 2.0 else float(width_px)
    sight.go_to((far, 0.0))
    qtbot.keyClick(sight, Qt.Key.Key_Space)
    assert session.taken == []
    assert sight.place != lost
    assert sight.in_field()[sight.place]


def test_the_side_is_told_as_a_whole_once_all_is_stored(page, session, qtbot, context, words_of):
    page.work.look()
    for index in seen(page)[:3]:
        page.work.press(int(index))
    finish(page, qtbot)
    round_ = kept(context)
    assert round_.ended_at_utc is not None
    answers = [answer for answer in round_.answers if answer is not None]
    assert answers.count(Answer.TAKE) == 3
    words = " ".join(words_of(page.told))
    assert "out of the hive" in words
    assert "The next side: a broad band" in words
    assert not page.told.how_button.isVisible()
    page.told.show_why(session.taken[0])
    assert page.told.how_button.isVisible()
    assert "You took it" in " ".join(words_of(page.told))
    qtbot.mouseClick(page.told.how_button, LEFT)
    assert not page.told.how_button.isVisible()


def test_a_cell_that_was_never_in_the_field_has_no_answer(page, session, qtbot, context, words_of):
    away = np.flatnonzero(~page.work.sight.in_field())
    finish(page, qtbot)
    round_ = kept(context)
    assert all(round_.answers[int(index)] is None for index in away)
    page.told.show_why(int(away[0]))
    assert "You did not look there." in words_of(page.told)


def test_the_last_cup_ends_the_search(page, session, qtbot):
    for index in session.side.takeable[:N_CUPS]:
        page.work.press(index)
    qtbot.waitUntil(page.told.isVisible, timeout=WAIT_MS)
    assert session.is_ended
    assert "15 cups filled" not in page.told.cups.accessibleName()


def test_enter_lays_another_side(page, session, qtbot):
    finish(page, qtbot)
    qtbot.keyClick(page.told.comb, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.work.session is not None, timeout=WAIT_MS)
    assert page.work.session is not session


def test_stopping_keeps_what_was_taken(page, session, qtbot, context, press):
    page.work.press(int(seen(page)[0]))
    with qtbot.waitSignal(page.ended):
        press(page.work, "Stop here")
    assert page.work.session is None
    assert [a for a in kept(context).answers if a is Answer.TAKE] == [Answer.TAKE]


def test_a_side_that_cannot_be_laid_says_so_and_can_be_tried_again(
    page, qtbot, monkeypatch, words_of, press
):
    def fail(*_args, **_kwargs):
        raise AssetMissingError("The tiles are gone.")

    monkeypatch.setattr(search_page, "prepare_search", fail)
    page.begin(SEARCH_A_SIDE)
    qtbot.waitUntil(lambda: "The tiles are gone." in words_of(page), timeout=WAIT_MS)
    monkeypatch.setattr(search_page, "prepare_search", small_side)
    press(page, "Try again")
    qtbot.waitUntil(lambda: page.work.session is not None, timeout=WAIT_MS)


def told_of(*, level=SearchLevel.BROAD, following=None, n_right=13, n_picks=15, **changes):
    values = {
        "searched": Searched(level=level, n_picks=n_picks, n_right=n_right, minutes=3.5),
        "next_level": level if following is None else following,
        "vain_share": 0.25,
        "n_taken": 15,
        "n_too_old": 0,
        "n_egg": 0,
        "n_no_larva": 0,
        "n_very_young": 0,
        "n_past": 0,
        "n_hidden": 0,
        "n_dry": 0,
        "n_seen_left": 4,
        "n_never_seen": 9,
    }
    return SearchTold(**(values | changes))


def test_words_tell_what_was_wrong_and_what_is_only_remarked():
    remarks = told_remarks(told_of(n_too_old=1, n_egg=1, n_hidden=1, n_dry=3))
    assert "Wrong: 1 too old, 1 egg." in remarks
    assert "leave what you cannot tell" in remarks
    assert "3 of them lie on hardly any jelly. Take those well fed first" in remarks
    assert "damp" in remarks
    assert "You saw" not in remarks
    assert "You saw 4 right ones and left them; 9 more" in told_remarks(told_of(n_taken=6))


def test_titles_and_levels_are_plain_words():
    assert told_title(told_of()) == "13 of 15 you took were young enough."
    assert told_title(told_of(n_right=15)) == "All 15 you took were young enough."
    assert told_title(told_of(n_taken=0)) == "You took none."
    on = told_of(following=SearchLevel.SOME_WAY_OFF)
    assert next_words(on).startswith("Sure and quick twice in a row.")
    back = told_of(level=SearchLevel.NARROW, following=SearchLevel.SOME_WAY_OFF)
    assert next_words(back).startswith("Many were wrong")
    assert time_words(3.5) == "3\N{NO-BREAK SPACE}min 30\N{NO-BREAK SPACE}s"
