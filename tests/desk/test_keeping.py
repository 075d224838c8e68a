"""The keeper: one after the other, in order, tried again until stored, or said to be lost."""

import threading

import numpy as np
import pytest

from larvasight.desk.keeping import Keeper
from larvasight.errors import (
    NameTakenError,
    StoreBusyError,
    StoreDamagedError,
    StoreFullError,
    StoreReadOnlyError,
)

LIMIT_S = 10.0


class Records:
    """A store that remembers what is written; it can be put in trouble and held back."""

    def __init__(self):
        self.written = []
        self.n_tries = 0
        self.trouble = []
        self.may_write = threading.Event()
        self.may_write.set()

    def write(self, what):
        self.n_tries += 1
        assert self.may_write.wait(LIMIT_S)
        if self.trouble:
            raise self.trouble.pop(0)
        self.written.append(what)


class Heard:
    """What the keeper told, and the means to wait for it."""

    def __init__(self):
        self._change = threading.Condition()
        self.stored = []
        self.failed = []
        self.troubles = []

    def tell(self, stored):
        with self._change:
            stored()
            self._change.notify_all()

    def trouble(self, sentence):
        with self._change:
            self.troubles.append(sentence)
            self._change.notify_all()

    def wait_for(self, holds):
        with self._change:
            assert self._change.wait_for(holds, LIMIT_S), (self.stored, self.troubles)


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr("larvasight.desk.keeping._RETRY_S", 0.01)


@pytest.fixture
def records():
    return Records()


@pytest.fixture
def heard():
    return Heard()


@pytest.fixture
def keeper(records, heard):
    made = Keeper(records, tell=heard.tell, trouble=heard.trouble)
    yield made
    records.may_write.set()
    records.trouble.clear()
    made.close(LIMIT_S)
    assert not made._thread.is_alive()


@pytest.fixture
def hand(keeper, heard):
    def _hand(*things):
        for what in things:
            keeper.hand(
                lambda store, what=what: store.write(what),
                lambda what=what: heard.stored.append(what),
                lambda sentence, what=what: heard.failed.append((what, sentence)),
            )

    return _hand


def test_writes_are_stored_in_their_order_and_told_in_it(hand, keeper, records, heard):
    hand(*range(200))
    assert keeper.flush(LIMIT_S)
    heard.wait_for(lambda: len(heard.stored) == 200)
    assert records.written == heard.stored == list(range(200))
    assert heard.troubles == []
    assert keeper.n_waiting == 0


def test_nothing_is_told_before_it_is_written(hand, records, heard, keeper):
    records.may_write.clear()
    hand("a", "b")
    assert keeper.n_waiting == 2
    assert not keeper.flush(0.02)
    assert heard.stored == records.written == []
    records.may_write.set()
    assert keeper.flush(LIMIT_S)
    heard.wait_for(lambda: heard.stored == ["a", "b"])


def test_the_window_is_never_kept_waiting(hand, records, keeper):
    records.may_write.clear()
    hand(*range(1000))
    assert keeper.n_waiting == 1000


@pytest.mark.parametrize("error", [StoreBusyError, StoreFullError, StoreReadOnlyError])
def test_what_fails_is_tried_again_before_anything_behind_it(hand, records, heard, keeper, error):
    records.trouble = [error("The first try."), error("The second try.")]
    hand("a", "b", "c")
    assert keeper.flush(LIMIT_S)
    heard.wait_for(lambda: heard.stored == ["a", "b", "c"])
    assert records.written == ["a", "b", "c"]
    assert records.n_tries == 5
    # Said while it lasts, and taken back once it works.
    assert heard.troubles == ["The first try.", "The second try.", ""]


@pytest.mark.parametrize("seed", range(4))
def test_with_trouble_at_any_time_everything_is_stored_once_and_in_order(
    hand, records, heard, keeper, seed
):
    rng = np.random.default_rng(seed)
    write = records.write

    def write_or_fail(what):
        if rng.random() < 0.4:
            msg = "Not now."
            raise StoreBusyError(msg)
        write(what)

    records.write = write_or_fail
    hand(*range(60))
    assert keeper.flush(LIMIT_S)
    heard.wait_for(lambda: len(heard.stored) == 60)
    assert records.written == heard.stored == list(range(60))
    assert heard.troubles[-1] == ""


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (
            ValueError("no such cell"),
            "One answer could not be stored, which is our fault: ValueError('no such cell').",
        ),
        (NameTakenError("That name is taken."), "That name is taken."),
    ],
)
def test_what_can_never_be_stored_is_told_and_does_not_stop_the_line(
    hand, records, heard, keeper, error, sentence
):
    records.trouble = [error]
    hand("a", "b", "c")
    assert keeper.flush(LIMIT_S)
    heard.wait_for(lambda: heard.stored == ["b", "c"])
    assert records.written == ["b", "c"]
    assert heard.failed == [("a", sentence)]
    # What was stored since makes nothing of it good.
    assert heard.troubles == [sentence]


def test_what_is_lost_need_not_be_told_to_anyone(records, heard, keeper):
    records.trouble = [ValueError("no such cell")]
    keeper.hand(lambda store: store.write("a"), None)
    keeper.hand(lambda store: store.write("b"), lambda: heard.stored.append("b"))
    heard.wait_for(lambda: heard.stored == ["b"])
    assert len(heard.troubles) == 1


def test_what_is_lost_is_said_again_when_other_trouble_is_over(hand, records, heard, keeper):
    records.trouble = [ValueError("no such cell"), StoreBusyError("In use.")]
    hand("a", "b", "c")
    assert keeper.flush(LIMIT_S)
    heard.wait_for(lambda: heard.stored == ["b", "c"])
    lost, in_use, again = heard.troubles
    assert "no such cell" in lost
    assert (in_use, again) == ("In use.", lost)


def test_what_is_lost_is_said_until_it_has_been_read(hand, records, heard, keeper):
    records.trouble = [ValueError("no such cell")]
    hand("a")
    heard.wait_for(lambda: len(heard.failed) == 1)
    keeper.try_again()
    heard.wait_for(lambda: len(heard.troubles) == 2)
    assert heard.troubles[1] == ""
    keeper.try_again()
    hand("b")
    heard.wait_for(lambda: heard.stored == ["b"])
    assert len(heard.troubles) == 2


def test_damaged_records_are_tried_again_slowly(hand, records, heard, keeper, monkeypatch):
    monkeypatch.setattr("larvasight.desk.keeping._RETRY_DAMAGED_S", 600.0)
    records.trouble = [StoreDamagedError("Damaged.")]
    hand("a", "b")
    heard.wait_for(lambda: heard.troubles == ["Damaged."])
    assert not keeper.flush(0.1)
    assert heard.failed == []
    keeper.try_again()
    assert keeper.flush(LIMIT_S)
    heard.wait_for(lambda: heard.stored == ["a", "b"])
    assert heard.troubles == ["Damaged.", ""]


def test_try_again_does_not_wait_for_the_time_to_come(hand, records, heard, keeper, monkeypatch):
    monkeypatch.setattr("larvasight.desk.keeping._RETRY_S", 600.0)
    records.trouble = [StoreBusyError("In use.")]
    hand("a")
    heard.wait_for(lambda: heard.troubles == ["In use."])
    assert records.written == []
    keeper.try_again()
    assert keeper.flush(LIMIT_S)
    assert records.written == ["a"]


def test_writes_of_many_threads_keep_each_threads_order(keeper, records):
    def hand_many(name):
        for k in range(50):
            keeper.hand(lambda store, k=k: store.write((name, k)), None)

    threads = [threading.Thread(target=hand_many, args=(name,)) for name in "abc"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(LIMIT_S)
    assert keeper.flush(LIMIT_S)
    assert len(records.written) == 150
    for name in "abc":
        assert [k for who, k in records.written if who == name] == list(range(50))


def test_an_empty_line_is_stored_at_once(keeper):
    assert keeper.flush(0.0)
    assert keeper.n_waiting == 0


def test_closing_stores_what_is_in_line(hand, records, heard):
    keeper = Keeper(records, tell=heard.tell, trouble=heard.trouble)
    for k in range(30):
        keeper.hand(lambda store, k=k: store.write(k), None)
    assert keeper.close(LIMIT_S)
    assert records.written == list(range(30))
    assert not keeper._thread.is_alive()
    assert keeper.close(LIMIT_S)


def test_closing_says_when_something_could_not_be_stored(hand, records, heard, keeper):
    records.trouble = [StoreFullError("The disk is full.")] * 100_000
    hand("a", "b")
    heard.wait_for(lambda: heard.troubles)
    assert not keeper.close(0.05)
    assert not keeper._thread.is_alive()
    assert records.written == []
    assert keeper.n_waiting == 2


def test_nobody_waits_for_a_keeper_that_is_closed(hand, records, heard, keeper):
    records.trouble = [StoreFullError("The disk is full.")] * 100_000
    hand("a")
    heard.wait_for(lambda: heard.troubles)
    found = []
    waiting = threading.Thread(target=lambda: found.append(keeper.flush(600.0)))
    waiting.start()
    keeper.close(0.05)
    waiting.join(LIMIT_S)
    assert found == [False]
