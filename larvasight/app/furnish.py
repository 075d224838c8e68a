"""Fill the window once the records are open: pages, menus, and who is practising."""

from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING

import numpy as np

from larvasight.app.context import Context
from larvasight.app.jobs import Job
from larvasight.app.menus import add_menus
from larvasight.app.practise_page import PractisePage
from larvasight.app.welcome import Welcome
from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

    from larvasight.app.opening import Opened
    from larvasight.app.window import Window

# Pages that are made when they are first gone to.
_LATER = ("progress", "timetable", "grafts", "photos")

# What measuring imports when it first needs it.
_PHOTO_LIBRARIES = ("skimage.morphology", "scipy.sparse.csgraph", "scipy.interpolate")


def furnish(window: "Window", opened: "Opened") -> None:
    """Put pages and menus into the window and ask who is practising if nobody is known."""
    context = Context(
        opened.store, opened.folder, window.dressing, window.settings, np.random.default_rng()
    )
    window.context = context
    window.add_places(
        {
            "practise": partial(PractisePage, context),
            "photos": partial(_photos, context),
            "progress": partial(_progress, window, context),
            "timetable": partial(_timetable, context),
            "grafts": partial(_grafts, context),
        }
    )
    window.place("practise")
    add_menus(window, context)
    context.trouble.connect(window.trouble.say)
    context.learner_changed.connect(lambda: _settle(window, context))
    if opened.remark:
        window.trouble.remark(opened.remark)
    _greet(window, context)
    Job(_read_ahead, _pass, _pass).start()


def _photos(context: Context) -> "QWidget":
    from larvasight.app.photos_page import PhotosPage

    Job(_read_for_photos, _pass, _pass).start()
    return PhotosPage(context)


def _progress(window: "Window", context: Context) -> "QWidget":
    from larvasight.app.progress_page import ProgressPage

    made = ProgressPage(context)
    made.practise_wanted.connect(lambda: window.go_to("practise"))
    return made


def _timetable(context: Context) -> "QWidget":
    from larvasight.app.timetable_page import TimetablePage

    return TimetablePage(context)


def _grafts(context: Context) -> "QWidget":
    from larvasight.app.grafts_page import GraftsPage

    return GraftsPage(context)


def _read_ahead() -> None:
    """Import what the other places need, so that going there the first time takes no wait."""
    for name in _LATER:
        import_module(f"larvasight.app.{name}_page")


def _read_for_photos() -> None:
    """Import what measuring needs, so that the first cell put right answers as the others do."""
    for name in _PHOTO_LIBRARIES:
        import_module(name)


def _pass(_told: object) -> None:
    """Nothing follows: a module that cannot be read is told when it is needed."""


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
