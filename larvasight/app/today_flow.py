"""Leading from one part of today to the next while combs follow one another."""

from contextlib import suppress

from PySide6.QtWidgets import QPushButton

from larvasight.app.context import Context
from larvasight.desk.reporting import local_zone
from larvasight.desk.todays import TodayPart, is_part_done
from larvasight.errors import LarvasightError

_WORDS = "Go on with today"


class TodayFlow:
    """Knows which part of today is being done, and when it is done.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock.
    """

    def __init__(self, context: Context) -> None:
        self._context = context
        self._part: TodayPart | None = None

    def begin(self, part: TodayPart | None) -> None:
        """Do a part of today; None for a drill beside the plan, which has no end of its own."""
        self._part = part

    @property
    def is_done(self) -> bool:
        """Whether the part is done by what is stored now."""
        context, part, found = self._context, self._part, False
        if part is not None and context.learner is not None:
            with suppress(LarvasightError):
                found = is_part_done(
                    context.store, context.learner.id, part, now=context.now(), tz=local_zone()
                )
        return found

    def name_next(self, next_button: QPushButton) -> None:
        """Let the button for the next comb say that the next part of today comes."""
        if self.is_done:
            next_button.setText(_WORDS)
