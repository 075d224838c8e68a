"""Timetable: what is typed is kept once it can be used, and nothing typed is ever lost."""

from datetime import UTC, datetime, timedelta
from threading import Event
from uuid import uuid4
from zoneinfo import ZoneInfo

import icalendar
import pytest
from PySide6.QtCore import QDate, QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QAbstractButton, QApplication, QFileDialog, QMessageBox

from larvasight.app import timetable_page
from larvasight.app.theme import TEXT_PX_MAX
from larvasight.app.timetable_page import TimetablePage
from larvasight.desk.timetabling import kept_plans
from larvasight.errors import StoreBusyError
from larvasight.timetable import Anchor, Start

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def page(qtbot, context, monkeypatch):
    monkeypatch.setattr(timetable_page, "local_zone", lambda: BERLIN)
    made = TimetablePage(context)
    qtbot.addWidget(made)
    made.resize(1150, 760)
    made.show()
    qtbot.waitExposed(made)
    return made


@pytest.fixture
def arrive(page, qtbot):
    def _arrive():
        page.arrive()
        qtbot.waitUntil(lambda: page._job is None)
        QApplication.processEvents()

    return _arrive


@pytest.fixture
def planned(page, arrive, press, settled):
    """Begin with one plan, kept."""
    arrive()
    press(page, "Plan a grafting")
    settled()
    return page


@pytest.fixture
def settled(page, qtbot):
    """Return a function that waits until everything is written and shown."""

    def _settled():
        qtbot.waitUntil(lambda: page._n_pending == 0 and not page._follow.isActive())
        QApplication.processEvents()

    return _settled


def type_in(qtbot, field, text):
    field.line.setFocus()
    field.line.selectAll()
    qtbot.keyClicks(field.line, text)


def test_without_a_plan_the_page_says_what_to_do_first(page, arrive, words_of):
    arrive()
    assert "No plan yet" in words_of(page)


def test_a_new_plan_is_kept_and_told(planned, store, words_of, clock):
    (kept,) = kept_plans(store)
    assert kept.name == "Batch 1"
    assert kept.spec.start is Start.EDGE
    assert kept.spec.anchor_at.astimezone(BERLIN).date() == clock().date() + timedelta(days=21)
    words = words_of(planned)
    assert "Graft Wed 10\xa0Jun, 10:00, from a hatching edge" in words
    assert "Kept." in words
    assert set(planned.view.steps.rows) >= {"drones", "edge", "graft", "ripe", "first-eggs"}


def test_plans_are_there_again_at_the_next_start(planned, context, qtbot, settled, words_of):
    type_in(qtbot, planned.form.name, "Alma's daughters")
    settled()
    again = TimetablePage(context)
    qtbot.addWidget(again)
    again.show()
    again.arrive()
    qtbot.waitUntil(lambda: again._job is None)
    assert again.form.name.text == "Alma's daughters"
    assert again.chooser.currentText() == "Alma's daughters"


def test_what_was_typed_last_is_kept_even_when_the_window_closes_at_once(
    planned, store, context, qtbot, monkeypatch
):
    begun, may_go_on = Event(), Event()
    put_plan = store.put_plan

    def slow(*args, **more):
        begun.set()
        may_go_on.wait(5.0)
        put_plan(*args, **more)

    monkeypatch.setattr(store, "put_plan", slow)
    type_in(qtbot, planned.form.name, "A")
    assert begun.wait(5.0)
    qtbot.keyClicks(planned.form.name.line, "lma")
    may_go_on.set()
    # As at the end of the program: nothing runs in the window any more.
    assert context.keeper.flush(5.0)
    assert kept_plans(store)[0].name == "Alma"


def test_another_start_asks_for_its_hours_and_leaves_the_grafting_where_it_is(
    planned, store, settled, words_of
):
    before = kept_plans(store)[0].spec.anchor_at
    planned.form._starts[Start.CONFINED].click()
    settled()
    spec = kept_plans(store)[0].spec
    assert (spec.start, spec.lead_h, spec.caged_h) == (Start.CONFINED, 96.0, 24.0)
    assert spec.anchor_at == before
    assert planned.form.lines["caged_h"].isVisible()
    assert "About 43 of 100 larvae" in " ".join(words_of(planned))
    planned.form._starts[Start.EDGE].click()
    settled()
    assert not planned.form.lines["caged_h"].isVisible()


def test_text_in_a_number_is_refused_beside_its_field_and_stays(
    planned, store, qtbot, settled, words_of
):
    cups = planned.form.lines["cups_per_bar"]
    type_in(qtbot, cups, "a few")
    assert "Type a whole number" in cups.wrong.text()
    assert cups.wrong.isVisibleTo(planned)
    assert cups.text == "a few"
    settled()
    assert kept_plans(store)[0].spec.cups_per_bar == 15
    assert any("cannot be used yet" in words for words in words_of(planned))
    type_in(qtbot, cups, "12")
    assert not cups.wrong.isVisibleTo(planned)
    settled()
    assert kept_plans(store)[0].spec.cups_per_bar == 12


def test_what_cannot_be_used_is_still_there_after_looking_at_another_plan(
    planned, qtbot, settled, press
):
    type_in(qtbot, planned.form.lines["sealed_c"], "warm")
    press(planned, "New plan")
    settled()
    assert planned.form.lines["sealed_c"].text == "34.5"
    row = planned.chooser.findText("Batch 1")
    planned.chooser.setCurrentIndex(row)
    planned.chooser.activated.emit(row)
    assert planned.form.lines["sealed_c"].text == "warm"
    assert planned.form.lines["sealed_c"].wrong.isVisibleTo(planned)


def test_emergence_before_grafting_is_refused_beside_its_field(planned, store, settled):
    planned.form.has_emerged.click()
    settled()
    seen = kept_plans(store)[0].spec.emerged_at
    assert seen is not None
    planned.form.emerged.day.setDate(QDate(2026, 6, 1))
    assert "before they are grafted" in planned.form.emerged.wrong.text()
    assert planned.form.emerged.wrong.isVisibleTo(planned)
    settled()
    assert kept_plans(store)[0].spec.emerged_at == seen


def test_a_plan_told_from_the_day_of_need_grafts_on_the_same_day(planned, store, settled):
    before = planned.named_shown().plan.graft_at
    planned.form.anchor.put(Anchor.NEEDED.value)
    planned.form.anchor.box.activated.emit(1)
    settled()
    spec = kept_plans(store)[0].spec
    assert spec.anchor is Anchor.NEEDED
    assert planned.named_shown().plan.graft_at == before
    assert planned.form.wanted.isVisibleTo(planned)
    assert (spec.anchor_at.astimezone(BERLIN).date() - before.date()).days == 28


def test_without_a_name_nothing_is_changed(planned, store, qtbot, settled):
    planned.form.name.line.setFocus()
    planned.form.name.line.selectAll()
    qtbot.keyClick(planned.form.name.line, Qt.Key.Key_Backspace)
    assert planned.form.name.wrong.isVisibleTo(planned)
    settled()
    assert kept_plans(store)[0].name == "Batch 1"


def test_a_reason_unfolds_and_stays_unfolded_when_the_plan_changes(
    planned, qtbot, settled, words_of
):
    planned.view.steps.rows["ripe"].button.click()
    assert any("Ripe cells bear careful handling" in words for words in words_of(planned))
    assert any(words.startswith("Rests on:") for words in words_of(planned))
    type_in(qtbot, planned.form.lines["n_nucs"], "7")
    settled()
    assert planned.view.steps.rows["ripe"].button.isChecked()
    assert any("Ripe cells bear careful handling" in words for words in words_of(planned))


def test_two_batches_on_one_day_are_told_to_clash(planned, press, settled, words_of):
    assert not any("clash" in words.lower() and "see" in words for words in words_of(planned))
    press(planned, "New plan")
    settled()
    words = " ".join(words_of(planned))
    assert "clashes: see The season" in words
    assert "40 nucs are wanted" in words


def test_the_starts_and_hours_early_and_late_unfold(planned, settled, words_of, qtbot):
    planned.view._ages.more.click()
    settled()
    words = words_of(planned)
    assert "a hatching edge" in words
    assert words[words.index("as planned") + 1] == "85\xa0%"
    assert "6\xa0h late" in words
    type_in(qtbot, planned.form.lines["lead_h"], "24")
    settled()
    words = words_of(planned)
    assert words[words.index("as planned") + 1] == "50\xa0%"


def test_one_calendar_file_holds_all_batches(planned, press, settled, tmp_path, monkeypatch):
    press(planned, "New plan")
    settled()
    path = tmp_path / "all.ics"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    monkeypatch.setattr(QMessageBox, "information", lambda *_: None)
    press(planned, "Calendar file of all batches ...")
    events = icalendar.Calendar.from_ical(path.read_bytes()).walk("VEVENT")
    names = {str(event["summary"]).rpartition("(")[2] for event in events}
    assert names == {"Batch 1)", "Batch 2)"}


def test_a_deleted_plan_is_gone(planned, store, press, settled, monkeypatch, words_of, context):
    asked = []
    monkeypatch.setattr(
        timetable_page, "ask_yes", lambda *words, **_kw: asked.append(words) or True
    )
    press(planned, "Delete ...")
    assert context.keeper.flush(3.0)
    assert kept_plans(store) == []
    assert len(asked) == 1
    assert "No plan yet" in words_of(planned)


def test_a_damaged_plan_hides_no_other_and_can_be_deleted(
    page, arrive, store, words_of, monkeypatch
):
    at = datetime(2026, 5, 20, tzinfo=UTC)
    store.put_plan(uuid4(), name="Broken", spec='{"format": "x"}', now=at)
    arrive()
    assert "This plan cannot be shown" in words_of(page)
    page.plan_new()
    assert [page.chooser.itemText(k) for k in range(page.chooser.count())] == ["Batch 1", "Broken"]


def test_plans_that_cannot_be_read_are_one_sentence_and_can_be_read_again(
    page, arrive, store, monkeypatch, words_of, press, qtbot
):
    def busy(**_more):
        msg = "Another program is using the records."
        raise StoreBusyError(msg)

    with monkeypatch.context() as patch:
        patch.setattr(store, "plans", busy)
        arrive()
    assert "Another program is using the records." in words_of(page)
    press(page, "Try again")
    qtbot.waitUntil(lambda: page._job is None)
    assert "No plan yet" in words_of(page)


def test_the_calendar_file_holds_the_plan_in_the_zone_of_the_place(
    planned, tmp_path, monkeypatch, press
):
    path = tmp_path / "plan.ics"
    said = []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    monkeypatch.setattr(QMessageBox, "information", lambda *words: said.append(words[2]))
    press(planned, "Calendar file ...")
    calendar = icalendar.Calendar.from_ical(path.read_bytes())
    graft = next(e for e in calendar.walk("VEVENT") if str(e["summary"]).startswith("Graft ("))
    assert graft["dtstart"].dt == planned.named_shown().plan.step("graft").from_at
    assert graft["dtstart"].params["TZID"] == "Europe/Berlin"
    assert said == [f"Saved as plan.ics in {tmp_path}."]


@pytest.mark.parametrize("words", ["Lid labels ...", "Cell list ...", "Grafting-day sheet ..."])
def test_papers_are_saved(planned, tmp_path, monkeypatch, press, words):
    path = tmp_path / "paper.pdf"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    monkeypatch.setattr(QMessageBox, "information", lambda *_: None)
    press(planned, words)
    assert path.read_bytes().startswith(b"%PDF")


def test_a_paper_that_cannot_be_saved_is_one_sentence(planned, tmp_path, monkeypatch, press):
    (tmp_path / "file").write_text("here", encoding="utf-8")
    said = []
    where = str(tmp_path / "file" / "paper.pdf")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (where, ""))
    monkeypatch.setattr(QMessageBox, "warning", lambda *words: said.append(words[2]))
    press(planned, "Lid labels ...")
    assert len(said) == 1
    assert said[0].endswith(".")


def test_the_wheel_over_a_field_changes_no_plan(planned):
    for widget in (planned.form.at.day, planned.form.at.time, planned.form.anchor.box):
        before = planned.form.draft()
        middle = QPointF(widget.rect().center())
        turned = QWheelEvent(
            middle,
            QPointF(widget.mapToGlobal(widget.rect().center())),
            QPoint(0, -120),
            QPoint(0, -120),
            Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
        QApplication.sendEvent(widget, turned)
        assert planned.form.draft() == before


def test_arrow_keys_choose_another_start(planned, store, qtbot, settled):
    first = planned.form._starts[Start.EDGE]
    first.setFocus()
    qtbot.keyClick(first, Qt.Key.Key_Down)
    settled()
    assert kept_plans(store)[0].spec.start is Start.COMB


def test_in_a_small_window_nothing_is_cut_off_at_the_right(planned, settled):
    planned.resize(770, 560)  # a window of 900 px less its rail
    planned.form._starts[Start.CONFINED].click()
    planned.view._ages.more.click()
    planned.view.steps.rows["graft"].button.click()
    settled()
    QApplication.processEvents()
    inside = planned.view._inside
    assert inside.minimumSizeHint().width() <= inside.parentWidget().width()


def test_the_first_key_on_an_empty_page_begins_a_plan(page, arrive, qtbot, settled, store):
    page.activateWindow()
    arrive()
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
    settled()
    assert len(kept_plans(store)) == 1


@pytest.mark.parametrize("width_px", [1150, 1750])
def test_large_text_is_not_cut_off(planned, context, width_px, settled):
    context.dressing.wear(text_px=TEXT_PX_MAX)
    planned.resize(width_px, 760)
    planned.form._starts[Start.CONFINED].click()
    settled()
    for made in planned.findChildren(QAbstractButton):
        if made.isVisible() and made.text():
            assert made.width() >= made.minimumSizeHint().width() - 1, made.text()
    for part in (planned.view.steps, planned.view._ages, planned.view._season):
        right = part.mapTo(planned.view, part.rect().topRight()).x()
        assert right <= planned.view.width()


def test_every_field_has_a_name_for_those_who_cannot_see_it(planned):
    fields = planned.form._asked()
    assert all(field.inner.accessibleName() for field in fields)
