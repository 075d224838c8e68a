"""Lattices moved by three handles, or begun from two cells."""

import math

import numpy as np
import pytest

from larvasight.errors import LatticeUnusableError
from larvasight.geometry import lattice_vectors, offset_to_axial
from larvasight.vision.lattice_by_hand import (
    HAND_CONFIDENCE,
    Shift,
    laid,
    lattice_of,
    moved,
    placed_cells,
    placed_lattice,
    shift_between,
    within,
)

SIZE_PX = (640, 480)
BEFORE = np.array([[300.0, 200.0], [420.0, 210.0], [350.0, 310.0]])


def a_lattice(angle_deg=10.0, pitch_px=60.0):
    way = lattice_vectors(pitch_px, angle_deg)[0]
    return laid((320.0, 240.0), tuple((np.array([320.0, 240.0]) + way).tolist()), SIZE_PX)


def places(lattice):
    return np.array([cell.centre_xy_px for cell in lattice.cells])


def test_three_points_tell_shift_turn_size_and_slant_exactly():
    matrix, offset = np.array([[1.1, -0.2], [0.15, 0.9]]), np.array([12.0, -7.0])
    found = shift_between(BEFORE, BEFORE @ matrix.T + offset)
    assert np.array(found.matrix) == pytest.approx(matrix, abs=1e-9)
    assert found.offset_xy_px == pytest.approx(tuple(offset), abs=1e-9)
    assert found.of(BEFORE) == pytest.approx(BEFORE @ matrix.T + offset, abs=1e-9)


@pytest.mark.parametrize(
    "after",
    [np.array([[0.0, 0.0], [10.0, 10.0], [20.0, 20.0]]), BEFORE[[0, 2, 1]]],
    ids=["in one line", "turned inside out"],
)
def test_points_that_no_comb_fits_are_refused(after):
    with pytest.raises(LatticeUnusableError):
        shift_between(BEFORE, after)


def test_two_neighbours_make_a_regular_lattice_that_fills_the_picture():
    lattice = a_lattice()
    spots = places(lattice)
    assert len({(cell.row, cell.col) for cell in lattice.cells}) == len(lattice.cells)
    cell_px2 = math.sqrt(3.0) / 2.0 * 60.0**2
    assert len(lattice.cells) == pytest.approx(SIZE_PX[0] * SIZE_PX[1] / cell_px2, abs=8)
    assert lattice.pitch_px == pytest.approx(60.0, abs=1e-6)
    assert lattice.row_angle_deg == pytest.approx(10.0, abs=1e-6)
    # The clicked place is a cell, and each inner cell has six neighbours one pitch away.
    assert np.hypot(*(spots - np.array([320.0, 240.0])).T).min() < 1e-6
    inner = spots[np.hypot(*(spots - spots.mean(axis=0)).T) < 100.0]
    for spot in inner:
        away = np.hypot(*(spots - spot).T)
        assert ((away > 1.0) & (away < 61.0)).sum() == 6


def test_names_follow_the_places():
    lattice = a_lattice()
    axial = np.array([offset_to_axial(cell.row, cell.col) for cell in lattice.cells])
    plane = axial @ lattice_vectors(60.0, 10.0)
    away = places(lattice) - plane
    assert np.ptp(away, axis=0) == pytest.approx([0.0, 0.0], abs=1e-6)
    assert min(cell.row for cell in lattice.cells) == 0
    assert min(cell.col for cell in lattice.cells) == 0


def test_clicks_on_one_spot_are_refused():
    with pytest.raises(LatticeUnusableError, match="too close together"):
        laid((100.0, 100.0), (105.0, 100.0), SIZE_PX)


def test_more_cells_than_can_be_measured_are_refused():
    with pytest.raises(LatticeUnusableError, match="up to 6000"):
        laid((100.0, 100.0), (119.0, 100.0), (4000, 3000))


def test_steps_are_told_by_the_neighbours_that_are_there():
    lattice = a_lattice()
    again = lattice_of(lattice.cells)
    for one, other in zip(again.cells, lattice.cells, strict=True):
        assert np.array(one.steps_xy_px) == pytest.approx(np.array(other.steps_xy_px), abs=1e-6)
    assert again.pitch_px == pytest.approx(lattice.pitch_px, abs=1e-6)


def test_too_few_cells_make_no_lattice():
    with pytest.raises(LatticeUnusableError, match="Too few"):
        lattice_of(a_lattice().cells[:2])


def test_a_moved_lattice_has_its_places_steps_and_size_moved():
    turn = math.radians(5.0)
    size, way = 1.2, (7.0, -3.0)
    matrix = size * np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    (a, b), (c, d) = matrix.tolist()
    lattice = a_lattice()
    after = moved(lattice, Shift(matrix=((a, b), (c, d)), offset_xy_px=way))
    assert places(after) == pytest.approx(places(lattice) @ matrix.T + way, abs=1e-6)
    assert after.pitch_px == pytest.approx(72.0, abs=1e-6)
    assert after.row_angle_deg == pytest.approx(15.0, abs=1e-6)
    assert {cell.confidence for cell in after.cells} == {HAND_CONFIDENCE}
    assert [(c.row, c.col) for c in after.cells] == [(c.row, c.col) for c in lattice.cells]


@pytest.mark.parametrize(
    ("matrix", "words"),
    [(((0.2, 0.0), (0.0, 0.2)), "too small"), (((1.0, 0.0), (0.0, 0.3)), "too slanted")],
)
def test_a_lattice_that_no_comb_looks_like_is_refused(matrix, words):
    with pytest.raises(LatticeUnusableError, match=words):
        moved(a_lattice(), Shift(matrix=matrix, offset_xy_px=(0.0, 0.0)))


def test_only_cells_in_the_picture_are_measured_and_none_is_lost():
    away = moved(a_lattice(), Shift(matrix=((1.0, 0.0), (0.0, 1.0)), offset_xy_px=(200.0, 0.0)))
    inside = within(away, SIZE_PX)
    assert len(inside.cells) < len(away.cells) == len(a_lattice().cells)
    spots = places(inside)
    assert (spots >= 0.0).all()
    assert (spots <= np.array(SIZE_PX) - 1.0).all()
    far = moved(a_lattice(), Shift(matrix=((1.0, 0.0), (0.0, 1.0)), offset_xy_px=(2000.0, 0.0)))
    with pytest.raises(LatticeUnusableError, match="No cell"):
        within(far, SIZE_PX)


def test_cells_as_numbers_make_the_same_lattice():
    lattice = a_lattice()
    again = placed_lattice(placed_cells(lattice))
    assert placed_cells(again) == placed_cells(lattice)
    assert again.pitch_px == pytest.approx(lattice.pitch_px, abs=1e-9)
