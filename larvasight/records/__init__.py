"""What is kept between days: learners, rounds, answers, photos, and their backups.

Importing this package loads no database; the first use of a name from it does.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from larvasight.records.store import Store as Store
    from larvasight.records.types import CLASS as CLASS
    from larvasight.records.types import Learner as Learner
    from larvasight.records.types import Photo as Photo
    from larvasight.records.types import Plan as Plan
    from larvasight.records.types import ShownRound as ShownRound
    from larvasight.records.types import UnfinishedRound as UnfinishedRound

_HOMES = {
    "CLASS": "types",
    "Learner": "types",
    "Photo": "types",
    "Plan": "types",
    "ShownRound": "types",
    "Store": "store",
    "UnfinishedRound": "types",
}


def __getattr__(name: str) -> object:
    """Load a public name when it is first asked for."""
    home = _HOMES.get(name)
    if home is None:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    return getattr(import_module(f"{__name__}.{home}"), name)
