"""Cells found or laid anew are called what cells at their places were called before."""

import math

import pytest

from larvasight.desk.cell_names import named_as
from larvasight.geometry import offset_to_axial
from larvasight.sheet import (
    Cell,
    Content,
    LatticeInfo,
    PhotoInfo,
    Scale,
    ScaleSource,
    Sheet,
)

PITCH_PX = 50.0
ROWS = range(6)
COLUMNS = range(7)


def place_of(q, r, turn_deg=0.0):
    """Return where a cell lies whose name counts along two directions 60 degrees apart."""
    step = [complex(math.cos(a), math.sin(a)) for a in map(math.radians, (turn_deg, turn_deg + 60))]
    at = 400 + 300j + PITCH_PX * (q * step[0] + r * step[1])
    return at.real, at.imag


def sheet_of(cells, pitch_px=PITCH_PX):
    return Sheet(
        truth=False,
        photo=PhotoInfo(name="", width_px=1000, height_px=800, sha256="0" * 64),
        scale=Scale(
            pitch_px=pitch_px,
            pitch_mm=5.3,
            px_per_mm=pitch_px / 5.3,
            distance_mm=None,
            source=ScaleSource.COMB,
        ),
        lattice=LatticeInfo(row_angle_deg=0.0, n_cells=len(cells), residual_px=0.0),
        cells=tuple(cells),
    )


def lattice(shift=(0, 0), turn_deg=0.0, jitter_px=0.0, rows=ROWS, columns=COLUMNS):
    """Return cells that lie where those of another count, shift or direction of rows lie."""
    cells = []
    for row in rows:
        for col in columns:
            q, r = offset_to_axial(row, col)
            # Turned about a cell in the middle.
            x, y = place_of(q - 2 - shift[0], r - 3 - shift[1], turn_deg)
            at = (x + jitter_px * (-1) ** col, y)
            cells.append(
                Cell(
                    row=row,
                    col=col,
                    centre_xy_px=at,
                    px_per_mm=PITCH_PX / 5.3,
                    content=Content.EMPTY,
                )
            )
    return sheet_of(cells)


def names_by_place(sheet):
    return {
        (round(c.centre_xy_px[0] / 20), round(c.centre_xy_px[1] / 20)): (c.row, c.col)
        for c in sheet.cells
    }


@pytest.mark.parametrize(
    "shift", [(1, 0), (0, 1), (-2, 3), (0, 0)], ids=["column", "row", "both", "none"]
)
@pytest.mark.parametrize("turn_deg", [0.0, 60.0, 120.0, 180.0, -60.0])
def test_names_stay_with_their_places_whatever_counts_them(shift, turn_deg):
    former = lattice()
    anew = named_as(lattice(shift, turn_deg, jitter_px=4.0), former)
    was, now = names_by_place(former), names_by_place(anew)
    shared = was.keys() & now.keys()
    assert len(shared) >= 4
    assert {place: now[place] for place in shared} == {place: was[place] for place in shared}
    assert len(set(now.values())) == len(anew.cells)


def test_neighbours_stay_neighbours_also_where_no_cell_was():
    small = lattice(rows=range(2, 4), columns=range(2, 5))
    large = named_as(lattice((3, -1)), small)
    at = {offset_to_axial(c.row, c.col): c.centre_xy_px for c in large.cells}
    for (q, r), place in at.items():
        for step in ((1, 0), (0, 1)):
            beside = at.get((q + step[0], r + step[1]))
            if beside is not None:
                assert math.dist(place, beside) == pytest.approx(PITCH_PX, rel=0, abs=1e-6)


def test_cells_that_lie_elsewhere_keep_the_names_they_come_with():
    former = lattice()
    cells = [
        Cell(
            row=r,
            col=q,
            centre_xy_px=(37.0 * q + 9.0, 41.0 * r),
            px_per_mm=8.0,
            content=Content.EMPTY,
        )
        for q in range(25)
        for r in range(18)
    ]
    other = sheet_of(cells)
    assert named_as(other, former) == other
    assert named_as(sheet_of([]), former).cells == ()
    assert named_as(former, sheet_of([])) == former
