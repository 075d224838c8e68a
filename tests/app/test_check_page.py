"""Check without warm-up, the course day's test and the clock in the window."""

from datetime import timedelta

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from larvasight.app import check_page, fresh_supply
from larvasight.app.check_page import CheckPage
from larvasight.app.jobs import wait_for_jobs
from larvasight.desk.fresh_combs import shipped_set_apart
from larvasight.grading import Limits
from larvasight.practice.drills import CHECK, COURSE_DAY_TEST
from larvasight.sheet import Content

WAIT_MS = 20_000
LIMITS = Limits()
SMALL_PX = (320, 240)


@pytest.fixture
def page(qtbot, context, monkeypatch):
    if shipped_set_apart() is None:
        pytest.skip("the tiles are not here")
    monkeypatch.setattr(fresh_supply, "picture_size_px", lambda _aspect: SMALL_PX)
    made = CheckPage(context)
    qtbot.addWidget(made)
    made.resize(1000, 700)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.leave()
    wait_for_jobs()


def press_soon(qtbot, page, words):
    """Press a button as soon as it is there."""

    def there():
        return [
            each
            for each in page.findChildren(QPushButton)
            if each.text() == words and each.isVisible()
        ]

    qtbot.waitUntil(lambda: len(there()) == 1)
    qtbot.mouseClick(there()[0], Qt.MouseButton.LeftButton)


def is_right(cell):
    return cell.content is Content.LARVA and cell.age_h <= LIMITS.old_h


def answer_all(qtbot, page, words_of):
    """Answer until it is told; return everything that was said meanwhile."""
    said = []
    while not page.told.isVisible():
        qtbot.waitUntil(
            lambda: page.run.session is not None or page.told.isVisible(), timeout=WAIT_MS
        )
        session = page.run.session
        if session is None:
            break
        cell = session.round.current
        said += words_of(page.run)
        qtbot.keyClick(page.run.comb, Qt.Key.Key_T if is_right(cell) else Qt.Key.Key_L)
        qtbot.waitUntil(
            lambda session=session, cell=cell: (
                page.run.session is not session or session.round.current is not cell
            ),
            timeout=WAIT_MS,
        )
    return said


def test_a_check_is_told_at_its_end_and_not_before(page, qtbot, words_of):
    page.begin(CHECK)
    press_soon(qtbot, page, "Begin with 20 cells")
    said = " ".join(answer_all(qtbot, page, words_of))
    assert "20 of 20" in said
    assert "young enough" not in said
    told = " ".join(words_of(page.told))
    assert "young enough" in told
    assert "of 100" in told
    assert "first check" in told
    assert "Next time: " not in told  # more of today is still to be done
    assert not page.told.save_button.isVisible()


def test_the_next_check_says_whether_the_eye_has_held(page, qtbot, words_of, clock):
    for _ in range(2):
        page.begin(CHECK)
        press_soon(qtbot, page, "Begin with 20 cells")
        answer_all(qtbot, page, words_of)
        clock.at += timedelta(days=7)
        page.told.hide()
    page.told.show()
    assert "has held since" in " ".join(words_of(page.told))


def test_a_check_broken_off_is_begun_anew(page, qtbot, context):
    page.begin(CHECK)
    press_soon(qtbot, page, "Begin with 40 cells")
    qtbot.waitUntil(lambda: page.run.session is not None, timeout=WAIT_MS)
    qtbot.keyClick(page.run.comb, Qt.Key.Key_L)
    with qtbot.waitSignal(page.ended):
        press_soon(qtbot, page, "Stop here")
    page.leave()
    assert context.keeper.flush(5.0)
    assert context.store.unfinished_round(context.learner.id) is None


def test_the_course_day_has_forty_cells_no_pass_and_a_sheet(
    page, qtbot, words_of, tmp_path, monkeypatch
):
    page.begin(COURSE_DAY_TEST)
    press_soon(qtbot, page, "Begin")
    said = " ".join(answer_all(qtbot, page, words_of))
    assert "40 of 40" in said
    assert "there is no pass" in " ".join(words_of(page.told))
    path, told = tmp_path / "sheet.pdf", []
    monkeypatch.setattr(check_page, "ask_save_path", lambda *_: path)
    monkeypatch.setattr(check_page, "tell_saved", lambda *args: told.append(args[-1]))
    press_soon(qtbot, page, "Save the sheet (PDF) ...")
    assert path.read_bytes().startswith(b"%PDF")
    assert told == [path]


def test_nothing_is_written_when_the_person_gives_up(page, qtbot, words_of, monkeypatch):
    page.begin(COURSE_DAY_TEST)
    press_soon(qtbot, page, "Begin")
    answer_all(qtbot, page, words_of)
    monkeypatch.setattr(check_page, "ask_save_path", lambda *_: None)
    monkeypatch.setattr(check_page, "tell_saved", lambda *_: pytest.fail("nothing was saved"))
    press_soon(qtbot, page, "Save the sheet (PDF) ...")


def test_missing_tiles_are_told_in_one_sentence(page, qtbot, words_of, monkeypatch):
    monkeypatch.setattr(fresh_supply, "shipped_set_apart", lambda: None)
    page.begin(CHECK)
    press_soon(qtbot, page, "Begin with 20 cells")
    qtbot.waitUntil(lambda: "missing" in " ".join(words_of(page)), timeout=WAIT_MS)
