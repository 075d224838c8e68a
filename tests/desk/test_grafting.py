"""What the record of grafts says, and how it is changed."""

from dataclasses import fields
from datetime import UTC, datetime, timedelta, timezone
from uuid import uuid4
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from larvasight.desk.grafting import eye_and_takes, kept, oldest_taken_h, read_typed, tell
from larvasight.desk.invented_grafts import invented_batches
from larvasight.grafts import Batch, Cup, Factor, Fate, Stage, Tool, new_cups
from larvasight.grafts.telling import (
    comparison_title,
    comparison_words,
    level_words,
    step_words,
    steps_words,
    takes_words,
)
from larvasight.grafts.typed import typed_of
from larvasight.practice import CONTENT_CODES, AnswerTable
from larvasight.records.store import Store
from larvasight.sheet import Content

ZONE = ZoneInfo("Europe/Berlin")
NOW = datetime(2027, 6, 20, 9, tzinfo=UTC)
AT = datetime(2027, 5, 14, 10, 30, tzinfo=ZONE)


def cups(n_accepted, n_known, n_open=0):
    made = [Cup(number=k + 1, reached=Stage.ACCEPTED) for k in range(n_accepted)]
    made += [Cup(number=k + 1, fate=Fate.LOST) for k in range(n_accepted, n_known)]
    made += [Cup(number=k + 1) for k in range(n_known, n_known + n_open)]
    return tuple(made)


def batch(made, **changes):
    values = {"id": uuid4(), "grafted_at": AT, "grafter": "Mira", "cups": made}
    return Batch(**(values | changes))


def answers(ages_h, taken, *, at=AT - timedelta(days=2)):
    n = len(ages_h)
    return AnswerTable(
        answered_utc_ms=np.full(n, int(at.timestamp() * 1000), np.int64),
        content=np.full(n, CONTENT_CODES.index(Content.LARVA), np.int8),
        age_h=np.array(ages_h, float),
        looks_age_h=np.array(ages_h, float),
        is_plain=np.zeros(n, np.bool_),
        taken=np.array(taken, np.bool_),
        response_ms=np.full(n, 1000.0),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=NOW) as opened:
        yield opened


def test_nothing_kept_says_nothing():
    told = tell([])
    assert (told.takes.share, told.days, told.compared, told.n_practice_cups) == (None, (), (), 0)


def test_practice_grafts_are_only_counted():
    told = tell([batch(cups(2, 10), is_practice=True), batch(cups(3, 4))])
    assert told.n_practice_cups == 10
    assert (told.takes.n_accepted, told.takes.n_known) == (3, 4)


def test_only_what_differs_is_compared():
    made = [batch(cups(3, 9), tool=Tool.BRUSH), batch(cups(6, 9), tool=Tool.RIGID)]
    assert [each.factor for each in tell(made).compared] == [Factor.TOOL]


def test_sentences_are_plain_and_tell_what_is_missing():
    told = tell([batch(cups(14, 20, 2), tool=Tool.BRUSH), batch(cups(15, 20), tool=Tool.RIGID)])
    (compared,) = told.compared
    (found,) = compared.comparisons
    assert comparison_title(found) == "Brush and rigid tool"
    words = comparison_words(found)
    assert words.startswith("Too few cups to tell: about 2")
    assert "more of each would show a difference of 10 in 100." in words
    assert words.endswith(
        "So far it may be anything from 31 fewer to 22 more of 100 accepted, brush against rigid "
        "tool."
    )
    words = level_words(Factor.TOOL, compared.levels[0])
    assert words == "Brush: 14 of 20 accepted (likely 48\N{EN DASH}85 of 100), 2 not looked at yet."
    assert takes_words(tell([]).takes) == "not looked at yet"
    assert steps_words(told.steps) == "Of 42 grafted: 29 accepted."
    assert steps_words(tell([]).steps) == "Of 0 grafted: 0 accepted."
    assert step_words(told.steps[0]) == "11 lost, 2 not known yet"


def test_a_difference_on_different_days_is_told_with_its_doubt():
    later = AT + timedelta(days=5)
    made = [
        batch(cups(16, 80), tool=Tool.BRUSH),
        batch(cups(60, 80), tool=Tool.RIGID, grafted_at=later),
    ]
    words = comparison_words(tell(made).compared[0].comparisons[0])
    assert words.startswith(
        "On different days the better one was rigid tool: about 55 more of 100 "
    )
    assert "most likely 40 to 66 more." in words
    assert words.endswith("Weather or colony of those days may have done it.")


def test_a_difference_within_days_and_no_difference_are_told():
    one = [batch(cups(10, 40), tool=Tool.BRUSH), batch(cups(30, 40), tool=Tool.RIGID)]
    words = comparison_words(tell(one).compared[0].comparisons[0])
    assert words == (
        "On the same days the better one was rigid tool: about 50 more of 100 accepted, most "
        "likely 29 to 65 more."
    )
    alike = [batch(cups(75, 100), tool=tool) for tool in (Tool.BRUSH, Tool.RIGID) for _ in range(3)]
    words = comparison_words(tell(alike).compared[0].comparisons[0])
    assert words.startswith("On the same days no difference was found")
    assert words.endswith("Likely are 7 fewer to 7 more of 100 accepted, brush against rigid tool.")


def test_a_typed_batch_is_tied_to_the_learner_of_that_name(store):
    mira = store.add_learner("Mira", now=NOW)
    typed = {"day": "2027-05-14", "time": "10:30", "grafter": "mira ", "n_cups": "20"}
    read = read_typed(typed, now=NOW, zone=ZONE, learners=store.learners())
    assert (read.batch.learner_id, read.batch.grafter) == (mira.id, "mira")
    store.put_batches([read.batch], now=NOW)
    assert kept(store).batches == (read.batch,)


def test_a_batch_stays_with_its_learner_when_that_one_is_renamed(store):
    mira = store.add_learner("Mira", now=NOW)
    made = batch(new_cups(3), learner_id=mira.id)
    store.rename_learner(mira.id, "Mirabel")
    changes = {"now": NOW, "zone": ZONE, "changed": made}
    again = read_typed(typed_of(made), learners=store.learners(), **changes)
    assert again.batch.learner_id == mira.id
    assert read_typed(typed_of(made), learners=(), **changes).batch.learner_id is None


def test_a_batch_grafted_elsewhere_keeps_the_clock_of_that_place():
    far = timezone(timedelta(hours=13))
    made = batch(new_cups(3), grafted_at=datetime(2027, 5, 14, 8, tzinfo=far))
    read = read_typed(typed_of(made), now=NOW, zone=ZONE, learners=(), changed=made)
    assert read.batch == made
    assert read.batch.grafted_at.utcoffset() == timedelta(hours=13)


def test_the_oldest_age_taken_is_where_half_are_left():
    ages_h = list(np.linspace(4.0, 60.0, 113))
    table = answers(ages_h, [age_h < 32.0 for age_h in ages_h])
    oldest = oldest_taken_h(table, AT)
    assert oldest.value == pytest.approx(32.0, abs=1.5)
    assert oldest.lo < 32.0 < oldest.hi


def test_few_old_or_later_answers_tell_no_edge():
    ages_h = [20.0] * 60
    assert oldest_taken_h(answers(ages_h[:39], [True] * 39), AT) is None
    assert oldest_taken_h(answers(ages_h, [True] * 60, at=AT - timedelta(days=31)), AT) is None
    assert oldest_taken_h(answers(ages_h, [True] * 60, at=AT + timedelta(days=1)), AT) is None


def test_the_eye_stands_beside_the_takes_of_its_own_learner_only(store, monkeypatch):
    mira, noor = (store.add_learner(name, now=NOW) for name in ("Mira", "Noor"))
    ages_h = list(np.linspace(4.0, 60.0, 60))
    table = answers(ages_h, [age_h < 30.0 for age_h in ages_h])
    monkeypatch.setattr(store, "answers", lambda _learner_id: table)
    made = [
        batch(cups(6, 10), learner_id=mira.id),
        batch(cups(7, 10), learner_id=noor.id),
        batch(new_cups(5), learner_id=mira.id),
        batch(cups(1, 10), learner_id=mira.id, is_practice=True),
    ]
    (found,) = eye_and_takes(store, made, mira.id)
    # Both bars of that day together; cups that were not looked at count as such.
    assert found.day == made[0].grafted_on
    assert (found.takes.n_accepted, found.takes.n_known, found.takes.n_open) == (6, 10, 5)


def test_invented_grafts_can_be_and_are_always_the_same(store):
    last = NOW.date()
    made = invented_batches(np.random.default_rng(1), last_day=last, zone=ZONE)
    assert made == invented_batches(np.random.default_rng(1), last_day=last, zone=ZONE)
    store.put_batches(made, now=NOW)
    assert sorted(store.batches(), key=lambda b: b.id) == sorted(made, key=lambda b: b.id)
    told = tell(made)
    assert 0.6 < told.takes.n_accepted / told.takes.n_known < 0.85
    assert told.takes.n_open == 40
    assert told.steps[-1].n_reached > 100
    assert {each.factor for each in told.compared} >= {Factor.TOOL, Factor.PRIMING, Factor.GRAFTER}


def test_the_eye_is_told_beside_the_latest_twelve_days_oldest_first(store, monkeypatch):
    mira = store.add_learner("Mira", now=NOW)
    ages_h = list(np.linspace(4.0, 60.0, 60))
    table = answers(ages_h, [age_h < 30.0 for age_h in ages_h])
    monkeypatch.setattr(store, "answers", lambda _learner_id: table)
    made = [
        batch(cups(6, 10), learner_id=mira.id, grafted_at=AT + timedelta(days=k)) for k in range(14)
    ]
    found = eye_and_takes(store, made[::-1], mira.id)
    assert [each.day for each in found] == [each.grafted_on for each in made[2:]]


def test_a_line_that_moved_is_told_for_each_day(store, monkeypatch):
    mira = store.add_learner("Mira", now=NOW)
    ages_h = list(np.linspace(4.0, 60.0, 90))
    tables = [
        answers(ages_h, [age_h < limit_h for age_h in ages_h], at=AT + timedelta(days=day))
        for day, limit_h in ((-2, 40.0), (40, 28.0))
    ]
    table = AnswerTable(
        **{
            field.name: np.concatenate([getattr(each, field.name) for each in tables])
            for field in fields(AnswerTable)
        }
    )
    monkeypatch.setattr(store, "answers", lambda _learner_id: table)
    made = [
        batch(cups(5, 10), learner_id=mira.id, grafted_at=AT),
        batch(cups(8, 10), learner_id=mira.id, grafted_at=AT + timedelta(days=45)),
    ]
    first, second = eye_and_takes(store, made, mira.id)
    assert first.oldest_h.value == pytest.approx(40.0, abs=2.0)
    assert second.oldest_h.value == pytest.approx(28.0, abs=2.0)
