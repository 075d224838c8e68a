"""The age chart: exact sizes on both papers, in the PDF and on any painter."""

import re
import zlib
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from PySide6.QtGui import QImage, QPainter

from larvasight.errors import OutputFolderError
from larvasight.grading import Limits
from larvasight.paper.age_chart import (
    N_SHEETS,
    AgeChart,
    age_chart_pdf,
    draw_age_chart,
    save_age_chart,
)
from larvasight.paper.age_chart_parts import CAUTIONS, RULER_SENTENCE, ChartCell, Page
from larvasight.paper.qt import ensure_application

MM_PER_PT = 25.4 / 72.0
PITCH_PX, SIDE_PX = 192.0, 240
AGES_H = (-20.0, 1.0, 8.0, 14.0, 22.0, 35.0, 50.0, 80.0)
# Edges of cells drawn three and ten times as large and at true size, cells 5.3 mm apart.
PITCHES_MM = {1: 5.3, 3: 15.9, 10: 53.0}
ANY_NUMBER = rb"(-?[\d.]+)"
NUMBERS_CM = re.compile(b" ".join([ANY_NUMBER] * 6) + rb" cm")


def cell_of(age_h):
    """Return a grey cell with two black lines as far apart as neighbouring cells' centres."""
    pixels = np.full((SIDE_PX, SIDE_PX, 3), 128, np.uint8)
    middle = SIDE_PX // 2
    for x in (middle - 96, middle + 96):
        pixels[:, x - 2 : x + 2] = 0
    title = f"At {age_h:.0f}"
    return ChartCell(
        title=title, looks="What is seen of it.", age_h=age_h, pixels=pixels, pitch_px=PITCH_PX
    )


def chart_of(ages_h=AGES_H, limits=None):
    return AgeChart(
        cells=tuple(cell_of(age_h) for age_h in ages_h),
        limits=limits or Limits(),
        made_on=date(2026, 5, 20),
        program_version="0.1.0",
    )


def drawn(page, number, px_per_mm, chart=None):
    """Return one sheet as drawn on a picture, grey, shape (H, W)."""
    ensure_application()
    width_mm, height_mm = page.value
    size = round(width_mm * px_per_mm), round(height_mm * px_per_mm)
    image = QImage(*size, QImage.Format.Format_RGB32)
    image.fill(0xFFFFFFFF)
    painter = QPainter(image)
    draw_age_chart(painter, chart or chart_of(), page=page, number=number, px_per_mm=px_per_mm)
    painter.end()
    grey = image.convertToFormat(QImage.Format.Format_Grayscale8)
    raw = np.frombuffer(grey.constBits(), np.uint8)
    return raw.reshape(grey.height(), grey.bytesPerLine())[:, : grey.width()].copy()


def contents(pdf):
    """Return what is drawn on each sheet."""
    found = []
    for match in re.finditer(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            text = zlib.decompress(match[1])
        except zlib.error:
            continue
        if b" Do" in text and b" cm" in text:
            found.append(text)
    return found


def placed_images_mm(content):
    """Return width and height of every picture placed on a sheet."""
    now, saved, sizes = np.eye(3), [], []
    for word in re.finditer(
        rb"(?<!\S)(q|Q)(?!\S)|" + NUMBERS_CM.pattern + rb"|/Im\d+\s+Do", content
    ):
        if word[1] == b"q":
            saved.append(now)
        elif word[1] == b"Q":
            now = saved.pop()
        elif word[0].endswith(b"cm"):
            a, b, c, d, e, f = (float(n) for n in word.groups()[1:])
            now = np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]]) @ now
        else:
            sizes.append((np.hypot(*now[0, :2]) * MM_PER_PT, np.hypot(*now[1, :2]) * MM_PER_PT))
    return np.array(sizes)


@pytest.mark.parametrize("page", list(Page))
def test_pictures_in_the_pdf_have_their_size(page):
    row, large = (
        placed_images_mm(content) for content in contents(age_chart_pdf(chart_of(), page=page))
    )
    share = PITCH_PX / SIDE_PX
    assert row.shape == (16, 2)
    assert large.shape == (8, 2)
    for times in (1, 3):
        assert np.sum(np.abs(row * share - PITCHES_MM[times]) < 0.01) == 8 * 2
    assert np.abs(large * share - PITCHES_MM[10]).max() < 0.01


@pytest.mark.reference("ISO 216 A4 and ANSI Letter, lying; a point is 1/72 inch")
@pytest.mark.parametrize(
    ("page", "size_mm"), [(Page.A4, (297, 210)), (Page.LETTER, (279.4, 215.9))]
)
def test_two_sheets_of_the_paper_lie(page, size_mm):
    pdf = age_chart_pdf(chart_of(), page=page)
    boxes = re.findall(rb"/MediaBox \[0 0 " + ANY_NUMBER + b" " + ANY_NUMBER, pdf)
    assert len(boxes) == N_SHEETS
    for box in boxes:
        # Papers are whole points in the file: half of one is 0.18 mm.
        assert [float(n) * MM_PER_PT for n in box] == pytest.approx(size_mm, abs=0.2)
    assert page.value == size_mm


@pytest.mark.parametrize("page", list(Page))
@pytest.mark.parametrize("px_per_mm", [10.0, 16.0])
def test_the_ruler_is_fifty_millimetres_on_any_painter(page, px_per_mm):
    for number in range(N_SHEETS):
        picture = drawn(page, number, px_per_mm)
        # A row of px through all lines of the ruler, in the part of the sheet under the cells.
        low = picture[int((page.value[1] - 40.0) * px_per_mm) :, : int(75.0 * px_per_mm)]
        line = next(row for row in low[int(2 * px_per_mm) :] if len(runs(row < 170)) == 51)
        at_px = np.array(centres(line))
        assert (at_px[-1] - at_px[0]) / px_per_mm == pytest.approx(50.0, abs=0.05)
        assert np.abs(np.diff(at_px) / px_per_mm - 1.0).max() < 0.1


def runs(is_dark):
    """Return begin and end of each run of dark px."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_dark.astype(int), [0]])))
    return list(zip(edges[::2], edges[1::2], strict=True))


def centres(line):
    """Return the middle of the ink of each dark run."""
    ink = 255.0 - line
    return [
        np.average(np.arange(begin - 1, end + 1), weights=ink[begin - 1 : end + 1])
        for begin, end in runs(line < 170)
    ]


@pytest.mark.parametrize("page", list(Page))
@pytest.mark.parametrize(("number", "times"), [(0, 1), (0, 3), (1, 10)])
def test_lines_a_pitch_apart_are_drawn_that_far_apart(page, number, times):
    px_per_mm = 20.0
    picture = drawn(page, number, px_per_mm, chart_of(ages_h=(50.0,)))
    wanted_px = PITCHES_MM[times] * px_per_mm
    apart_px = []
    for row in picture[int(25 * px_per_mm) : int(60 * px_per_mm) : 10]:
        middles = [
            np.average(np.arange(begin, end), weights=255.0 - row[begin:end])
            for begin, end in runs(row < 90)
        ]
        # Between the two lines of a cell all is grey.
        apart_px += [
            b - a
            for a, b in pairwise(middles)
            if np.abs(row[int(a + 0.1 * (b - a)) : int(b - 0.1 * (b - a))] - 128.0).max() < 8.0
        ]
    found = [d for d in apart_px if abs(d / wanted_px - 1.0) < 0.3]
    assert len(found) > 3
    # The rim cuts the lines aslant at their ends.
    assert np.median(found) / px_per_mm == pytest.approx(PITCHES_MM[times], abs=0.02)


def test_words_stay_on_the_paper_and_off_its_edge():
    for page in Page:
        for number in range(N_SHEETS):
            ink = np.argwhere(drawn(page, number, 5.0) < 200) / 5.0
            top, left = ink.min(axis=0)
            bottom, right = ink.max(axis=0)
            assert min(top, left) > 9.0
            assert bottom < page.value[1] - 9.0
            assert right < page.value[0] - 9.0


@pytest.mark.parametrize(
    "limits",
    [
        Limits(young_h=0.0, best_young_h=0.0, best_old_h=96.0, old_h=96.0),
        Limits(young_h=15.0, best_young_h=16.0, best_old_h=17.0, old_h=18.0),
    ],
)
def test_any_wanted_ages_and_fewer_stages_are_drawn(limits):
    for ages_h in (AGES_H, AGES_H[:3], ()):
        for page in Page:
            pdf = age_chart_pdf(chart_of(ages_h, limits), page=page)
            assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == N_SHEETS


def test_the_chart_says_how_it_is_printed_and_what_it_is_not():
    assert "if it is not 50\N{NO-BREAK SPACE}mm long, print again" in RULER_SENTENCE
    told = " ".join(CAUTIONS)
    assert "stop and ask your bee inspector" in told
    assert "No real larva under about 36\N{NO-BREAK SPACE}h has been available to test on" in told
    assert "not a licence" in told


def test_a_chart_that_cannot_be_written_is_one_sentence(tmp_path):
    save_age_chart(tmp_path / "chart.pdf", chart_of(), page=Page.A4)
    assert (tmp_path / "chart.pdf").read_bytes().startswith(b"%PDF-")
    with pytest.raises(OutputFolderError, match="cannot be written"):
        save_age_chart(tmp_path / "nowhere" / "chart.pdf", chart_of(), page=Page.A4)
