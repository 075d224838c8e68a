"""What each answer was, and that a score cannot be bettered by leaving obvious cells."""

import math
from dataclasses import asdict, replace
from itertools import product
from statistics import median
from uuid import UUID

import numpy as np
import pytest
from scipy.stats import binomtest

from larvasight.grading import NOT_COUNTED_H, Limits, is_just_past, true_grade
from larvasight.practice import (
    CONTENT_CODES,
    OUTCOME_WORDS,
    Answer,
    AnswerTable,
    Outcome,
    Score,
    ShownCell,
    detection_of,
    outcome_of,
    outcomes,
    score,
)
from larvasight.practice.scoring import scores_by_group
from larvasight.sheet import Content, Grade
from larvasight.stats import Interval, detection, wilson_interval

LIMITS = Limits()
TAKE, LEAVE = Answer.TAKE, Answer.LEAVE
COUNTED_BAD = (Content.EGG, Content.EMPTY, Content.CAPPED, Content.STORES)


def cell(content=Content.LARVA, age_h=None, **values):
    start = {
        "id": UUID(int=1),
        "row": 0,
        "col": 0,
        "looks_age_h": None,
        "length_mm": None,
        "curl_deg": None,
        "jelly": None,
    }
    return ShownCell(content=content, age_h=age_h, **(start | values))


def larva(age_h, **values):
    return cell(Content.LARVA, age_h, **values)


def table_of(rows, limits=LIMITS):
    """Return the answers (cell, answer) as columns."""
    n = len(rows)
    ages_h = [math.nan if shown.age_h is None else shown.age_h for shown, _ in rows]
    return AnswerTable(
        answered_utc_ms=np.arange(n, dtype=np.int64),
        content=np.array([CONTENT_CODES.index(shown.content) for shown, _ in rows], np.int8),
        age_h=np.array(ages_h, np.float64),
        looks_age_h=np.full(n, math.nan),
        is_plain=np.array([shown.is_plain for shown, _ in rows], np.bool_),
        taken=np.array([answer is TAKE for _, answer in rows], np.bool_),
        response_ms=np.full(n, math.nan),
        young_h=np.full(n, limits.young_h),
        old_h=np.full(n, limits.old_h),
    )


def random_table(n, seed):
    """Return answers of every kind, with ages on the limits and spans that change."""
    rng = np.random.default_rng(seed)
    content = rng.integers(0, len(CONTENT_CODES), n).astype(np.int8)
    content[rng.random(n) < 0.5] = CONTENT_CODES.index(Content.LARVA)
    age_h = np.where(rng.random(n) < 0.5, rng.integers(0, 97, n), rng.uniform(0.0, 96.0, n))
    age_h[rng.random(n) < 0.05] = math.nan
    return AnswerTable(
        answered_utc_ms=np.sort(rng.integers(0, 10**12, n)),
        content=content,
        age_h=age_h,
        looks_age_h=age_h + rng.normal(0.0, 4.0, n),
        is_plain=rng.random(n) < 0.9,
        taken=rng.random(n) < 0.4,
        response_ms=np.where(rng.random(n) < 0.5, rng.integers(200, 9000, n), math.nan),
        young_h=rng.choice([0.0, 6.0, 10.0], n),
        old_h=rng.choice([24.0, 30.0, 36.0], n),
    )


def slow_outcome(content, age_h, is_plain, taken, young_h, old_h):
    """Say what an answer was, rule by rule."""
    if not is_plain or content in {Content.COVERED, Content.UNCLEAR}:
        return Outcome.HIDDEN
    if content is not Content.LARVA:
        if not taken:
            return Outcome.LEFT
        return Outcome.EGG if content is Content.EGG else Outcome.NO_LARVA
    if math.isnan(age_h):
        return Outcome.HIDDEN
    if young_h <= age_h <= old_h:
        return Outcome.RIGHT if taken else Outcome.MISSED
    if age_h < young_h:
        return Outcome.VERY_YOUNG if taken else Outcome.LEFT_OPEN
    if age_h <= old_h + 3.0:
        return Outcome.JUST_PAST if taken else Outcome.LEFT_OPEN
    return Outcome.TOO_OLD if taken else Outcome.LEFT


def slow_outcomes(table):
    columns = (table.age_h, table.is_plain, table.taken, table.young_h, table.old_h)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    contents = [CONTENT_CODES[code] for code in table.content.tolist()]
    return [slow_outcome(content, *row) for content, row in zip(contents, rows, strict=True)]


def score_of(*found, response_ms=None):
    times_ms = [math.nan] * len(found) if response_ms is None else response_ms
    return score(np.array(found, dtype=np.int8), np.array(times_ms, dtype=np.float64))


def counts_of(scored):
    """Return everything of a score but its pace."""
    return {name: value for name, value in asdict(scored).items() if name != "pace_ms"}


# What an answer was


@pytest.mark.parametrize(
    ("age_h", "taken", "left"),
    [
        (0.0, Outcome.VERY_YOUNG, Outcome.LEFT_OPEN),
        (5.99, Outcome.VERY_YOUNG, Outcome.LEFT_OPEN),
        (6.0, Outcome.RIGHT, Outcome.MISSED),
        (18.0, Outcome.RIGHT, Outcome.MISSED),
        (30.0, Outcome.RIGHT, Outcome.MISSED),
        (30.01, Outcome.JUST_PAST, Outcome.LEFT_OPEN),
        (33.0, Outcome.JUST_PAST, Outcome.LEFT_OPEN),
        (33.01, Outcome.TOO_OLD, Outcome.LEFT),
        (96.0, Outcome.TOO_OLD, Outcome.LEFT),
    ],
)
def test_a_larva_is_judged_by_its_true_age(age_h, taken, left):
    assert outcome_of(larva(age_h), TAKE, LIMITS) is taken
    assert outcome_of(larva(age_h), LEAVE, LIMITS) is left


@pytest.mark.reference("common practice: larvae of 6-30 h are grafted")
@pytest.mark.parametrize("age_h", [6.0, 12.0, 24.0, 30.0])
def test_a_larva_of_a_day_is_right(age_h):
    assert outcome_of(larva(age_h), TAKE, LIMITS) is Outcome.RIGHT


@pytest.mark.reference("common practice: a larva just hatched is good but hard to lift")
def test_a_very_young_larva_is_never_wrong():
    young = larva(2.0)
    assert outcome_of(young, TAKE, LIMITS) is Outcome.VERY_YOUNG
    scored = score_of(Outcome.VERY_YOUNG)
    assert (scored.n_right, scored.n_picks) == (1, 1)
    assert score_of(outcome_of(young, LEAVE, LIMITS)).n_missed == 0


@pytest.mark.reference("common practice: a larva of two days is too old to graft")
def test_a_larva_of_two_days_is_too_old():
    assert outcome_of(larva(48.0), TAKE, LIMITS) is Outcome.TOO_OLD
    assert outcome_of(larva(48.0), LEAVE, LIMITS) is Outcome.LEFT


@pytest.mark.reference("common practice: an egg cannot be grafted")
@pytest.mark.parametrize("age_h", [-72.0, -1.0, None])
def test_a_taken_egg_is_an_egg(age_h):
    assert outcome_of(cell(Content.EGG, age_h), TAKE, LIMITS) is Outcome.EGG
    assert outcome_of(cell(Content.EGG, age_h), LEAVE, LIMITS) is Outcome.LEFT


@pytest.mark.reference("common practice: only a larva can be grafted")
@pytest.mark.parametrize("content", [Content.EMPTY, Content.CAPPED, Content.STORES])
def test_a_cell_without_a_larva_is_no_pick(content):
    assert outcome_of(cell(content), TAKE, LIMITS) is Outcome.NO_LARVA
    assert outcome_of(cell(content), LEAVE, LIMITS) is Outcome.LEFT


@pytest.mark.parametrize("answer", Answer)
@pytest.mark.parametrize(
    "shown",
    [
        cell(Content.COVERED),
        cell(Content.UNCLEAR),
        larva(None),
        larva(None, looks_age_h=20.0),
        larva(20.0, is_plain=False),
        larva(80.0, is_plain=False),
        cell(Content.EGG, -10.0, is_plain=False),
        cell(Content.EMPTY, is_plain=False),
    ],
)
def test_what_no_eye_can_tell_is_hidden_however_it_is_answered(shown, answer):
    assert outcome_of(shown, answer, LIMITS) is Outcome.HIDDEN


def test_scores_and_explanations_call_the_same_larvae_right():
    grades = {
        Outcome.RIGHT: Grade.TAKE,
        Outcome.VERY_YOUNG: Grade.VERY_YOUNG,
        Outcome.JUST_PAST: Grade.TOO_OLD,
        Outcome.TOO_OLD: Grade.TOO_OLD,
    }
    for old_h in np.arange(24.0, 36.0, 0.1).tolist():
        limits = Limits(old_h=old_h)
        past_h = old_h + NOT_COUNTED_H
        ages_h = [0.0, math.nextafter(6.0, 0.0), 6.0, old_h, math.nextafter(old_h, 96.0)]
        for age_h in [*ages_h, old_h + 1.0, past_h, math.nextafter(past_h, 96.0)]:
            found = outcome_of(larva(age_h), TAKE, limits)
            assert (found is Outcome.JUST_PAST) is is_just_past(age_h, limits)
            assert grades[found] is true_grade(age_h, limits)


def test_the_age_a_larva_looks_does_not_make_it_right():
    assert outcome_of(larva(40.0, looks_age_h=20.0), TAKE, LIMITS) is Outcome.TOO_OLD
    assert outcome_of(larva(20.0, looks_age_h=40.0), TAKE, LIMITS) is Outcome.RIGHT


def test_the_teachers_span_is_used():
    narrow = Limits(young_h=10.0, best_young_h=12.0, best_old_h=20.0, old_h=24.0)
    ages_h = (9.0, 10.0, 24.0, 27.0, 28.0)
    assert [outcome_of(larva(age_h), TAKE, narrow) for age_h in ages_h] == [
        Outcome.VERY_YOUNG,
        Outcome.RIGHT,
        Outcome.RIGHT,
        Outcome.JUST_PAST,
        Outcome.TOO_OLD,
    ]


def test_a_span_that_begins_at_hatching_has_no_very_young():
    limits = Limits(young_h=0.0)
    assert outcome_of(larva(0.0), TAKE, limits) is Outcome.RIGHT


def test_each_answer_is_judged_by_the_span_of_its_time():
    early, late = Limits(old_h=24.0), Limits(old_h=36.0)
    rows = [(larva(30.0), TAKE)]
    assert outcomes(table_of(rows, early)).tolist() == [Outcome.TOO_OLD]
    assert outcomes(table_of(rows, late)).tolist() == [Outcome.RIGHT]


def test_every_outcome_has_one_short_plain_phrase():
    assert list(OUTCOME_WORDS) == list(Outcome)
    assert len(set(OUTCOME_WORDS.values())) == len(Outcome)
    for words in OUTCOME_WORDS.values():
        assert words == words.lower().strip()
        assert len(words) <= 40
        assert not words.endswith((".", "!"))


def test_a_phrase_says_not_counted_exactly_where_it_is_not():
    not_counted = {o for o, words in OUTCOME_WORDS.items() if words.endswith("not counted")}
    assert not_counted == {o for o in Outcome if score_of(o).n_not_counted == 1}


def test_a_hundred_thousand_answers_are_what_a_slow_loop_says():
    table = random_table(100_000, seed=1)
    found = outcomes(table)
    assert found.dtype == np.int8
    assert set(found.tolist()) == set(Outcome)
    assert found.tolist() == slow_outcomes(table)


def test_one_answer_goes_by_the_rules_of_many():
    ages_h = (None, 0.0, 6.0, 30.0, 31.0, 40.0)
    for content, age_h, plain, answer in product(Content, ages_h, (True, False), Answer):
        shown = cell(content, age_h, is_plain=plain)
        found = outcome_of(shown, answer, LIMITS)
        assert isinstance(found, Outcome)
        assert [found] == slow_outcomes(table_of([(shown, answer)]))


def test_no_answers_are_nothing():
    assert outcomes(table_of([])).shape == (0,)


# The columns


def test_columns_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match=r"^all columns must have one length.*'taken': 2"):
        replace(table_of([(larva(20.0), TAKE)]), taken=np.array([True, False]))


# Scores


def test_every_outcome_is_counted_where_it_belongs():
    scored = score_of(*Outcome)
    assert counts_of(scored) == counts_of(
        Score(
            n_answers=10,
            n_picks=5,
            n_right=2,
            right=wilson_interval(2, 5),
            n_too_old=1,
            n_egg=1,
            n_no_larva=1,
            n_missed=1,
            n_good=2,
            n_not_counted=3,
            pace_ms=math.nan,
        )
    )


@pytest.mark.parametrize("seed", range(20))
def test_the_parts_of_a_score_add_up(seed):
    rng = np.random.default_rng(seed)
    found = rng.integers(0, len(Outcome), rng.integers(0, 200)).astype(np.int8)
    scored = score_of(*found)
    n_left = int((found == Outcome.LEFT).sum())
    assert scored.n_answers == len(found)
    parts = scored.n_picks + scored.n_missed + n_left + scored.n_not_counted
    assert parts == scored.n_answers
    n_wrong = scored.n_too_old + scored.n_egg + scored.n_no_larva
    assert scored.n_right + n_wrong == scored.n_picks
    assert scored.n_missed <= scored.n_good
    assert scored.right == wilson_interval(scored.n_right, scored.n_picks)


@pytest.mark.reference("scipy.stats.binomtest, Wilson's interval")
@pytest.mark.parametrize(("n_right", "n_wrong"), [(0, 3), (7, 0), (13, 4), (450, 50)])
def test_the_share_of_right_picks_has_wilsons_interval(n_right, n_wrong):
    scored = score_of(*[Outcome.RIGHT] * n_right, *[Outcome.TOO_OLD] * n_wrong)
    expected = binomtest(n_right, n_right + n_wrong).proportion_ci(method="wilson")
    assert (scored.right.lo, scored.right.hi) == pytest.approx((expected.low, expected.high))


@pytest.mark.parametrize("extra", [Outcome.LEFT, Outcome.HIDDEN, Outcome.LEFT_OPEN])
def test_leaving_obvious_cells_does_not_better_the_share(extra):
    picks = [Outcome.RIGHT] * 6 + [Outcome.TOO_OLD] * 4
    few, many = score_of(*picks), score_of(*picks, *[extra] * 500)
    assert many.n_answers == 510
    assert (many.right, many.n_picks, many.n_right) == (few.right, few.n_picks, few.n_right)
    assert (many.n_missed, many.n_good) == (few.n_missed, few.n_good)


def test_missed_ones_are_told_apart_from_wrong_picks():
    picks = [Outcome.RIGHT] * 6
    scored = score_of(*picks, *[Outcome.MISSED] * 10)
    assert scored.right == score_of(*picks).right
    assert (scored.n_missed, scored.n_good) == (10, 16)


def test_just_past_is_shown_but_not_counted():
    scored = score_of(Outcome.RIGHT, Outcome.JUST_PAST, Outcome.JUST_PAST)
    assert (scored.n_picks, scored.n_right, scored.n_not_counted) == (1, 1, 2)
    assert scored.n_answers == 3


def test_no_picks_have_no_share():
    scored = score_of(Outcome.LEFT, Outcome.MISSED, Outcome.JUST_PAST)
    assert scored.n_picks == 0
    assert scored.right is None


def test_no_answers_have_a_score_of_zeros():
    scored = score_of()
    assert scored.right is None
    assert math.isnan(scored.pace_ms)
    assert {v for v in counts_of(scored).values() if v is not None} == {0}


@pytest.mark.parametrize(
    ("response_ms", "pace_ms"),
    [
        ([900.0], 900.0),
        ([300.0, math.nan, 900.0, 500.0], 500.0),
        ([300.0, 900.0, 500.0, 1000.0], 700.0),
        ([0.0, math.nan], 0.0),
    ],
)
def test_pace_is_the_median_of_touched_cells(response_ms, pace_ms):
    scored = score_of(*[Outcome.RIGHT] * len(response_ms), response_ms=response_ms)
    assert scored.pace_ms == pace_ms


def test_untouched_cells_have_no_pace():
    assert math.isnan(score_of(Outcome.LEFT, Outcome.LEFT).pace_ms)


def test_a_score_is_made_of_plain_numbers():
    scored = score_of(Outcome.RIGHT, response_ms=[500.0])
    assert {type(value) for value in counts_of(scored).values()} == {int, dict}
    assert type(scored.right) is Interval
    assert {type(scored.right.lo), type(scored.pace_ms)} == {float}


def test_scores_of_groups_are_the_scores_of_their_answers():
    rng = np.random.default_rng(3)
    n, n_groups = 3000, 40
    found = rng.integers(0, len(Outcome), n).astype(np.int8)
    times_ms = np.where(rng.random(n) < 0.3, rng.integers(200, 9000, n), math.nan)
    # Uneven groups, out of order, the last without answers and one never touched.
    group = (rng.random(n) ** 3 * (n_groups - 1)).astype(np.int64)
    times_ms[group == 5] = math.nan
    scores = scores_by_group(found, times_ms, group, n_groups)
    assert len(scores) == n_groups
    for i, scored in enumerate(scores):
        mine = group == i
        alone = score(found[mine], times_ms[mine])
        assert counts_of(scored) == counts_of(alone)
        touched = [value for value in times_ms[mine].tolist() if not math.isnan(value)]
        pace_ms = median(touched) if touched else math.nan
        assert scored.pace_ms == pytest.approx(pace_ms, nan_ok=True)
        assert alone.pace_ms == pytest.approx(pace_ms, nan_ok=True)
    assert scores[-1].n_answers == 0


def test_answers_and_times_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match=r"must have one length, got \(2, 1, 2\)"):
        score_of(Outcome.RIGHT, Outcome.LEFT, response_ms=[1.0])


def test_a_hundred_thousand_answers_are_scored_right():
    table = random_table(100_000, seed=2)
    found = slow_outcomes(table)
    scored = score(outcomes(table), table.response_ms)
    right = found.count(Outcome.RIGHT) + found.count(Outcome.VERY_YOUNG)
    assert scored.n_answers == 100_000
    assert scored.n_right == right
    wrong = (Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA)
    assert (scored.n_too_old, scored.n_egg, scored.n_no_larva) == tuple(map(found.count, wrong))
    assert scored.n_picks == right + sum(map(found.count, wrong))
    assert scored.pace_ms == median(t for t in table.response_ms.tolist() if not math.isnan(t))


# A learner who takes everything, or nothing


def comb(answer):
    """Return one comb's cells with one answer for all: ages 0-95 h, eggs, and the rest."""
    shown = [larva(float(age_h)) for age_h in range(96)]
    shown += [cell(content) for content in COUNTED_BAD for _ in range(5)]
    return table_of([(one, answer) for one in shown])


def test_who_takes_everything_misses_nothing_and_picks_much_wrong():
    table = comb(TAKE)
    scored = score(outcomes(table), table.response_ms)
    assert scored.n_missed == 0
    assert scored.n_good == 25
    assert scored.n_right == 31
    assert (scored.n_too_old, scored.n_egg, scored.n_no_larva) == (62, 5, 15)
    assert scored.n_not_counted == 3
    assert scored.right == wilson_interval(31, 113)


def test_who_takes_nothing_misses_everything_and_has_no_share():
    table = comb(LEAVE)
    scored = score(outcomes(table), table.response_ms)
    assert (scored.n_picks, scored.right) == (0, None)
    assert (scored.n_missed, scored.n_good) == (25, 25)
    assert scored.n_not_counted == 9


@pytest.mark.parametrize("answer", Answer)
def test_taking_everything_or_nothing_tells_nothing_apart(answer):
    found = detection_of(comb(answer))
    assert abs(found.d_prime) < 0.7
    assert (found.criterion < 0.0) is (answer is TAKE)


# Telling good from bad, for the teacher


def test_good_lies_within_the_span_and_grey_ages_count_for_neither():
    grey = [(larva(age_h), answer) for age_h in (2.0, 32.0) for answer in Answer]
    hidden = [(larva(20.0, is_plain=False), TAKE), (cell(Content.COVERED), TAKE)]
    rows = [(larva(20.0), TAKE)] * 8 + [(larva(20.0), LEAVE)] * 2
    rows += [(larva(50.0), TAKE), (cell(Content.EGG, -9.0), TAKE), (cell(Content.EMPTY), TAKE)]
    rows += [(larva(50.0), LEAVE)] * 7 + [(cell(Content.STORES), LEAVE)] * 5
    expected = detection(8, 10, 3, 15)
    assert detection_of(table_of(rows)) == expected
    assert detection_of(table_of(rows + grey + hidden)) == expected


def test_without_good_or_without_bad_nothing_is_told():
    assert detection_of(table_of([])) is None
    assert detection_of(table_of([(larva(20.0), TAKE)])) is None
    assert detection_of(table_of([(larva(50.0), LEAVE)])) is None
    assert detection_of(table_of([(larva(20.0), TAKE), (larva(50.0), LEAVE)])) is not None


@pytest.mark.parametrize("seed", range(3))
def test_detection_of_many_answers_is_that_of_a_slow_loop(seed):
    table = random_table(5000, seed)
    found = slow_outcomes(table)
    hits, missed = found.count(Outcome.RIGHT), found.count(Outcome.MISSED)
    false_picks = sum(map(found.count, (Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA)))
    n_bad = false_picks + found.count(Outcome.LEFT)
    assert detection_of(table) == detection(hits, hits + missed, false_picks, n_bad)
