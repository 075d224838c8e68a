"""Marks by hand stand beside what was measured, one a cell, and come through a backup."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from uuid import uuid4

import pytest

from larvasight.errors import BackupInvalidError
from larvasight.records.archive import backup_to, restore_from
from larvasight.records.store import Store
from larvasight.records.types import HandMark
from larvasight.sheet import Content

SHA = "0" * 63 + "7"
SHEET = '{"format": "larvasight.sheet"}'
OUTLINE = ((1.0, 2.0), (9.5, 2.25), (8.0, 7.0), (2.0, 6.5))
LINE = ((1.0, 2.0), (3.5, 4.25), (6.0, 5.0))


@pytest.fixture
def photo(store, now):
    store.add_photo(SHA, name="frame.jpg", suffix=".jpg", now=now)
    store.set_photo_sheet(SHA, SHEET)
    return SHA


def mark(now, row=1, col=2, content=Content.EGG, line=None, outline=None):
    return HandMark(
        id=uuid4(),
        row=row,
        col=col,
        centre_xy_px=(10.5, 20.25),
        content=content,
        line_xy_px=line,
        outline_xy_px=outline,
        made_at_utc=now,
    )


def test_a_mark_comes_back_as_it_was_put_and_the_sheet_stays(store, photo, now):
    marks = [
        mark(now, row=0, line=LINE, content=None),
        mark(now, row=2, outline=OUTLINE, content=None),
        mark(now, row=3, content=Content.LARVA),
    ]
    for one in reversed(marks):
        store.put_hand_mark(photo, one)
    assert store.hand_marks(photo) == marks
    assert store.photo_sheet(photo) == SHEET


def test_a_mark_takes_the_place_of_those_it_stands_for_and_of_no_other(store, photo, now):
    first, other = mark(now), mark(now)
    for one in (first, other):
        store.put_hand_mark(photo, one)
    later = mark(now + timedelta(hours=1), content=Content.CAPPED)
    store.put_hand_mark(photo, later, instead_of=[first.id])
    # Both have one name: cells laid anew may be called what others were.
    assert store.hand_marks(photo) == [other, later]
    store.put_hand_mark(photo, later)
    assert store.hand_marks(photo) == [other, later]


def test_a_mark_that_cannot_be_stored_leaves_what_it_would_stand_for(store, photo, now):
    first = mark(now)
    store.put_hand_mark(photo, first)
    with pytest.raises(ValueError, match="line must have"):
        store.put_hand_mark(photo, mark(now, line=LINE[:2]), instead_of=[first.id])
    assert store.hand_marks(photo) == [first]


def test_a_mark_is_taken_back_and_taking_back_twice_does_nothing(store, photo, now):
    one = mark(now)
    store.put_hand_mark(photo, one)
    for _ in range(2):
        store.remove_hand_marks(photo, [one.id])
        assert store.hand_marks(photo) == []


def test_marks_survive_a_restart(store, path, photo, now):
    store.put_hand_mark(photo, mark(now, line=LINE))
    before = store.hand_marks(photo)
    store.close()
    with Store.open(path, now=now) as again:
        assert again.hand_marks(photo) == before


def test_marks_go_with_their_photo(store, photo, now):
    store.put_hand_mark(photo, mark(now))
    store.remove_photo(photo)
    assert store.hand_marks(photo) == []


def test_a_mark_on_an_unknown_photo_is_our_own_fault(store, now):
    with pytest.raises(ValueError, match="sha256"):
        store.put_hand_mark(SHA, mark(now))


@pytest.mark.parametrize("line", [LINE[:2], LINE * 22, ((0.0, 0.0), (1.0, float("nan")), (2, 2))])
def test_a_line_that_is_none_is_our_own_fault(store, photo, now, line):
    with pytest.raises(ValueError, match="line must have"):
        store.put_hand_mark(photo, mark(now, line=line))
    assert store.hand_marks(photo) == []


@pytest.mark.parametrize("outline", [OUTLINE[:2], OUTLINE * 101])
def test_an_outline_that_is_none_is_our_own_fault(store, photo, now, outline):
    with pytest.raises(ValueError, match="outline must have"):
        store.put_hand_mark(photo, mark(now, outline=outline))
    assert store.hand_marks(photo) == []


def test_a_mark_that_says_nothing_is_refused(now):
    with pytest.raises(ValueError, match="got neither"):
        mark(now, content=None)


def test_marks_come_through_a_backup(store, path, tmp_path, photo, now):
    store.put_hand_mark(photo, mark(now, line=LINE, outline=OUTLINE))
    before = store.hand_marks(photo)
    file = tmp_path / "all.larvasight"
    backup_to(store, path.parent / "photos", file, now=now)
    store.close()
    restore_from(file, tmp_path / "elsewhere", now=now)
    with Store.open(tmp_path / "elsewhere" / "records.db", now=now) as other:
        assert other.hand_marks(photo) == before


@pytest.mark.parametrize("line", ["no json", "[[1, 2]]", "[[1, 2], [3, 4], [5, 1e999]]", "{}"])
def test_a_backup_with_a_line_that_is_none_is_refused(store, path, tmp_path, photo, now, line):
    store.put_hand_mark(photo, mark(now, line=LINE))
    with closing(sqlite3.connect(path)) as driver:
        driver.execute("UPDATE hand_mark SET line = ?", (line,))
        driver.commit()
    file = tmp_path / "all.larvasight"
    backup_to(store, path.parent / "photos", file, now=now)
    with pytest.raises(BackupInvalidError, match="damaged records"):
        restore_from(file, tmp_path / "elsewhere", now=now)
