"""Comb seen straight and far aslant: lengths, the lattice, and larvae that walls hide."""

import numpy as np
import pytest

from judge import length_error, measure_scene, pair_cells
from larvasight.render import random_scene, truth_sheet
from larvasight.sheet import Content, Flag
from larvasight.vision.network import NetworkParser

SIZE_PX, PITCH_PX = (744, 564), 120.0


@pytest.fixture(scope="module")
def reader():
    return NetworkParser()


def seen(reader, tilt_deg, number):
    """Return truth, what was measured, and both paired cell by cell."""
    rng = np.random.default_rng([8401, round(tilt_deg), number])
    scene = random_scene(rng, size_px=SIZE_PX, pitch_px=PITCH_PX, tilt_deg=tilt_deg)
    truth = truth_sheet(scene, name="drawn", sha256="")
    measured = measure_scene(scene, reader)
    return truth, measured, pair_cells(truth, measured)


@pytest.fixture(scope="module")
def aslant(reader):
    return [seen(reader, tilt_deg, 0) for tilt_deg in (12.0, 16.0, 20.0, 25.0)]


def test_lengths_of_larvae_seen_nearly_straight_are_not_biased(reader):
    pairs = [
        pair
        for tilt_deg in (0.0, 4.0, 8.0)
        for number in range(2)
        for pair in seen(reader, tilt_deg, number)[2]
        if pair.true.content is Content.LARVA and (pair.true.visible_share or 0.0) >= 0.8
    ]
    measured = [pair for pair in pairs if np.isfinite(length_error(pair))]
    sure = [pair for pair in measured if Flag.OUTLINE_UNCERTAIN not in pair.found.flags]
    assert len(sure) >= 40
    for pairs_of in (measured, sure):
        assert abs(np.mean([length_error(pair) for pair in pairs_of])) <= 0.03  # of the length


def test_cells_are_found_on_comb_seen_far_aslant(aslant):
    away = [
        min(
            np.hypot(*(np.array(c.centre_xy_px) - np.array(pair.true.centre_xy_px)))
            for c in m.cells
        )
        / truth.scale.pitch_px
        for truth, m, pairs in aslant
        for pair in pairs
    ]
    assert np.mean(np.array(away) <= 0.2) >= 0.95  # pitches


def test_cell_size_and_rows_are_right_on_comb_seen_far_aslant(aslant):
    for truth, measured, _ in aslant:
        assert measured.scale.pitch_px == pytest.approx(truth.scale.pitch_px, rel=0.02)
        turn_deg = measured.lattice.row_angle_deg - truth.lattice.row_angle_deg
        assert abs((turn_deg + 30.0) % 60.0 - 30.0) <= 1.5


def test_larvae_that_walls_hide_are_flagged_or_not_measured(aslant):
    found = [
        pair.found
        for _, _, pairs in aslant
        for pair in pairs
        if pair.true.content is Content.LARVA and (pair.true.visible_share or 0.0) < 0.8
    ]
    assert len(found) >= 40
    doubted = [cell is None or cell.length_mm is None or bool(cell.flags) for cell in found]
    assert np.mean(doubted) >= 0.95
