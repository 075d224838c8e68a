"""A batch holds only what can be."""

from datetime import datetime, timedelta

import pytest

from larvasight.grafts import Alternation, Cup, Factor, Fate, Stage, new_cups
from larvasight.grafts.batch import CUPS_MAX
from larvasight.grafts.words import batch_words, cup_words, day_words


def test_the_day_of_grafting_is_that_of_the_place(make_batch):
    late = datetime.fromisoformat("2027-05-14T00:30:00+02:00")
    assert make_batch("oo", grafted_at=late).grafted_on.isoformat() == "2027-05-14"


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"grafted_at": datetime(2027, 5, 14, 10)}, "time zone"),  # noqa: DTZ001
        ({"cups": ()}, "1 to 100"),
        ({"cups": (Cup(number=2),)}, "numbered"),
        ({"room_c": 451.0}, "room_c"),
        ({"humidity_pct": float("nan")}, "humidity_pct"),
        ({"magnification": 0.0}, "magnification"),
        ({"out_min": -1.0}, "out_min"),
        ({"grafter": "x" * 61}, "grafter"),
    ],
)
def test_what_cannot_be_is_refused(make_batch, change, named):
    with pytest.raises(ValueError, match=named):
        make_batch("oo", **change)


def test_days_out_of_order_are_refused(make_batch):
    on = make_batch("o").grafted_on
    emerged = Cup(number=1, reached=Stage.EMERGED, days={Stage.EMERGED: on - timedelta(days=1)})
    with pytest.raises(ValueError, match="order"):
        make_batch("o", cups=(emerged,))


@pytest.mark.parametrize(
    "values",
    [
        {"number": 0},
        {"number": CUPS_MAX + 1},
        {"number": 1, "reached": Stage.LAYING, "fate": Fate.LOST},
        {"number": 1, "fate": Fate.GIVEN_AWAY},
        {"number": 1, "reached": Stage.ACCEPTED, "days": {Stage.CAPPED: None}},
    ],
)
def test_a_cup_that_cannot_be_is_refused(values):
    with pytest.raises(ValueError, match="must"):
        Cup(**values)


@pytest.mark.parametrize(
    ("factor", "value"), [(Factor.TOOL, "spoon"), (Factor.GRAFTER, "Mira"), (Factor.AGE, "")]
)
def test_only_what_can_change_from_cup_to_cup_alternates(factor, value):
    with pytest.raises(ValueError, match="value"):
        Alternation(factor=factor, value=value)


def test_new_cups_are_numbered_and_open():
    assert [cup.number for cup in new_cups(3)] == [1, 2, 3]
    assert {(cup.reached, cup.fate) for cup in new_cups(3)} == {(Stage.GRAFTED, Fate.OPEN)}


def test_words_are_plain(make_batch):
    made = make_batch("oo", breeder="Queen 7")
    assert batch_words(made) == "14 May 2027, Mira, from Queen 7, 2 cups"
    assert day_words(made.grafted_on) == "14 May 2027"
    assert cup_words(Stage.GRAFTED, Fate.LOST) == "not accepted"
    assert cup_words(Stage.CAPPED, Fate.GIVEN_AWAY) == "capped, given away"
