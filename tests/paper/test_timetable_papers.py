"""Papers of the timetable: whole pages, true sizes, and nothing that runs over an edge."""

import re
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from larvasight.grading import Limits
from larvasight.paper.age_chart_parts import ChartCell, Page
from larvasight.paper.cell_list import ROWS_A_PAGE, cell_list_pdf, draw_cell_list
from larvasight.paper.expected_strip import draw_expected_strip, expected_strip_height_px
from larvasight.paper.grafting_sheet import GraftingSheet, draw_grafting_sheet, grafting_sheet_pdf
from larvasight.paper.inks import DARK, LIGHT
from larvasight.paper.lid_label import draw_lid_labels, grafted_words, lid_labels_pdf
from larvasight.paper.pages import Upright
from larvasight.paper.qt import ensure_application
from larvasight.paper.season_chart import draw_season, season_chart_height_px
from larvasight.timetable import NamedPlan, PlanSpec, Start, make_plan
from larvasight.timetable.season import season_rows
from larvasight.timetable.spec import USUAL_LEAD_H, ages_at_graft
from larvasight.timetable.telling import mark_colour, queen_numbers

BERLIN = ZoneInfo("Europe/Berlin")
MADE_ON = date(2027, 5, 1)
PX_PER_MM = 6.0
AGES_H = (-20.0, 1.0, 8.0, 14.0, 22.0, 35.0, 50.0)
LONG = "W" * 60


def named(start=Start.CONFINED, name="Batch 1", **decided):
    at = datetime(2027, 5, 14, 10, 0, tzinfo=BERLIN)
    usual = {"anchor_at": at, "lead_h": USUAL_LEAD_H[start]}
    spec = PlanSpec(start=start, **{**usual, **decided})
    return NamedPlan(id=UUID(int=1), name=name, plan=make_plan(spec, BERLIN))


def sheet_of(plan):
    cells = tuple(
        ChartCell(
            title=f"Stage {k}",
            looks="",
            age_h=age_h,
            pixels=np.full((240, 240, 3), 90, np.uint8),
            pitch_px=192.0,
        )
        for k, age_h in enumerate(AGES_H)
    )
    return GraftingSheet(
        named=plan, limits=Limits(), cells=cells, made_on=MADE_ON, program_version="0.1.0"
    )


def painted(width_px, height_px, draw, ground=0xFFFFFFFF):
    """Return a picture as grey values, shape (H, W)."""
    ensure_application()
    image = QImage(round(width_px), round(height_px), QImage.Format.Format_RGB32)
    image.fill(ground)
    painter = QPainter(image)
    draw(painter)
    painter.end()
    grey = image.convertToFormat(QImage.Format.Format_Grayscale8)
    raw = np.frombuffer(grey.constBits(), np.uint8)
    return raw.reshape(grey.height(), grey.bytesPerLine())[:, : grey.width()].copy()


def page_of(draw):
    """Return an A4 page as drawn."""
    width, height = 210.0 * PX_PER_MM, 297.0 * PX_PER_MM
    return painted(
        width,
        height,
        lambda painter: draw(Upright(painter=painter, page=Page.A4, px_per_mm=PX_PER_MM)),
    )


PAPERS = {
    "sheet": lambda page, plan: draw_grafting_sheet(page, sheet_of(plan)),
    "labels": draw_lid_labels,
    "list": lambda page, plan: draw_cell_list(page, plan, 0),
}


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("decided", [{}, {"n_bars": 5, "cups_per_bar": 20}, {"n_nucs": 500}])
@pytest.mark.parametrize("name", ["Batch 1", LONG])
def test_nothing_runs_over_the_edge_of_the_page(paper, decided, name):
    plan = named(name=name, breeder=name, starter=name, **decided)
    grey = page_of(lambda page: PAPERS[paper](page, plan))
    edge = round(8.0 * PX_PER_MM)
    margins = [grey[:edge], grey[-edge:], grey[:, -edge:]]
    if paper != "labels":  # where it is cut, a line reaches further out
        assert all(margin.min() > 200 for margin in margins)
    assert (grey[edge:-edge] < 100).mean() > 0.003


@pytest.mark.reference("ISO 216 A4, standing; a point is 1/72 inch")
def test_pages_are_a4_standing_and_as_many_as_needed():
    plan = named(n_nucs=2 * ROWS_A_PAGE + 1)
    files = {
        1: (
            grafting_sheet_pdf(sheet_of(plan)),
            lid_labels_pdf(plan, made_on=MADE_ON, program_version="0.1.0"),
        ),
        3: (cell_list_pdf(plan, made_on=MADE_ON, program_version="0.1.0"),),
    }
    for n_pages, pdfs in files.items():
        for pdf in pdfs:
            boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)", pdf)
            assert len(boxes) == n_pages
            for box in boxes:
                size_mm = [float(n) * 25.4 / 72.0 for n in box]
                assert size_mm == pytest.approx([210.0, 297.0], abs=0.2)


def test_the_same_plan_gives_the_same_page():
    first, second = (
        lid_labels_pdf(named(), made_on=MADE_ON, program_version="0.1.0") for _ in range(2)
    )
    assert first == second


def test_a_batch_of_the_turn_of_the_year_keeps_the_year_it_is_grafted_in():
    at = datetime(2027, 12, 16, 10, 0, tzinfo=BERLIN)
    plan = named(anchor_at=at)
    assert plan.plan.step("first-eggs").from_at.year == 2028
    assert grafted_words(plan) == "Batch 1, grafted Thu 16\N{NO-BREAK SPACE}Dec 2027"


def test_a_batch_without_nucs_still_has_a_list():
    pdf = cell_list_pdf(named(n_nucs=0), made_on=MADE_ON, program_version="0.1.0")
    assert pdf.startswith(b"%PDF")


def test_cups_are_drawn_as_many_as_there_are():
    few, many = (
        (page_of(lambda page, n=n: PAPERS["sheet"](page, named(n_bars=n))) < 128).sum()
        for n in (1, 3)
    )
    assert many != few


def test_larvae_are_shown_three_times_as_large_and_at_life_size():
    grey = page_of(lambda page: PAPERS["sheet"](page, named()))
    # Pictures are even grey; cells are 5.3 mm apart and shown a little past their rims.
    rows = [runs_of(np.abs(row.astype(int) - 90) < 6) for row in grey]
    shown_mm = np.array(max(rows, key=sum)) / PX_PER_MM
    assert np.sort(shown_mm)[::4] == pytest.approx(np.array([1.0, 3.0]) * 5.3 * 1.05, abs=0.4)
    assert shown_mm.size == 8


def runs_of(is_in):
    """Return the lengths of the runs that are longer than 3 mm."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_in.astype(int), [0]])))
    lengths = edges[1::2] - edges[::2]
    return [int(n) for n in lengths if n > 3.0 * PX_PER_MM]


def test_queens_are_numbered_from_the_first_number_on():
    numbers = queen_numbers(named(n_nucs=3, first_queen=41).plan.spec, 2027)
    assert numbers == ("27-041", "27-042", "27-043")


@pytest.mark.reference(
    "common practice: queens marked by year, 1/6 white, 2/7 yellow, 3/8 red, 4/9 green, 5/0 blue"
)
@pytest.mark.parametrize(
    ("year", "colour"),
    [(2026, "white"), (2027, "yellow"), (2028, "red"), (2029, "green"), (2030, "blue")],
)
def test_queens_are_marked_in_the_colour_of_the_year(year, colour):
    assert mark_colour(year) == colour


@pytest.mark.parametrize("start", list(Start))
@pytest.mark.parametrize("inks", [LIGHT, DARK], ids=["light", "dark"])
def test_the_strip_shows_most_where_most_brood_is(start, inks):
    plan = named(start).plan
    text_px, width = 18.0, 720
    height = expected_strip_height_px(text_px)

    def draw(painter):
        painter.fillRect(QRectF(0, 0, width, height), inks.paper)
        draw_expected_strip(
            painter,
            QRectF(0, 0, width, height),
            ages_at_graft(plan.spec),
            plan.ages,
            limits=Limits(),
            inks=inks,
            text_px=text_px,
        )

    with_curve = painted(width, height, draw)
    assert with_curve.std() > 5.0


@pytest.mark.parametrize("today", [date(2027, 3, 1), date(2027, 5, 20), date(2027, 9, 1)])
def test_the_season_marks_today_wherever_it_is(today):
    rows = season_rows([named(), named(Start.EDGE, name=LONG)])
    text_px, width = 18.0, 700
    height = season_chart_height_px(len(rows), text_px)

    def draw(painter):
        painter.fillRect(QRectF(0, 0, width, height), LIGHT.paper)
        box = QRectF(0, 0, width, height)
        draw_season(painter, box, rows, today=today, inks=LIGHT, text_px=text_px)

    grey = painted(width, height, draw)
    assert (grey < 150).mean() > 0.01
