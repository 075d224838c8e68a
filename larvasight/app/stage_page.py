"""Name the stage: cell after cell, each name stored and told at once."""

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
    RIGHT_MARK,
    STAGE_KEYS,
    WRONG_MARK,
    count_words,
    named_title,
    named_words,
    old_words,
    stage_button,
    stage_sentences,
    stage_verdict,
    stages_asked,
)
from larvasight.app.parts import button
from larvasight.desk.eye_bouts import Sitting
from larvasight.desk.stage_bout import NamedStage, StageBout, standing_of
from larvasight.practice.drills import NAME_THE_STAGE
from larvasight.practice.stages import N_CELLS, Stage

_KEYS = {
    Qt.Key.Key_1: Stage.EGG,
    Qt.Key.Key_2: Stage.JUST_HATCHED,
    Qt.Key.Key_3: Stage.RIGHT_AGE,
    Qt.Key.Key_4: Stage.CLOSED_C,
    Qt.Key.Key_5: Stage.TOO_OLD,
}


class StagePage(EyePage[StageBout]):
    """The page of the drill.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    """

    def __init__(self, context: Context) -> None:
        super().__init__(context, NAME_THE_STAGE, EyeSight(context.dressing), f"{N_CELLS} more")
        self.buttons = {
            stage: button(stage_button(stage), partial(self.name, stage)) for stage in Stage
        }
        choices = list(self.buttons.values())
        self.side = EyeSide(context.dressing, choices, STAGE_KEYS, go_on=self.go_on, stop=self.stop)
        row = QHBoxLayout(self._work)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.sight, 1)
        row.addWidget(self.side)

    def name(self, stage: Stage) -> None:
        """Name the cell; told once that is stored."""
        bout = self._bout
        if bout is not None and self._is_open(bout):
            self.side.set_ready(is_ready=False)
            bout.name(stage, partial(self._tell, bout))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Keys 1 to 5 name the cell."""
        stage = _KEYS.get(Qt.Key(event.key()))
        if stage is not None and not event.isAutoRepeat():
            self.name(stage)
        else:
            super().keyPressEvent(event)

    def _new_bout(self, sitting: Sitting) -> StageBout:
        store, now = self._context.store, self._context.now()
        return StageBout(sitting, standing_of(store, sitting.learner_id, now=now))

    def _is_done(self, bout: StageBout) -> bool:
        return bout.is_done

    def _ask(self, bout: StageBout, *, is_first: bool) -> None:
        bout.ask()
        self.sight.show_cells(bout.tiles, self._images(bout), bout.turn_deg, [CellWords()])
        going_on = f"{GOING_ON} " if is_first and bout.n_done else ""
        count = count_words(bout.n_done + 1, N_CELLS, "Cell")
        self.side.ask(NAME_THE_STAGE.task, f"{going_on}{stages_asked(bout.course)}", count)

    def _tell(self, bout: StageBout, told: NamedStage) -> None:
        if self._bout is not bout:
            return
        mark = RIGHT_MARK if told.is_right else WRONG_MARK
        (tile,) = bout.tiles
        self.sight.say([CellWords(first=old_words(tile, bout.limits), mark=mark)])
        next_words = "How it went" if bout.is_done else "Next cell"
        sentences = stage_sentences(told, tile, bout.limits)
        self.side.tell(mark, stage_verdict(told), sentences, next_words)
        self._told()

    def _how_it_went(self, bout: StageBout) -> tuple[str, str]:
        return named_title(bout.named), named_words(bout.named, bout.course)

    def _fit_to(self, page_px: int) -> None:
        self.side.fit_to(page_px)
