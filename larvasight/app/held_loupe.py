"""A loupe that stays what it is: the same size of comb for everybody who is tested."""

from larvasight.app.loupe import Loupe
from larvasight.geometry.loupe import STRONG_LOUPE

TEST_MAGNIFICATION = STRONG_LOUPE.value


class HeldLoupe(Loupe):
    """The loupe of a test: it cannot be changed for another one.

    Parameters
    ----------
    settings : WindowSettings
        Knows what was measured on each screen.
    """

    @property
    def magnification(self) -> float | None:
        """How many times larger comb is shown."""
        return TEST_MAGNIFICATION

    def use(self, magnification: float | None) -> None:
        """Keep the loupe in hand, whichever was asked for."""
        del magnification

    def next_after(self, step: int) -> float | None:
        """Return the loupe in hand."""
        del step
        return TEST_MAGNIFICATION

    def stronger(self, step: int) -> float | None:
        """Return the loupe in hand."""
        del step
        return TEST_MAGNIFICATION
