"""The list of ripe cells: which queen goes into which nuc, and what became of her."""

from datetime import date

from larvasight.paper.age_chart_parts import EDGE_MM
from larvasight.paper.lettering import Side
from larvasight.paper.pages import Upright, upright_pdf
from larvasight.timetable import NamedPlan
from larvasight.timetable.days import day_words
from larvasight.timetable.telling import mark_colour, queen_numbers, window_words

ROWS_A_PAGE = 22
_TITLE_PT, _BODY_PT, _HEAD_PT, _NUMBER_PT, _SMALL_PT = 22.0, 12.0, 11.0, 14.0, 9.6
_ROW_MM, _HEAD_MM = 9.6, 10.0
# Headings with their shares of the width.
COLUMNS = (
    ("Queen", 0.12),
    ("Bar, cup", 0.12),
    ("Nuc", 0.14),
    ("Cell in", 0.12),
    ("Emerged", 0.13),
    ("Laying", 0.12),
    ("Notes", 0.25),
)


def n_list_pages(named: NamedPlan) -> int:
    """Return how many pages the list of a batch fills, at least one."""
    return max(1, -(-named.plan.spec.n_nucs // ROWS_A_PAGE))


def cell_list_pdf(named: NamedPlan, *, made_on: date, program_version: str) -> bytes:
    """Return the list as A4 pages, a row for each nuc of the batch."""
    return upright_pdf(
        lambda page, number: draw_cell_list(page, named, number),
        n_pages=n_list_pages(named),
        title=f"Cells and nucs, {named.name}",
        made_on=made_on,
        program_version=program_version,
    )


def draw_cell_list(page: Upright, named: NamedPlan, number: int) -> None:
    """Draw one page of the list."""
    y_mm = _draw_head(page, named, number)
    plan = named.plan
    numbers = queen_numbers(plan.spec, plan.step("emergence").usual_at.year)
    shown = numbers[number * ROWS_A_PAGE : (number + 1) * ROWS_A_PAGE]
    edges_mm = _edges_mm(page)
    top_mm = y_mm
    for (told, _), x_mm in zip(COLUMNS, edges_mm, strict=False):
        head = page.words(_HEAD_PT, bold=True)
        head.line(page.at(x_mm + 1.5, y_mm + _HEAD_MM / 2.0), told)
    y_mm += _HEAD_MM
    page.rule(y_mm, width_mm=0.5)
    for queen in shown or ("",):
        words = page.words(_NUMBER_PT, bold=True)
        words.line(page.at(EDGE_MM + 1.5, y_mm + _ROW_MM / 2.0), queen)
        y_mm += _ROW_MM
        page.rule(y_mm)
    page.rule(top_mm)
    page.pen(0.25)
    for x_mm in edges_mm:
        page.painter.drawLine(page.at(x_mm, top_mm), page.at(x_mm, y_mm))
    small = page.words(_SMALL_PT, faint=True)
    told = (
        "Before a cell, nuc or comb leaves the apiary: look for disease, and ask your own "
        "authority about moving bees."
    )
    small.line(page.at(EDGE_MM, page.bottom_mm - 2.0), told)


def _edges_mm(page: Upright) -> list[float]:
    edges = [EDGE_MM]
    for _, share in COLUMNS:
        edges.append(edges[-1] + share * page.width_mm)
    return edges


def _draw_head(page: Upright, named: NamedPlan, number: int) -> float:
    plan = named.plan
    n_pages = n_list_pages(named)
    title = page.words(_TITLE_PT, bold=True)
    y_mm = EDGE_MM + 4.5
    title.line(page.at(EDGE_MM, y_mm), "Cells and nucs")
    name = page.words(_BODY_PT + 2.0, faint=True)
    told = named.name if n_pages == 1 else f"{named.name}, page {number + 1} of {n_pages}"
    shown = name.elided(told, 0.55 * page.width_mm * page.px_per_mm)
    name.line(page.at(page.right_mm, y_mm), shown, Side.RIGHT)
    ripe, out = plan.step("ripe"), plan.step("emergence")
    year = out.usual_at.year
    lines = (
        f"Grafted {day_words(plan.graft_at.date())} {plan.graft_at.year}. Cells in on "
        f"{window_words(ripe)}. Queens emerge {window_words(out)}. Eggs from "
        f"{day_words(plan.step('first-eggs').from_at.date())} on.",
        f"Queens of {year} are marked {mark_colour(year)} where the colour of the year is used.",
    )
    y_mm += 7.0
    for line in lines:
        y_mm = page.text(line, _BODY_PT, (EDGE_MM, y_mm)) + 0.5
    return y_mm + 3.0
