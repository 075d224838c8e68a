"""Progress by the learner's own days and by the age larvae look; one sentence what to do next."""

import math
import re
import time
from dataclasses import asdict, replace
from datetime import UTC, date, datetime, timedelta, timezone
from statistics import median
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from scipy.stats import binomtest

from larvasight.practice import (
    CONTENT_CODES,
    TOO_FEW,
    AnswerTable,
    Outcome,
    Progress,
    TakenShare,
    outcomes,
    say_next,
    score,
    summarise,
)
from larvasight.sheet import Content
from larvasight.stats import Interval, wilson_interval

BERLIN = ZoneInfo("Europe/Berlin")
STATISTICS = re.compile(
    r"interval|proportion|wilson|kappa|d'|probab|deviation|signific|average|mean\b|median|%", re.I
)
PRAISE = re.compile(r"well done|great|bravo|points|level|rank|expert|master|champion|!", re.I)


def table_of(n, *, content=Content.LARVA, utc_ms=0, age_h=20.0, looks_age_h=math.nan, taken=True):
    """Return n plain answers; everything may be one value or n of them."""
    codes = [CONTENT_CODES.index(c) for c in ([content] if isinstance(content, str) else content)]
    return AnswerTable(
        answered_utc_ms=np.array(np.broadcast_to(utc_ms, n), np.int64),
        content=np.array(np.broadcast_to(codes, n), np.int8),
        age_h=np.array(np.broadcast_to(age_h, n), np.float64),
        looks_age_h=np.array(np.broadcast_to(looks_age_h, n), np.float64),
        is_plain=np.ones(n, np.bool_),
        taken=np.array(np.broadcast_to(taken, n), np.bool_),
        response_ms=np.full(n, 800.0),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def random_table(n, seed, *, n_days=400, first=datetime(2024, 1, 1, tzinfo=UTC)):
    """Return answers of every kind over some days, most of them while people are awake."""
    rng = np.random.default_rng(seed)
    begin_ms = utc_ms_of(first)
    content = rng.integers(0, len(CONTENT_CODES), n).astype(np.int8)
    content[rng.random(n) < 0.6] = CONTENT_CODES.index(Content.LARVA)
    age_h = np.where(rng.random(n) < 0.5, rng.integers(0, 97, n), rng.uniform(0.0, 96.0, n))
    age_h[rng.random(n) < 0.05] = math.nan
    looks_age_h = np.clip(age_h + rng.normal(0.0, 4.0, n), 0.0, 96.0)
    looks_age_h[rng.random(n) < 0.1] = math.nan
    return AnswerTable(
        answered_utc_ms=np.sort(begin_ms + rng.integers(0, n_days * 86_400_000, n)),
        content=content,
        age_h=age_h,
        looks_age_h=looks_age_h,
        is_plain=rng.random(n) < 0.9,
        taken=rng.random(n) < 0.4,
        response_ms=np.where(rng.random(n) < 0.5, rng.integers(200, 9000, n), math.nan),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def utc_ms_of(moment):
    return round(moment.timestamp() * 1000)


def slow_days(table, tz):
    """Return the rows of each local day, converted one by one."""
    rows = {}
    for at, utc_ms in enumerate(table.answered_utc_ms.tolist()):
        local = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=utc_ms)).astimezone(tz)
        rows.setdefault(local.date(), []).append(at)
    return dict(sorted(rows.items()))


def day_of(moment, tz=BERLIN):
    (only,) = summarise(table_of(1, utc_ms=utc_ms_of(moment)), tz).days
    return only.day


def n_by_day(moments, tz=BERLIN):
    utc_ms = np.array([utc_ms_of(moment) for moment in moments])
    days = summarise(table_of(len(utc_ms), utc_ms=utc_ms), tz).days
    return {day.day.isoformat(): day.score.n_answers for day in days}


def counts_of(scored):
    """Return everything of a score but its pace."""
    return {name: value for name, value in asdict(scored).items() if name != "pace_ms"}


def progress_of(**counted):
    """Return the progress of answers that came out as named, such as ``right=30``."""
    found = [Outcome[name.upper()] for name, n in counted.items() for _ in range(n)]
    scored = score(np.array(found, np.int8), np.full(len(found), math.nan))
    return Progress(
        score=scored,
        days=(),
        ages=(),
        eggs=TakenShare(n=0, n_taken=0, taken=None),
        is_enough=scored.n_answers >= TOO_FEW,
    )


# Days


def test_a_day_begins_at_the_learners_own_midnight():
    # Clocks there are one hour ahead of UTC in winter and two in summer.
    winter = datetime(2025, 1, 10, 23, 0, tzinfo=UTC)
    assert day_of(winter) == date(2025, 1, 11)
    assert day_of(winter - timedelta(milliseconds=1)) == date(2025, 1, 10)
    summer = datetime(2025, 7, 10, 22, 0, tzinfo=UTC)
    assert day_of(summer) == date(2025, 7, 11)
    assert day_of(summer - timedelta(milliseconds=1)) == date(2025, 7, 10)


@pytest.mark.parametrize(
    ("day", "hours"), [((2025, 3, 30), 23), ((2025, 6, 1), 24), ((2025, 10, 26), 25)]
)
def test_a_day_on_which_clocks_change_has_all_its_hours(day, hours):
    midnight = datetime(*day, tzinfo=BERLIN).astimezone(UTC)
    before, after = midnight - timedelta(hours=1), midnight + timedelta(hours=hours)
    moments = [before, *(midnight + timedelta(hours=hour) for hour in range(hours)), after]
    assert list(n_by_day(moments).values()) == [1, hours, 1]


@pytest.mark.parametrize(
    ("zone", "moment", "expected"),
    [
        # Clocks skip midnight: the day begins at one o'clock.
        ("America/Sao_Paulo", datetime(2018, 11, 4, 2, 59, tzinfo=UTC), date(2018, 11, 3)),
        ("America/Sao_Paulo", datetime(2018, 11, 4, 3, 0, tzinfo=UTC), date(2018, 11, 4)),
        # Clocks repeat the hour before midnight, and the hour after it.
        ("America/Sao_Paulo", datetime(2018, 2, 18, 2, 30, tzinfo=UTC), date(2018, 2, 17)),
        ("America/Sao_Paulo", datetime(2018, 2, 18, 3, 0, tzinfo=UTC), date(2018, 2, 18)),
        ("America/Havana", datetime(2025, 11, 2, 4, 30, tzinfo=UTC), date(2025, 11, 2)),
        ("America/Havana", datetime(2025, 11, 2, 5, 30, tzinfo=UTC), date(2025, 11, 2)),
        # A whole day was skipped.
        ("Pacific/Apia", datetime(2011, 12, 30, 9, 59, tzinfo=UTC), date(2011, 12, 29)),
        ("Pacific/Apia", datetime(2011, 12, 30, 10, 0, tzinfo=UTC), date(2011, 12, 31)),
        ("Asia/Kathmandu", datetime(2025, 5, 1, 18, 14, tzinfo=UTC), date(2025, 5, 1)),
        ("Asia/Kathmandu", datetime(2025, 5, 1, 18, 15, tzinfo=UTC), date(2025, 5, 2)),
        ("Pacific/Kiritimati", datetime(2025, 5, 1, 10, 0, tzinfo=UTC), date(2025, 5, 2)),
    ],
)
def test_days_hold_in_odd_zones(zone, moment, expected):
    assert day_of(moment, ZoneInfo(zone)) == expected


@pytest.mark.parametrize("hours", [-23.75, -11.0, 0.0, 5.5, 14.0, 23.75])
def test_days_hold_at_any_fixed_distance_from_utc(hours):
    zone = timezone(timedelta(hours=hours))
    midnight = datetime(2025, 5, 1, tzinfo=zone)
    assert day_of(midnight, zone) == date(2025, 5, 1)
    assert day_of(midnight - timedelta(milliseconds=1), zone) == date(2025, 4, 30)


def test_days_before_1970_are_days():
    assert day_of(datetime(1969, 12, 31, 22, 59, 59, tzinfo=UTC)) == date(1969, 12, 31)


def test_only_days_with_answers_are_told_oldest_first():
    # A clock that was set back leaves answers out of order.
    moments = [datetime(2025, 5, day, 12, tzinfo=UTC) for day in (9, 2, 9, 5, 2, 2)]
    assert n_by_day(moments) == {"2025-05-02": 3, "2025-05-05": 1, "2025-05-09": 2}
    assert list(n_by_day(moments)) == ["2025-05-02", "2025-05-05", "2025-05-09"]


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/Sao_Paulo", "Australia/Lord_Howe"])
def test_days_are_those_of_a_slow_loop(zone):
    tz = ZoneInfo(zone)
    table = random_table(4000, seed=5, first=datetime(2017, 6, 1, tzinfo=UTC))
    days = summarise(table, tz).days
    expected = slow_days(table, tz)
    assert [day.day for day in days] == list(expected)
    found = outcomes(table)
    for day, rows in zip(days, expected.values(), strict=True):
        assert counts_of(day.score) == counts_of(score(found[rows], table.response_ms[rows]))
        touched = [t for t in table.response_ms[rows].tolist() if not math.isnan(t)]
        pace_ms = median(touched) if touched else math.nan
        assert day.score.pace_ms == pytest.approx(pace_ms, nan_ok=True)


def test_a_day_has_wilsons_interval():
    days = summarise(random_table(3000, seed=6, n_days=60), BERLIN).days
    for day in days:
        assert day.score.right == wilson_interval(day.score.n_right, day.score.n_picks)


@pytest.mark.reference("scipy.stats.binomtest, Wilson's interval")
def test_a_days_interval_is_wilsons_of_its_picks():
    taken_h = [20.0] * 11 + [50.0] * 4
    (only,) = summarise(table_of(15, age_h=taken_h), BERLIN).days
    expected = binomtest(11, 15).proportion_ci(method="wilson")
    assert (only.score.right.lo, only.score.right.hi) == pytest.approx(
        (expected.low, expected.high)
    )


def test_a_day_without_picks_has_no_share():
    (only,) = summarise(table_of(5, taken=False), BERLIN).days
    assert only.score.right is None
    assert only.score.n_missed == 5


def test_days_add_up_to_the_score():
    progress = summarise(random_table(2000, seed=7), BERLIN)
    for name in ("n_answers", "n_picks", "n_right", "n_missed", "n_good", "n_not_counted"):
        total = sum(getattr(day.score, name) for day in progress.days)
        assert total == getattr(progress.score, name)


# Ages and eggs


def bins_with_larvae(progress):
    return {(age.low_h, age.high_h): (age.n, age.n_taken) for age in progress.ages if age.n}


def test_bins_of_four_hours_cover_three_days():
    ages = summarise(table_of(1), BERLIN).ages
    edges_h = [(4.0 * i, 4.0 * (i + 1)) for i in range(18)]
    assert [(age.low_h, age.high_h) for age in ages] == edges_h


@pytest.mark.parametrize(
    ("age_h", "low_h"), [(0.0, 0.0), (3.99, 0.0), (4.0, 4.0), (71.99, 68.0), (29.0, 28.0)]
)
def test_a_bin_holds_its_lower_end(age_h, low_h):
    progress = summarise(table_of(1, looks_age_h=age_h), BERLIN)
    assert bins_with_larvae(progress) == {(low_h, low_h + 4.0): (1, 1)}


@pytest.mark.parametrize("age_h", [72.0, 96.0])
def test_larvae_beyond_three_days_stand_in_no_bin(age_h):
    assert bins_with_larvae(summarise(table_of(1, looks_age_h=age_h), BERLIN)) == {}


def test_larvae_are_sorted_by_the_age_they_look_or_by_their_age():
    table = table_of(3, age_h=[20.0, 20.0, 20.0], looks_age_h=[31.0, math.nan, 20.5])
    assert bins_with_larvae(summarise(table, BERLIN)) == {
        (20.0, 24.0): (2, 2),
        (28.0, 32.0): (1, 1),
    }


def test_only_larvae_that_can_be_told_stand_in_bins():
    contents = [Content.LARVA, Content.EGG, Content.CAPPED, Content.COVERED, Content.LARVA]
    table = table_of(
        5, content=contents, age_h=[20.0, 20.0, 20.0, 20.0, math.nan], looks_age_h=20.0
    )
    assert bins_with_larvae(summarise(table, BERLIN)) == {(20.0, 24.0): (1, 1)}
    hidden = replace(table, is_plain=np.zeros(5, np.bool_))
    assert bins_with_larvae(summarise(hidden, BERLIN)) == {}


def test_larvae_just_past_and_very_young_stand_in_their_bins():
    table = table_of(3, age_h=[2.0, 32.0, 32.5], taken=[True, True, False])
    assert bins_with_larvae(summarise(table, BERLIN)) == {
        (0.0, 4.0): (1, 1),
        (32.0, 36.0): (2, 1),
    }


@pytest.mark.reference("common practice: an egg cannot be grafted")
def test_eggs_are_told_apart_from_larvae():
    table = table_of(5, content=Content.EGG, age_h=-10.0, taken=[True, False, False, True, True])
    progress = summarise(table, BERLIN)
    assert progress.eggs == TakenShare(n=5, n_taken=3, taken=wilson_interval(3, 5))
    assert progress.score.n_egg == 3
    assert bins_with_larvae(progress) == {}


def test_hidden_eggs_are_not_counted():
    table = replace(table_of(2, content=Content.EGG), is_plain=np.array([True, False]))
    assert summarise(table, BERLIN).eggs.n == 1


def test_bins_without_larvae_have_no_share():
    progress = summarise(table_of(3), BERLIN)
    assert progress.eggs == TakenShare(n=0, n_taken=0, taken=None)
    assert [age.taken is None for age in progress.ages] == [age.n == 0 for age in progress.ages]


# Everything together


def test_a_hundred_thousand_answers_are_summed_up_right():
    table = random_table(100_000, seed=8)
    progress = summarise(table, BERLIN)
    n, n_taken = [0] * 18, [0] * 18
    eggs = []
    found = outcomes(table)
    columns = (table.content, found, table.age_h, table.looks_age_h, table.taken)
    for code, outcome, age_h, looks_age_h, taken in zip(
        *(c.tolist() for c in columns), strict=True
    ):
        age = age_h if math.isnan(looks_age_h) else looks_age_h
        if outcome == Outcome.HIDDEN:
            continue
        if CONTENT_CODES[code] is Content.EGG:
            eggs.append(taken)
        elif CONTENT_CODES[code] is Content.LARVA and age < 72.0:
            n[int(age // 4)] += 1
            n_taken[int(age // 4)] += taken
    assert [(age.n, age.n_taken) for age in progress.ages] == list(zip(n, n_taken, strict=True))
    shares = [wilson_interval(k, of) for k, of in zip(n_taken, n, strict=True)]
    assert [age.taken for age in progress.ages] == shares
    assert (progress.eggs.n, progress.eggs.n_taken) == (len(eggs), sum(eggs))
    assert counts_of(progress.score) == counts_of(score(found, table.response_ms))
    per_day = {day: len(rows) for day, rows in slow_days(table, BERLIN).items()}
    assert {day.day: day.score.n_answers for day in progress.days} == per_day


def test_a_hundred_thousand_answers_are_summed_up_at_once():
    table = random_table(100_000, seed=9)
    times_s = []
    for _ in range(7):
        begin_s = time.perf_counter()
        summarise(table, BERLIN)
        times_s.append(time.perf_counter() - begin_s)
    assert min(times_s) < 0.06


def test_no_answers_have_no_days():
    progress = summarise(table_of(0), BERLIN)
    assert progress.days == ()
    assert progress.score.n_answers == 0
    assert progress.score.right is None
    assert len(progress.ages) == 18
    assert not progress.is_enough


def test_progress_is_made_of_plain_numbers():
    progress = summarise(random_table(500, seed=10), BERLIN)
    shares = [*progress.ages, progress.eggs]
    assert {type(share.n) for share in shares} == {int}
    assert {type(share.n_taken) for share in shares} == {int}
    assert {type(share.taken) for share in shares} <= {Interval, type(None)}
    assert {type(day.score.pace_ms) for day in progress.days} == {float}


def test_forty_answers_are_enough():
    assert TOO_FEW == 40
    assert not summarise(table_of(39), BERLIN).is_enough
    assert summarise(table_of(40), BERLIN).is_enough


# What to do next


def test_below_forty_only_the_count_is_told():
    assert say_next(progress_of(right=12)) == (
        "Practise more: 40 cells are needed before anything can be told; you have 12."
    )
    # Whatever they were.
    assert say_next(progress_of(right=12)) == say_next(progress_of(too_old=6, left=6))
    assert say_next(progress_of()).endswith("you have 0.")
    assert say_next(progress_of(too_old=39)).endswith("you have 39.")


@pytest.mark.parametrize(
    ("counted", "told"),
    [
        ({"right": 20, "too_old": 8, "egg": 2, "left": 30}, "were too old"),
        ({"right": 20, "too_old": 2, "egg": 8, "left": 30}, "were eggs"),
        ({"right": 20, "too_old": 2, "no_larva": 8, "left": 30}, "held no larva"),
        ({"right": 20, "too_old": 4, "egg": 4, "left": 30}, "of several kinds"),
        ({"right": 20, "too_old": 30, "egg": 5, "no_larva": 5}, "Nearly every cell was taken"),
        ({"missed": 20, "left": 40}, "You took no larva of the right age (20 shown)"),
        ({"left": 60}, "no cell that counts held a larva of the right age"),
        ({"hidden": 60}, "no cell that counts held a larva of the right age"),
        ({"right": 10, "missed": 10, "left": 40}, "You left 10 of 20 larvae of the right age"),
        ({"right": 20, "missed": 2, "left": 40}, "No kind of mistake stands out"),
    ],
)
def test_the_commonest_mistake_is_named(counted, told):
    assert told in say_next(progress_of(**counted))


def test_few_mistakes_of_a_kind_may_be_chance():
    for counted in ({"too_old": 4, "right": 4}, {"missed": 4, "right": 4}):
        assert "stands out" in say_next(progress_of(**counted, left=40))


def test_rare_mistakes_are_not_spoken_of():
    assert "stands out" in say_next(progress_of(right=191, too_old=9, missed=20, left=400))


def test_what_goes_wrong_more_often_is_said_first():
    wrong = {"right": 30, "too_old": 20, "left": 40}
    assert "too old" in say_next(progress_of(**wrong, missed=12))
    assert "You left 30 of 60" in say_next(progress_of(**wrong, missed=30))


def test_very_young_picks_are_never_held_against_anyone():
    assert "stands out" in say_next(progress_of(very_young=30, left=30))


def test_uncounted_answers_do_not_change_what_is_said():
    counted = {"right": 20, "too_old": 30, "egg": 12}
    plain = say_next(progress_of(**counted))
    assert plain == say_next(progress_of(**counted, hidden=100, just_past=50, left_open=50))


def all_sentences():
    rng = np.random.default_rng(11)
    names = [outcome.name.lower() for outcome in Outcome]
    sentences = {say_next(progress_of(right=3)), say_next(progress_of(left=50))}
    for _ in range(500):
        # Few kinds at a time, so that every one of them stands out now and then.
        counts = np.where(rng.random(len(names)) < 0.4, rng.integers(0, 50, len(names)), 0)
        sentences.add(say_next(progress_of(**dict(zip(names, counts.tolist(), strict=True)))))
    return sentences


def test_whatever_was_answered_one_plain_sentence_is_said():
    sentences = all_sentences()
    assert len(sentences) > 10
    for sentence in sentences:
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        assert not re.search(r"[.!?]\s|\n|\?", sentence), sentence
        assert len(sentence) <= 120, sentence
        assert not STATISTICS.search(sentence), sentence
        assert not PRAISE.search(sentence), sentence


def test_who_takes_every_larva_of_three_days_hears_of_the_old_ones():
    ages_h = np.arange(72.0)
    contents = [Content.LARVA] * 72 + [Content.EMPTY] * 28
    ages_h = np.concatenate([ages_h, np.full(28, math.nan)])
    taken = [content is Content.LARVA for content in contents]
    progress = summarise(table_of(100, content=contents, age_h=ages_h, taken=taken), BERLIN)
    assert say_next(progress).startswith("Most wrong picks were too old")
    everything = summarise(table_of(100, content=contents, age_h=ages_h), BERLIN)
    assert say_next(everything).startswith("Nearly every cell was taken")
    nothing = summarise(table_of(100, content=contents, age_h=ages_h, taken=False), BERLIN)
    assert say_next(nothing).startswith("You took no larva of the right age (25 shown)")
