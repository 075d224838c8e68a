"""Put in order: row after row, each order stored and told at once."""

from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from larvasight.app.context import Context
from larvasight.app.eye_page import EyePage
from larvasight.app.eye_sight import CellWords
from larvasight.app.eye_words import (
    GOING_ON,
    ORDER_KEYS,
    RIGHT_MARK,
    WRONG_MARK,
    count_words,
    old_words,
    put_words,
    row_sentence,
    row_verdict,
    rows_title,
    rows_words,
    step_words,
)
from larvasight.app.order_sight import OrderSight
from larvasight.app.parts import button, column, label
from larvasight.app.sign_label import SignLabel
from larvasight.app.why_panel import tied
from larvasight.desk.eye_bouts import Sitting
from larvasight.desk.row_bout import OrderedRow, RowBout, standing_of
from larvasight.practice.drills import PUT_IN_ORDER
from larvasight.practice.ordering import N_ROWS


class OrderPage(EyePage[RowBout]):
    """The page of the drill: the row has the whole width, its words stand below.

    Parameters
    ----------
    context : Context
        The records, who is practising, the clock, the look.
    """

    def __init__(self, context: Context) -> None:
        self.row = OrderSight(context.dressing)
        super().__init__(context, PUT_IN_ORDER, self.row, f"{N_ROWS} more rows")
        self._count, self._lead = label("", "faint"), label("", "lead")
        self._words, self._keys = label(""), label(tied(ORDER_KEYS), "faint")
        keep = self._keys.sizePolicy()
        keep.setRetainSizeWhenHidden(True)  # the row must not move when it is told
        self._keys.setSizePolicy(keep)
        self._sign = SignLabel(context.dressing, RIGHT_MARK)
        self.done_button = button("Done: show me", self.put, "main")
        self.next_button = button("Next row", self.go_on, "main")
        page = QVBoxLayout(self._work)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(0)
        page.addWidget(self.row, 1)
        page.addWidget(self._foot())

    def put(self) -> None:
        """Say that the row stands in order; told once that is stored."""
        bout = self._bout
        if bout is not None and self._is_open(bout):
            self.row.hold_still()
            self.done_button.setEnabled(False)
            bout.put(self.row.order, partial(self._tell, bout))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter is done."""
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if is_enter and not event.isAutoRepeat() and not self._is_told:
            self.put()
        else:
            super().keyPressEvent(event)

    def _foot(self) -> QWidget:
        foot = QFrame()
        foot.setObjectName("foot")
        head = QWidget()
        said = QHBoxLayout(head)
        said.setContentsMargins(0, 0, 0, 0)
        said.addWidget(self._sign)
        said.addWidget(self._lead, 1)
        across = QHBoxLayout(foot)
        across.setContentsMargins(24, 16, 24, 16)
        across.setSpacing(32)
        across.addWidget(column(self._count, head, self._words, self._keys, spacing=4), 1)
        stop = button("Stop here", self.stop, "plain")
        buttons = column(self.done_button, self.next_button, stop)
        across.addWidget(buttons, 0, Qt.AlignmentFlag.AlignBottom)
        return foot

    def _new_bout(self, sitting: Sitting) -> RowBout:
        store, now = self._context.store, self._context.now()
        return RowBout(sitting, standing_of(store, sitting.learner_id, now=now))

    def _is_done(self, bout: RowBout) -> bool:
        return bout.is_done

    def _ask(self, bout: RowBout, *, is_first: bool) -> None:
        bout.ask()
        self.row.ask(bout.tiles, self._images(bout), bout.turn_deg)
        going_on = f"{GOING_ON} " if is_first and bout.n_done else ""
        self._count.setText(count_words(bout.n_done + 1, N_ROWS, "Row"))
        self._lead.setText(PUT_IN_ORDER.task)
        self._words.setText(tied(f"{going_on}{step_words(bout.step)}"))
        self.done_button.setEnabled(True)
        self._show(is_told=False)

    def _tell(self, bout: RowBout, told: OrderedRow) -> None:
        if self._bout is not bout:
            return
        words = [
            CellWords(
                first=old_words(tile, bout.limits),
                second=put_words(place, put),
                mark=RIGHT_MARK if place == put else WRONG_MARK,
            )
            for place, (tile, put) in enumerate(zip(told.tiles, told.places, strict=True))
        ]
        index_of = {tile.id: index for index, tile in enumerate(bout.tiles)}
        self.row.tell([index_of[tile.id] for tile in told.tiles], words)
        self._sign.show_mark(RIGHT_MARK if told.is_right else WRONG_MARK)
        self._lead.setText(tied(row_verdict(told)))
        self._words.setText(tied(row_sentence(told)))
        self.next_button.setText("How it went" if bout.is_done else "Next row")
        self._show(is_told=True)
        self._told()

    def _how_it_went(self, bout: RowBout) -> tuple[str, str]:
        return rows_title(bout.n_rights), rows_words(bout.n_rights, bout.step)

    def _fit_to(self, page_px: int) -> None:
        del page_px  # the row has the whole width

    def _show(self, *, is_told: bool) -> None:
        self._sign.setVisible(is_told)
        self._keys.setVisible(not is_told)
        self.done_button.setVisible(not is_told)
        self.next_button.setVisible(is_told)
