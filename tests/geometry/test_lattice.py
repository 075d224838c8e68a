"""Names, corners, directions and counts of hexagon cells."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from larvasight.geometry import (
    NEIGHBOUR_STEPS_QR,
    axial_to_offset,
    cells_per_dm2,
    fold_row_angle_deg,
    hexagon_corners,
    lattice_vectors,
    offset_to_axial,
)

BETTS = Path(__file__).parents[1] / "reference_data" / "betts_1938.csv"
SPAN = range(-7, 8)


def betts_rows():
    lines = BETTS.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_offset_and_axial_names_turn_into_each_other():
    for row in SPAN:
        for col in SPAN:
            assert axial_to_offset(*offset_to_axial(row, col)) == (row, col)
            assert offset_to_axial(*axial_to_offset(row, col)) == (row, col)


def test_different_cells_have_different_names():
    names = {axial_to_offset(q, r) for q in SPAN for r in SPAN}
    assert len(names) == len(SPAN) ** 2


@pytest.mark.parametrize("row_angle_deg", [0.0, 17.0, -29.0, 30.0])
def test_odd_rows_stand_half_a_pitch_further_along_the_row(row_angle_deg):
    pitch_px = 40.0
    vectors = lattice_vectors(pitch_px, row_angle_deg)
    along = np.array([math.cos(math.radians(row_angle_deg)), math.sin(math.radians(row_angle_deg))])
    down = np.array([-along[1], along[0]])
    for row in SPAN:
        for col in SPAN:
            at_xy_px = offset_to_axial(row, col) @ vectors
            expected_px = pitch_px * (col + 0.5 * (row % 2))
            assert at_xy_px @ along == pytest.approx(expected_px, rel=0, abs=1e-9)
            assert at_xy_px @ down == pytest.approx(
                pitch_px * row * math.sqrt(3) / 2, rel=0, abs=1e-9
            )


def test_neighbours_are_the_six_cells_one_pitch_away():
    vectors = lattice_vectors(5.3, 11.0)
    near = {
        (q, r)
        for q in SPAN
        for r in SPAN
        if np.hypot(*(np.array([q, r]) @ vectors)) == pytest.approx(5.3, rel=0, abs=1e-9)
    }
    assert set(NEIGHBOUR_STEPS_QR) == near
    assert len(NEIGHBOUR_STEPS_QR) == 6


def test_neighbour_steps_go_round_in_steps_of_60_deg():
    x, y = (np.array(NEIGHBOUR_STEPS_QR) @ lattice_vectors(1.0)).T
    turns_deg = np.degrees(np.diff(np.unwrap(np.arctan2(y, x))))
    np.testing.assert_allclose(turns_deg, 60.0, rtol=0, atol=1e-9)


@pytest.mark.parametrize("row_angle_deg", [0.0, 23.0])
def test_corners_make_a_regular_hexagon_with_two_sides_square_to_the_row(row_angle_deg):
    corners = hexagon_corners(5.3, row_angle_deg)
    sides = np.roll(corners, -1, axis=0) - corners
    np.testing.assert_allclose(np.hypot(*sides.T), 5.3 / math.sqrt(3), rtol=0, atol=1e-12)
    along = lattice_vectors(1.0, row_angle_deg)[0]
    assert sum(abs(side @ along) < 1e-9 for side in sides) == 2
    (x, y), (next_x, next_y) = corners.T, np.roll(corners, -1, axis=0).T
    area_mm2 = 0.5 * abs(float(np.sum(x * next_y - y * next_x)))
    assert area_mm2 == pytest.approx(math.sqrt(3) / 2 * 5.3**2, rel=0, abs=1e-9)


def test_neighbouring_cells_share_two_corners():
    vectors, corners = lattice_vectors(5.3, 9.0), hexagon_corners(5.3, 9.0)
    for step in NEIGHBOUR_STEPS_QR:
        others = corners + np.array(step) @ vectors
        gaps = np.hypot(*(corners[:, None] - others[None]).transpose(2, 0, 1))
        assert int((gaps < 1e-9).sum()) == 2


@pytest.mark.parametrize(
    ("angle_deg", "folded_deg"),
    [
        (0, 0),
        (29.5, 29.5),
        (30, 30),
        (-30, 30),
        (31, -29),
        (90, 30),
        (-90, 30),
        (150, 30),
        (359, -1),
    ],
)
def test_fold_row_angle_deg_known_directions(angle_deg, folded_deg):
    assert fold_row_angle_deg(angle_deg) == pytest.approx(folded_deg, rel=0, abs=1e-12)


def test_fold_row_angle_deg_stays_in_its_range_and_keeps_the_direction():
    rng = np.random.default_rng(12)
    edges = [k * 60.0 + 30.0 for k in range(-6, 7)]
    beside = [np.nextafter(edge, end) for edge in edges for end in (-1e9, 1e9)]
    for angle_deg in (*edges, *beside, *rng.uniform(-1000, 1000, 2000)):
        folded_deg = fold_row_angle_deg(float(angle_deg))
        assert -30.0 < folded_deg <= 30.0, angle_deg
        turns = (folded_deg - angle_deg) / 60.0
        assert turns == pytest.approx(round(turns), rel=0, abs=1e-9)


def test_cells_per_dm2_agrees_with_cells_counted_on_a_large_square():
    pitch_mm, side_mm = 5.3, 2000.0
    steps = np.arange(-700, 700)
    grid = np.stack(np.meshgrid(steps, steps), axis=-1) @ lattice_vectors(pitch_mm, 7.0)
    n_cells = int((np.abs(grid) < side_mm / 2).all(axis=-1).sum())
    assert n_cells / (side_mm / 100) ** 2 == pytest.approx(cells_per_dm2(pitch_mm), rel=0, abs=0.5)


@pytest.mark.reference("Betts 1938, Bee World (rule by Justrich)")
@pytest.mark.parametrize("per_dm", [12.8, 15, 17.86, 18.5, 18.87, 19.2, 20])
def test_cells_per_dm2_follows_the_rule_of_justrich(per_dm):
    both_sides = 2.309 * per_dm**2
    # The rule's factor has four figures: 0.05 % of 923 cells is half a cell.
    assert 2 * cells_per_dm2(100 / per_dm) == pytest.approx(both_sides, rel=0, abs=0.5)


@pytest.mark.reference("Betts 1938, Bee World (table by Justrich)")
@pytest.mark.parametrize("row", betts_rows(), ids=lambda row: row["cells_per_dm"])
def test_cells_per_dm2_agrees_with_the_ends_of_the_table(row):
    pitch_mm = 100 / float(row["cells_per_dm"])
    # The table cuts the decimals off: 923.6 is printed as 923.
    assert math.floor(2 * cells_per_dm2(pitch_mm)) == int(row["cells_per_dm2_both_sides"])
