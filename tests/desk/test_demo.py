"""The demonstration: everything it writes, again and again, and never over other records."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone

import pytest

from larvasight.desk import demo
from larvasight.desk.demo import DEMO_LEARNER, run_demo
from larvasight.errors import OutputFolderError, StoreBusyError, StoreFullError
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE
from larvasight.records.store import Store
from larvasight.sheet import sheet_from_json

NOW = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
FILES = {"comb.png", "comb.json", "measured.json", "marked.png", "records.db", "report.pdf"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="module")
def done(folder):
    return run_demo(folder, seed=2, tz=UTC)


@pytest.fixture
def own(tmp_path):
    """Records such as an earlier demonstration leaves."""
    path = tmp_path / "records.db"
    with Store.open(path, now=NOW) as store:
        store.add_learner(DEMO_LEARNER, now=NOW)
    return path


def names_in(folder):
    return {path.name for path in folder.iterdir()}


def right_share(days):
    return sum(d.score.n_right for d in days) / sum(d.score.n_picks for d in days)


def test_everything_is_written_and_nothing_else(done, folder):
    assert names_in(folder) == FILES
    truth, measured = (
        sheet_from_json((folder / name).read_text(encoding="utf-8"))
        for name in ("comb.json", "measured.json")
    )
    assert (truth.truth, measured.truth) == (True, False)
    assert len(truth.cells) == done.measured.n_cells
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF-")
    for name in ("comb.png", "marked.png"):
        assert (folder / name).read_bytes().startswith(b"\x89PNG")


def test_the_records_hold_what_was_told(done, folder, tmp_path):
    copy = tmp_path / "records.db"
    copy.write_bytes((folder / "records.db").read_bytes())
    with Store.open(copy, now=NOW) as store:
        (learner,) = store.learners()
        assert learner.name == DEMO_LEARNER
        assert store.unfinished_round(learner.id) is None
    with closing(sqlite3.connect(copy)) as driver:
        counted = "SELECT count(*) FROM shown_cell WHERE drill = ? AND is_final = 1"
        n_patch, n_single = (
            driver.execute(counted, (drill.key,)).fetchone()[0]
            for drill in (PICK_FROM_PATCH, TAKE_OR_LEAVE)
        )
    # Ten evenings of one patch and twice ten single cells.
    assert n_single == 200
    assert 200 < n_patch < 400
    assert n_patch + n_single == done.practised.score.n_answers


def test_the_learner_improves_over_ten_days(done):
    days = done.practised.days
    assert len(days) == 10
    assert right_share(days[-4:]) > right_share(days[:4]) + 0.05
    share = [age.n_taken / age.n for age in done.practised.ages if age.n]
    assert max(share[3:6]) > 0.8
    assert min(share[10:]) < 0.1


def test_one_seed_gives_the_same_numbers_wherever_and_however_often(done, folder):
    with Store.open(folder / "records.db", now=NOW) as store:
        store.add_photo("0" * 64, name="comb.png", suffix=".png", now=NOW)
        store.remove_photo("0" * 64)
    far_east = timezone(timedelta(hours=13))
    assert repr(run_demo(folder, seed=2, tz=far_east)) == repr(done)
    assert names_in(folder) == FILES
    with Store.open(folder / "records.db", now=NOW) as store:
        assert len(store.learners()) == 1


def test_records_of_others_are_never_replaced(own):
    with Store.open(own, now=NOW) as store:
        store.add_learner("Mira", now=NOW)
    before = own.read_bytes()
    with pytest.raises(OutputFolderError, match="not of an earlier demonstration"):
        run_demo(own.parent, seed=1)
    assert own.read_bytes() == before
    assert names_in(own.parent) == {"records.db"}


def test_records_with_photos_are_never_replaced(own):
    with Store.open(own, now=NOW) as store:
        store.add_photo("0" * 64, name="comb.png", suffix=".png", now=NOW)
    with pytest.raises(OutputFolderError, match="choose another folder"):
        run_demo(own.parent, seed=1)


@pytest.mark.parametrize("content", [b"no records at all\n" * 99, b"", b"SQLite format 3\0"])
def test_a_file_that_is_no_demonstrations_is_never_replaced(tmp_path, content):
    (tmp_path / "records.db").write_bytes(content)
    with pytest.raises(OutputFolderError, match=r"records\.db in .* is not of an earlier demo"):
        run_demo(tmp_path, seed=1)
    assert (tmp_path / "records.db").read_bytes() == content
    assert names_in(tmp_path) == {"records.db"}


def test_records_that_are_open_elsewhere_are_left(own):
    with Store.open(own, now=NOW) as elsewhere:
        elsewhere.learners()
        with pytest.raises(StoreBusyError, match="close that program"):
            run_demo(own.parent, seed=1)
        assert [learner.name for learner in elsewhere.learners()] == [DEMO_LEARNER]


def test_a_demonstration_broken_off_leaves_the_earlier_records(own, monkeypatch):
    def fill_up(*_positional, **_named):
        raise StoreFullError("The disk is full.")

    before = own.read_bytes()
    monkeypatch.setattr(demo, "save_learner_report", fill_up)
    with pytest.raises(StoreFullError):
        run_demo(own.parent, seed=1)
    assert own.read_bytes() == before
    assert names_in(own.parent) == {"records.db", *FILES} - {"report.pdf"}


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    with pytest.raises(OutputFolderError, match="cannot be made"):
        run_demo(tmp_path / "file", seed=1)
