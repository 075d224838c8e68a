"""Two labels for lids: when the cells, and when the nucs, may be opened again."""

from datetime import date

from PySide6.QtCore import Qt

from larvasight.paper.age_chart_parts import EDGE_MM
from larvasight.paper.lettering import Side
from larvasight.paper.pages import Upright, upright_pdf
from larvasight.timetable import NamedPlan
from larvasight.timetable.days import day_words
from larvasight.timetable.telling import window_words

_HALF_MM = 148.5
_SHOUT_PT, _DAY_PT, _WHAT_PT, _BODY_PT, _SMALL_PT = 30.0, 60.0, 20.0, 17.0, 12.0


def lid_labels_pdf(named: NamedPlan, *, made_on: date, program_version: str) -> bytes:
    """Return one A4 page of two labels, to be cut across."""
    return upright_pdf(
        lambda page, _number: draw_lid_labels(page, named),
        n_pages=1,
        title=f"Lid labels, {named.name}",
        made_on=made_on,
        program_version=program_version,
    )


def draw_lid_labels(page: Upright, named: NamedPlan) -> None:
    """Draw the label of the cells above, the label of the nucs below."""
    plan = named.plan
    ripe, rest = plan.step("ripe"), plan.step("hands-off")
    search = window_words(plan.step("search-again"))
    cells = (
        f"But on {search}: search for rogue cells; do not shake the bar.",
        f"Queen cells: leave alone {window_words(rest)}.",
        f"Then: cells to nucs or incubator on {day_words(ripe.usual_at.date())}.",
        f"First queens may emerge from {day_words(plan.earliest_emergence_at.date())} on.",
    )
    eggs, mating = plan.step("first-eggs"), plan.step("mating")
    nucs = (
        f"Young queen: mating flights {window_words(mating)}.",
        f"Then: look for eggs {window_words(eggs)}.",
        "Not around noon on warm days: she flies then.",
        "Queen no. ....................   Nuc ....................",
    )
    _draw_label(page, named, 0.0, ripe.usual_at.date(), cells)
    _draw_label(page, named, _HALF_MM, eggs.from_at.date(), nucs)
    page.pen(0.25)
    pen = page.painter.pen()
    pen.setStyle(Qt.PenStyle.DashLine)
    page.painter.setPen(pen)
    edge_mm = 4.0
    right_mm = page.right_mm + EDGE_MM - edge_mm
    page.painter.drawLine(page.at(edge_mm, _HALF_MM), page.at(right_mm, _HALF_MM))


def grafted_words(named: NamedPlan) -> str:
    """Return a batch with the day it is grafted on, as ``Batch 1, grafted Fri 14 May 2027``."""
    day = named.plan.graft_at.date()
    return f"{named.name}, grafted {day_words(day)} {day.year}"


def _draw_label(
    page: Upright, named: NamedPlan, top_mm: float, until: date, lines: tuple[str, ...]
) -> None:
    middle_mm = EDGE_MM + page.width_mm / 2.0
    y_mm = top_mm + EDGE_MM + 7.0
    page.words(_SHOUT_PT, bold=True).line(
        page.at(middle_mm, y_mm), "DO NOT OPEN UNTIL", Side.MIDDLE
    )
    y_mm += 24.0
    page.words(_DAY_PT, bold=True).line(page.at(middle_mm, y_mm), day_words(until), Side.MIDDLE)
    y_mm += 21.0
    what = page.words(_WHAT_PT)
    shown = what.elided(grafted_words(named), page.width_mm * page.px_per_mm)
    what.line(page.at(middle_mm, y_mm), shown, Side.MIDDLE)
    y_mm += 10.0
    page.rule(y_mm)
    y_mm += 3.0
    for line in lines:
        y_mm = page.text(line, _BODY_PT, (EDGE_MM, y_mm)) + 1.8
    caution = (
        "Stings can kill people who are allergic. Sick brood: close up and ask your bee inspector."
    )
    page.words(_SMALL_PT, faint=True).line(
        page.at(EDGE_MM, top_mm + _HALF_MM - EDGE_MM - 2.0), caution
    )
