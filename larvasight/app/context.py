"""What all pages share: the records, who is practising, the clock, the look."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QObject, Qt, Signal

from larvasight.app.comb_supply import CombSupply
from larvasight.app.dressing import Dressing
from larvasight.app.loupe import Loupe
from larvasight.app.settings import WindowSettings
from larvasight.desk.keeping import Keeper
from larvasight.desk.practising import PreparedComb
from larvasight.grading import Limits
from larvasight.practice import Drill

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import Learner


class Context(QObject):
    """Handed to every page; nothing of it is global.

    ``own_photos_changed`` tells that a photo was put right, or is practised on otherwise;
    ``leaving`` tells that the records are about to be closed: what is in hand must be kept now.

    Parameters
    ----------
    store : Store
        The open records.
    folder : Path
        Where records, backups and photos lie.
    dressing, settings : Dressing, WindowSettings
        The present look, and what this computer remembers.
    rng : numpy.random.Generator
        Chooses combs.
    """

    learner_changed = Signal()
    homework_changed = Signal()
    own_photos_changed = Signal()
    leaving = Signal()
    trouble = Signal(str)
    _told = Signal(object)

    def __init__(
        self,
        store: "Store",
        folder: Path,
        dressing: Dressing,
        settings: WindowSettings,
        rng: np.random.Generator,
    ) -> None:
        super().__init__()
        self.store = store
        self.folder = folder
        self.dressing = dressing
        self.settings = settings
        self.loupe = Loupe(settings)
        self.rng = rng
        self.supply = CombSupply(rng)
        self.supply.take_own = self._take_own
        self.own_photos_changed.connect(self.supply.drop_own)
        # Tiles shown one by one in this sitting: none comes twice while others are left.
        self.seen_tiles: set[str] = set()
        self.learner: Learner | None = None
        self.limits = Limits()
        # Both are called in the keeper's thread; signals bring them to the window's own.
        self._told.connect(_run, Qt.ConnectionType.QueuedConnection)
        self.keeper = Keeper(store, tell=self._told.emit, trouble=self.trouble.emit)
        self.last_trouble = ""
        self.trouble.connect(self._remember)

    def now(self) -> datetime:
        """Return the time, UTC."""
        return datetime.now(UTC)

    def _take_own(self, drill: Drill, seed: int, limits: Limits) -> PreparedComb:
        from larvasight.desk.own_sets import prepare_own_comb

        return prepare_own_comb(
            *(drill, seed), store=self.store, data=self.folder, limits=limits, now=self.now()
        )

    def set_learner(self, learner: "Learner | None") -> None:
        """Let somebody else practise."""
        self.learner = learner
        self.limits = self.store.limits(learner.id if learner else None)
        self.settings.learner = str(learner.id) if learner else ""
        self.learner_changed.emit()

    def close(self) -> None:
        """End the keeper's thread and close the records."""
        self.keeper.close(0.5)
        self.store.close()

    def _remember(self, sentence: str) -> None:
        self.last_trouble = sentence or self.last_trouble


def _run(told: Callable[[], Any]) -> None:
    told()
