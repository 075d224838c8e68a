"""A store with one learner, and rounds to put into it."""

import subprocess
from datetime import UTC, datetime
from uuid import uuid4

import pytest

from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, Answer, Given, ShownCell
from larvasight.records.store import ShownRound, Store
from larvasight.sheet import Content, Jelly

NOW = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)


@pytest.fixture
def now():
    return NOW


@pytest.fixture
def path(tmp_path):
    return tmp_path / "data" / "records.db"


@pytest.fixture
def store(path, now):
    with Store.open(path, now=now, wait_ms=50) as opened:
        yield opened


@pytest.fixture
def learner(store, now):
    return store.add_learner("Mira", now=now)


@pytest.fixture
def make_round():
    return _make_round


@pytest.fixture
def give():
    return _give


@pytest.fixture
def mount(tmp_path):
    """Mount something for one test, or skip it where that is not allowed."""
    done = []

    def _mount(folder, *options):
        folder.mkdir(parents=True, exist_ok=True)
        command = ["mount", *options, str(folder)]
        try:
            subprocess.run(command, check=True, capture_output=True)
        except (OSError, subprocess.CalledProcessError):
            pytest.skip("mounting is not allowed here")
        if not any("remount" in option for option in options):
            done.append(folder)
        return folder

    yield _mount
    for folder in reversed(done):
        subprocess.run(["umount", str(folder)], check=True, capture_output=True)


def _make_round(learner_id, *, n_cells=4, drill=PICK_FROM_PATCH, shown_at_utc=NOW, **changes):
    larva = {"content": Content.LARVA, "age_h": 20.25, "looks_age_h": 21.5, "jelly": Jelly.PLENTY}
    empty = {"content": Content.EMPTY, "age_h": None, "looks_age_h": None, "jelly": None}
    cells = tuple(
        ShownCell(
            id=uuid4(),
            row=k // 3,
            col=k % 3,
            length_mm=1.75 if k % 2 == 0 else None,
            curl_deg=133.0 if k % 2 == 0 else None,
            is_plain=k != 3,
            tile_id="tile-1" if k == 2 else None,
            **(larva if k % 2 == 0 else empty),
        )
        for k in range(n_cells)
    )
    values = {"limits": Limits(), "recipe": {"seed": 7, "size_px": [1600, 1200]}, "kind": "drawn"}
    return ShownRound(
        id=uuid4(),
        learner_id=learner_id,
        drill=drill,
        cells=cells,
        shown_at_utc=shown_at_utc,
        **(values | changes),
    )


def _give(cell, answer=Answer.TAKE, *, response_ms=900, is_final=True):
    return Given(cell_id=cell.id, answer=answer, response_ms=response_ms, is_final=is_final)
