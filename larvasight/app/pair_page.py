"""Younger of two: pair after pair, each choice stored and told at once."""

from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout

from larvasight.app.context import Context
from larvasight.app.eye_page import EyePage
from larvasight.app.eye_side import EyeSide
from larvasight.app.eye_sight import CellWords, EyeSight
from larvasight.app.eye_words import (
    GOING_ON,
    PAIR_KEYS,
    RIGHT_MARK,
    WRONG_MARK,
    count_words,
    gap_words,
    old_words,
    pair_sentences,
    pair_verdict,
    pairs_title,
    pairs_words,
)
from larvasight.app.parts import button
from larvasight.desk.eye_bouts import Sitting
from larvasight.desk.pair_bout import ChosenYounger, PairBout, standing_of
from larvasight.practice.drills import YOUNGER_OF_TWO
from larvasight.practice.staircase import N_PAIRS

_LEFT, _RIGHT = 0, 1
_KEYS = {Qt.Key.Key_Left: _LEFT, Qt.Key.Key_Right: _RIGHT}
_ASKED = (CellWords(first="left"), CellWords(first="right"))


class PairPage(EyePage[PairBout]):
    """The page of the drill.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    """

    def __init__(self, context: Context) -> None:
        sight = EyeSight(context.dressing)
        super().__init__(context, YOUNGER_OF_TWO, sight, f"{N_PAIRS} more pairs")
        sight.pressed.connect(self.choose)
        self.left_button = button("The left one", partial(self.choose, _LEFT))
        self.right_button = button("The right one", partial(self.choose, _RIGHT))
        choices = (self.left_button, self.right_button)
        self.side = EyeSide(context.dressing, choices, PAIR_KEYS, go_on=self.go_on, stop=self.stop)
        row = QHBoxLayout(self._work)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.sight, 1)
        row.addWidget(self.side)

    def choose(self, side: int) -> None:
        """Say which one is younger; told once that is stored."""
        bout = self._bout
        if bout is not None and self._is_open(bout):
            self.side.set_ready(is_ready=False)
            self.sight.say(_ASKED, side)
            bout.choose(side, partial(self._tell, bout))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose with the left and right arrow keys."""
        side = _KEYS.get(Qt.Key(event.key()))
        if side is not None and not event.isAutoRepeat():
            self.choose(side)
        else:
            super().keyPressEvent(event)

    def _new_bout(self, sitting: Sitting) -> PairBout:
        store, now = self._context.store, self._context.now()
        return PairBout(sitting, standing_of(store, sitting.learner_id, now=now))

    def _is_done(self, bout: PairBout) -> bool:
        return bout.is_done

    def _ask(self, bout: PairBout, *, is_first: bool) -> None:
        bout.ask()
        self.sight.show_cells(bout.tiles, self._images(bout), bout.turn_deg, _ASKED)
        going_on = f"{GOING_ON} " if is_first and bout.n_done else ""
        count = count_words(bout.n_done + 1, N_PAIRS, "Pair")
        self.side.ask(YOUNGER_OF_TWO.task, f"{going_on}{gap_words(bout.stairs)}", count)

    def _tell(self, bout: PairBout, told: ChosenYounger) -> None:
        if self._bout is not bout:
            return
        mark = RIGHT_MARK if told.is_right else WRONG_MARK
        words = [
            CellWords(
                first=old_words(tile, bout.limits),
                second="younger" if k == told.younger else "older",
                mark=mark if k == told.chosen else None,
            )
            for k, tile in enumerate(told.tiles)
        ]
        self.sight.say(words, told.chosen)
        next_words = "How it went" if bout.is_done else "Next pair"
        self.side.tell(mark, pair_verdict(told), pair_sentences(told, bout.limits), next_words)
        self._told()

    def _how_it_went(self, bout: PairBout) -> tuple[str, str]:
        return pairs_title(bout.rights), pairs_words(bout.stairs)

    def _fit_to(self, page_px: int) -> None:
        self.side.fit_to(page_px)
