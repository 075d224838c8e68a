"""Where you draw the line: told as a picture once measuring has ended."""

from collections.abc import Callable

from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from larvasight.app.dressing import Dressing
from larvasight.app.parts import button, centred, label
from larvasight.grading import Limits
from larvasight.paper.line_strip import draw_edges, edges_height_px
from larvasight.paper.line_words import edge_text, sure_text
from larvasight.stats import EdgePosterior

# An edge is said to be known when it lies within so many hours each way; one that may lie
# farther off than the second is not told at all.
_KNOWN_H, _TOLD_H = 3.0, 8.0
# Ages at which the search for a line ends: beyond them only "or more" can be said.
_OLDEST_H = 60.0


class EdgesTold(QWidget):
    """The page that ends measuring.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    train, done, go_on : callable
        What the buttons do: practise near the line, go back, or go on with a lesson.
    """

    def __init__(
        self,
        dressing: Dressing,
        *,
        train: Callable[[], object],
        done: Callable[[], object],
        go_on: Callable[[], object],
    ) -> None:
        super().__init__()
        card = QFrame()
        card.setObjectName("sheet")
        card.setMaximumWidth(960)
        inside = QVBoxLayout(card)
        inside.setContentsMargins(40, 32, 40, 32)
        inside.setSpacing(16)
        self._title = label("", "title")
        self._strip = EdgeStrip(dressing)
        self._words = label("")
        self._sure = label("", "faint")
        # What comes after it in a lesson; it is then the thing to do.
        self.next_button = button("Next comb", go_on, "main")
        self.train_button = button("Practise near your line", train, "main")
        self.done_button = button("Done", done)
        for widget in (self._title, self._strip, self._words, self._sure):
            inside.addWidget(widget)
        row = QHBoxLayout()
        row.addWidget(self.next_button)
        row.addWidget(self.train_button)
        row.addWidget(self.done_button)
        row.addStretch(1)
        inside.addLayout(row)
        outer = QVBoxLayout(self)
        outer.addStretch(1)
        outer.addLayout(centred(card))
        outer.addStretch(2)

    @property
    def first_button(self) -> QPushButton:
        """What is to be done next."""
        return self.train_button if self.next_button.isHidden() else self.next_button

    def tell(self, edges: EdgePosterior, limits: Limits, *, is_lesson: bool = False) -> None:
        """Show where the line is drawn, against the teacher's limits."""
        self.next_button.setVisible(is_lesson)
        self.train_button.setVisible(not is_lesson)
        title, words = line_words(edges, limits)
        self._title.setText(title)
        self._words.setText(words)
        self._sure.setText(sure_words(edges))
        self._strip.show_edges(edges, limits)
        self.train_button.setText(
            "Practise near your line" if has_line(edges) else "Practise Take or leave"
        )
        for widget in (self._strip, self._sure):  # without a line there is nothing to draw
            widget.setVisible(has_line(edges))


def has_line(edges: EdgePosterior) -> bool:
    """Return whether answers tell where a line is drawn."""
    return edges.has_clear_window and edges.is_known_to(_TOLD_H)


def line_words(edges: EdgePosterior, limits: Limits) -> tuple[str, str]:
    """Return a line on where a learner draws the line, and what to make of it."""
    young, old = edges.young_edge_h, edges.old_edge_h
    if not has_line(edges):
        return (
            "No clear line yet.",
            "Your answers do not yet part the young ones from the old ones. "
            "Look again at what to look for, then practise and come back.",
        )
    youngest = "the egg" if young.value < 0.0 else edge_text(young)
    oldest = f"{edge_text(old)} or more" if old.hi >= _OLDEST_H else edge_text(old)
    title = f"You take larvae from {youngest} to {oldest} after hatching."
    limit = f"{limits.old_h:.0f} h"
    if old.lo > limits.old_h:
        told = f"You take larvae older than {limit}: that is too old. Stop earlier."
    elif old.hi <= limits.old_h:
        told = f"You stop before {limit}: none of them is too old."
    else:
        told = f"You stop about where they get too old, {limit}."
    if young.hi < 0.0:
        told += " You take eggs for larvae: look for the bed of jelly."
    elif young.lo > limits.young_h:
        told += f" You leave good young ones: from {limits.young_h:.0f} h they can be taken."
    return title, told


def sure_words(edges: EdgePosterior) -> str:
    """Say how closely both edges are known, and by how many cells."""
    young, old, n = edges.young_edge_h, edges.old_edge_h, edges.n_answers
    spans = (
        f"After {n} cells: the youngest you take lies most likely within {sure_text(young)}, "
        f"the oldest within {sure_text(old)}."
    )
    if edges.is_known_to(_KNOWN_H):
        return spans
    return f"{spans} Measure again on another day to see it more closely."


class EdgeStrip(QWidget):
    """The hours after hatching with the youngest and the oldest taken.

    Parameters
    ----------
    dressing : Dressing
        The present look.
    """

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self._dressing = dressing
        self._edges: EdgePosterior | None = None
        self._limits = Limits()
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        dressing.changed.connect(self.updateGeometry)

    def show_edges(self, edges: EdgePosterior, limits: Limits) -> None:
        """Show other edges."""
        self._edges, self._limits = edges, limits
        title, words = line_words(edges, limits)
        self.setAccessibleName(f"{title} {words} {sure_words(edges)}")
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Return the height that both bars need."""
        return QSize(640, round(edges_height_px(self._dressing.text_px)) + 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw both bars over the hours."""
        del event
        if self._edges is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        draw_edges(
            painter,
            QRectF(self.rect()),
            self._edges.young_edge_h,
            self._edges.old_edge_h,
            limits=self._limits,
            inks=self._dressing.inks,
            text_px=self._dressing.text_px,
        )
