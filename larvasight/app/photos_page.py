"""My photos: open a photo of comb, see what was found in it and why."""

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QImage, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QMessageBox,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.asking import ask_yes
from larvasight.app.comb_frame import CombFrame
from larvasight.app.comb_places import places_of
from larvasight.app.context import Context
from larvasight.app.images import image_of
from larvasight.app.jobs import Job
from larvasight.app.photos_bar import PhotosBar
from larvasight.app.photos_hand import PhotosHand
from larvasight.app.photos_notice import PhotosNotice
from larvasight.app.photos_opening import PhotosOpening
from larvasight.app.photos_saving import save_marked
from larvasight.app.photos_set import PhotosSet
from larvasight.app.photos_side import PhotosSide
from larvasight.desk import own_photos
from larvasight.desk.hand_cells import guess_of
from larvasight.desk.own_photos import MeasuredPhoto, first_to_look_at, nearest_cell
from larvasight.desk.why import why_measured
from larvasight.errors import LarvasightError
from larvasight.grading import grade_sheet
from larvasight.paper.marks import BY_HAND_MARK, mark_of, marks_in
from larvasight.sheet import Cell, ScaleSource, Sheet
from larvasight.vision.scale import ScaleGuess

if TYPE_CHECKING:
    from larvasight.desk.hand_cells import ByHandLattice
    from larvasight.records.types import Photo as KeptPhoto

_KINDS = "Photos (*.jpg *.jpeg *.png *.webp *.tif *.tiff *.heic *.heif);;All files (*)"

_FILE_STAYS = "Your own file stays where it is."


class PhotosPage(QWidget):
    """The page of own photos."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._photo: MeasuredPhoto | None = None
        self._bare: Path | None = None
        self._image = QImage()
        self._pages = QStackedWidget()
        self._notice = PhotosNotice(open_photos=self.ask_for_photos, stop=self._stop)
        self._frame = CombFrame(context.dressing, context.loupe)
        self.comb = self._frame.comb
        self.side = PhotosSide(context.dressing)
        self.bar = PhotosBar(
            open_photos=self.ask_for_photos,
            measure_again=lambda: self._measure_again(self._guess()),
            save_marked=self.save_marked,
            forget=self._ask_forget,
        )
        self.bar.chosen.connect(self._open_kept)
        self.hand = PhotosHand(self, context, self.comb)
        self.set = PhotosSet(self, context, self.hand)
        self.opening = PhotosOpening(context, self._guess)
        self._lay_out()
        self._connect()

    def _connect(self) -> None:
        hand, opening = self.hand, self.opening
        hand.changed.connect(self._show_put_right)
        hand.tried.connect(self._show_cell)
        hand.scaled.connect(self._measure_again)
        hand.cells.wanted.connect(self._move_cells)
        hand.cells.laid.connect(self._lay)
        hand.cells.left.connect(self._show_what_was)
        hand.cells.stopped.connect(opening.stop)
        self.set.changed.connect(self._show_again)
        self.side.known_age.connect(self.set.ask_age)
        self.side.practise.connect(self.set.ask_practise)
        opening.began.connect(self._say_busy)
        opening.measured.connect(self._measured)
        opening.moved.connect(self._moved)
        opening.not_moved.connect(lambda error: self.hand.cells.not_measured(str(error)))
        opening.ended.connect(self._say_failed)
        opening.not_opened.connect(self._not_opened)
        self._context.learner_changed.connect(self._grade_again)
        self._context.leaving.connect(hand.leave)
        self._context.leaving.connect(opening.finish)
        for change in (hand.changed, self.set.changed, opening.measured, opening.moved):
            change.connect(lambda *_: self._context.own_photos_changed.emit())

    def _lay_out(self) -> None:
        below = QHBoxLayout()
        below.setSpacing(0)
        below.addWidget(self._pages, 1)
        below.addWidget(self.side)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.bar)
        layout.addWidget(self.hand.strip)
        layout.addLayout(below, 1)
        self._pages.addWidget(self._notice)
        self._pages.addWidget(self._frame)
        self.comb.cell_pressed.connect(self._show_why)
        self.comb.cell_reached.connect(self._show_why)
        self.setAcceptDrops(True)

    @property
    def measured(self) -> MeasuredPhoto | None:
        """The photo that is shown, None while there is none."""
        return self._photo

    def arrive(self) -> None:
        """Show what is there; called when the page is gone to."""
        self._show_list()
        if self._photo is None and self._job is None:
            self._say_empty()

    def ask_for_photos(self) -> None:
        """Let the person choose photo files."""
        names, _ = QFileDialog.getOpenFileNames(
            self, "Open photos", self._context.settings.photo_folder, _KINDS
        )
        if names:
            self._context.settings.photo_folder = str(Path(names[0]).parent)
            self.open_photos([Path(name) for name in names])

    def open_photos(self, paths: list[Path]) -> None:
        """Measure photos one after the other; the last good one is shown."""
        self.opening.open(paths)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the column beside the photo within the page."""
        super().resizeEvent(event)
        self.side.fit_to(self.width())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Put the chosen cell right, take back, leave what is in hand."""
        if (self._job is not None and not self.hand.cells.is_in_hand) or not self.hand.key(event):
            super().keyPressEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files that are dragged in."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open files that are dropped."""
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if paths:
            event.acceptProposedAction()
            self.open_photos(paths)

    def save_marked(self) -> None:
        """Ask for a file and save the photo with everything found drawn over it."""
        marks = self.hand.marks
        if self._photo is not None and marks is not None:
            save_marked(self, self._photo.pixels, marks.sheet, marks.marks)

    def _guess(self) -> ScaleGuess:
        pitch_mm = self.bar.pitch_mm
        if pitch_mm is None:
            return ScaleGuess()
        return ScaleGuess(pitch_mm=pitch_mm, source=ScaleSource.GIVEN)

    @property
    def _job(self) -> Job | None:
        """What is done beside the window now."""
        return self.opening.job

    def _measured(self, photo: MeasuredPhoto) -> None:
        self.hand.cells.settle()
        # Other ages may be wanted by now than when the measuring began.
        self._show(replace(photo, sheet=grade_sheet(photo.sheet, self._context.limits)))
        self._show_list()

    def _moved(self, photo: MeasuredPhoto) -> None:
        """Show the photo's cells where they were moved to, seen as it is."""
        shown = self._photo
        if shown is None or shown.sheet.photo.sha256 != photo.sheet.photo.sha256:
            return
        place = self.comb.place
        was_at = None if place is None else self._put_right.cells[place].centre_xy_px
        self._photo = replace(photo, sheet=grade_sheet(photo.sheet, self._context.limits))
        sheet = self.hand.go_on(self._photo.sheet)
        self.comb.put_cells(places_of(sheet), sheet.lattice.row_angle_deg)
        self.comb.show_cells(not self.hand.cells.is_in_hand)
        self._show_faces(sheet)
        index = first_to_look_at(sheet) if was_at is None else nearest_cell(sheet, was_at)
        if index is not None:
            self.comb.set_place(index)
            self._explain(index, sheet.cells[index])

    def _say_failed(self) -> None:
        opening = self.opening
        if not opening.failed:
            return
        words, without_comb = "\n".join(opening.failed[:8]), opening.without_comb
        is_only = len(opening.failed) == 1
        opening.failed = []
        if self._photo is not None and not (is_only and without_comb):
            self._pages.setCurrentWidget(self._frame)
            QMessageBox.information(self, "Not every photo could be used", words)
            return
        lay = partial(self._lay_first, without_comb) if is_only and without_comb else None
        self._notice.say_failed(words, lay)
        self._pages.setCurrentWidget(self._notice)

    def _say_empty(self) -> None:
        self._notice.say_empty()
        self._pages.setCurrentWidget(self._notice)

    def _say_busy(self, title: str) -> None:
        self._notice.say_busy(title)
        self._pages.setCurrentWidget(self._notice)

    def _stop(self) -> None:
        self.opening.stop()
        self._show_what_was()

    def _show_what_was(self) -> None:
        """Show the photo that was shown before, or what to do first."""
        if self._photo is None:
            self.hand.end()
            self._say_empty()
        elif self.comb.n_cells:
            self._pages.setCurrentWidget(self._frame)
        else:  # another photo was in the view
            self._show(self._photo)

    def _open_kept(self, sha256: str) -> None:
        photo = self._kept(sha256)
        shown = self._photo.sheet.photo.sha256 if self._photo is not None else ""
        if photo is not None and self._job is None and sha256 != shown:
            self.opening.open_kept(photo)

    def _not_opened(self, photo: "KeptPhoto", error: LarvasightError) -> None:
        words = f"{error} Remove {photo.name} from the list?"
        if ask_yes(self, f"{photo.name} cannot be opened", words, yes="Remove"):
            own_photos.forget_photo(self._context.store, self._context.folder, photo)
        self._show_list()
        self._show_what_was()

    def _measure_again(self, guess: ScaleGuess) -> None:
        photo = self._kept_shown()
        if photo is not None:
            self.opening.measure_again(photo, guess)

    def _move_cells(self, by_hand: "ByHandLattice | None") -> None:
        photo, shown = self._kept_shown(), self._photo
        if photo is not None and shown is not None:
            self.opening.move_cells(photo, by_hand, guess_of(shown.sheet.scale))

    def _lay_first(self, path: Path) -> None:
        """Show a photo in which no comb was found, to lay its cells by hand."""
        self._say_busy(f"Opening {path.name} ...")
        self.opening.show_bare(path, self._show_bare)

    def _show_bare(self, image: QImage, path: Path) -> None:
        self._bare = path
        self.side.hide()
        self._pages.setCurrentWidget(self._frame)
        self._frame.legend.show_marks([])
        self.hand.lay_first(image)

    def _lay(self, clicks: tuple[tuple[float, float], tuple[float, float]]) -> None:
        """Measure a photo from two cells that were pointed at."""
        if self._job is not None:
            return
        photo = self._kept_shown()
        if self.hand.cells.is_laying_first and self._bare is not None:
            self.opening.lay(self._bare, clicks)
        elif photo is not None:
            path = own_photos.kept_path(self._context.folder, photo)
            scale = None if self._photo is None else self._photo.sheet.scale
            guess = None if scale is None else guess_of(scale)
            self.opening.lay(path, clicks, name=photo.name, guess=guess)

    def _kept_shown(self) -> "KeptPhoto | None":
        return None if self._photo is None else self._kept(self._photo.sheet.photo.sha256)

    def _ask_forget(self) -> None:
        photo = self._kept_shown()
        if photo is None or self._job is not None:
            return
        ask = f"Remove {photo.name} from larvasight?"
        words = " ".join(filter(None, (ask, self.set.lost_words, _FILE_STAYS)))
        if not ask_yes(self, "Remove photo", words, yes="Remove"):
            return
        try:
            own_photos.forget_photo(self._context.store, self._context.folder, photo)
        except LarvasightError as error:
            QMessageBox.warning(self, "Remove photo", str(error))
            return
        self._context.own_photos_changed.emit()
        self._photo = None
        self.hand.end()
        self.comb.clear()
        self.side.hide()
        self.bar.show_nothing()
        self.arrive()

    def _grade_again(self) -> None:
        """Judge the photo by the ages that are wanted now."""
        photo = self._photo
        if photo is None:
            return
        sheet = grade_sheet(photo.sheet, self._context.limits)
        if sheet != photo.sheet:
            at = self._pages.currentIndex()
            self._show(replace(photo, sheet=sheet))
            self._pages.setCurrentIndex(at)

    def _show_list(self) -> None:
        open_now = self._photo.sheet.photo.sha256 if self._photo is not None else ""
        self.bar.show_list(self._context.store.photos(), open_now)

    def _kept(self, sha256: str) -> "KeptPhoto | None":
        return next((p for p in self._context.store.photos() if p.sha256 == sha256), None)

    @property
    def _put_right(self) -> Sheet:
        """The sheet of the photo that is shown, as marks by hand make it."""
        marks = self.hand.marks
        if marks is None:
            msg = "a photo must be shown, but none is"
            raise ValueError(msg)
        return marks.sheet

    def _show(self, photo: MeasuredPhoto) -> None:
        sheet = self.hand.begin(photo.sheet)
        self._photo = photo
        self._image = image_of(photo.pixels)
        scale = sheet.scale.px_per_mm
        angle_deg = sheet.lattice.row_angle_deg
        self.comb.show_comb(self._image, places_of(sheet), angle_deg, px_per_mm=scale)
        self._pages.setCurrentWidget(self._frame)
        self.bar.show_photo(sheet)
        self._show_faces(sheet)
        first = first_to_look_at(sheet)
        if first is not None:
            self._show_why(first)
        self.hand.cells.go_on()
        if self.isVisible():
            self.comb.setFocus(Qt.FocusReason.OtherFocusReason)

    def _show_faces(self, sheet: Sheet) -> None:
        for index, cell in enumerate(sheet.cells):
            self.comb.set_face(index, self.hand.face_of(index, cell))
        self._show_sums()

    def _show_again(self) -> None:
        """Show anew what is said of the photo and its cell: its age or its use changed."""
        self._show_faces(self._put_right)
        if self.comb.place is not None:
            self._explain(self.comb.place, self._put_right.cells[self.comb.place])

    def _show_sums(self) -> None:
        sheet, marks = self._put_right, self.hand.marks
        by_hand = [BY_HAND_MARK] if marks is not None and marks.marks else []
        self._frame.legend.show_marks([*marks_in(sheet), *by_hand])
        self.side.show_photo(sheet)
        self.side.show_set(self.set.age_words, self.set.practice_words)

    def _show_why(self, index: int) -> None:
        if self._photo is None:
            return
        # First: a line of another cell that is let go shows that cell once more.
        self.hand.chosen(index)
        self.comb.set_place(index)
        self._explain(index, self._put_right.cells[index])

    def _explain(self, index: int, cell: Cell) -> None:
        why = self.set.with_known(why_measured(cell, self._put_right), cell)
        limits, words = self._context.limits, self.hand.words_on(index)
        self.side.show_why(self._image, why, mark_of(cell), limits, by_hand=words)

    def _show_cell(self, index: int, cell: Cell) -> None:
        """Show one cell anew where it is, nearer or not."""
        self.comb.set_face(index, self.hand.face_of(index, cell))
        self.comb.set_body(index, cell.outline_xy_px, cell.midline_xy_px)
        self._explain(index, cell)

    def _show_put_right(self, index: int) -> None:
        if self._photo is None:
            return
        self._show_sums()
        self._show_cell(index, self._put_right.cells[index])
        self._show_why(index)
