"""Put invented grafts of two seasons into the records of a folder, to look at the Grafts page.

``larvasight demo --out DIR`` makes records to put them into. Records that hold grafts already
are left alone.
"""

import argparse
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from larvasight.desk.invented_grafts import invented_batches
from larvasight.desk.reporting import local_zone
from larvasight.errors import LarvasightError
from larvasight.records.place import records_path
from larvasight.records.store import Store


def main(arguments: list[str]) -> int:
    """Invent the grafts, store them and return the exit status."""
    parser = argparse.ArgumentParser(
        prog="invent_grafts.py",
        description="Puts invented grafts into the records of a folder.",
    )
    parser.add_argument("folder", type=Path, help="folder of the records; made if it is not there")
    parser.add_argument("--seed", type=int, default=1, help="other grafts for another number")
    options = parser.parse_args(arguments)
    try:
        n_cups = invent(options.folder, options.seed, datetime.now(UTC))
    except LarvasightError as error:
        print(error, file=sys.stderr)
        return 1
    print(f"{n_cups} invented cups are in {records_path(options.folder)}.")
    return 0


def invent(folder: Path, seed: int, now: datetime) -> int:
    """Store invented grafts, the last the day before at the latest; return how many cups they have.

    Raises
    ------
    LarvasightError
        If the folder's records hold grafts already, or cannot be written.
    """
    zone, day_before = local_zone(), now - timedelta(days=1)
    with Store.open(records_path(folder), now=now) as store:
        if store.batches():
            msg = f"The records in {folder} hold grafts already, so nothing was invented."
            raise LarvasightError(msg)
        if not store.learners():
            store.add_learner("Mira Example", now=now)
        learner = store.learners()[0]
        practised = store.answers(learner.id).answered_utc_ms
        # Where there are answers, grafts stand among them, so that the eye can stand beside.
        until = datetime.fromtimestamp(practised[-1] / 1000.0, UTC) if len(practised) else now
        batches = invented_batches(
            np.random.default_rng(seed),
            last_day=min(until, day_before).astimezone(zone).date(),
            zone=zone,
            learner_id=learner.id,
            grafter=learner.name,
        )
        store.put_batches(batches, now=now)
    return sum(len(batch.cups) for batch in batches)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
