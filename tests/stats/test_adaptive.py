"""Choosing questions: the published sequence, and what a slow loop over answers says."""

import math

import numpy as np
import pytest
from scipy.stats import norm

from larvasight.stats import QuestionTable, bayes

WATSON = "Watson 2017, Journal of Vision 17(3):10"
# Example 1: contrasts chosen, dB; answers to all but the trials named were right.
EXAMPLE_1_DB = [
    *(-18, -22, -25, -28, -30, -22, -13, -15, -16, -18, -19, -20, -21, -22, -23, -19),
    *(-20, -20, -18, -18, -19, -17, -17, -18, -18, -18, -19, -19, -19, -19, -19, -19),
]
EXAMPLE_1_WRONG = {5, 6, 15, 18, 21}


def weibull(contrast_db, threshold_db, slope, guess, lapse):
    steep = 10.0 ** (slope * (contrast_db - threshold_db) / 20.0)
    return 1.0 - lapse - (1.0 - guess - lapse) * np.exp(-steep)


def bell(angle_deg, mean_deg, sd_deg, lapse):
    return lapse + (1.0 - 2.0 * lapse) * norm.cdf(angle_deg, mean_deg, sd_deg)


def combinations(*grids):
    return [grid.ravel() for grid in np.meshgrid(*grids, indexing="ij")]


CONTRASTS_DB = np.arange(-40.0, 1.0)
LAPSES = np.arange(0.0, 0.045, 0.01)
# Name: questions, combinations, chances of "yes", combination that the published answers end at.
CASES = {
    "threshold": (CONTRASTS_DB, combinations(CONTRASTS_DB, [3.5], [0.5], [0.02]), weibull),
    "threshold and slope": (
        CONTRASTS_DB,
        combinations(CONTRASTS_DB, np.arange(2.0, 6.0), [0.5], [0.02]),
        weibull,
    ),
    "threshold, slope and lapse": (
        CONTRASTS_DB,
        combinations(CONTRASTS_DB, np.arange(2.0, 6.0), [0.5], LAPSES),
        weibull,
    ),
    "mean, spread and lapse": (
        np.arange(-10.0, 11.0),
        combinations(np.arange(-5.0, 6.0), np.arange(1.0, 11.0), LAPSES),
        bell,
    ),
}
ENDS = {
    "threshold": (-20.0, 3.5, 0.5, 0.02),
    "threshold and slope": (-20.0, 3.0, 0.5, 0.02),
    "threshold, slope and lapse": (-20.0, 5.0, 0.5, 0.04),
    "mean, spread and lapse": (0.0, 4.0, 0.01),
}


def chances(case):
    questions, grid, curve = CASES[case]
    return curve(questions[:, None], *grid)


def even(chance):
    return np.full(chance.shape[1], 1.0 / chance.shape[1])


def slow_entropy(weights, chance):
    """Return the expected entropy after one question, answer by answer."""
    total = 0.0
    for likelihood in (chance, 1.0 - chance):
        share = float(weights @ likelihood)
        if share > 0.0:
            after = weights * likelihood / share
            total -= share * sum(w * math.log(w) for w in after.tolist() if w > 0.0)
    return total


@pytest.mark.reference(f"{WATSON}, Example 1")
def test_questions_of_least_entropy_are_the_published_ones():
    chance = chances("threshold")
    table, weights = QuestionTable(chance), even(chance)
    asked_db = []
    for trial in range(1, len(EXAMPLE_1_DB) + 1):
        index = int(np.argmax(table.information(weights)))
        asked_db.append(CONTRASTS_DB[index])
        weights = bayes(weights, chance[index], is_yes=trial not in EXAMPLE_1_WRONG)
    assert asked_db == EXAMPLE_1_DB
    assert CONTRASTS_DB[np.argmax(weights)] == -20.0


@pytest.mark.reference(f"{WATSON}: expected entropy, equations written out answer by answer")
@pytest.mark.parametrize("case", CASES)
def test_information_is_the_entropy_that_each_question_takes_away(case):
    chance = chances(case)
    rng, table = np.random.default_rng(4), QuestionTable(chance)
    weights = rng.dirichlet(np.ones(chance.shape[1]))
    before = -float((weights * np.log(weights)).sum())
    expected = [before - slow_entropy(weights, row) for row in chance]
    assert table.information(weights) == pytest.approx(expected, rel=0, abs=1e-10)


@pytest.mark.reference(f"{WATSON}: parameters that the published answers end at")
@pytest.mark.parametrize("case", CASES)
def test_an_observer_of_the_published_parameters_is_found(case):
    _, grid, _ = CASES[case]
    chance = chances(case)
    truth = int(np.argmin(sum(abs(g - e) for g, e in zip(grid, ENDS[case], strict=True))))
    table, rng, errors = QuestionTable(chance), np.random.default_rng(9), []
    for _ in range(20):
        weights = even(chance)
        for _ in range(128):
            index = int(np.argmax(table.information(weights)))
            is_yes = bool(rng.random() < chance[index, truth])
            weights = bayes(weights, chance[index], is_yes=is_yes)
        errors.append(weights @ grid[0] - ENDS[case][0])
    assert np.mean(errors) == pytest.approx(0.0, abs=0.7)
    assert np.abs(errors).max() < 3.0


def test_variance_is_what_a_slow_loop_over_answers_says():
    rng = np.random.default_rng(2)
    chance, values = rng.random((5, 30)), rng.normal(20.0, 9.0, (2, 30))
    weights = rng.dirichlet(np.ones(30))
    expected = []
    for row in chance:
        left = 0.0
        for likelihood in (row, 1.0 - row):
            share = weights @ likelihood
            after = weights * likelihood / share
            left += share * sum(after @ v**2 - (after @ v) ** 2 for v in values)
        expected.append(left)
    found = QuestionTable(chance, values).expected_variance(weights)
    assert found == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("measure", ["information", "expected_variance"])
def test_many_learners_at_once_are_each_alone(measure):
    rng = np.random.default_rng(7)
    table = QuestionTable(rng.random((6, 40)), rng.normal(size=(2, 40)))
    weights = rng.dirichlet(np.ones(40), 3)
    together = getattr(table, measure)(weights)
    for alone, found in zip(weights, together, strict=True):
        assert found == pytest.approx(getattr(table, measure)(alone), rel=1e-12)


def test_a_question_whose_answer_is_sure_tells_nothing():
    chance = np.array([[0.0, 0.0], [1.0, 1.0], [0.3, 0.3], [0.0, 1.0]])
    told = QuestionTable(chance).information(np.array([0.5, 0.5]))
    assert told == pytest.approx([0.0, 0.0, 0.0, math.log(2.0)], abs=1e-15)


def test_an_answer_that_could_not_be_is_refused():
    with pytest.raises(ValueError, match=r"^chance_yes must leave some chance .*is_yes = True"):
        bayes(np.array([0.5, 0.5]), np.zeros(2), is_yes=True)


@pytest.mark.parametrize("chance", [np.array([0.5]), np.array([[1.2]]), np.array([[math.nan]])])
def test_wrong_chances_are_refused(chance):
    with pytest.raises(ValueError, match=r"^chance_yes must have shape"):
        QuestionTable(chance)


def test_values_must_fit_and_be_there():
    with pytest.raises(ValueError, match=r"^values must have 2 columns, got 3$"):
        QuestionTable(np.full((1, 2), 0.5), np.ones((1, 3)))
    with pytest.raises(ValueError, match=r"^values must be given"):
        QuestionTable(np.full((1, 2), 0.5)).expected_variance(np.array([0.5, 0.5]))
