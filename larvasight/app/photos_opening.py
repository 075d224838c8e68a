"""Photos measured beside the window, one after the other."""

from collections import deque
from collections.abc import Callable
from functools import partial
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QImage

from larvasight.app.context import Context
from larvasight.app.images import image_of
from larvasight.app.jobs import Job, wait_for_jobs
from larvasight.desk import own_photos
from larvasight.desk.own_photos import MeasuredPhoto
from larvasight.errors import LarvasightError, NoCombError
from larvasight.vision.photo import load_photo
from larvasight.vision.scale import ScaleGuess

if TYPE_CHECKING:
    from larvasight.desk.hand_cells import ByHandLattice
    from larvasight.records.types import Photo as KeptPhoto


class PhotosOpening(QObject):
    """Opens and measures photos; at most one at a time.

    ``began`` carries the title of what is being done; ``measured`` a MeasuredPhoto to be shown
    anew, ``moved`` one whose cells were moved by hand; ``not_moved`` the error where that failed;
    ``ended`` tells that no photo waits any more; ``not_opened`` carries a kept photo and why it
    cannot be opened.

    Parameters
    ----------
    context : Context
        Records, clock and wanted ages.
    guess : callable
        Returns the cell size that is chosen.
    """

    began = Signal(str)
    measured = Signal(object)
    moved = Signal(object)
    not_moved = Signal(object)
    ended = Signal()
    not_opened = Signal(object, object)

    def __init__(self, context: Context, guess: Callable[[], ScaleGuess]) -> None:
        super().__init__()
        self._context, self._guess = context, guess
        self._waiting: deque[Path] = deque()
        self._n_asked = 0
        # What was wanted last, of either kind, while something else was measured.
        self._wanted_move: Callable[[], None] | None = None
        self._wanted_size: Callable[[], None] | None = None
        self._stopped = Event()
        self.job: Job | None = None
        self.failed: list[str] = []
        # The one photo in which no comb was found, to lay its cells by hand.
        self.without_comb: Path | None = None

    def open(self, paths: list[Path]) -> None:
        """Measure photos one after the other."""
        if not self._waiting and self.job is None:
            self._n_asked, self.failed, self.without_comb = 0, [], None
        self._waiting.extend(paths)
        self._n_asked += len(paths)
        self._next()

    def stop(self) -> None:
        """Leave what is being done, and all that waits; nothing of it is stored."""
        self._waiting.clear()
        self._wanted_move = self._wanted_size = None
        self._stopped.set()
        if self.job is not None:
            self.job.forget()
            self.job = None

    def open_kept(self, photo: "KeptPhoto") -> None:
        """Open a photo that was opened before."""
        context = self._context
        self.began.emit(f"Opening {photo.name} ...")
        work = partial(
            own_photos.open_kept, context.store, context.folder, photo, limits=context.limits
        )
        self._start(work, self._done, partial(self._not_opened, photo))

    def measure_again(self, photo: "KeptPhoto", guess: ScaleGuess) -> None:
        """Measure a kept photo with another cell size; the latest wish counts."""
        if self.job is not None:
            self._wanted_size = partial(self.measure_again, photo, guess)
            return
        context = self._context
        self.began.emit(f"Measuring {photo.name} again ...")
        work = partial(
            own_photos.measure_again,
            *(context.store, context.folder, photo),
            guess=guess,
            limits=context.limits,
            is_wanted=self._is_wanted(),
        )
        self._start(work, self._done, partial(self._not_done, Path(photo.name)))

    def move_cells(
        self, photo: "KeptPhoto", by_hand: "ByHandLattice | None", guess: ScaleGuess
    ) -> None:
        """Measure a kept photo with its cells where a person says; the latest wish counts."""
        if self.job is not None:
            self._wanted_move = partial(self.move_cells, photo, by_hand, guess)
            return
        context = self._context
        work = partial(
            own_photos.move_cells,
            *(context.store, context.folder, photo, by_hand),
            guess=guess,
            limits=context.limits,
            now=context.now(),
            is_wanted=self._is_wanted(),
        )
        self._start(work, self._moved, self._not_moved)

    def show_bare(self, path: Path, show: Callable[[QImage, Path], None]) -> None:
        """Load a photo in which no cells were found, to be shown without any."""

        def done(image: QImage) -> None:
            self.job = None
            show(image, path)

        self.job = Job(partial(_load, path), done, partial(self._not_done, path)).start()

    def lay(
        self,
        path: Path,
        clicks: tuple[tuple[float, float], tuple[float, float]],
        name: str | None = None,
        guess: ScaleGuess | None = None,
    ) -> None:
        """Keep a photo in which two neighbouring cells were pointed at, and measure it.

        ``guess`` is the cell size that it has already.
        """
        context = self._context
        work = partial(
            own_photos.lay_by_hand,
            *(context.store, context.folder, path, clicks),
            guess=guess or self._guess(),
            limits=context.limits,
            now=context.now(),
            name=name,
            is_wanted=self._is_wanted(),
        )
        self._start(work, self._done, self._not_moved)

    def _start(
        self,
        work: Callable[[], MeasuredPhoto],
        done: Callable[[Any], None],
        failed: Callable[[LarvasightError], None],
    ) -> None:
        self.job = Job(work, done, failed).start()

    def _is_wanted(self) -> Callable[[], bool]:
        """Return what tells whether the work that now begins was not stopped since."""
        self._stopped = stopped = Event()
        return lambda: not stopped.is_set()

    def _next(self) -> None:
        if self.job is not None:
            return
        if not self._waiting:
            self.ended.emit()
            return
        path = self._waiting.popleft()
        at = self._n_asked - len(self._waiting)
        of = f" {at} of {self._n_asked}" if self._n_asked > 1 else ""
        self.began.emit(f"Measuring{of}: {path.name} ...")
        context = self._context
        work = partial(
            own_photos.keep_photo,
            *(context.store, context.folder, path),
            guess=self._guess(),
            limits=context.limits,
            now=context.now(),
            is_wanted=self._is_wanted(),
        )
        self._start(work, self._done, partial(self._not_done, path))

    def _done(self, photo: MeasuredPhoto) -> None:
        self.job = None
        self.measured.emit(photo)
        self._go_on()

    def finish(self) -> None:
        """Begin at once the move that waits; what is measured now is let run out."""
        wanted, self._wanted_move = self._wanted_move, None
        if wanted is not None:
            wait_for_jobs()
            self.job = None
            wanted()
            self.job = None

    def _go_on(self) -> None:
        wanted = self._wanted_move or self._wanted_size
        if self._wanted_move is not None:
            self._wanted_move = None
        else:
            self._wanted_size = None
        if wanted is not None:
            wanted()
        self._next()

    def _not_done(self, path: Path, error: LarvasightError) -> None:
        self.job = None
        sentence = str(error)
        self.failed.append(sentence if path.name in sentence else f"{path.name}: {sentence}")
        if isinstance(error, NoCombError) and path.is_absolute():
            self.without_comb = path
        self._go_on()

    def _not_opened(self, photo: "KeptPhoto", error: LarvasightError) -> None:
        self.job = None
        self.not_opened.emit(photo, error)
        self._go_on()

    def _moved(self, photo: MeasuredPhoto) -> None:
        self.job = None
        if self._wanted_move is None:
            self.moved.emit(photo)
        self._go_on()

    def _not_moved(self, error: LarvasightError) -> None:
        self.job = self._wanted_move = None
        self.not_moved.emit(error)
        self._go_on()


def _load(path: Path) -> QImage:
    return image_of(load_photo(path).pixels)
