"""A sheet on paper is known by its number, and its ticks count as picks."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from larvasight.desk.cell_sheet import (
    N_CELLS,
    is_entered,
    keep_key,
    keep_ticks,
    key_words,
    make_sheet,
    save_sheet,
)
from larvasight.errors import SheetChangedError, StoreBusyError
from larvasight.grading import Limits
from larvasight.practice.scoring import Outcome
from larvasight.records import rounds
from larvasight.records.store import Store

NOW = datetime(2027, 5, 20, 8, tzinfo=UTC)


@pytest.fixture(scope="module")
def sheet():
    return make_sheet(31_415, Limits())


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records" / "records.db", now=NOW) as opened:
        yield opened


def test_the_same_number_gives_the_same_cells_whatever_ages_are_wanted(sheet):
    again = make_sheet(31_415, Limits(young_h=8.0, old_h=28.0))
    assert len(sheet.pictures) == N_CELLS
    for one, other in zip(sheet.pictures, again.pictures, strict=True):
        assert np.array_equal(one, other)


def test_another_number_gives_another_sheet(sheet):
    other = make_sheet(27_182, Limits())
    assert [c.tile_id for c in other.comb.asked] != [c.tile_id for c in sheet.comb.asked]


@pytest.mark.parametrize("number", [100_001, 271_828, 999_999])
def test_every_sheet_has_cells_to_take_and_to_leave_and_none_is_stretched(number):
    made = make_sheet(number, Limits())
    assert len(made.pictures) == N_CELLS
    assert all(picture.shape[0] == picture.shape[1] for picture in made.pictures)
    larvae = [c for c in made.comb.asked if c.content == "larva"]
    assert 6 <= sum(6.0 <= c.age_h <= 30.0 for c in larvae) <= 16
    assert sum(c.age_h > 33.0 for c in larvae) >= 3
    assert sum(c.content == "egg" for c in made.comb.asked) >= 3


def test_ticks_of_a_sheet_are_known_to_be_entered(sheet, store):
    ada = store.add_learner("Ada", now=NOW)
    assert not is_entered(store, ada.id, sheet.number)
    keep_ticks(store, ada.id, sheet, [1], limits=Limits(), now=NOW)
    assert is_entered(store, ada.id, sheet.number)
    assert not is_entered(store, ada.id, sheet.number + 1)


@pytest.mark.parametrize("number", [0, 1_000_000])
def test_a_number_that_no_sheet_has_is_refused(number):
    with pytest.raises(ValueError, match="number must be from 1"):
        make_sheet(number, Limits())


def test_ticks_are_stored_as_picks_without_times(sheet, store):
    ada = store.add_learner("Ada", now=NOW)
    right = [
        k + 1
        for k in range(N_CELLS)
        if key_words(sheet, k, Limits()).endswith(("take", "hard to lift"))
    ]
    told = keep_ticks(store, ada.id, sheet, right, limits=Limits(), now=NOW)
    assert told.score.n_picks == told.score.n_right == len(right)
    assert Outcome.MISSED not in told.outcomes
    table = store.answers(ada.id)
    assert len(table) == N_CELLS
    assert table.taken.sum() == len(right)
    assert np.isnan(table.response_ms).all()
    assert store.unfinished_round(ada.id) is None


def test_ticks_that_are_wrong_are_told_by_their_numbers(sheet, store):
    ada = store.add_learner("Ada", now=NOW)
    told = keep_ticks(
        store, ada.id, sheet, range(1, N_CELLS + 1), limits=Limits(), now=NOW + timedelta(hours=1)
    )
    eggs = [str(k + 1) for k, one in enumerate(told.outcomes) if one is Outcome.EGG]
    assert not eggs or f"An egg: {', '.join(eggs)}." in told.sentence()


def test_a_number_beyond_the_sheet_stores_nothing(sheet, store):
    ada = store.add_learner("Ada", now=NOW)
    with pytest.raises(ValueError, match="ticked must hold"):
        keep_ticks(store, ada.id, sheet, [25], limits=Limits(), now=NOW)
    assert len(store.answers(ada.id)) == 0


def test_the_paper_is_a_pdf(sheet, tmp_path):
    for is_letter in (False, True):
        path = tmp_path / f"{is_letter}.pdf"
        save_sheet(sheet, path, limits=Limits(), today=NOW, is_letter=is_letter)
        assert path.read_bytes().startswith(b"%PDF")


def test_ticks_are_scored_by_the_ages_that_were_wanted_when_it_was_printed(sheet, store):
    ada = store.add_learner("Ada", now=NOW)
    keep_key(store, sheet, Limits())
    narrow = Limits(young_h=10.0, best_old_h=16.0, old_h=18.0)
    right = [k + 1 for k in range(N_CELLS) if key_words(sheet, k, Limits()).endswith("take")]
    assert any("too old" in key_words(sheet, k - 1, narrow) for k in right)
    told = keep_ticks(store, ada.id, sheet, right, limits=narrow, now=NOW)
    assert told.score.n_right == told.score.n_picks == len(right)
    assert (told.limits, told.is_printed) == (Limits(), True)
    assert set(store.answers(ada.id).old_h) == {30.0}


def test_a_sheet_printed_elsewhere_is_scored_by_the_ages_wanted_now_and_says_so(sheet, store):
    ada = store.add_learner("Ada", now=NOW)
    narrow = Limits(young_h=10.0, best_old_h=16.0, old_h=18.0)
    told = keep_ticks(store, ada.id, sheet, [1], limits=narrow, now=NOW)
    assert (told.limits, told.is_printed) == (narrow, False)
    assert "not printed with these records, so 10\N{EN DASH}18 hours" in told.sentence()


def test_a_sheet_whose_cells_have_changed_stores_nothing(sheet, store):
    ada = store.add_learner("Ada", now=NOW)
    asked = sheet.comb.asked
    other = replace(sheet, comb=replace(sheet.comb, asked=(*asked[1:], asked[0])))
    keep_key(store, other, Limits())
    with pytest.raises(SheetChangedError, match="another version"):
        keep_ticks(store, ada.id, sheet, [1], limits=Limits(), now=NOW)
    assert not is_entered(store, ada.id, sheet.number)


def test_ticks_that_could_not_be_stored_whole_can_be_entered_again(sheet, store, monkeypatch):
    mira = store.add_learner("Mira", now=NOW)

    def busy(*_args, **_told):
        raise StoreBusyError("The records are busy.")

    with monkeypatch.context() as patched:
        patched.setattr(rounds, "end", busy)
        with pytest.raises(StoreBusyError):
            keep_ticks(store, mira.id, sheet, [1, 2], limits=Limits(), now=NOW)
    assert not is_entered(store, mira.id, sheet.number)
    keep_ticks(store, mira.id, sheet, [1, 2], limits=Limits(), now=NOW)
    assert is_entered(store, mira.id, sheet.number)
    assert len(store.answers(mira.id)) == N_CELLS
