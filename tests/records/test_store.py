import json
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import uuid4

import numpy as np
import pytest

import larvasight
from larvasight.errors import NameInvalidError, NameTakenError
from larvasight.grading import Limits
from larvasight.practice import CONTENT_CODES, TAKE_OR_LEAVE, Answer
from larvasight.records.engine import driver_of
from larvasight.records.store import Store
from larvasight.sheet import Content


def rows(path, statement, *values):
    with closing(sqlite3.connect(path)) as driver:
        driver.row_factory = sqlite3.Row
        return [dict(row) for row in driver.execute(statement, values)]


def count(path, table):
    return rows(path, f"SELECT count(*) AS n FROM {table}")[0]["n"]


def test_importing_the_package_loads_no_database():
    heavy = "[m for m in ('sqlalchemy', 'alembic', 'sqlite3') if m in sys.modules]"
    code = f"import sys, larvasight.records; print({heavy})"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert result.stdout.strip() == "[]", result.stderr


def test_opening_a_finished_file_loads_no_alembic(store, path):
    code = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC;"
        "from larvasight.records import Store;"
        f"Store.open(Path({str(path)!r}), now=datetime.now(UTC)).close();"
        "print('alembic' in sys.modules)"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert result.stdout.strip() == "False", result.stderr


def test_package_names_its_parts():
    import larvasight.records as records

    assert records.Store is Store
    with pytest.raises(AttributeError, match="Honey"):
        _ = records.Honey


def test_every_connection_writes_ahead_and_waits_for_the_disk(store):
    held = [store._engine.connect() for _ in range(3)]
    try:
        for connection in held:
            driver = driver_of(connection)
            asked = ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
            found = [driver.execute(f"PRAGMA {name}").fetchone()[0] for name in asked]
            assert found == ["wal", 2, 1, 50]  # synchronous 2 is FULL
    finally:
        for connection in held:
            connection.close()


def test_learners_come_back_by_name(store, now, path):
    later = now + timedelta(days=1)
    zoe = store.add_learner("  Zoë   Example ", now=later)
    ada = store.add_learner("ada", now=now)
    assert zoe.name == "Zoë Example"
    assert store.learners() == [ada, zoe]
    store.rename_learner(zoe.id, "Abel")
    assert [learner.name for learner in store.learners()] == ["Abel", "ada"]
    assert store.learners()[0].created_at_utc == later
    with Store.open(path, now=now) as again:
        assert again.learners() == store.learners()


@pytest.mark.parametrize("name", ["", "   ", "\t\n", "x" * 61, "a\x00b", "\u200b", "half \ud800"])
def test_names_that_are_none_are_refused(store, now, name):
    with pytest.raises(NameInvalidError, match=r"^A name needs 1 to 60 characters"):
        store.add_learner(name, now=now)


def test_longest_name_is_kept(store, now):
    assert store.add_learner("ß" * 60, now=now).name == "ß" * 60


@pytest.mark.parametrize("name", ["mira", " MIRA", "\uff2dira"])
def test_a_name_belongs_to_one(store, now, learner, name):
    with pytest.raises(NameTakenError, match="already"):
        store.add_learner(name, now=now)
    other = store.add_learner("Noor", now=now)
    with pytest.raises(NameTakenError):
        store.rename_learner(other.id, name)
    store.rename_learner(learner.id, "MIRA")
    assert [found.name for found in store.learners()] == ["MIRA", "Noor"]


def test_unknown_learners_are_wrong_calls(store, now, make_round):
    nobody = uuid4()
    for call in (
        lambda: store.rename_learner(nobody, "Noor"),
        lambda: store.delete_learner(nobody),
        lambda: store.set_limits(Limits(), nobody),
        lambda: store.show_round(make_round(nobody)),
    ):
        with pytest.raises(ValueError, match="learner_id"):
            call()
    assert len(store.answers(nobody)) == 0
    assert store.unfinished_round(nobody) is None


def test_limits_of_the_learner_go_before_the_class(store, learner):
    assert store.limits() == store.limits(learner.id) == Limits()
    wide = Limits(young_h=0.0, old_h=48.0)
    store.set_limits(wide)
    assert store.limits() == store.limits(learner.id) == wide
    own = Limits(young_h=8.0, old_h=26.0)
    store.set_limits(own, learner.id)
    assert (store.limits(), store.limits(learner.id)) == (wide, own)
    store.set_limits(None, learner.id)
    assert store.limits(learner.id) == wide


def test_a_class_is_read_at_once_as_it_is_read_one_by_one(store, learner, make_round, give, now):
    other = store.add_learner("Noor", now=now)
    store.set_limits(Limits(young_h=0.0, old_h=48.0))
    store.set_limits(Limits(young_h=8.0, old_h=26.0), other.id)
    store.set_limits(Limits(), learner.id)
    store.set_limits(None, learner.id)
    for n_cells, one in ((4, learner), (7, other)):
        shown = make_round(one.id, n_cells=n_cells)
        store.show_round(shown)
        store.end_round(shown.id, [give(cell) for cell in shown.cells], now=now)
    found = store.class_answers()
    assert [one for one, _, _ in found] == store.learners()
    for one, table, limits in found:
        assert limits == store.limits(one.id)
        again = store.answers(one.id)
        assert len(table) == len(again) > 0
        assert table.taken.tolist() == again.taken.tolist()


def test_every_cell_shown_has_a_row_that_tells_all(store, learner, make_round, now, path):
    limits = Limits(young_h=5.0, best_young_h=11.0, best_old_h=25.0, old_h=31.0)
    shown = make_round(learner.id, limits=limits, model_version="m3", kind="photo")
    store.show_round(shown)
    (first, *others) = rows(path, "SELECT * FROM shown_cell ORDER BY position")
    assert first == {
        "id": str(shown.cells[0].id),
        "round_id": str(shown.id),
        "learner_id": str(learner.id),
        "drill": "pick-from-patch",
        "row": 0,
        "col": 0,
        "position": 0,
        "tile_id": None,
        "content": "larva",
        "age_h": 20.25,
        "looks_age_h": 21.5,
        "length_mm": 1.75,
        "curl_deg": 133.0,
        "jelly": "plenty",
        "is_plain": 1,
        "answer": None,
        "response_ms": None,
        "is_final": 0,
        "feedback": "after-comb",
        "young_h": 5.0,
        "best_young_h": 11.0,
        "best_old_h": 25.0,
        "old_h": 31.0,
        "program_version": larvasight.__version__,
        "model_version": "m3",
        "shown_utc_ms": round(now.timestamp() * 1000),
        "answered_utc_ms": None,
    }
    assert [row["position"] for row in others] == [1, 2, 3]
    assert others[0]["age_h"] is None
    (kept,) = rows(path, "SELECT * FROM comb_round")
    assert json.loads(kept["recipe"]) == shown.recipe
    assert (kept["kind"], kept["ended_utc_ms"]) == ("photo", None)


def test_a_round_stored_again_changes_nothing(store, learner, make_round, give, now, path):
    shown = make_round(learner.id)
    store.show_round(shown)
    store.keep([give(shown.cells[0])], now=now)
    before = [rows(path, f"SELECT * FROM {table}") for table in ("comb_round", "shown_cell")]
    store.show_round(shown)
    after = [rows(path, f"SELECT * FROM {table}") for table in ("comb_round", "shown_cell")]
    assert before == after


def test_another_round_of_the_same_name_is_a_wrong_call(store, learner, make_round, path, now):
    shown = make_round(learner.id)
    store.show_round(shown)
    noor = store.add_learner("Noor", now=now)
    cells = shown.cells
    for changes in (
        {"learner_id": noor.id},
        {"shown_at_utc": now + timedelta(seconds=1)},
        {"recipe": {"seed": 8}},
        {"limits": Limits(old_h=31.0)},
        {"cells": cells[:-1]},
        {"cells": (cells[1], cells[0], *cells[2:])},
        {"cells": (replace(cells[0], age_h=20.5), *cells[1:])},
        {"id": uuid4()},
    ):
        with pytest.raises(ValueError, match="shown"):
            store.show_round(replace(shown, **changes))
    with pytest.raises(ValueError, match="cells"):
        make_round(learner.id, n_cells=0)
    assert (count(path, "comb_round"), count(path, "shown_cell")) == (1, 4)


def test_marks_are_kept_but_not_counted(store, learner, make_round, give, now):
    shown = make_round(learner.id)
    store.show_round(shown)
    first, second = shown.cells[:2]
    store.keep([give(first, is_final=False), give(second, is_final=False)], now=now)
    store.keep([give(second, None, response_ms=1500, is_final=False)], now=now)
    assert len(store.answers(learner.id)) == 0
    unfinished = store.unfinished_round(learner.id)
    assert unfinished.givens == (
        give(first, is_final=False),
        give(second, None, response_ms=1500, is_final=False),
    )


def test_answers_come_back_as_columns_oldest_first(store, learner, make_round, give, now):
    shown = make_round(learner.id)
    earlier = make_round(learner.id, n_cells=1, drill=TAKE_OR_LEAVE)
    for made in (shown, earlier):
        store.show_round(made)
    last = [
        give(cell, Answer.TAKE if k % 2 else Answer.LEAVE, response_ms=None if k == 2 else 10 * k)
        for k, cell in enumerate(shown.cells)
    ]
    store.end_round(shown.id, reversed(last), now=now + timedelta(seconds=9))
    store.end_round(earlier.id, [give(earlier.cells[0])], now=now)
    table = store.answers(learner.id)
    seconds = (table.answered_utc_ms - round(now.timestamp() * 1000)) / 1000
    assert seconds.tolist() == [0, 9, 9, 9, 9]
    assert [CONTENT_CODES[code] for code in table.content[1:3]] == [Content.LARVA, Content.EMPTY]
    assert table.taken.tolist() == [True, False, True, False, True]
    assert table.is_plain.tolist() == [True, True, True, True, False]
    np.testing.assert_equal(table.response_ms, [900, 0, 10, np.nan, 30])
    np.testing.assert_equal(table.age_h, [20.25, 20.25, np.nan, 20.25, np.nan])
    np.testing.assert_equal(table.looks_age_h, [21.5, 21.5, np.nan, 21.5, np.nan])
    assert (set(table.young_h), set(table.old_h)) == ({6.0}, {30.0})
    kinds = [table.answered_utc_ms.dtype, table.content.dtype, table.is_plain.dtype]
    assert kinds == [np.int64, np.int8, np.bool_]


def test_every_content_has_its_code(store, learner, make_round, give, now, path):
    shown = make_round(learner.id, n_cells=len(CONTENT_CODES))
    store.show_round(shown)
    store.end_round(shown.id, [give(cell) for cell in shown.cells], now=now)
    with closing(sqlite3.connect(path)) as driver, driver:
        for position, content in enumerate(CONTENT_CODES):
            change = "UPDATE shown_cell SET content = ? WHERE position = ?"
            driver.execute(change, (content.value, position))
    assert store.answers(learner.id).content.tolist() == list(range(len(CONTENT_CODES)))


def test_answers_belong_to_one_learner(store, learner, make_round, give, now):
    other = store.add_learner("Noor", now=now)
    shown = make_round(other.id)
    store.show_round(shown)
    store.end_round(shown.id, [give(shown.cells[0])], now=now)
    assert (len(store.answers(learner.id)), len(store.answers(other.id))) == (0, 1)


def test_final_answers_stay(store, learner, make_round, give, now):
    shown = make_round(learner.id)
    cell = shown.cells[0]
    store.show_round(shown)
    store.keep([give(cell)], now=now)
    store.keep([give(cell)], now=now + timedelta(hours=1))
    with pytest.raises(ValueError, match="final"):
        store.keep([give(cell, Answer.LEAVE)], now=now)
    with pytest.raises(ValueError, match="final"):
        store.keep([give(cell, None, is_final=False)], now=now)
    with pytest.raises(ValueError, match="final"):
        store.keep([give(shown.cells[1], None)], now=now)
    with pytest.raises(ValueError, match="response_ms"):
        store.keep([give(shown.cells[1], response_ms=-1)], now=now)
    assert store.answers(learner.id).answered_utc_ms.tolist() == [round(now.timestamp() * 1000)]


def test_answers_are_kept_all_or_none(store, learner, make_round, give, now):
    shown, unknown = make_round(learner.id), make_round(learner.id)
    store.show_round(shown)
    with pytest.raises(ValueError, match=str(unknown.cells[0].id)):
        store.keep([give(shown.cells[0]), give(unknown.cells[0])], now=now)
    with pytest.raises(ValueError, match="givens"):
        store.end_round(shown.id, [give(shown.cells[0]), give(unknown.cells[0])], now=now)
    assert len(store.answers(learner.id)) == 0
    assert store.unfinished_round(learner.id).givens == ()


def test_a_broken_off_round_can_be_continued(store, learner, make_round, give, now, path):
    limits = Limits(young_h=5.0, old_h=31.0)
    old = make_round(learner.id)
    new = make_round(
        learner.id, limits=limits, shown_at_utc=now + timedelta(hours=1), drill=TAKE_OR_LEAVE
    )
    for shown in (new, old):
        store.show_round(shown)
    store.keep([give(new.cells[0])], now=now)
    store.close()
    with Store.open(path, now=now) as again:
        found = again.unfinished_round(learner.id)
        same = ("id", "learner_id", "cells", "limits", "recipe", "kind", "shown_at_utc")
        assert [getattr(found, name) for name in same] == [getattr(new, name) for name in same]
        assert (found.drill, found.model_version) == ("take-or-leave", None)
        assert found.givens == (give(new.cells[0]),)
        again.end_round(new.id, (), now=now)
        assert again.unfinished_round(learner.id).id == old.id
        again.end_round(old.id, (), now=now)
        again.end_round(old.id, (), now=now + timedelta(hours=2))
        assert again.unfinished_round(learner.id) is None
    ended = rows(path, "SELECT ended_utc_ms FROM comb_round")
    assert {row["ended_utc_ms"] for row in ended} == {round(now.timestamp() * 1000)}


def test_unknown_rounds_cannot_end(store, now):
    with pytest.raises(ValueError, match="round_id"):
        store.end_round(uuid4(), (), now=now)


def test_deleting_a_learner_removes_all_rows(store, learner, make_round, give, now, path):
    other = store.add_learner("Noor", now=now)
    for owner in (learner, other):
        shown = make_round(owner.id)
        store.show_round(shown)
        store.end_round(shown.id, [give(cell) for cell in shown.cells], now=now)
        store.set_limits(Limits(old_h=28.0), owner.id)
    store.set_limits(Limits(old_h=29.0))
    store.delete_learner(learner.id)
    assert store.learners() == [other]
    left = {table: count(path, table) for table in ("learner", "comb_round", "shown_cell")}
    assert left == {"learner": 1, "comb_round": 1, "shown_cell": 4}
    assert len(store.answers(other.id)) == 4
    scopes = rows(path, "SELECT scope FROM setting ORDER BY scope")
    assert {row["scope"] for row in scopes} == {"class", str(other.id)}


def test_photos_and_their_sheets(store, now):
    first = store.add_photo("a" * 64, name="frame 3.HEIC", suffix=".heic", now=now)
    second = store.add_photo("b" * 64, name="b.jpg", suffix=".jpg", now=now + timedelta(hours=1))
    assert store.photos() == [second, first]
    assert store.add_photo("a" * 64, name="other", suffix=".jpg", now=now) == first
    assert store.photo_sheet("a" * 64) is None
    store.set_photo_sheet("a" * 64, '{"format": "larvasight.sheet"}')
    assert store.photo_sheet("a" * 64) == '{"format": "larvasight.sheet"}'
    store.remove_photo("a" * 64)
    assert store.photos() == [second]
    for call in (
        lambda: store.photo_sheet("a" * 64),
        lambda: store.set_photo_sheet("a" * 64, "{}"),
        lambda: store.remove_photo("a" * 64),
    ):
        with pytest.raises(ValueError, match="sha256"):
            call()


@pytest.mark.parametrize(
    ("sha256", "suffix", "name"),
    [
        ("A" * 64, ".jpg", "sha256"),
        ("a" * 63, ".jpg", "sha256"),
        ("a" * 64, "jpg", "suffix"),
        ("a" * 64, "./../x", "suffix"),
        ("a" * 64, ".JPG", "suffix"),
    ],
)
def test_photos_are_named_by_their_content(store, now, sha256, suffix, name):
    with pytest.raises(ValueError, match=name):
        store.add_photo(sha256, name="frame", suffix=suffix, now=now)


def test_times_without_a_zone_are_wrong_calls(store, learner, make_round, give, path):
    naive = datetime(2026, 5, 20)  # noqa: DTZ001
    shown = make_round(learner.id)
    store.show_round(shown)
    for call in (
        lambda: Store.open(path, now=naive),
        lambda: store.add_learner("Noor", now=naive),
        lambda: store.keep([give(shown.cells[0])], now=naive),
        lambda: store.end_round(shown.id, (), now=naive),
        lambda: store.show_round(make_round(learner.id, shown_at_utc=naive)),
        lambda: store.add_photo("a" * 64, name="b", suffix=".jpg", now=naive),
    ):
        with pytest.raises(ValueError, match="time zone"):
            call()


def test_a_closed_store_is_a_wrong_call(store, now):
    store.close()
    store.close()
    with pytest.raises(ValueError, match="open"):
        store.learners()
    with pytest.raises(ValueError, match="open"):
        store.add_learner("Noor", now=now)


def test_threads_share_one_store(store, learner, make_round, give, now):
    n_threads, n_rounds, faults = 6, 8, []

    def work():
        try:
            for _ in range(n_rounds):
                shown = make_round(learner.id)
                store.show_round(shown)
                for cell in shown.cells:
                    store.keep([give(cell)], now=now)
                store.answers(learner.id)
                store.end_round(shown.id, (), now=now)
        except Exception as error:
            faults.append(error)

    threads = [threading.Thread(target=work) for _ in range(n_threads)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert len(store.answers(learner.id)) == n_threads * n_rounds * 4


def test_two_windows_share_one_file(store, learner, path, now, make_round, give):
    with Store.open(path, now=now) as second:
        shown = make_round(learner.id)
        second.show_round(shown)
        store.end_round(shown.id, [give(shown.cells[0])], now=now)
        assert len(second.answers(learner.id)) == 1
