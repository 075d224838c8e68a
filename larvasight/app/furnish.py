"""Fill the window once the records are open: pages, menus, and who is practising."""

from typing import TYPE_CHECKING

import numpy as np

from larvasight.app.context import Context
from larvasight.app.grafts_page import GraftsPage
from larvasight.app.menus import add_menus
from larvasight.app.photos_page import PhotosPage
from larvasight.app.practise_page import PractisePage
from larvasight.app.progress_page import ProgressPage
from larvasight.app.timetable_page import TimetablePage
from larvasight.app.welcome import Welcome
from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from larvasight.app.opening import Opened
    from larvasight.app.window import Window


def furnish(window: "Window", opened: "Opened") -> None:
    """Put pages and menus into the window and ask who is practising if nobody is known."""
    context = Context(
        opened.store, opened.folder, window.dressing, window.settings, np.random.default_rng()
    )
    window.context = context
    progress = ProgressPage(context)
    progress.practise_wanted.connect(lambda: window.go_to("practise"))
    window.add_places(
        {
            "practise": PractisePage(context),
            "photos": PhotosPage(context),
            "progress": progress,
            "timetable": TimetablePage(context),
            "grafts": GraftsPage(context),
        }
    )
    add_menus(window, context)
    context.trouble.connect(window.trouble.say)
    context.learner_changed.connect(lambda: _settle(window, context))
    if opened.remark:
        window.trouble.remark(opened.remark)
    _greet(window, context)


def _settle(window: "Window", context: Context) -> None:
    """Follow who is practising: the name on the rail, and the welcome while nobody is."""
    learner = context.learner
    window.rail.set_learner(learner.name if learner is not None else "")
    if learner is None:
        _greet(window, context)
    elif window.welcome is not None:
        welcome, window.welcome = window.welcome, None
        window.rail.set_open(True)
        window.go_to("practise")
        window.pages.removeWidget(welcome)
        welcome.deleteLater()


def _greet(window: "Window", context: Context) -> None:
    learners = context.store.learners()
    if learners:
        last = context.settings.learner
        learner = next((x for x in learners if str(x.id) == last), learners[0])
        context.set_learner(learner)
        window.rail.set_open(True)
        window.go_to("practise")
        return
    if window.welcome is not None:
        return
    window.rail.set_open(False)
    welcome = window.welcome = Welcome()

    def named(name: str) -> None:
        try:
            context.set_learner(context.store.add_learner(name, now=context.now()))
        except LarvasightError as error:
            welcome.show_error(error)

    welcome.named.connect(named)
    window.pages.addWidget(welcome)
    window.pages.setCurrentWidget(welcome)
    welcome.name.setFocus()
