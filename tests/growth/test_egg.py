"""Drawn eggs: size over the egg stage, lean, and eggs that stay upright."""

import math

import numpy as np
import pytest

from larvasight.growth import EGG_STAGE_H, sample_egg
from larvasight.growth.egg import EGG_LENGTH_MM, EGG_UPRIGHT_SHARE, EGG_WIDTH_MM, egg_size_share

N_DRAWS = 3000


def eggs(laid_h, seed):
    rng = np.random.default_rng(seed)
    return [sample_egg(laid_h - EGG_STAGE_H.value, rng) for _ in range(N_DRAWS)]


def test_an_egg_shrinks_and_swells_again_before_hatching():
    shares = [egg_size_share(laid_h) for laid_h in np.arange(0.0, 75.0)]
    at = int(np.argmin(shares))
    assert shares[0] == 1.0
    assert at == 55
    assert (np.diff(shares[: at + 1]) < 0).all()
    assert (np.diff(shares[at:]) > 0).all()


@pytest.mark.parametrize("laid_h", [0.0, 30.0, 55.0, 74.0])
def test_drawn_eggs_have_the_size_of_their_age(laid_h):
    drawn = eggs(laid_h, seed=1)
    share = egg_size_share(laid_h)
    median_mm = float(np.median([egg.length_mm for egg in drawn]))
    assert median_mm == pytest.approx(EGG_LENGTH_MM.value * share, rel=0, abs=0.01)
    widths_mm = np.array([egg.width_mm for egg in drawn])
    assert float(np.median(widths_mm)) == pytest.approx(
        EGG_WIDTH_MM.value * share, rel=0, abs=0.005
    )


def test_eggs_lean_further_with_age_on_the_whole():
    means_deg = [
        np.mean([egg.lean_deg for egg in eggs(h, seed=2)]) for h in (0.0, 24.0, 48.0, 72.0)
    ]
    assert (np.diff(means_deg) > 8.0).all()


def test_a_part_of_old_eggs_still_stands_upright():
    # Leans beyond 30 deg are out of reach of an upright egg (SD 8), rare below it for a flat one.
    upright = np.mean([egg.lean_deg < 30.0 for egg in eggs(73.0, seed=3)])
    assert upright == pytest.approx(EGG_UPRIGHT_SHARE.value, rel=0, abs=0.04)


def test_no_egg_leans_past_lying_flat():
    leans_deg = [egg.lean_deg for laid_h in (0.0, 40.0, 74.0) for egg in eggs(laid_h, seed=4)]
    assert min(leans_deg) >= 0.0
    assert max(leans_deg) == 90.0


def test_an_egg_older_than_its_stage_counts_as_new_laid_before_it():
    rng = np.random.default_rng(5)
    sizes_mm = [sample_egg(-88.0, rng).length_mm for _ in range(N_DRAWS)]
    assert float(np.median(sizes_mm)) == pytest.approx(EGG_LENGTH_MM.value, rel=0, abs=0.01)


@pytest.mark.parametrize("age_h", [0.1, -90.1, math.nan])
def test_ages_of_no_egg_are_refused(age_h):
    with pytest.raises(ValueError, match="age_h must lie between"):
        sample_egg(age_h, np.random.default_rng(0))


def test_the_same_seed_draws_the_same_egg():
    one, two = (sample_egg(-20.0, np.random.default_rng(7)) for _ in range(2))
    assert one == two
