"""What was said to be kept is kept, whenever the program is killed."""

import random
import sqlite3
import subprocess
import sys
import time
from contextlib import closing

from larvasight.records.store import Store

N_KILLS = 30
N_CELLS = 40

PRACTISE = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID, uuid4
from larvasight.grading import Limits
from larvasight.practice import TAKE_OR_LEAVE, Answer, Given, ShownCell
from larvasight.records.store import ShownRound, Store
from larvasight.sheet import Content

path, learner_id, n_cells = Path(sys.argv[1]), UUID(sys.argv[2]), int(sys.argv[3])
now = datetime(2026, 5, 20, tzinfo=UTC)
nothing = dict(age_h=None, looks_age_h=None, length_mm=None, curl_deg=None, jelly=None)
store = Store.open(path, now=now)
while True:
    cells = tuple(
        ShownCell(id=uuid4(), row=0, col=k, content=Content.EMPTY, **nothing)
        for k in range(n_cells)
    )
    shown = ShownRound(
        id=uuid4(), learner_id=learner_id, drill=TAKE_OR_LEAVE, cells=cells, limits=Limits(),
        recipe={}, kind="drawn", shown_at_utc=now,
    )
    store.show_round(shown)
    for k, cell in enumerate(cells[:8]):
        answer = Answer.TAKE if k % 2 else Answer.LEAVE
        given = Given(cell_id=cell.id, answer=answer, response_ms=k, is_final=True)
        store.keep([given], now=now)
        print(cell.id, answer.value, flush=True)
    rest = [
        Given(cell_id=cell.id, answer=Answer.TAKE, response_ms=None, is_final=True)
        for cell in cells[8:]
    ]
    store.end_round(shown.id, rest, now=now)
    for given in rest:
        print(given.cell_id, "take", flush=True)
"""


def killed_while_practising(path, learner_id, draw):
    """Practise in another process, kill it at a moment drawn by chance, return what it said."""
    command = [sys.executable, "-c", PRACTISE, str(path), str(learner_id), str(N_CELLS)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
        lines = [child.stdout.readline() for _ in range(draw.randint(1, 60))]
        time.sleep(draw.uniform(0.0, 0.004))
        child.kill()
        lines += child.stdout.readlines()
    assert child.returncode != 0
    return dict(line.split() for line in lines if line.endswith("\n"))


def test_nothing_said_to_be_kept_is_lost(path, now):
    draw, said, n_ended = random.Random(20260520), {}, 0
    with Store.open(path, now=now) as store:
        learner = store.add_learner("Mira", now=now)
    for _ in range(N_KILLS):
        new = killed_while_practising(path, learner.id, draw)
        assert new
        said |= new
        with Store.open(path, now=now) as store:
            n_kept = len(store.answers(learner.id))
        with closing(sqlite3.connect(path)) as driver:
            asked = "SELECT id, answer FROM shown_cell WHERE is_final"
            kept = dict(driver.execute(asked).fetchall())
            asked = "SELECT count(*) FROM shown_cell GROUP BY round_id"
            assert set(driver.execute(asked).fetchall()) == {(N_CELLS,)}
            asked = """
                SELECT count(*), sum(is_final) FROM comb_round JOIN shown_cell
                ON round_id = comb_round.id WHERE ended_utc_ms IS NOT NULL
            """
            n_shown, n_final = driver.execute(asked).fetchone()
            assert n_shown == (n_final or 0)
            n_ended = n_shown // N_CELLS
        assert {cell: kept.get(cell) for cell in said} == said
        assert n_kept == len(kept)
    assert n_ended > N_KILLS / 3
