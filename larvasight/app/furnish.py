"""Fill the window once the records are open: pages, menus, and who is practising."""

from typing import TYPE_CHECKING

import numpy as np

from larvasight.app.context import Context
from larvasight.app.menus import add_menus
from larvasight.app.photos_page import PhotosPage
from larvasight.app.practise_page import PractisePage
from larvasight.app.progress_page import ProgressPage
from larvasight.app.welcome import Welcome
from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from larvasight.app.opening import Opened
    from larvasight.app.window import Window
    from larvasight.records.types import Learner


def furnish(window: "Window", opened: "Opened") -> None:
    """Put pages and menus into the window and ask who is practising if nobody is known."""
    context = Context(
        opened.store, opened.folder, window.dressing, window.settings, np.random.default_rng()
    )
    window.context = context
    progress = ProgressPage(context)
    progress.practise_wanted.connect(lambda: window.go_to("practise"))
    window.add_places(
        {"practise": PractisePage(context), "photos": PhotosPage(context), "progress": progress}
    )
    add_menus(window, context)
    context.trouble.connect(window.trouble.say)
    context.learner_changed.connect(
        lambda: window.rail.set_learner(context.learner.name if context.learner else "")
    )
    context.learner_changed.connect(
        lambda: None if context.learner is not None else _greet(window, context)
    )
    if opened.remark:
        window.trouble.remark(opened.remark)
    _greet(window, context)


def _greet(window: "Window", context: Context) -> None:
    learners = context.store.learners()
    if learners:
        last = context.settings.learner
        _begin(window, context, next((x for x in learners if str(x.id) == last), learners[0]))
        return
    window.rail.set_open(False)
    welcome = Welcome()

    def named(name: str) -> None:
        try:
            learner = context.store.add_learner(name, now=context.now())
        except LarvasightError as error:
            welcome.show_error(error)
            return
        _begin(window, context, learner)
        window.pages.removeWidget(welcome)
        welcome.deleteLater()

    welcome.named.connect(named)
    window.pages.addWidget(welcome)
    window.pages.setCurrentWidget(welcome)
    welcome.name.setFocus()


def _begin(window: "Window", context: Context, learner: "Learner") -> None:
    context.set_learner(learner)
    window.rail.set_open(True)
    window.go_to("practise")
