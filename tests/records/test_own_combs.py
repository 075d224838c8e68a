"""What is kept of own combs: cells laid by hand, known ages, photos that are practised on."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import timedelta

import pytest

from larvasight.records.archive import backup_to, restore_from
from larvasight.records.store import Store
from larvasight.records.types import HandLattice, KnownAge, PracticePhoto

SHA = "0" * 63 + "7"
SHEET = "{}"
STEPS = (100.0, 2.0, 48.0, 87.5)


@pytest.fixture
def photo(store, now):
    store.add_photo(SHA, name="frame.jpg", suffix=".jpg", now=now)
    return SHA


def lattice(now, kind="moved", cells=((0, 0, 10.25, 20.5, *STEPS), (0, 1, 110.0, 22.0, *STEPS))):
    return HandLattice(kind=kind, cells=cells, made_at_utc=now)


def known(now):
    return KnownAge(
        laid_from_utc=now - timedelta(hours=96),
        laid_to_utc=now - timedelta(hours=84),
        taken_at_utc=now,
    )


def test_cells_laid_by_hand_come_back_and_the_latest_count(store, photo, now):
    assert store.hand_lattice(photo) is None
    store.put_cells(photo, lattice(now), SHEET)
    assert store.hand_lattice(photo) == lattice(now)
    later = lattice(now + timedelta(hours=1), kind="laid", cells=((0, 0, 1.0, 2.0, *STEPS),))
    store.put_cells(photo, later, SHEET)
    assert store.hand_lattice(photo) == later
    store.put_cells(photo, None, SHEET)
    assert store.hand_lattice(photo) is None


@pytest.mark.parametrize(
    "cells",
    [
        (),
        ((0, 0, float("nan"), 2.0, *STEPS),),
        ((0, 0, 1.0, 2.0),),
        ((0.5, 0, 1.0, 2.0, *STEPS),),
        ((0, 0, 1.0, 2.0, *STEPS), (0, 0, 9.0, 2.0, *STEPS)),
    ],
    ids=["none", "no number", "no steps", "half a row", "one name twice"],
)
def test_cells_that_cannot_be_are_refused(store, photo, now, cells):
    with pytest.raises(ValueError, match="cells must"):
        store.put_cells(photo, lattice(now, cells=cells), "other")
    assert store.hand_lattice(photo) is None
    assert store.photo_sheet(photo) != "other"


def test_a_known_age_comes_back_and_can_be_taken_away(store, photo, now):
    store.put_known_age(photo, known(now), now=now)
    assert store.known_age(photo) == known(now)
    store.put_known_age(photo, None, now=now)
    assert store.known_age(photo) is None


def test_times_that_cannot_follow_each_other_are_refused(now):
    with pytest.raises(ValueError, match="laid_to_utc"):
        replace(known(now), laid_to_utc=now - timedelta(hours=96))
    with pytest.raises(ValueError, match="taken_at_utc"):
        replace(known(now), taken_at_utc=now - timedelta(hours=97))


def test_a_photo_is_practised_on_until_it_is_taken_away(store, photo, now):
    made = PracticePhoto(sha256=photo, is_all_checked=True, made_at_utc=now)
    store.put_practice_photo(made)
    store.put_practice_photo(replace(made, is_all_checked=False))
    assert store.practice_photos() == [replace(made, is_all_checked=False)]
    store.remove_practice_photo(photo)
    assert store.practice_photos() == []


def test_nothing_is_kept_of_a_photo_that_is_not_there(store, now):
    with pytest.raises(ValueError, match="known photo"):
        store.put_cells("1" * 64, lattice(now), SHEET)
    with pytest.raises(ValueError, match="known photo"):
        store.put_known_age("1" * 64, known(now), now=now)


def test_a_removed_photo_takes_all_of_it_along(store, path, photo, now):
    store.put_cells(photo, lattice(now), SHEET)
    store.put_known_age(photo, known(now), now=now)
    store.put_practice_photo(PracticePhoto(sha256=photo, is_all_checked=True, made_at_utc=now))
    store.remove_photo(photo)
    with closing(sqlite3.connect(path)) as driver:
        for table in ("hand_lattice", "known_age", "practice_photo"):
            assert driver.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)


def test_all_of_it_comes_through_a_backup(store, path, photo, now, tmp_path):
    store.put_cells(photo, lattice(now), SHEET)
    store.put_known_age(photo, known(now), now=now)
    store.put_practice_photo(PracticePhoto(sha256=photo, is_all_checked=True, made_at_utc=now))
    (path.parent / "photos").mkdir()
    backup_to(store, path.parent, tmp_path / "all.larvabackup", now=now)
    restore_from(tmp_path / "all.larvabackup", tmp_path / "other", now=now)
    with Store.open(tmp_path / "other" / "records.db", now=now) as other:
        assert other.hand_lattice(photo) == lattice(now)
        assert other.known_age(photo) == known(now)
        assert [made.sha256 for made in other.practice_photos()] == [photo]
