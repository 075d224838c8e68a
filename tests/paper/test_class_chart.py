"""The class on rows: edges stand at their hours, and signs and words tell without colour."""

from datetime import date, timedelta
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from larvasight.errors import OutputFolderError
from larvasight.grading import Limits
from larvasight.paper.chart_files import CLASS_NAMES, save_class_chart
from larvasight.paper.class_chart import (
    STATE_MARKS,
    class_height_px,
    draw_class,
    line_text,
    row_words,
)
from larvasight.paper.inks import DARK, LIGHT
from larvasight.paper.qt import ensure_application
from larvasight.practice.class_line import STATE_WORDS, ClassLine, State
from larvasight.practice.scoring import Outcome, score
from larvasight.stats import Estimate

DAY = date(2027, 5, 20)
WIDTH_PX, TEXT_PX = 900, 15.0


def line_of(state, *, name="Ottilie", old_h=27.0, n_cells=120, moved=None):
    found = [Outcome.RIGHT] * 36 + [Outcome.TOO_OLD] * 4 + [Outcome.LEFT] * (n_cells - 40)
    is_new = state is State.NEW
    return ClassLine(
        name=name,
        state=state,
        n_cells=n_cells,
        young=None if is_new else Estimate(value=6.0, lo=4.0, hi=8.0),
        old=None if is_new else Estimate(value=old_h, lo=old_h - 3.0, hi=old_h + 3.0),
        score=score(np.array(found, dtype=np.int8), np.full(len(found), np.nan)),
        moved=moved,
        last_day=DAY,
        next_day=DAY + timedelta(days=3),
        old_limit_h=30.0,
    )


EVERY_STATE = [line_of(state, name=f"L{k}") for k, state in enumerate(State)]


def drawn(lines, inks=LIGHT):
    """Return the chart as grey values, shape (height, width)."""
    ensure_application()
    image = QImage(
        WIDTH_PX, round(class_height_px(len(lines), TEXT_PX)), QImage.Format.Format_RGB32
    )
    image.fill(QColor(inks.paper))
    painter = QPainter(image)
    box = QRectF(image.rect())
    draw_class(painter, box, lines, limits=Limits(), inks=inks, text_px=TEXT_PX)
    painter.end()
    grey = image.convertToFormat(QImage.Format.Format_Grayscale8)
    data = np.frombuffer(grey.constBits(), np.uint8).reshape(grey.height(), grey.bytesPerLine())
    return data[:, :WIDTH_PX].astype(np.int16)


def test_every_state_has_a_sign_and_words_of_its_own():
    assert set(STATE_MARKS) == set(State)
    assert len({mark.shape for mark in STATE_MARKS.values()}) == len(State)
    assert all(mark.word == STATE_WORDS[state] for state, mark in STATE_MARKS.items())


@pytest.mark.parametrize("inks", [LIGHT, DARK], ids=["light", "dark"])
def test_states_stay_apart_without_colour(inks):
    name_px, row_px = 0.22 * WIDTH_PX, class_height_px(1, TEXT_PX) - class_height_px(0, TEXT_PX)
    signs = []
    for state in State:
        grey = drawn([line_of(state)], inks)
        lower = round(class_height_px(0, TEXT_PX) + 0.7 * row_px)
        # The sign alone, before the word that says the same.
        signs.append(grey[lower - 8 : lower + 8, : round(1.2 * TEXT_PX)])
        assert np.abs(grey[lower - 8 : lower + 8, : round(name_px)] - grey[-1, -1]).max() > 60
    for k, one in enumerate(signs):
        for other in signs[:k]:
            assert (np.abs(one - other) > 40).sum() >= 8  # px


def test_an_older_edge_stands_further_right_and_nothing_else_moves():
    young, old = (
        drawn([line_of(State.PRACTISING, old_h=20.0)]),
        drawn([line_of(State.PRACTISING, old_h=40.0)]),
    )
    rows, columns = np.nonzero(np.abs(young - old) > 20)
    left, right = 0.22 * WIDTH_PX + TEXT_PX, 0.58 * WIDTH_PX - TEXT_PX
    per_h = (right - left) / 60.0
    # Bars of 17-23 h and 37-43 h are all that differs.
    assert columns.min() == pytest.approx(left + 17.0 * per_h, abs=6.0)
    assert columns.max() == pytest.approx(left + 43.0 * per_h, abs=6.0)
    assert rows.max() - rows.min() < 2.0 * TEXT_PX


def test_below_forty_cells_only_their_number_is_told():
    new = line_of(State.NEW, n_cells=12)
    assert row_words(new) == ("12 of 40 cells", "")
    assert line_text(new) == "Ottilie: too few cells to tell; 12 of 40 cells."


def test_words_tell_what_the_row_shows():
    drifted = line_of(State.MOVED, moved=Estimate(value=6.0, lo=3.0, hi=9.0))
    right, rest = row_words(drifted)
    # 36 of 40: Wilson's interval is 0.769 to 0.960.
    assert right == "36 of 40 right (77\N{EN DASH}96 in 100), too old 10 in 100"
    assert rest.replace("\N{NO-BREAK SPACE}", " ") == (
        "moved 6 h older; 120 cells; last 20 May, next 23 May"
    )
    spoken = line_text(drifted).replace("\N{NO-BREAK SPACE}", " ")
    assert "the line has moved" in spoken
    assert "youngest taken 4\N{EN DASH}8 h, oldest 24\N{EN DASH}30 h" in spoken


def test_a_long_name_stays_out_of_the_hours():
    short, long = (drawn([line_of(State.DUE, name=name)]) for name in ("Ida", "Maximiliana " * 20))
    _, columns = np.nonzero(np.abs(short - long) > 20)
    assert columns.max() < 0.22 * WIDTH_PX


def test_the_chart_is_saved_as_a_picture_and_as_lines(tmp_path):
    paths = save_class_chart(tmp_path, EVERY_STATE, Limits())
    assert [path.name for path in paths] == list(CLASS_NAMES)
    image = QImage(str(paths[0]))
    assert image.width() >= 1600
    assert not image.isNull()
    root = ET.fromstring(paths[1].read_bytes())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    texts = {
        "".join(one.itertext()).strip()
        for one in root.iter(root.tag.replace("svg}svg", "svg}text"))
    }
    assert {line.name for line in EVERY_STATE} <= texts
    assert set(STATE_WORDS.values()) <= texts


def test_a_folder_that_is_not_there_is_refused_in_one_sentence(tmp_path):
    with pytest.raises(OutputFolderError):
        save_class_chart(tmp_path / "nowhere", EVERY_STATE, Limits())
