"""Edges: the frozen data, other programs beside it, and what must hold whatever the data."""

import math

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import expit
from scipy.stats import bernoulli

from larvasight.stats import EdgePosterior, edge_difference
from larvasight.stats.edges import OLD_EDGES_H, YOUNG_EDGES_H, edge_grid

# Four larvae of each age, and how many of them were taken.
FIXED_AGES_H = (
    *(-6, -2, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 34, 38, 44, 52, 60, 70),
)
FIXED_PICKS = (0, 0, 0, 0, 1, 1, 2, 3, 4, 4, 4, 4, 4, 3, 3, 3, 2, 1, 1, 0, 0, 0, 0, 0)
N_EACH = 4


def answers(ages_h=FIXED_AGES_H, picks=FIXED_PICKS):
    ages = np.repeat(np.array(ages_h, dtype=float), N_EACH)
    return ages, np.concatenate([np.arange(N_EACH) < k for k in picks])


def posterior(ages_h, picked):
    found = EdgePosterior()
    found.update_many(ages_h, picked)
    return found


def numbers(estimate):
    return estimate.value, estimate.lo, estimate.hi


@pytest.fixture(scope="module")
def fixed():
    return posterior(*answers())


@pytest.mark.frozen
def test_the_fixed_cells_give_the_frozen_edges(fixed):
    young, old = numbers(fixed.young_edge_h), numbers(fixed.old_edge_h)
    assert young == pytest.approx((9.469, 7.245, 11.563), rel=0, abs=0.001)
    assert old == pytest.approx((29.783, 27.541, 32.264), rel=0, abs=0.001)
    assert fixed.n_answers == 96


@pytest.mark.frozen
def test_the_grid_is_the_frozen_one():
    assert len(edge_grid().prior) == 24_894


@pytest.mark.reference("scipy.optimize.minimize: greatest likelihood of the same model")
def test_greatest_likelihood_lies_at_the_estimates(fixed):
    ages_h, picked = answers()

    def surprise(at):
        young_h, old_h, log_spread, slips = at
        if not 0.0 <= slips <= 0.2:
            return 1e9
        spread_h = math.exp(log_spread)
        passed = expit((ages_h - young_h) / spread_h) * expit((old_h - ages_h) / spread_h)
        chance = np.clip(slips / 2.0 + (1.0 - slips) * passed, 1e-12, 1.0 - 1e-12)
        return -np.log(np.where(picked, chance, 1.0 - chance)).sum()

    young_h, old_h, log_spread, _ = minimize(
        surprise, [8.0, 32.0, 0.7, 0.02], method="Nelder-Mead", options={"maxiter": 4000}
    ).x
    assert fixed.young_edge_h.value == pytest.approx(young_h, rel=0, abs=0.3)
    assert fixed.old_edge_h.value == pytest.approx(old_h, rel=0, abs=0.3)
    spread = fixed.spread_h
    assert spread.value == pytest.approx(math.exp(log_spread), rel=0.1)
    assert spread.lo < math.exp(log_spread) < spread.hi


@pytest.mark.reference("psignifit 4.3, logistic, ages from 14 h on: 29.716 (27.32-33.69), run once")
def test_old_edge_is_what_a_general_program_for_one_edge_gives(fixed):
    assert fixed.old_edge_h.value == pytest.approx(29.716, rel=0, abs=0.3)
    assert fixed.old_edge_h.lo == pytest.approx(27.32, rel=0, abs=0.7)


def test_one_by_one_is_as_all_at_once(fixed):
    alone = EdgePosterior()
    for age_h, picked in zip(*answers(), strict=True):
        alone.update(age_h, picked)
    assert numbers(alone.old_edge_h) == pytest.approx(numbers(fixed.old_edge_h), rel=1e-12)


def test_the_order_of_answers_does_not_matter(fixed):
    ages_h, picked = answers()
    order = np.random.default_rng(1).permutation(len(ages_h))
    turned = posterior(ages_h[order], picked[order])
    assert numbers(turned.young_edge_h) == pytest.approx(numbers(fixed.young_edge_h), rel=1e-9)


def test_later_cells_move_both_edges_later(fixed):
    ages_h, picked = answers()
    later = posterior(ages_h + 2.0, picked)
    for name in ("young_edge_h", "old_edge_h"):
        moved_h = getattr(later, name).value - getattr(fixed, name).value
        assert moved_h == pytest.approx(2.0, rel=0, abs=0.3)


def test_mirrored_cells_swap_the_edges(fixed):
    ages_h, picked = answers()
    mirrored = posterior(40.0 - ages_h, picked)
    assert mirrored.young_edge_h.value == pytest.approx(40 - fixed.old_edge_h.value, abs=0.4)
    assert mirrored.old_edge_h.value == pytest.approx(40 - fixed.young_edge_h.value, abs=0.4)


def test_without_answers_an_edge_is_what_was_thought_before():
    nothing = EdgePosterior()
    assert nothing.n_answers == 0
    assert nothing.old_edge_h.half_width > 15.0
    assert nothing.young_edge_h.half_width > 9.0


def test_who_takes_nothing_has_no_edge():
    ages_h, _ = answers()
    nothing = posterior(ages_h, np.zeros(len(ages_h), dtype=bool))
    assert not nothing.is_known_to(3.0)
    assert max(nothing.young_edge_h.half_width, nothing.old_edge_h.half_width) > 6.0


def test_a_hundred_more_cells_make_both_edges_surer(fixed):
    twice = posterior(*(np.tile(column, 2) for column in answers()))
    assert twice.young_edge_h.half_width < 0.85 * fixed.young_edge_h.half_width
    assert twice.old_edge_h.half_width < 0.85 * fixed.old_edge_h.half_width
    assert fixed.is_known_to(3.0)
    assert not fixed.is_known_to(2.0)


def test_a_sharp_picker_has_a_smaller_spread_and_a_clear_window(fixed):
    ages_h = np.repeat(np.arange(0.0, 60.0, 2.0), 4)
    sharp = posterior(ages_h, (ages_h >= 10.0) & (ages_h <= 28.0))
    assert sharp.spread_h.hi < fixed.spread_h.value
    assert sharp.has_clear_window
    assert fixed.has_clear_window


def test_edges_close_together_are_no_clear_window():
    ages_h = np.repeat(np.arange(0.0, 60.0, 2.0), 4)
    picked = np.tile([True, False, False, False], 30) & (ages_h < 40.0)
    assert not posterior(ages_h, picked).has_clear_window


@pytest.mark.reference("scipy.stats.bernoulli: log-likelihoods of the same answers")
def test_answers_by_age_gain_over_chance_and_blind_ones_lose(fixed):
    ages_h, picked = answers()
    by_age = bernoulli.logpmf(picked, fixed.pick_share(ages_h)).sum()
    by_chance = bernoulli.logpmf(picked, picked.mean()).sum()
    gain = fixed.gain_over_chance(ages_h, picked)
    assert gain == pytest.approx(by_age - by_chance, rel=0, abs=1e-6)
    assert gain > 20.0
    blind = np.random.default_rng(5).random(len(ages_h)) < 0.5
    assert posterior(ages_h, blind).gain_over_chance(ages_h, blind) < 1.0
    assert EdgePosterior().gain_over_chance([], []) == 0.0


def test_share_taken_falls_on_both_sides_of_the_window(fixed):
    shares = fixed.pick_share(np.array([-6.0, 9.5, 20.0, 30.0, 60.0]))
    assert shares == pytest.approx([0.03, 0.5, 0.95, 0.5, 0.02], rel=0, abs=0.06)


@pytest.mark.parametrize("rule", ["variance", "entropy"])
def test_the_next_cell_is_asked_near_an_edge(fixed, rule):
    age_h = fixed.next_age_h(rule)
    edges_h = (fixed.young_edge_h.value, fixed.old_edge_h.value)
    assert min(abs(age_h - edge_h) for edge_h in edges_h) < 2.5 * fixed.spread_h.value


def test_only_the_ages_there_are_get_asked():
    found = EdgePosterior([3.0, 33.0])
    for picked in (True, False, True):
        age_h = found.next_age_h()
        assert age_h in (3.0, 33.0)
        found.update(age_h, picked)


def test_chosen_cells_make_edges_surer_than_random_ones():
    rng = np.random.default_rng(12)
    half_widths = {"chosen": [], "random": []}
    for _ in range(12):
        young_h, old_h, spread_h = rng.uniform(2, 12), rng.uniform(24, 40), rng.uniform(1, 3)
        for way, found in half_widths.items():
            learner = EdgePosterior()
            for _ in range(50):
                age_h = learner.next_age_h() if way == "chosen" else rng.uniform(-12, 72)
                passed = expit((age_h - young_h) / spread_h) * expit((old_h - age_h) / spread_h)
                learner.update(age_h, rng.random() < passed)
            found.append(learner.old_edge_h.half_width)
    assert np.median(half_widths["chosen"]) < 0.7 * np.median(half_widths["random"])


def test_difference_of_edges_is_that_of_their_values(fixed):
    ages_h, picked = answers()
    later = posterior(ages_h + 5.0, picked)
    moved = edge_difference(fixed, later, "old")
    assert moved.value == pytest.approx(later.old_edge_h.value - fixed.old_edge_h.value, abs=1e-9)
    expected = math.hypot(later.old_edge_h.half_width, fixed.old_edge_h.half_width)
    assert moved.half_width == pytest.approx(expected, rel=0.05)
    assert moved.lo > 0.0
    back = edge_difference(later, fixed, "old")
    assert (back.lo, back.hi) == pytest.approx((-moved.hi, -moved.lo), rel=0, abs=1e-9)


def test_no_difference_is_told_between_the_same_answers(fixed):
    for edge in ("young", "old"):
        same = edge_difference(fixed, fixed, edge)
        assert same.value == pytest.approx(0.0, abs=1e-9)
        assert same.lo < 0.0 < same.hi


def test_marginals_sum_to_one(fixed):
    for edge, edges_h in (("young", YOUNG_EDGES_H), ("old", OLD_EDGES_H)):
        weights = fixed.marginal(edge)
        assert weights.shape == edges_h.shape
        assert weights.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("age_h", [math.nan, 97.0, -math.inf])
def test_ages_that_cannot_be_are_refused_and_nothing_is_taken_in(age_h):
    found = EdgePosterior()
    with pytest.raises(ValueError, match=r"^age_h must lie between -96.0 and 96.0"):
        found.update(age_h, True)
    with pytest.raises(ValueError, match=r"^ages_h must lie between"):
        found.update_many([20.0, age_h], [True, True])
    with pytest.raises(ValueError, match=r"^ages_h must lie between"):
        EdgePosterior([20.0, age_h])
    assert found.n_answers == 0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda p: p.update_many([1.0, 2.0], [True]), "ages_h and picked must have one length"),
        (lambda p: p.next_age_h("random"), "rule must be 'variance' or 'entropy', got 'random'"),
        (lambda p: p.marginal("middle"), "edge must be 'young' or 'old', got 'middle'"),
        (lambda _: EdgePosterior([]), "ages_h must hold at least one age, got none"),
    ],
)
def test_wrong_calls_are_refused(call, message):
    with pytest.raises(ValueError, match=f"^{message}"):
        call(EdgePosterior())
