"""Batches to look at: made of a word for each cup."""

from datetime import UTC, date, datetime, timedelta, timezone
from uuid import uuid4

import pytest

from larvasight.grafts import Batch, Cup, Fate, Stage

ZONE = timezone(timedelta(hours=2))
NOW = datetime(2027, 6, 20, 9, tzinfo=UTC)
DAY = date(2027, 5, 14)
# One letter for each cup: what it came to; x is not accepted, o not looked at yet.
LETTERS = {
    "o": (Stage.GRAFTED, Fate.OPEN),
    "x": (Stage.GRAFTED, Fate.LOST),
    "a": (Stage.ACCEPTED, Fate.OPEN),
    "c": (Stage.CAPPED, Fate.OPEN),
    "k": (Stage.CAPPED, Fate.LOST),
    "g": (Stage.CAPPED, Fate.GIVEN_AWAY),
    "e": (Stage.EMERGED, Fate.OPEN),
    "m": (Stage.MATED, Fate.OPEN),
    "l": (Stage.LAYING, Fate.OPEN),
}


def cups(letters):
    return tuple(
        Cup(number=number, reached=LETTERS[letter][0], fate=LETTERS[letter][1])
        for number, letter in enumerate(letters, 1)
    )


def batch(letters, *, days=0, **changes):
    grafted_at = datetime(2027, 5, 14, 10, tzinfo=ZONE) + timedelta(days=days)
    values = {"id": uuid4(), "grafted_at": grafted_at, "grafter": "Mira"}
    return Batch(**(values | {"cups": cups(letters)} | changes))


@pytest.fixture
def make_batch():
    return batch


@pytest.fixture
def make_cups():
    return cups
