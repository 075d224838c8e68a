"""The teacher's line in the window: marked, told, taken as wanted ages; own combs on Practise."""

from uuid import uuid4

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QMessageBox

from larvasight.app import teacher_page
from larvasight.app.limits_dialog import LimitsDialog
from larvasight.app.own_cards import OwnCards
from larvasight.app.practise_words import span_words
from larvasight.app.teacher_page import TeacherPage
from larvasight.errors import NoOwnCombError
from larvasight.grading import Limits
from larvasight.practice import Answer, Given, ShownCell
from larvasight.practice.drills import PICK_ON_OWN, TEACHERS_LINE
from larvasight.records.types import PracticePhoto, ShownRound
from larvasight.sheet import Content

SMALL_PX = (320, 240)


@pytest.fixture(autouse=True)
def small_painted(monkeypatch):
    monkeypatch.setattr(teacher_page, "picture_size_px", lambda _aspect: SMALL_PX)
    monkeypatch.setattr(teacher_page, "shipped_tiles", lambda: None)


@pytest.fixture
def page(qtbot, context):
    made = TeacherPage(context)
    qtbot.addWidget(made)
    made.resize(1100, 720)
    made.show()
    qtbot.waitExposed(made)
    made.begin(TEACHERS_LINE)
    return made


def mark(store, learner, now, n=60, old_h=22.0):
    """Let a learner mark so many cells, taking those from 7 h to an oldest."""
    ages = [(k * 0.9) % 54.0 for k in range(n)]
    cells = tuple(
        ShownCell(
            id=uuid4(),
            row=0,
            col=k,
            content=Content.LARVA,
            age_h=age,
            looks_age_h=age,
            length_mm=2.0,
            curl_deg=90.0,
            jelly=None,
        )
        for k, age in enumerate(ages)
    )
    shown = ShownRound(
        id=uuid4(),
        learner_id=learner.id,
        drill=TEACHERS_LINE,
        cells=cells,
        limits=Limits(),
        recipe={},
        kind="drawn",
        shown_at_utc=now,
    )
    store.show_round(shown)
    givens = [
        Given(
            cell_id=cell.id,
            answer=Answer.TAKE if 7.0 < cell.age_h < old_h else Answer.LEAVE,
            response_ms=800,
            is_final=True,
        )
        for cell in cells
    ]
    store.end_round(shown.id, givens, now=now)


def ask(page, press, qtbot):
    press(page, "Begin on drawn comb")
    qtbot.waitUntil(lambda: page.run.session is not None, timeout=20_000)


def test_it_is_said_first_what_it_is_for(page, words_of):
    assert "The teacher's line" in words_of(page)
    assert any("Mark 60 cells or more" in words for words in words_of(page))


def test_cells_are_marked_by_keys_and_stopping_keeps_what_was_marked(
    page, press, qtbot, store, context, words_of
):
    ask(page, press, qtbot)
    # Whoever shows their own line is not told what to look for.
    assert not any("Look for a small larva" in words for words in words_of(page))
    for key in (Qt.Key.Key_T, Qt.Key.Key_L, Qt.Key.Key_N):
        n = page.run.session.round.n_answered
        qtbot.keyClick(page.run.comb, key)
        qtbot.waitUntil(lambda n=n: page.run.session.round.n_answered > n, timeout=5_000)
        qtbot.waitUntil(lambda: not page.run._is_storing, timeout=5_000)
    press(page, "Stop here")
    (kept,) = store.kept_rounds(context.learner.id, [TEACHERS_LINE.key])
    given = [answer for answer in kept.answers if answer is not None]
    assert given == [Answer.TAKE, Answer.LEAVE, Answer.CANNOT_TELL]
    assert kept.ended_at_utc is not None
    assert len(store.answers(context.learner.id).taken) == 0
    assert any("too few to tell a line" in words for words in words_of(page))


def test_without_own_photos_only_drawn_comb_is_offered(page, context, store, press):
    with pytest.raises(AssertionError):
        press(page, "Begin on your own combs")


def test_a_line_is_told_with_its_gap_and_taken_after_asking(
    page, press, store, context, clock, words_of, monkeypatch
):
    mark(store, context.learner, clock())
    page.begin(TEACHERS_LINE)
    QApplication.processEvents()
    press(page, "Show your line")
    words = words_of(page)
    assert any(told.startswith("Mind the gap: the oldest you take lies") for told in words)
    assert "Students are scored by hours, 6 to 30 h." in words
    asked = []
    answers = iter([QMessageBox.StandardButton.Cancel, QMessageBox.StandardButton.Yes])

    def answer(box):
        asked.append(box.text())
        return next(answers)

    monkeypatch.setattr(QMessageBox, "exec", answer)
    press(page, "Score by this line ...")
    assert store.limits() == Limits()
    press(page, "Score by this line ...")
    limits = store.limits()
    assert limits.by == "Mira"
    assert limits.old_h == pytest.approx(22.0, abs=2.0)
    assert context.limits == limits
    assert any(
        told.startswith("Students are scored by the line of Mira") for told in words_of(page)
    )
    assert not any(told.startswith("Mind the gap") for told in words_of(page))
    assert "by the line of Mira" in span_words(limits)


def test_wanted_ages_can_be_scored_by_a_line_and_by_hours_again(qtbot, context, store, clock):
    mark(store, context.learner, clock())
    dialog = LimitsDialog(None, context)
    qtbot.addWidget(dialog)
    assert dialog.score_by.count() == 2
    assert dialog._young.isEnabled()
    dialog.score_by.setCurrentIndex(1)
    dialog.score_by.activated.emit(1)
    assert not dialog._young.isEnabled()
    assert not dialog._old.isEnabled()
    dialog.use()
    assert store.limits(context.learner.id).by == "Mira"
    again = LimitsDialog(None, context)
    qtbot.addWidget(again)
    assert again.score_by.currentIndex() == 1
    again.score_by.setCurrentIndex(0)
    again.score_by.activated.emit(0)
    again.use()
    assert store.limits(context.learner.id) == Limits()


def test_without_a_line_the_dialog_says_how_to_get_one(qtbot, context, words_of):
    dialog = LimitsDialog(None, context)
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.score_by.count() == 1
    assert any("marked 60 cells" in words for words in words_of(dialog))


def test_own_combs_are_offered_once_there_are_some(qtbot, context, store, clock):
    chosen = []
    cards = OwnCards(context, chosen.append)
    qtbot.addWidget(cards)
    cards.show()
    assert not cards.pick_button.isVisible()
    assert cards.teacher_button.isVisible()
    store.add_photo("a" * 64, name="frame.jpg", suffix=".jpg", now=clock())
    store.put_practice_photo(
        PracticePhoto(sha256="a" * 64, is_all_checked=True, made_at_utc=clock())
    )
    cards.refresh()
    assert cards.pick_button.isVisible()
    cards.pick_button.click()
    assert chosen == [PICK_ON_OWN]


def test_a_set_without_sure_cells_is_one_sentence(context):
    with pytest.raises(NoOwnCombError):
        context.supply.take_own(PICK_ON_OWN, 1, Limits())
