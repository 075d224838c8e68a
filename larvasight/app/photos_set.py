"""What is known of the comb of a photo, and its use for practice."""

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QMessageBox, QWidget

from larvasight.app.context import Context
from larvasight.app.photos_age import AgeDialog
from larvasight.app.photos_hand import PhotosHand
from larvasight.app.photos_practice import PracticeDialog
from larvasight.desk.by_hand import ByHand
from larvasight.desk.known_age import AGAINST, disagreement, known_words
from larvasight.desk.own_photos import kept_path
from larvasight.desk.own_sets import Use, own_cells, use_words
from larvasight.desk.why import Why
from larvasight.errors import LarvasightError
from larvasight.sheet import Cell, Content


class PhotosSet(QObject):
    """The age and the use of the photo that is shown; ``changed`` tells that one changed.

    Parameters
    ----------
    page : QWidget
        Where questions belong.
    context : Context
        Records, clock and wanted ages.
    hand : PhotosHand
        Has the marks on the photo.
    """

    changed = Signal()

    def __init__(self, page: QWidget, context: Context, hand: PhotosHand) -> None:
        super().__init__(page)
        self._page, self._context, self._hand = page, context, hand

    @property
    def age_words(self) -> str:
        """What is known of the comb's age, empty where nothing is."""
        marks = self._hand.marks
        age = None if marks is None else marks.known_age
        return "" if age is None else known_words(age)

    @property
    def practice_words(self) -> str:
        """How the photo is used for practice, empty where it is not."""
        marks = self._hand.marks
        use = None if marks is None else self._use(marks)
        if use is None:
            return ""
        where = " Practise has them under On your own combs." if use.is_enough else ""
        return f"{use_words(use)}{where}"

    @property
    def lost_words(self) -> str:
        """What is lost for good with the photo, beside what was measured."""
        marks = self._hand.marks
        if marks is None:
            return ""
        n_marks = len(marks.marks) + len(marks.marks_elsewhere)
        lost = []
        if n_marks:
            lost.append(
                "1 cell put right by hand" if n_marks == 1 else f"{n_marks} cells put right"
            )
        if marks.measured.lattice.by_hand is not None:
            lost.append("where its cells were laid")
        if marks.known_age is not None:
            lost.append("the known age of its comb")
        if self._use(marks) is not None:
            lost.append("its practice set")
        if not lost:
            return ""
        listed = lost[0] if len(lost) == 1 else f"{', '.join(lost[:-1])} and {lost[-1]}"
        return f"{listed[0].upper()}{listed[1:]} will be lost."

    def with_known(self, why: Why, cell: Cell) -> Why:
        """Return what is shown of a cell together with what the comb's known age says of it."""
        marks = self._hand.marks
        known = None if marks is None else marks.known_range
        if known is None or cell.content is not Content.LARVA:
            return why
        known_h = (known.lo_h, known.hi_h) if known.has_larvae else None
        against = disagreement(cell, known)
        if not against:
            return replace(why, known_h=known_h)
        return replace(why, known_h=known_h, sentence=f"{AGAINST} {against} {why.sentence}")

    def ask_age(self) -> None:
        """Ask when the queen laid here and when the photo was taken."""
        marks = self._hand.marks
        if marks is None:
            return
        self._hand.leave()
        photo = next((p for p in self._context.store.photos() if p.sha256 == marks.sha256), None)
        path = None if photo is None else kept_path(self._context.folder, photo)
        dialog = AgeDialog(self._page, marks.known_age, path, self._context.now())
        if dialog.exec():
            self._keep(lambda: marks.set_known_age(dialog.age), "Known age of the comb")
        dialog.deleteLater()

    def ask_practise(self) -> None:
        """Ask whether the photo shall be practised on, and with which cells."""
        marks = self._hand.marks
        if marks is None:
            return
        self._hand.leave()
        dialog = PracticeDialog(self._page, marks, self._use(marks), self._context.limits)
        if dialog.exec():
            store, now = self._context.store, self._context.now()
            self._keep(lambda: dialog.keep(store, now), "Use for practice")
        dialog.deleteLater()

    def _use(self, marks: ByHand) -> Use | None:
        made = next(
            (m for m in self._context.store.practice_photos() if m.sha256 == marks.sha256), None
        )
        if made is None:
            return None
        limits, is_all = self._context.limits, made.is_all_checked
        cells = own_cells(marks, is_all_checked=is_all, limits=limits)
        return Use(cells=cells, sha256=marks.sha256, is_all_checked=is_all)

    def _keep(self, keep: Callable[[], object], title: str) -> None:
        try:
            keep()
        except LarvasightError as error:
            QMessageBox.warning(self._page, title, str(error))
            return
        self._hand.offer()
        self.changed.emit()
