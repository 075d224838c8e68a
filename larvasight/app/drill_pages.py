"""Drills that are no comb view: a page each, made when it is first wanted."""

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from larvasight.app.context import Context
from larvasight.practice import Drill
from larvasight.practice.drills import (
    AGAINST_THE_CLOCK,
    CHECK,
    COURSE_DAY_TEST,
    NAME_THE_STAGE,
    PUT_IN_ORDER,
    SCREEN_TEST,
    SEARCH_A_SIDE,
    TEACHERS_LINE,
    TOOL_GOES_IN,
    YOUNGER_OF_TWO,
)


class DrillPage(QWidget):
    """One drill's own page; ``ended`` asks to go back to the list of drills."""

    ended = Signal()

    def begin(self, drill: Drill) -> None:
        """Start the drill anew."""
        raise NotImplementedError

    def arrive(self) -> None:
        """Put the keyboard where it is wanted."""
        raise NotImplementedError

    def leave(self) -> None:
        """Put the drill away; everything answered is stored already."""
        raise NotImplementedError


def _stage(context: Context) -> DrillPage:
    from larvasight.app.stage_page import StagePage

    return StagePage(context)


def _pair(context: Context) -> DrillPage:
    from larvasight.app.pair_page import PairPage

    return PairPage(context)


def _order(context: Context) -> DrillPage:
    from larvasight.app.order_page import OrderPage

    return OrderPage(context)


def _search(context: Context) -> DrillPage:
    from larvasight.app.search_page import SearchPage

    return SearchPage(context)


def _tool(context: Context) -> DrillPage:
    from larvasight.app.tool_page import ToolPage

    return ToolPage(context)


def _clock(context: Context) -> DrillPage:
    from larvasight.app.clock_page import ClockPage

    return ClockPage(context)


def _check(context: Context) -> DrillPage:
    from larvasight.app.check_page import CheckPage

    return CheckPage(context)


def _screen_test(context: Context) -> DrillPage:
    from larvasight.app.screen_test_page import ScreenTestPage

    return ScreenTestPage(context)


def _teacher(context: Context) -> DrillPage:
    from larvasight.app.teacher_page import TeacherPage

    return TeacherPage(context)


PAGES: dict[str, Callable[[Context], DrillPage]] = {
    NAME_THE_STAGE.key: _stage,
    YOUNGER_OF_TWO.key: _pair,
    PUT_IN_ORDER.key: _order,
    SEARCH_A_SIDE.key: _search,
    TOOL_GOES_IN.key: _tool,
    AGAINST_THE_CLOCK.key: _clock,
    CHECK.key: _check,
    COURSE_DAY_TEST.key: _check,
    SCREEN_TEST.key: _screen_test,
    TEACHERS_LINE.key: _teacher,
}
