"""Start the window as the program does, and tell a test on standard output what is shown.

One JSON object a line: where every cell is on the screen, which marks are stored, what is told.
With ``--click SEED`` it also answers by itself, as fast as it can, until it is killed.
"""

import json
import os
import sys

from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtWidgets import QApplication

import larvasight.app.window
from larvasight.app.cell_item import Rim
from larvasight.app.main import run_window

_EVERY_MS = 20


def tell(**what):
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


class Driver:
    def __init__(self, window):
        self.window = window
        self.last = ""
        self.timer = QTimer(window)
        self.timer.timeout.connect(self.look)
        self.timer.start(_EVERY_MS)

    def look(self):
        state = self.state()
        text = json.dumps(state)
        if text != self.last:
            self.last = text
            tell(**state)

    def state(self):
        window = self.window
        if window.context is None or window.context.learner is None:
            welcome = window.pages.currentWidget()
            return {"page": type(welcome).__name__}
        page = window.pages.currentWidget()
        found = {"page": type(page).__name__, "learner": window.context.learner.name}
        if found["page"] == "PractisePage":
            found |= self.practise(page)
        elif found["page"] == "ProgressPage" and page.progress is not None:
            found["n_answers"] = page.progress.score.n_answers
            found["n_picks"] = page.progress.score.n_picks
        return found

    def practise(self, page):
        session = page.session
        if session is None:
            start = page.start.buttons["pick-from-patch"]
            return {"state": "start", "start_xy": self.on_screen(start, start.rect().center())}
        comb = page.comb
        return {
            "state": "told" if page.is_told else "asking",
            "round": str(session.round_id),
            "cells": [
                {
                    "row_col": [cell.row, cell.col],
                    "id": str(cell.id),
                    "xy": self.on_screen(comb, comb.centre_on_screen(k)),
                    "rim": comb.face_of(k).rim.name,
                }
                for k, cell in enumerate(session.comb.asked)
            ],
            "why": page.side.why.sentence if page.is_told else "",
        }

    def on_screen(self, widget, point: QPoint):
        at = widget.mapToGlobal(point)
        return [at.x(), at.y()]


class Clicker(Driver):
    """Marks cells and ends combs by chance; says every answer that is shown as given."""

    def __init__(self, window, seed):
        import numpy as np

        self.rng = np.random.default_rng(seed)
        self.said = set()
        super().__init__(window)
        self.timer.setInterval(0)

    def look(self):
        from PySide6.QtTest import QTest

        window = self.window
        if window.context is None or window.context.learner is None:
            return
        page = window.place("practise")
        if page.session is None:
            if page.start.isVisible():
                QTest.mouseClick(page.start.buttons["pick-from-patch"], Qt.MouseButton.LeftButton)
            return
        comb = page.comb
        rims = [comb.face_of(k).rim for k in range(comb.n_cells)]
        for rim, cell in zip(rims, page.session.comb.asked, strict=True):
            if page.is_told or rim is Rim.INK:
                self.say(str(cell.id), page.session.round.answer_of(cell.id), page.is_told)
        bare = [k for k, rim in enumerate(rims) if rim is Rim.BARE]
        if page.is_told or not bare or self.rng.random() < 0.03:
            QTest.keyClick(page, Qt.Key.Key_Return)
        else:
            at = comb.centre_on_screen(int(self.rng.choice(bare)))
            QTest.mouseClick(
                comb.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at
            )

    def say(self, cell_id, answer, is_told):
        if (cell_id, is_told) not in self.said:
            self.said.add((cell_id, is_told))
            tell(id=cell_id, is_told=is_told, answer=str(answer))


def main():
    drivers = []
    opened = larvasight.app.window.Window.show_opened

    def show_opened(window, records):
        opened(window, records)
        is_clicking = "--click" in sys.argv
        seed = int(sys.argv[sys.argv.index("--click") + 1]) if is_clicking else 0
        drivers.append(Clicker(window, seed) if is_clicking else Driver(window))

    larvasight.app.window.Window.show_opened = show_opened
    return run_window(["larvasight"])


if __name__ == "__main__":
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    assert QApplication.instance() is None
    raise SystemExit(main())
