"""Progress: nothing is told from too little, and what is told is what the records hold."""

from pathlib import Path
from uuid import uuid4

import numpy as np
import pytest
from PySide6.QtCore import QThreadPool
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QFileDialog, QFrame, QMessageBox, QWidget

from larvasight.app.progress_page import ProgressPage
from larvasight.desk.reporting import local_zone
from larvasight.errors import StoreBusyError
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, Answer, Given, ShownCell, say_next, summarise
from larvasight.practice.drills import NAME_THE_STAGE
from larvasight.records.types import ShownRound
from larvasight.sheet import Content, Jelly


@pytest.fixture
def answer(context, clock):
    """Return a function that stores a round of larvae and what was said of each."""

    def _answer(ages_h, taken, *, learner=None, response_ms=2000):
        cells = tuple(
            ShownCell(
                id=uuid4(),
                row=k // 8,
                col=k % 8,
                content=Content.LARVA if age_h >= 0.0 else Content.EGG,
                age_h=age_h,
                looks_age_h=age_h if age_h >= 0.0 else None,
                length_mm=1.8,
                curl_deg=None,
                jelly=Jelly.PLENTY,
            )
            for k, age_h in enumerate(ages_h)
        )
        shown = ShownRound(
            id=uuid4(),
            learner_id=(learner or context.learner).id,
            drill=PICK_FROM_PATCH,
            cells=cells,
            limits=Limits(),
            recipe={},
            kind="drawn",
            shown_at_utc=clock(),
        )
        context.store.show_round(shown)
        givens = [
            Given(
                cell_id=cell.id,
                answer=Answer.TAKE if is_taken else Answer.LEAVE,
                response_ms=response_ms if is_taken else None,
                is_final=True,
            )
            for cell, is_taken in zip(cells, taken, strict=True)
        ]
        context.store.end_round(shown.id, givens, now=clock())

    return _answer


@pytest.fixture
def page(qtbot, context):
    made = ProgressPage(context)
    qtbot.addWidget(made)
    made.resize(1000, 900)
    made.show()
    qtbot.waitExposed(made)
    return made


@pytest.fixture
def arrive(page, qtbot):
    """Return a function that goes to the page and waits until it has read the answers."""

    def _arrive():
        page.arrive()
        wait_for_end(page, qtbot)

    return _arrive


def wait_for_end(page, qtbot):
    qtbot.waitUntil(lambda: page._job is None)
    QApplication.processEvents()


def charts(page):
    """Return what is painted on the charts, as arrays."""
    found = []
    for frame in page.findChildren(QFrame):
        if type(frame).__name__ == "_Chart" and frame.isVisible():
            image = frame.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
            data = np.frombuffer(image.constBits(), np.uint8)
            found.append(data.reshape(image.height(), image.width(), 4)[..., :3].astype(int).copy())
    return found


def line_at(old_h, n=80):
    """Return ages and what is taken of them by who takes all up to an age."""
    ages_h = np.linspace(1.0, 60.0, n)
    return ages_h.tolist(), ((ages_h > 5.0) & (ages_h < old_h)).tolist()


def n_colours(pixels):
    return len(np.unique(pixels.reshape(-1, 3), axis=0))


def test_nothing_practised_yet_offers_to_practise(page, arrive, qtbot, words_of, press):
    arrive()
    assert "Nothing to show yet" in words_of(page)
    assert charts(page) == []
    with qtbot.waitSignal(page.practise_wanted, timeout=2000):
        press(page, "Practise")


def test_below_forty_cells_only_their_number_is_told(page, arrive, answer, words_of):
    answer([18.0] * 20 + [60.0] * 19, [True] * 20 + [False] * 19)
    arrive()
    words = words_of(page)
    assert words[words.index("39 of 40") + 1] == "cells judged: too few to tell anything yet"
    assert not any("%" in text for text in words)
    assert say_next(page.progress) in words
    assert len(charts(page)) == 1
    assert not any("The oldest you take" in text for text in words)


def test_from_forty_cells_on_the_figures_are_told(page, arrive, answer, words_of):
    # 20 right and 5 too old among 25 picks; 4 right ones left of 24; 11 rightly left.
    ages_h = [18.0] * 20 + [60.0] * 5 + [20.0] * 4 + [60.0] * 11
    taken = [True] * 25 + [False] * 15
    answer(ages_h, taken, response_ms=3400)
    arrive()
    words = words_of(page)
    assert "How Mira is getting on" in words
    assert words[words.index("20 of 25") + 1].startswith("taken were young enough: 80\xa0% (about ")
    assert words[words.index("5") + 1] == "taken too old"
    assert words[words.index("4 of 24") + 1] == "right ones left"
    assert words[words.index("3.4\xa0s") + 1] == "for a usual cell"
    assert say_next(page.progress) in words


@pytest.mark.reference("Wilson 1927, 95 % interval of 20 of 25 from its equation")
def test_the_share_of_right_picks_has_its_interval(page, arrive, answer, words_of):
    answer([18.0] * 20 + [60.0] * 25, [True] * 25 + [False] * 20)
    arrive()
    z, n, share = 1.959964, 25, 0.8
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z * np.sqrt(share * (1 - share) / n + (z / (2 * n)) ** 2) / (1 + z * z / n)
    low, high = 100 * (middle - half), 100 * (middle + half)
    expected = f"(about {low:.0f}\N{EN DASH}{high:.0f}\xa0%)"
    assert any(expected in words for words in words_of(page))


def test_many_cells_without_a_pick_are_not_called_few(page, arrive, answer, words_of):
    answer([60.0] * 50, [False] * 50)
    arrive()
    words = words_of(page)
    assert "50" in words
    assert not any("Too few" in text for text in words)
    assert not any("%" in text for text in words)


def test_eggs_and_empty_cells_taken_are_told_beside_the_too_old(page, arrive, answer, words_of):
    answer([-10.0] * 3 + [60.0] * 2 + [18.0] * 40, [True] * 45)
    arrive()
    words = words_of(page)
    assert words[words.index("2") + 1] == "taken too old"
    assert words[words.index("3") + 1] == "eggs taken"
    assert "taken, no larva" not in words


def test_all_four_charts_are_painted(page, arrive, answer):
    rng = np.random.default_rng(4)
    ages_h = rng.uniform(-20.0, 70.0, 120)
    answer(ages_h.tolist(), (ages_h < 40.0).tolist())
    arrive()
    painted = charts(page)
    assert len(painted) == 4
    for pixels in painted:
        assert n_colours(pixels) > 20
        # Words, axes and dots reach over the whole chart, not into one corner of it.
        ground = pixels[20, -20]
        differs = np.abs(pixels - ground).max(axis=2) > 40
        rows, columns = np.flatnonzero(differs.any(axis=1)), np.flatnonzero(differs.any(axis=0))
        assert np.ptp(rows) > 0.5 * pixels.shape[0]
        assert np.ptp(columns) > 0.6 * pixels.shape[1]


def test_the_next_drill_and_whether_the_line_moved_are_said(page, arrive, answer, words_of):
    answer(*line_at(24.0))
    arrive()
    words = words_of(page)
    (said,) = [text for text in words if "Next drill " in text]
    assert said.startswith("Today is not done yet: about ")
    assert any(text.startswith("Whether it moves can be told after") for text in words)
    (canvas,) = [
        w for w in page.findChildren(QWidget) if "The oldest you take" in w.accessibleName()
    ]
    assert "within the limit of 30\xa0h" in canvas.accessibleName()


def test_who_took_nothing_has_no_line_but_sees_which_ages_were_shown(page, arrive, answer):
    ages_h, _ = line_at(0.0)
    answer(ages_h, [False] * len(ages_h))
    arrive()
    assert len(charts(page)) == 3


def test_charts_stand_side_by_side_where_there_is_room(page, arrive, answer, context):
    answer(*line_at(28.0))
    page.resize(round(50 * context.dressing.text_px), 900)
    arrive()

    def places():
        frames = [f for f in page.findChildren(QFrame) if type(f).__name__ == "_Chart"]
        return [frame.geometry() for frame in frames]

    narrow = places()
    assert narrow[0].bottom() < narrow[1].top()
    assert narrow[1].bottom() < narrow[2].top()
    page.resize(round(70 * context.dressing.text_px), 900)
    QApplication.processEvents()
    wide = places()
    assert wide[0].right() < wide[1].left()
    assert wide[0].top() == wide[1].top()
    assert wide[0].bottom() < wide[2].top()


def test_newer_answers_are_told_the_next_time(page, arrive, answer):
    answer([18.0] * 30, [True] * 30)
    arrive()
    answer([18.0] * 30, [True] * 30)
    arrive()
    assert page.progress.score.n_answers == 60


def test_somebody_elses_progress_is_never_shown(page, arrive, answer, context, qtbot, words_of):
    other = context.store.add_learner("Jonne", now=context.now())
    answer([18.0] * 60, [True] * 60)
    answer([60.0] * 45, [True] * 45, learner=other)
    arrive()
    assert "How Mira is getting on" in words_of(page)
    context.set_learner(other)
    wait_for_end(page, qtbot)
    assert page.progress.score.n_answers == 45
    assert "How Jonne is getting on" in words_of(page)
    assert "0 of 45" in words_of(page)


def test_answers_read_too_late_are_not_shown_as_the_next_learners(page, answer, context):
    other = context.store.add_learner("Jonne", now=context.now())
    answer([18.0] * 60, [True] * 60)
    page.hide()
    page.arrive()
    context.set_learner(other)
    QThreadPool.globalInstance().waitForDone()
    QApplication.processEvents()
    assert page.progress is None


def test_answers_that_cannot_be_read_are_one_sentence_and_can_be_read_again(
    page, arrive, answer, store, monkeypatch, qtbot, words_of, press
):
    answer([18.0] * 60, [True] * 60)

    def busy(*_args, **_kwargs):
        msg = "Another program is using the records."
        raise StoreBusyError(msg)

    with monkeypatch.context() as patch:
        patch.setattr(store, "answers", busy)
        arrive()
    assert "Another program is using the records." in words_of(page)
    press(page, "Try again")
    wait_for_end(page, qtbot)
    assert page.progress.score.n_answers == 60


def test_the_page_agrees_with_the_records(page, arrive, answer, store, context):
    rng = np.random.default_rng(9)
    ages_h = rng.uniform(-20.0, 70.0, 80)
    answer(ages_h.tolist(), (rng.random(80) < 0.5).tolist())
    arrive()
    assert page.progress == summarise(store.answers(context.learner.id), local_zone())


@pytest.mark.parametrize("ending", ["", ".pdf"])
def test_the_report_is_saved(page, answer, tmp_path, monkeypatch, ending):
    answer([18.0] * 60, [True] * 60)
    asked = []

    def choose(_parent, _title, name, _kinds):
        asked.append(Path(name).name)
        return str(tmp_path / f"report{ending}"), ""

    said = []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", choose)
    monkeypatch.setattr(QMessageBox, "information", lambda *words: said.append(words[2]))
    page.save_report()
    assert asked == ["larvasight Mira.pdf"]
    assert said == [f"Saved as report.pdf in {tmp_path}."]
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")


def test_a_report_that_cannot_be_saved_is_one_sentence(page, answer, tmp_path, monkeypatch):
    answer([18.0] * 60, [True] * 60)
    (tmp_path / "file").write_text("here", encoding="utf-8")
    said = []
    where = str(tmp_path / "file" / "report.pdf")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (where, ""))
    monkeypatch.setattr(QMessageBox, "warning", lambda *words: said.append(words[2]))
    page.save_report()
    assert len(said) == 1
    assert said[0].endswith(".")


def test_the_charts_are_saved_and_asked_about_where_they_are_there_already(
    page, answer, tmp_path, monkeypatch
):
    answer(*line_at(28.0))
    said, asked = [], []
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(tmp_path))
    monkeypatch.setattr(QMessageBox, "information", lambda *words: said.append(words[2]))
    page.save_charts()
    assert said == [f"4 charts are now in {tmp_path}, each as PNG and as SVG."]
    assert {path.suffix for path in tmp_path.iterdir()} == {".png", ".svg"}

    def refuse(box):
        asked.append(box.text())
        return QMessageBox.StandardButton.Cancel

    monkeypatch.setattr(QMessageBox, "exec", refuse)
    page.save_charts()
    assert asked == ["8 files of the same names are there already. Replace them?"]
    assert len(said) == 1


def test_charts_that_cannot_be_saved_are_one_sentence(page, answer, tmp_path, monkeypatch):
    answer(*line_at(28.0))
    said = []
    nowhere = str(tmp_path / "gone")
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: nowhere)
    monkeypatch.setattr(QMessageBox, "warning", lambda *words: said.append(words[2]))
    page.save_charts()
    assert len(said) == 1
    assert said[0].endswith(".")


def test_giving_up_the_folder_saves_nothing(page, answer, monkeypatch):
    answer(*line_at(28.0))
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: "")
    page.save_charts()


@pytest.fixture
def name_stages(context, clock):
    """Return a function that stores so many closed Cs that were named one stage."""

    def _name(n, answer):
        for _ in range(n):
            cell = ShownCell(
                id=uuid4(),
                row=0,
                col=0,
                content=Content.LARVA,
                age_h=40.0,
                looks_age_h=40.0,
                length_mm=3.0,
                curl_deg=270.0,
                jelly=Jelly.PLENTY,
            )
            shown = ShownRound(
                id=uuid4(),
                learner_id=context.learner.id,
                drill=NAME_THE_STAGE,
                cells=(cell,),
                limits=Limits(),
                recipe={},
                kind="drawn",
                shown_at_utc=clock(),
            )
            context.store.show_round(shown)
            given = Given(cell_id=cell.id, answer=answer, response_ms=900, is_final=True)
            context.store.end_round(shown.id, [given], now=clock())

    return _name


def test_stages_confused_are_told_with_counts_even_before_the_first_pick(
    page, arrive, name_stages, words_of
):
    name_stages(15, Answer.CLOSED_C)
    arrive()
    assert "Nothing to show yet" in words_of(page)
    name_stages(6, Answer.RIGHT_AGE)
    arrive()
    told = " ".join(words_of(page))
    assert "Of the latest 21 cells you named 15 rightly." in told
    assert "Most often you called a closed C of the right age: 6 times." in told


def test_few_names_are_not_told_beside_picks(page, arrive, answer, name_stages, words_of):
    answer([10.0] * 30, [True] * 30)
    name_stages(19, Answer.RIGHT_AGE)
    arrive()
    assert "Which stages you mix up" not in words_of(page)
