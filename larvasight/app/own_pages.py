"""Drills with a page of their own, beside the comb view of Practise."""

from collections.abc import Callable

from PySide6.QtWidgets import QStackedWidget

from larvasight.app.context import Context
from larvasight.app.drill_pages import PAGES, DrillPage
from larvasight.practice import Drill, Shows


class OwnPages:
    """Makes the page of a drill when it is first wanted, and shows it.

    Parameters
    ----------
    context : Context
        Handed to every page.
    pages : QStackedWidget
        Where the pages of Practise lie.
    ended : callable
        Goes back to the list of drills.
    """

    def __init__(
        self, context: Context, pages: QStackedWidget, ended: Callable[[], object]
    ) -> None:
        self._context, self._pages, self._ended = context, pages, ended
        self._made: dict[str, DrillPage] = {}

    @property
    def shown(self) -> DrillPage | None:
        """The page that is in view, None while it is none of these."""
        page = self._pages.currentWidget()
        return page if isinstance(page, DrillPage) else None

    def begin(self, drill: Drill) -> bool:
        """Begin a drill on its own page; False where the comb view shows it."""
        if drill.shows is not Shows.OWN_PAGE:
            return False
        page = self._made.get(drill.key)
        if page is None:
            page = self._made[drill.key] = PAGES[drill.key](self._context)
            page.ended.connect(self._ended)
            self._pages.addWidget(page)
        self._pages.setCurrentWidget(page)
        page.begin(drill)
        return True

    def leave(self) -> None:
        """Put the page in view away; what was answered is stored already."""
        page = self.shown
        if page is not None:
            page.leave()
