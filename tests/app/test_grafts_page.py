"""Grafts in the window: noted from the keyboard, refused beside the field, kept before shown."""

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QAbstractButton, QApplication, QComboBox, QFileDialog, QMessageBox

from larvasight.app import grafts_bench
from larvasight.app.grafts_page import GraftsPage
from larvasight.app.theme import TEXT_PX_MAX
from larvasight.desk.grafting import kept
from larvasight.desk.reporting import local_zone
from larvasight.errors import StoreBusyError, StoreFullError
from larvasight.grafts import Alternation, Batch, Cup, Factor, Fate, Stage, Tool, new_cups
from larvasight.records import batches as rows_of_batches
from larvasight.timetable.cautions import GRAFTING_DAY

TWENTY = "aaxaaaxaaxaaaaxaaaxa"
# Slow typing for people: 200 key presses in a minute.
PRESSES_A_MINUTE = 200


@pytest.fixture
def page(qtbot, context):
    made = GraftsPage(context)
    qtbot.addWidget(made)
    made.resize(1149, 730)
    made.show()
    qtbot.waitExposed(made)
    return made


@pytest.fixture
def arrive(page, qtbot):
    """Return a function that goes to the page and waits until it has read the batches."""

    def _arrive():
        page.arrive()
        wait_for_end(page, qtbot)

    return _arrive


@pytest.fixture
def put(context, clock):
    """Return a function that stores a batch grafted five days ago."""

    def _put(n_cups=20, **changes):
        at = clock().astimezone(local_zone()) - timedelta(days=5)
        values = {"id": uuid4(), "grafted_at": at, "grafter": "Mira", "cups": new_cups(n_cups)}
        batch = Batch(**(values | changes))
        context.store.put_batches([batch], now=clock())
        return batch

    return _put


@pytest.fixture
def open_batch(arrive, put, page):
    def _open(**changes):
        batch = put(**changes)
        arrive()
        page.open_batch(batch)
        return batch

    return _open


def wait_for_end(page, qtbot):
    qtbot.waitUntil(lambda: page._job is None)
    QApplication.processEvents()


def stored(context):
    assert context.keeper.flush(3.0)
    return context.store.batches()


def type_keys(qtbot, widget, letters):
    for letter in letters:
        qtbot.keyClick(widget, letter)
    return len(letters)


def marks(batch):
    return [(cup.reached, cup.fate) for cup in batch.cups]


def shown(page):
    return page._pages.currentWidget()


def test_without_grafts_it_says_what_to_do_first(page, arrive, words_of, press):
    arrive()
    assert "No grafts noted yet" in words_of(page)
    press(page, "Note a batch")
    assert shown(page) is page.form


def test_twenty_cups_are_noted_from_the_keyboard_in_under_a_minute(
    page, arrive, put, context, qtbot
):
    put(1)
    arrive()
    qtbot.keyClick(page.list.list, "n")
    assert shown(page) is page.form
    n_presses = 1
    qtbot.keyClick(page.form.fields["n_cups"], Qt.Key.Key_Return)
    n_presses += 1
    assert shown(page) is page.batch
    n_presses += type_keys(qtbot, page.batch.bar, TWENTY)
    assert n_presses == 22
    assert n_presses <= PRESSES_A_MINUTE / 2
    made = stored(context)[0]
    expected = [
        (Stage.ACCEPTED, Fate.OPEN) if c == "a" else (Stage.GRAFTED, Fate.LOST) for c in TWENTY
    ]
    assert marks(made) == expected
    assert made.grafter == "Mira"
    assert made.learner_id == context.learner.id


def test_arrows_go_from_cup_to_cup(page, open_batch, qtbot):
    open_batch(n_cups=45)
    bar, visited = page.batch.bar, []
    for key in (
        "Right",
        "Right",
        "Left",
        "Down",
        "Down",
        "Down",
        "Up",
        "End",
        "Right",
        "Home",
        "Left",
    ):
        qtbot.keyClick(bar, getattr(Qt.Key, f"Key_{key}"))
        visited.append(bar.current)
    assert visited == [2, 3, 2, 22, 42, 42, 22, 45, 45, 1, 1]


def test_a_mark_goes_to_the_next_cup_and_can_be_taken_back(page, open_batch, context, qtbot):
    open_batch(n_cups=3)
    bar = page.batch.bar
    type_keys(qtbot, bar, "acx")
    assert bar.current == 3
    type_keys(qtbot, bar, "zz")
    assert bar.current == 2
    assert marks(stored(context)[0]) == [
        (Stage.ACCEPTED, Fate.OPEN),
        (Stage.GRAFTED, Fate.OPEN),
        (Stage.GRAFTED, Fate.OPEN),
    ]
    type_keys(qtbot, bar, "zzz")
    assert marks(stored(context)[0])[0] == (Stage.GRAFTED, Fate.OPEN)


def test_each_letter_notes_its_outcome(page, open_batch, context, qtbot, clock):
    cups = tuple(Cup(number=n, reached=Stage.ACCEPTED) for n in range(1, 9))
    open_batch(cups=cups, grafted_at=clock().astimezone(local_zone()) - timedelta(days=30))
    type_keys(qtbot, page.batch.bar, "acemlxgo")
    assert marks(stored(context)[0]) == [
        (Stage.ACCEPTED, Fate.OPEN),
        (Stage.CAPPED, Fate.OPEN),
        (Stage.EMERGED, Fate.OPEN),
        (Stage.MATED, Fate.OPEN),
        (Stage.LAYING, Fate.OPEN),
        (Stage.ACCEPTED, Fate.LOST),
        (Stage.ACCEPTED, Fate.GIVEN_AWAY),
        (Stage.GRAFTED, Fate.OPEN),
    ]


def test_the_day_that_is_set_is_noted_with_the_stage(page, open_batch, context, qtbot):
    batch = open_batch()
    day = batch.grafted_on + timedelta(days=1)
    page.batch._seen_on.setDate(page.batch._seen_on.date().addDays(-4))
    type_keys(qtbot, page.batch.bar, "a")
    assert stored(context)[0].cups[0].days == {Stage.ACCEPTED: day}


def test_what_cannot_be_is_told_and_changes_nothing(page, open_batch, context, words_of, qtbot):
    batch = open_batch(n_cups=2)
    type_keys(qtbot, page.batch.bar, "g")
    sentence = "Cup 1 is not accepted yet, so there is nothing to give away."
    assert any(words.endswith(sentence) for words in words_of(page))
    assert page.batch.bar.current == 1
    assert stored(context) == [batch]
    type_keys(qtbot, page.batch.bar, "a")
    assert not any("nothing to give away" in words for words in words_of(page))


@pytest.mark.parametrize("days_before", [8, 3])
def test_emergence_before_or_just_after_grafting_is_refused_beside_the_day(
    page, open_batch, context, clock, qtbot, days_before
):
    made = open_batch(n_cups=3)
    seen_on = clock().astimezone(local_zone()).date() - timedelta(days=days_before)
    page.batch._seen_on.show_day(seen_on)
    type_keys(qtbot, page.batch.bar, "e")
    assert page.batch._problem.isVisible()
    assert "cannot have emerged" in page.batch._problem.text()
    assert page.batch._seen_on.day == seen_on  # what was typed stays
    assert stored(context) == [made]


def test_a_mark_is_drawn_as_kept_only_after_it_is_on_the_disk(
    page, open_batch, context, words_of, qtbot, monkeypatch
):
    open_batch(n_cups=3)
    put, refused = rows_of_batches.put, []

    def refuse(*arguments):
        refused.append(1)
        msg = "The disk is full."
        raise StoreFullError(msg)

    monkeypatch.setattr(rows_of_batches, "put", refuse)
    type_keys(qtbot, page.batch.bar, "a")
    qtbot.waitUntil(lambda: bool(refused))
    assert page.batch.bar._waiting == {1}
    assert "Storing ..." in words_of(page)
    monkeypatch.setattr(rows_of_batches, "put", put)
    context.keeper.try_again()
    qtbot.waitUntil(lambda: page.batch.bar._waiting == frozenset())
    assert "Everything is stored." in words_of(page)
    assert context.store.batches()[0].cups[0].reached is Stage.ACCEPTED


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("n_cups", "400", "A batch has 1 to 100 cups"),
        ("n_cups", "-20", "A batch has 1 to 100 cups"),
        ("room_c", "warm", 'from -10 to 50 \N{DEGREE SIGN}C; "warm" is not'),
        ("out_min", "-1", "The time out of the hive is a number"),
        ("grafter", "", "Type who grafted."),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field_and_all_stays_typed(
    page, arrive, context, field, typed, words, words_of
):
    arrive()
    page.note_batch()
    page.form.fields["breeder"].setText("Queen 7")
    page.form.fields[field].setText(typed)
    before = page.form.typed()
    page.form.save()
    assert shown(page) is page.form
    told = page.form.problems[field]
    assert told.isVisible()
    assert words in told.text()
    assert [f for f, p in page.form.problems.items() if p.isVisible()] == [field]
    assert "One thing is not right yet; it is told at its field." in words_of(page.form)
    assert page.form.typed() == before
    assert page.form.fields[field].hasFocus()
    assert stored(context) == []


def test_all_that_is_typed_is_stored(page, arrive, context):
    arrive()
    page.note_batch()
    form = page.form
    for field, text in {"breeder": "Queen 7", "room_c": "24,5", "n_cups": "10"}.items():
        form.fields[field].setText(text)
    for field, value in {"tool": "brush", "primed": "yes", "second": "second_tool=rigid"}.items():
        box = form.fields[field]
        assert isinstance(box, QComboBox)
        box.setCurrentIndex(box.findData(value))
    form.save()
    (made,) = stored(context)
    assert (made.breeder, made.room_c, made.is_primed, len(made.cups)) == (
        "Queen 7",
        24.5,
        True,
        10,
    )
    assert made.alternation == Alternation(factor=Factor.TOOL, value="rigid")


def test_the_next_form_knows_what_is_likely_the_same(page, arrive, put):
    put(breeder="Queen 7", tool=Tool.BRUSH, room_c=25.0, notes="Windy")
    arrive()
    page.note_batch()
    typed = page.form.typed()
    assert (typed["breeder"], typed["tool"], typed["n_cups"]) == ("Queen 7", "brush", "20")
    assert (typed["room_c"], typed["notes"]) == ("", "")


def test_a_batch_is_changed_with_its_cups_kept(page, open_batch, context, press):
    mira = context.learner.id
    cups = (Cup(number=1, reached=Stage.CAPPED), Cup(number=2))
    batch = open_batch(learner_id=mira, cups=cups)
    press(page, "Change ...")
    page.form.fields["n_cups"].setText("1")
    page.form.fields["breeder"].setText("Queen 9")
    page.form.save()
    assert stored(context) == [replace(batch, breeder="Queen 9", cups=batch.cups[:1])]
    assert page.batch.batch.breeder == "Queen 9"


def test_a_plan_can_be_named(page, arrive, context, clock):
    plan_id = uuid4()
    context.store.put_plan(plan_id, name="May", spec="{}", now=clock())
    arrive()
    page.note_batch()
    box = page.form.fields["plan"]
    box.setCurrentIndex(box.findData(str(plan_id)))
    page.form.save()
    assert stored(context)[0].plan_id == plan_id


def test_escape_leaves_no_form_but_any_other_page(page, open_batch, qtbot):
    open_batch()
    qtbot.keyClick(page.batch.bar, Qt.Key.Key_Escape)
    assert shown(page) is page.list
    page.note_batch()
    page.form.fields["breeder"].setText("Queen 7")
    qtbot.keyClick(page.form.fields["breeder"], Qt.Key.Key_Escape)
    assert shown(page) is page.form
    page.arrive()  # another place was gone to and back
    assert page.form.typed()["breeder"] == "Queen 7"


def test_a_change_of_learner_keeps_what_is_typed(page, arrive, context, clock):
    arrive()
    page.note_batch()
    page.form.fields["breeder"].setText("Queen 7")
    context.set_learner(context.store.add_learner("Noor", now=clock()))
    assert shown(page) is page.form
    assert page.form.typed()["breeder"] == "Queen 7"


def test_deleting_asks_first_and_leaves_nothing(page, open_batch, context, press, monkeypatch):
    open_batch()
    answers = iter([QMessageBox.StandardButton.Cancel, QMessageBox.StandardButton.Yes])
    monkeypatch.setattr(QMessageBox, "exec", lambda _box: next(answers))
    press(page, "Delete ...")
    assert len(stored(context)) == 1
    press(page, "Delete ...")
    assert stored(context) == []


def test_the_list_says_how_each_batch_came_along(page, arrive, put):
    put(cups=(Cup(number=1, reached=Stage.CAPPED), Cup(number=2, fate=Fate.LOST), Cup(number=3)))
    put(is_practice=True)
    put(tool=Tool.BRUSH, breeder="Queen 7")
    arrive()
    texts = [page.list.list.item(row).text() for row in range(page.list.list.count())]
    assert texts[0].endswith("from Queen 7, 20 cups\nnot looked at yet, brush")
    assert texts[1].endswith("practice, thrown away")
    assert texts[2].endswith("1 of 2 accepted, 1 not looked at yet")


def test_records_that_cannot_be_read_are_told_and_tried_again(
    page, arrive, context, words_of, press, monkeypatch, qtbot
):
    def refuse():
        msg = "Another program is using records.db."
        raise StoreBusyError(msg)

    monkeypatch.setattr(context.store, "batches", refuse)
    arrive()
    assert "Your grafts cannot be read now" in words_of(page)
    assert "Another program is using records.db." in words_of(page)
    monkeypatch.undo()
    press(page, "Try again")
    wait_for_end(page, qtbot)
    assert "No grafts noted yet" in words_of(page)


def test_what_they_say_is_told_in_plain_words(page, arrive, put, words_of, qtbot):
    cups = tuple(Cup(number=n, reached=Stage.ACCEPTED) for n in range(1, 13))
    lost = tuple(Cup(number=n, fate=Fate.LOST) for n in range(13, 21))
    put(cups=cups + lost, tool=Tool.BRUSH)
    put(cups=cups + lost, tool=Tool.RIGID)
    put(is_practice=True)
    arrive()
    qtbot.keyClick(page.list.list, "w")
    wait_for_end(page, qtbot)
    assert shown(page) is page.told
    words = words_of(page.told)
    assert "24 of 40" in words
    assert "practice cups, not counted" in words
    assert any(text.startswith("Too few cups to tell: about 3") for text in words)
    assert any("colony, food coming in and weather" in text for text in words)
    assert any("takes at least 40 larvae" in text for text in words)
    jargon = ("p-value", "significan", "odds", "interval", "Fisher", "Mantel", "Wilson")
    assert not [text for text in words if any(word in text for word in jargon)]


def test_with_no_two_kinds_it_says_how_to_compare(page, arrive, put, words_of, qtbot):
    put()
    arrive()
    page.show_told()
    wait_for_end(page, qtbot)
    assert any(text.startswith("Nothing to compare yet") for text in words_of(page.told))


def test_the_bench_counts_minutes_and_cups_into_a_new_batch(
    page, arrive, put, context, clock, qtbot, monkeypatch
):
    sounds = []
    monkeypatch.setattr(grafts_bench.QApplication, "beep", lambda: sounds.append(clock()))
    put(1)
    arrive()
    qtbot.keyClick(page.list.list, "b")
    assert shown(page) is page.bench
    qtbot.keyClick(page.bench, Qt.Key.Key_Return)
    for _ in range(12):
        clock.go_on_ms(60_000)
        page.bench.tick()
    for _ in range(5):
        qtbot.keyClick(page.bench, Qt.Key.Key_Space)
    qtbot.keyClick(page.bench, Qt.Key.Key_Backspace)
    assert page.bench._minutes.text() == "12 min"
    assert page.bench._cups.text() == "4"
    assert len(sounds) == 2
    qtbot.keyClick(page.bench, Qt.Key.Key_Return)
    typed = page.form.typed()
    assert (typed["out_min"], typed["n_cups"]) == ("12", "4")
    page.form.save()
    made = stored(context)[0]
    assert (made.out_min, len(made.cups)) == (12.0, 4)
    assert made.grafted_at.timestamp() == pytest.approx(clock().timestamp() - 720, abs=60)


def test_the_sound_can_be_turned_off_and_words_stand_in_for_it(
    page, arrive, clock, words_of, monkeypatch
):
    monkeypatch.setattr(grafts_bench.QApplication, "beep", lambda: pytest.fail("made a sound"))
    arrive()
    page.go_to_bench()
    page.bench.sound.setChecked(False)
    page.bench.start()
    clock.go_on_ms(5 * 60_000)
    page.bench.tick()
    assert "5 minutes out of the hive." in words_of(page.bench)
    clock.go_on_ms(60_000)
    page.bench.tick()
    assert "5 minutes out of the hive." not in words_of(page.bench)
    page.bench._end()


def test_the_clock_of_the_bench_goes_on_while_the_list_is_looked_at(page, arrive, put, clock):
    put()
    arrive()
    page.go_to_bench()
    page.bench.start()
    clock.go_on_ms(7 * 60_000)
    page.show_list()
    assert page.list._bench.text().startswith("At the bench: 7 min")
    page.bench._end()


@pytest.mark.reference("common practice: cautions on the day of grafting")
def test_the_cautions_stand_at_the_bench(page, arrive, words_of):
    arrive()
    page.go_to_bench()
    words = words_of(page.bench)
    for caution in GRAFTING_DAY:
        assert caution in words
    told = " ".join(words).lower()
    for danger in (
        "sting",
        "allergic",
        "royal jelly",
        "wax",
        "lamp",
        "sharp",
        "dry out",
        "turned over",
    ):
        assert danger in told


def test_a_table_goes_out_and_a_bad_one_brings_in_nothing(
    page, arrive, put, context, folder, qtbot, monkeypatch
):
    put(3)
    arrive()
    told = []
    path = folder / "grafts.csv"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    monkeypatch.setattr(QMessageBox, "information", lambda *words: told.append(words[-1]))
    monkeypatch.setattr(QMessageBox, "warning", lambda *words: told.append(words[-1]))
    page.save_table()
    assert told.pop().startswith("Saved as grafts.csv")
    page.read_table()
    qtbot.waitUntil(lambda: bool(told))
    wait_for_end(page, qtbot)
    assert told.pop().endswith("There already, and left as they are: 1.")
    path.write_text(path.read_text("utf-8-sig").replace(",grafted,", ",eaten,", 1))
    page.read_table()
    qtbot.waitUntil(lambda: bool(told))
    assert told.pop().startswith("grafts.csv, line 2: reached is one of")
    assert len(kept(context.store).batches) == 1
    assert shown(page) is page.list


def test_the_bar_tells_cups_apart_by_shape_and_says_them_aloud(page, open_batch, qtbot):
    open_batch(cups=tuple(Cup(number=n) for n in range(1, 4)))
    bar = page.batch.bar
    empty = bar.grab().toImage()
    type_keys(qtbot, bar, "c")
    bar.go_to(1)
    assert bar.accessibleName() == "Cup 1: capped"
    marked = bar.grab().toImage()
    box = bar.cup_box(1).toRect()
    grey = QImage.Format.Format_Grayscale8
    assert empty.copy(box).convertToFormat(grey) != marked.copy(box).convertToFormat(grey)
    qtbot.mouseClick(bar, Qt.MouseButton.LeftButton, pos=bar.cup_box(3).center().toPoint())
    assert bar.current == 3
    qtbot.mouseClick(bar, Qt.MouseButton.LeftButton, pos=QPoint(bar.width() - 1, 5))
    assert bar.current == 3


def test_a_narrow_bar_shows_half_a_bar_in_a_row(page, open_batch):
    open_batch()
    bar = page.batch.bar
    assert bar.a_row == 20
    bar.resize(400, 300)
    assert bar.a_row == 10
    assert bar.cup_box(11).top() > bar.cup_box(10).top()


def test_large_text_cuts_off_no_button(page, open_batch, dressing):
    open_batch()
    dressing.wear(text_px=TEXT_PX_MAX)
    page.resize(1080, 690)
    for go in (page.show_list, page.note_batch, page.go_to_bench, page.bench.start):
        go()
        QApplication.processEvents()
        for made in page.findChildren(QAbstractButton):
            if made.isVisible() and made.text():
                assert made.width() >= made.minimumSizeHint().width() - 1, made.text()
    page.bench._end()
    page.open_batch(page.batch.batch)
    QApplication.processEvents()
    for made in page.batch.findChildren(QAbstractButton):
        if made.isVisible() and made.text():
            assert made.width() >= made.minimumSizeHint().width() - 1, made.text()
