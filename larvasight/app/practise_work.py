"""The comb and the column beside it, while a drill is worked on."""

from collections.abc import Callable, Sequence

from PySide6.QtWidgets import QHBoxLayout, QWidget

from larvasight.app.cell_item import Face
from larvasight.app.comb_frame import CombFrame
from larvasight.app.comb_supply import ReadyComb
from larvasight.app.context import Context
from larvasight.app.dressing import Dressing
from larvasight.app.loupe import Loupe
from larvasight.app.practise_side import PractiseSide
from larvasight.app.practise_words import LOOK_FOR, said_words, span_words
from larvasight.app.told import cells_words, comb_words, first_to_look_at, marks_told, told_face
from larvasight.desk.practising import Session
from larvasight.grading import Limits
from larvasight.paper.marks import OUTCOME_MARKS, Mark
from larvasight.practice import Answer, Shows
from larvasight.practice.own_combs import Half

BARE = Face()
_KEPT_APART = "Which cells these were is not told: they are kept for the next test."


class PractiseWork(QWidget):
    """Puts a comb and what is said of it before the learner.

    Parameters
    ----------
    dressing, loupe : Dressing, Loupe
        The present look, and the loupe shared with other views.
    side : PractiseSide
        The column beside the comb.
    """

    def __init__(self, dressing: Dressing, loupe: Loupe, side: PractiseSide) -> None:
        super().__init__()
        self._frame = CombFrame(dressing, loupe)
        self.comb, self._legend = self._frame.comb, self._frame.legend
        self.side = side
        # Which comb of a lesson it is, empty for any other.
        self.lesson_words = ""
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self._frame, 1)
        row.addWidget(side)

    def fit_to(self, width_px: int, height_px: int) -> float:
        """Fit into a page of this size; return the width over height left to the comb."""
        self.side.fit_to(width_px)
        return (width_px - self.side.width()) / max(height_px - self._frame.foot_px, 1)

    def show_comb(self, ready: ReadyComb) -> None:
        """Put another comb before the learner, with nothing marked on it."""
        self._legend.show_marks(())
        sheet, drill = ready.comb.sheet, ready.comb.drill
        self.comb.show_comb(
            ready.image,
            ready.places,
            sheet.lattice.row_angle_deg,
            veils_others=drill.shows is Shows.PATCH,
            px_per_mm=sheet.scale.px_per_mm,
            smaller=ready.smaller,
            scrolls=drill.is_side,
        )

    def show_marks(self, marks: Sequence[Mark]) -> None:
        """Name these signs in the line below the comb."""
        self._legend.show_marks(marks)

    def ask_patch(self, session: Session) -> None:
        """Ask a patch, all of its cells at once."""
        self.side.ask_patch(session.round.drill, LOOK_FOR, self._span_words(session))

    def ask_one(self, session: Session, index: int) -> None:
        """Ask one cell, brought near."""
        for other in range(self.comb.n_cells):
            self.comb.set_face(other, BARE)
        asked = session.round
        spans = self._span_words(session)
        self.side.ask_one(asked.drill, LOOK_FOR, spans, asked.n_answered + 1, asked.n_to_ask)
        self.comb.see_all()
        self.comb.look_closer(index)
        self.comb.set_place(index)
        self.comb.setFocus()

    def _span_words(self, session: Session) -> str:
        return f"{self.lesson_words} {span_words(session.limits)}".strip()

    def tell_patch(self, session: Session) -> int | None:
        """Mark what each answer to a patch was; return which cell is to be looked at first.

        Of a test only the sum is told: its cells are asked again some day.
        """
        if is_kept_apart(session):
            title, words = comb_words(session)
            self.side.tell(title, f"{words} {_KEPT_APART}".strip(), "Done", has_why=False)
            return None
        for index in range(len(session.comb.asked)):
            self.comb.set_face(index, told_face(session, index))
        self._legend.show_marks(marks_told(session))
        self.side.tell(*comb_words(session), "Next comb")
        first = first_to_look_at(session)
        self.comb.set_place(first)
        return first

    def show_why(self, session: Session, ready: ReadyComb, index: int) -> None:
        """Show of a cell that was told why its answer was right or wrong."""
        if is_kept_apart(session):
            return
        is_patch = session.round.drill.shows is Shows.PATCH
        if not is_patch and index != session.current_index:
            return
        self.comb.set_place(index)
        mark = OUTCOME_MARKS.get(session.outcome(index))
        said = said_of(session, index) if is_patch else ""
        self.side.why.show_why(ready.image, session.why(index), mark, session.limits, said)

    def tell_one(self, session: Session, index: int) -> None:
        """Mark what the answer to one cell was, and say so."""
        is_last = session.round.n_answered == session.round.n_to_ask
        self.comb.set_face(index, told_face(session, index))
        words = cells_words(session) if is_last else ""
        self.side.tell(said_of(session, index), words, "Next comb" if is_last else "Next cell")


def is_kept_apart(session: Session) -> bool:
    """Return whether the cells of a comb are for tests only, and never told."""
    return session.round.drill.own is Half.TEST


def said_of(session: Session, index: int) -> str:
    """Say what was answered of a cell and what that was; a cell never touched was left."""
    answer = session.round.answer_of(session.comb.asked[index].id)
    return said_words(answer or Answer.LEAVE, session.outcome(index))


def new_session(
    context: Context, ready: ReadyComb, limits: Limits, failed: Callable[[str], None]
) -> Session:
    """Return the session of a comb before the present learner; ValueError where there is none."""
    if context.learner is None:
        msg = "a session needs a learner"
        raise ValueError(msg)
    return Session(
        ready.comb,
        context.keeper,
        learner_id=context.learner.id,
        limits=limits,
        now=context.now,
        failed=failed,
    )
