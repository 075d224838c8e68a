"""What a comb is laid with for a drill: near the learner's own line, eggs among it."""

from uuid import UUID

import numpy as np
import pytest
from scipy.special import expit

from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE, ShownCell
from larvasight.practice.drills import FIND_YOUR_EDGES
from larvasight.practice.measuring import BLOCK_CELLS, EGG_LOOKS_H
from larvasight.practice.planning import choose_near, nearest_to, plan_ages, seen_age_h
from larvasight.sheet import Content
from larvasight.stats import EdgePosterior

LIMITS = Limits()
YOUNG_H, OLD_H, SPREAD_H = 3.0, 38.0, 2.0


def cell(number, looks_age_h, content=Content.LARVA, *, is_plain=True):
    return ShownCell(
        id=UUID(int=number),
        row=0,
        col=number,
        content=content,
        age_h=None if looks_age_h is None else looks_age_h + 1.0,
        looks_age_h=looks_age_h,
        length_mm=None,
        curl_deg=None,
        jelly=None,
        is_plain=is_plain,
    )


def passed(ages_h):
    """Return how often a learner with these edges takes a larva that looks an age."""
    ages = np.asarray(ages_h)
    return expit((ages - YOUNG_H) / SPREAD_H) * expit((OLD_H - ages) / SPREAD_H)


@pytest.fixture(scope="module")
def edges():
    ages_h = np.repeat(np.arange(-12.0, 72.0, 2.0), 10)
    found = EdgePosterior()
    found.update_many(ages_h, np.random.default_rng(2).random(len(ages_h)) < passed(ages_h))
    return found


@pytest.mark.reference("Wilson et al. 2019, Nature Communications 10:4646: 15.87 % wrong is best")
def test_a_learner_is_right_about_85_times_in_100_on_the_ages_planned(edges):
    rng = np.random.default_rng(3)
    ages_h = np.concatenate([plan_ages(TAKE_OR_LEAVE, edges, LIMITS, rng) for _ in range(100)])
    ages_h = np.where(ages_h < 0.0, EGG_LOOKS_H, ages_h)
    meant = (ages_h >= YOUNG_H) & (ages_h <= OLD_H)
    right = np.where(meant, passed(ages_h), 1.0 - passed(ages_h)).mean()
    assert right == pytest.approx(1.0 - 0.1587, rel=0, abs=0.05)


def test_a_planned_comb_has_as_many_ages_as_cells_are_asked(edges):
    rng = np.random.default_rng(3)
    assert len(plan_ages(TAKE_OR_LEAVE, edges, LIMITS, rng)) == TAKE_OR_LEAVE.n_asked
    assert len(plan_ages(TAKE_OR_LEAVE, None, LIMITS, rng)) == TAKE_OR_LEAVE.n_asked
    assert plan_ages(PICK_FROM_PATCH, edges, LIMITS, rng) == ()


def test_a_comb_to_measure_on_leaves_choice_and_has_eggs_and_far_too_old_ones():
    ages_h = plan_ages(FIND_YOUR_EDGES, None, LIMITS, np.random.default_rng(3))
    assert BLOCK_CELLS < len(ages_h) <= FIND_YOUR_EDGES.n_cells
    assert min(ages_h) < 0.0
    assert max(ages_h) > 60.0
    # Wherever a line may lie, some larva looks about as old.
    assert all(min(abs(age - h) for age in ages_h) <= 1.0 for h in range(45))
    assert list(ages_h) != sorted(ages_h)


def test_an_eye_sees_how_old_a_larva_looks_and_of_an_egg_no_age():
    assert seen_age_h(cell(1, 20.0)) == 20.0
    assert seen_age_h(cell(1, -40.0, Content.EGG)) == EGG_LOOKS_H
    assert seen_age_h(cell(1, None, Content.EMPTY)) is None
    assert seen_age_h(cell(1, 20.0, is_plain=False)) is None


def test_the_nearest_cells_are_chosen_in_order_and_none_twice():
    cells = [cell(1, 10.0), cell(2, 12.0), cell(3, 30.0), cell(4, -50.0, Content.EGG)]
    cells += [cell(5, 11.0, is_plain=False), cell(6, None, Content.EMPTY)]
    chosen = choose_near(cells, [11.5, 12.0, -1.0, 28.0, 50.0])
    assert [one.id.int for one in chosen] == [2, 1, 4, 3]


def test_any_egg_is_as_near_as_another():
    assert nearest_to(-60.0, [2.0, EGG_LOOKS_H, 20.0]) == 1


def test_practice_follows_the_learner_from_no_knowledge_to_the_own_line():
    right, off_h = [], []
    for seed in range(6):
        rng, known = np.random.default_rng(seed), EdgePosterior()
        for n_comb in range(8):
            ages_h = np.array(plan_ages(TAKE_OR_LEAVE, known, LIMITS, rng))
            seen_h = np.where(ages_h < 0.0, EGG_LOOKS_H, ages_h + rng.normal(0.0, 0.7, len(ages_h)))
            taken = rng.random(len(seen_h)) < passed(seen_h)
            if n_comb >= 4:
                right.extend(taken == ((seen_h >= YOUNG_H) & (seen_h <= OLD_H)))
            known.update_many(seen_h, taken)
        off_h.append(known.old_edge_h.value - OLD_H)
    assert np.mean(right) == pytest.approx(0.85, rel=0, abs=0.06)
    assert np.sqrt(np.mean(np.square(off_h))) < 3.0
