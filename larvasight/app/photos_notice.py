"""What My photos says while no photo is shown."""

from collections.abc import Callable

from larvasight.app.parts import Notice, button

_CAUTION = (
    "The picture cannot show disease: brood that is yellow, brown, sunken or smells means stop, "
    "and ask your bee inspector."
)
_EMPTY = (
    "Open photos of brood comb, or drop them here. Take them straight down the cells, "
    "sharp at the floors, close enough that few cells fill the picture. Every cell found "
    f"is measured; what cannot be told is said. {_CAUTION}"
)
_BUSY = "A large photo takes some seconds. You can go on practising meanwhile."
_LAY = "If you see cells in it, you can show where they lie."


class PhotosNotice(Notice):
    """The empty, busy and error state of the page.

    Parameters
    ----------
    open_photos, stop : callable
        What the buttons do.
    """

    def __init__(self, *, open_photos: Callable[[], object], stop: Callable[[], object]) -> None:
        super().__init__()
        self._open, self._stop = open_photos, stop

    def say_empty(self) -> None:
        """Say what to do first."""
        again = button("Open photos ...", self._open, "main")
        self.say("Measure your own comb", _EMPTY, again)

    def say_busy(self, title: str) -> None:
        """Say what is being done, and let it be stopped."""
        self.say(title, _BUSY, button("Stop", self._stop))

    def say_failed(self, words: str, lay: Callable[[], object] | None) -> None:
        """Say why a photo could not be used; ``lay`` lets its cells be laid by hand."""
        title = "That photo could not be used"
        again = button("Open photos ...", self._open, "main" if lay is None else "")
        if lay is None:
            self.say(title, words, again)
        else:
            self.say(title, f"{words} {_LAY}", button("Lay cells by hand", lay, "main"), again)
