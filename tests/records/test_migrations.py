"""The tables come from the scripts, and an older file is brought forward whole or not at all."""

import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID

import pytest
from sqlalchemy import create_engine

from larvasight.errors import StoreBusyError, StoreDamagedError, StoreFullError, StoreTooNewError
from larvasight.grading import Limits
from larvasight.practice import Answer
from larvasight.records.backup import newest_good_backup, require_good
from larvasight.records.engine import plain_connection
from larvasight.records.failures import plain_errors
from larvasight.records.opening import make_ready
from larvasight.records.revisions import HEAD, REVISIONS, SCRIPTS, revision_in, upgrade
from larvasight.records.schema import metadata
from larvasight.records.store import Store
from larvasight.sheet import Content

OLDEST = Path(__file__).parent / "data" / "records_0001.sql"
MIRA = UUID("5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b01")

ADD_COLUMN = """
from alembic import op

revision, down_revision = "0099", "{head}"

def upgrade():
    op.execute("ALTER TABLE learner ADD COLUMN colour TEXT")
    op.execute("UPDATE learner SET colour = 'amber'")
"""
FAIL_LATE = """
from alembic import op

revision, down_revision = "0100", "0099"

def upgrade():
    op.execute("CREATE TABLE hive (id TEXT)")
    op.execute("DROP TABLE setting")
    op.execute("DELETE FROM shown_cell")
    op.execute({last!r})
"""


def dump(path):
    with closing(sqlite3.connect(path)) as driver:
        return list(driver.iterdump())


def schema_of(path):
    """Return each of our tables and indexes with its text, spaces and quotes tidied."""
    with closing(sqlite3.connect(path)) as driver:
        rows = driver.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
        plain = {name: "".join(sql.replace('"', "").split()) for name, sql in rows}
        return {name: sql for name, sql in plain.items() if name != "alembic_version"}


def names(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def oldest(path):
    """Records as the first version left them."""
    path.parent.mkdir()
    with closing(sqlite3.connect(path)) as driver:
        driver.executescript(OLDEST.read_text(encoding="utf-8"))
    return path


@pytest.fixture
def backups(path):
    return path.parent / "backups"


@pytest.fixture
def scripts(tmp_path):
    """A folder of scripts to which newer ones can be added."""
    folder = tmp_path / "scripts"
    shutil.copytree(SCRIPTS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "versions" / "0099_colour.py").write_text(ADD_COLUMN.format(head=HEAD))
    return folder


def test_scripts_make_the_tables_that_the_program_knows(store, path, tmp_path):
    engine = create_engine(f"sqlite:///{tmp_path / 'declared.db'}")
    metadata.create_all(engine)
    engine.dispose()
    assert schema_of(path) == schema_of(tmp_path / "declared.db")


def test_every_script_is_known_and_follows_the_one_before():
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory(str(SCRIPTS))
    found = [script.revision for script in scripts.walk_revisions()]
    assert tuple(reversed(found)) == REVISIONS
    assert [script.down_revision for script in scripts.walk_revisions()][-1] is None
    assert REVISIONS[-1] == HEAD


def test_the_oldest_records_open_with_all_in_them(oldest, now):
    with Store.open(oldest, now=now) as store:
        (mira, noor) = store.learners()
        assert (mira.id, mira.name, noor.name) == (MIRA, "Mira Example", "Noor Example")
        assert mira.created_at_utc == datetime(2026, 3, 1, 9, tzinfo=UTC)
        table = store.answers(MIRA)
        assert table.taken.tolist() == [True, False]
        assert table.age_h[0] == 18.5
        assert table.response_ms[0] == 1250
        assert store.limits() == Limits(old_h=36.0)
        unfinished = store.unfinished_round(MIRA)
        assert [given.answer for given in unfinished.givens] == [Answer.TAKE]
        assert unfinished.recipe == {"seed": 12, "drawn_by": "0.1.0"}
        assert [photo.name for photo in store.photos()] == ["frame 1.jpg"]
        assert store.photo_sheet("0" * 63 + "1") == '{"format": "larvasight.sheet"}'
        assert store.unfinished_round(noor.id) is None
        assert store.plans() == []


def test_marks_by_hand_of_an_older_form_are_kept(path, now):
    path.parent.mkdir()
    path.touch()
    upgrade(path, now=now, backups=None, revisions=REVISIONS[: REVISIONS.index("0007")])
    sha256, mark = "0" * 63 + "7", UUID("5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b07")
    with closing(sqlite3.connect(path)) as driver:
        driver.execute(
            "INSERT INTO photo VALUES (?, 'frame.jpg', '.jpg', 1767225600000, NULL)", (sha256,)
        )
        driver.execute(
            "INSERT INTO hand_mark VALUES (?, ?, 1, 2, 10.5, 20.25, 'egg', ?, 1767225600000)",
            (str(mark), sha256, "[[1.0, 2.0], [3.5, 4.25], [6.0, 5.0]]"),
        )
        driver.commit()
    with Store.open(path, now=now) as store:
        (kept,) = store.hand_marks(sha256)
    assert (kept.id, kept.row, kept.col, kept.content) == (mark, 1, 2, Content.EGG)
    assert kept.line_xy_px == ((1.0, 2.0), (3.5, 4.25), (6.0, 5.0))
    assert kept.outline_xy_px is None


def test_no_row_of_the_oldest_records_changes(oldest, now):
    def inserts():
        return {line for line in dump(oldest) if line.startswith("INSERT") and "0001'" not in line}

    before = inserts()
    Store.open(oldest, now=now).close()
    assert inserts() - {f"INSERT INTO \"alembic_version\" VALUES('{HEAD}');"} == before


def test_the_oldest_records_have_the_form_their_script_makes(oldest, tmp_path, now):
    new = tmp_path / "new.db"
    new.touch()
    upgrade(new, now=now, backups=None, revisions=REVISIONS[:1])
    assert schema_of(new) == schema_of(oldest)


def test_opening_records_of_this_form_makes_no_copy(oldest, backups, now):
    Store.open(oldest, now=now).close()
    assert names(backups) == [f"before-{HEAD}-2026-05-20.db"]
    Store.open(oldest, now=now).close()
    assert names(backups) == [f"before-{HEAD}-2026-05-20.db"]


def test_an_older_form_is_copied_and_brought_forward(oldest, backups, scripts, now):
    before = dump(oldest)
    revisions = (*REVISIONS, "0099")
    upgrade(oldest, now=now, backups=backups, revisions=revisions, scripts=scripts)
    with plain_connection(oldest, "rw") as driver:
        assert revision_in(driver, oldest, revisions) == "0099"
        colours = driver.execute("SELECT colour FROM learner").fetchall()
    assert colours == [("amber",), ("amber",)]
    (copy,) = backups.iterdir()
    assert copy.name == "before-0099-2026-05-20.db"
    assert dump(copy) == before
    require_good(copy)
    assert newest_good_backup(backups) == copy
    with pytest.raises(StoreTooNewError):
        Store.open(oldest, now=now)
    upgrade(oldest, now=now, backups=backups, revisions=revisions, scripts=scripts)
    assert names(backups) == [copy.name]


@pytest.mark.parametrize(
    "last", ["INSERT INTO honey VALUES (1)", "INSERT INTO learner (id) VALUES ('x')"]
)
def test_a_failing_script_leaves_the_records_as_they_were(
    oldest, backups, scripts, now, last, path
):
    make_ready(path, now=now, wait_ms=50)
    before = dump(path)
    (scripts / "versions" / "0100_fail.py").write_text(FAIL_LATE.format(last=last))
    revisions = (*REVISIONS, "0099", "0100")
    for _ in range(2):
        with pytest.raises(Exception, match=r"honey|NOT NULL"):
            upgrade(path, now=now, backups=backups, revisions=revisions, scripts=scripts)
        assert dump(path) == before
    # A second try keeps a second copy: the first may be the better one.
    assert names(backups) == [
        f"before-{HEAD}-2026-05-20.db",
        "before-0100-2026-05-20-2.db",
        "before-0100-2026-05-20.db",
    ]
    with Store.open(path, now=now) as store:
        assert len(store.answers(MIRA)) == 2


def test_a_script_may_not_leave_rows_that_belong_to_nothing(oldest, backups, scripts, now):
    change = FAIL_LATE.format(last="UPDATE comb_round SET learner_id = 'nobody'")
    (scripts / "versions" / "0100_fail.py").write_text(change)
    before = dump(oldest)
    with pytest.raises(StoreDamagedError):
        upgrade(oldest, now=now, backups=backups, revisions=("0001", "0100"), scripts=scripts)
    assert dump(oldest) == before


def test_no_change_without_a_copy(mount, path, scripts, now):
    folder = mount(path.parent, "-t", "tmpfs", "-o", "size=400k", "tmpfs")
    with closing(sqlite3.connect(path)) as driver:
        driver.executescript(OLDEST.read_text(encoding="utf-8"))
    before = dump(path)
    (folder / "filler").write_bytes(bytes(shutil.disk_usage(folder).free - 20_000))
    with pytest.raises(StoreFullError), plain_errors(path):
        upgrade(
            path,
            now=now,
            backups=folder / "backups",
            revisions=(*REVISIONS, "0099"),
            scripts=scripts,
        )
    assert dump(path) == before
    assert names(folder / "backups") == []


def test_no_change_while_another_program_writes(oldest, backups, scripts, now, path):
    make_ready(path, now=now, wait_ms=50)
    before = dump(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreBusyError), plain_errors(path):
            upgrade(
                path,
                now=now,
                backups=backups,
                wait_ms=20,
                revisions=(*REVISIONS, "0099"),
                scripts=scripts,
            )
    assert dump(path) == before


def test_rows_answers_and_indexes_outlast_the_wider_answers(oldest, now):
    def tables():
        with plain_connection(oldest, "rw") as driver:
            rounds = driver.execute("SELECT * FROM comb_round ORDER BY id").fetchall()
            return rounds, driver.execute("SELECT * FROM shown_cell ORDER BY id").fetchall()

    upgrade(oldest, now=now, backups=None, revisions=REVISIONS[:3])
    before = tables()
    assert len(before[1]) > 0
    with plain_connection(oldest, "rw") as driver, pytest.raises(sqlite3.IntegrityError):
        driver.execute("UPDATE shown_cell SET answer = 'closed-c' WHERE answer = 'take'")
    upgrade(oldest, now=now, backups=None, revisions=REVISIONS[:4])
    assert tables() == before
    with plain_connection(oldest, "rw") as driver:
        found = driver.execute("SELECT name FROM sqlite_master WHERE type = 'index'").fetchall()
        for answer in Answer:
            driver.execute("UPDATE shown_cell SET answer = ? WHERE is_final = 1", [answer.value])
        with pytest.raises(sqlite3.IntegrityError):
            driver.execute("UPDATE shown_cell SET answer = 'maybe' WHERE is_final = 1")
    indexes = {"ix_comb_round_learner", "ix_shown_cell_final", "ix_shown_cell_round"}
    assert indexes <= {name for (name,) in found}
