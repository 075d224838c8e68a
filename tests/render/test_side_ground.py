"""How hard a side is to search: the band of right ages, where it lies, what is mixed in."""

from dataclasses import replace

import numpy as np
import pytest

from larvasight.render.comb_side import Ground, side_cells, side_size_mm
from larvasight.sheet import Content

EASY = Ground(ring_h=3.0, hatching_share=0.8, centre_share=0.0, missed_share=0.03, n_patches=0)
SIZE_MM = side_size_mm(600)


def side_of(ground, seed=1):
    return side_cells(np.random.default_rng(seed), SIZE_MM, ground)


def band(cells, young_h=6.0, old_h=30.0):
    larva = Content.LARVA.value
    inside = [c for c in cells if c.kind == larva and young_h <= c.age_h <= old_h]
    return np.array([cell.centre_xy_mm for cell in inside])


def test_more_hours_to_a_ring_make_a_narrower_band():
    counts = [len(band(side_of(replace(EASY, ring_h=ring_h)))) for ring_h in (3.0, 6.0, 11.0)]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > 1.7 * counts[2]


@pytest.mark.parametrize("share", [-0.3, 0.3])
def test_the_brood_lies_to_the_side_that_is_wanted(share):
    cells = side_of(replace(EASY, ring_h=8.0, centre_share=share))
    assert np.sign(band(cells)[:, 0].mean()) == np.sign(share)


def test_what_the_queen_missed_is_mixed_in():
    def n_other(missed_share):
        cells = side_of(replace(EASY, missed_share=missed_share))
        near = [cell for cell in cells if np.hypot(*cell.centre_xy_mm) < 35.0]
        kinds = (Content.EMPTY.value, Content.EGG.value)
        return sum(cell.kind in kinds for cell in near)

    assert n_other(0.4) > n_other(0.02) + 20


def test_the_same_chance_lays_the_same_side():
    assert side_of(EASY) == side_of(EASY)
    assert side_of(EASY) != side_of(EASY, seed=2)


@pytest.mark.parametrize(
    ("name", "value"),
    [("ring_h", 13.0), ("hatching_share", 0.1), ("centre_share", 0.5), ("missed_share", 0.6)],
)
def test_a_comb_that_no_queen_lays_is_refused(name, value):
    with pytest.raises(ValueError, match=name):
        replace(EASY, **{name: value})
