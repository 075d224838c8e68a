"""My photos: open a photo of comb, see what was found in it and why."""

import math
from collections import deque
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

from larvasight.app.asking import ask_save_path, ask_yes, tell_saved
from larvasight.app.comb_frame import CombFrame
from larvasight.app.comb_view import CellPlace
from larvasight.app.context import Context
from larvasight.app.images import image_of
from larvasight.app.jobs import Job
from larvasight.app.parts import Notice, button
from larvasight.app.photos_bar import PhotosBar
from larvasight.app.photos_hand import PhotosHand
from larvasight.app.photos_side import PhotosSide
from larvasight.desk import own_photos
from larvasight.desk.own_photos import MeasuredPhoto
from larvasight.desk.why import why_measured
from larvasight.errors import LarvasightError
from larvasight.grading import grade_sheet
from larvasight.paper.marks import BY_HAND_MARK, mark_of, marks_in
from larvasight.sheet import Cell, Content, ScaleSource, Sheet
from larvasight.vision.scale import ScaleGuess

if TYPE_CHECKING:
    from larvasight.records.types import Photo as KeptPhoto

_KINDS = "Photos (*.jpg *.jpeg *.png *.webp *.tif *.tiff *.heic *.heif);;All files (*)"
_CAUTION = (
    "The picture cannot show disease: brood that is yellow, brown, sunken or smells means stop, "
    "and ask your bee inspector."
)


class PhotosPage(QWidget):
    """The page of own photos."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._waiting: deque[Path] = deque()
        self._n_asked = 0
        self._failed: list[str] = []
        self._job: Job | None = None
        self._photo: MeasuredPhoto | None = None
        self._image = QImage()
        self._pages = QStackedWidget()
        self._notice = Notice()
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
        self.hand.changed.connect(self._show_put_right)
        self.hand.tried.connect(self._show_cell)
        self.hand.scaled.connect(self._measure_again)
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
        context.learner_changed.connect(self._grade_again)

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
        if not self._waiting and self._job is None:
            self._n_asked, self._failed = 0, []
        self._waiting.extend(paths)
        self._n_asked += len(paths)
        self._measure_next()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the column beside the photo within the page."""
        super().resizeEvent(event)
        self.side.fit_to(self.width())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Put the chosen cell right, take back, leave what is in hand."""
        if self._job is not None or not self.hand.key(event):
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
        from larvasight.paper.marked import save_marked_picture

        photo = self._photo
        if photo is None:
            return
        stem = Path(photo.sheet.photo.name).stem
        path = ask_save_path(
            self, "Save marked picture", f"{stem}-marked.png", "PNG (*.png)", ".png"
        )
        if path is None:
            return
        try:
            save_marked_picture(path, photo.pixels, self._put_right)
        except LarvasightError as error:
            QMessageBox.warning(self, "Save marked picture", str(error))
        else:
            tell_saved(self, "Save marked picture", path)

    def _guess(self) -> ScaleGuess:
        pitch_mm = self.bar.pitch_mm
        if pitch_mm is None:
            return ScaleGuess()
        return ScaleGuess(pitch_mm=pitch_mm, source=ScaleSource.GIVEN)

    def _measure_next(self) -> None:
        if self._job is not None:
            return
        if not self._waiting:
            self._say_failed()
            return
        path = self._waiting.popleft()
        at = self._n_asked - len(self._waiting)
        of = f" {at} of {self._n_asked}" if self._n_asked > 1 else ""
        self._say_busy(f"Measuring{of}: {path.name} ...")
        context = self._context
        work = partial(
            own_photos.keep_photo,
            *(context.store, context.folder, path),
            guess=self._guess(),
            limits=context.limits,
            now=context.now(),
        )
        self._job = Job(work, self._measured, partial(self._not_measured, path)).start()

    def _measured(self, photo: MeasuredPhoto) -> None:
        self._job = None
        # Other ages may be wanted by now than when the measuring began.
        self._show(replace(photo, sheet=grade_sheet(photo.sheet, self._context.limits)))
        self._show_list()
        self._measure_next()

    def _not_measured(self, path: Path, error: LarvasightError) -> None:
        self._job = None
        sentence = str(error)
        self._failed.append(sentence if path.name in sentence else f"{path.name}: {sentence}")
        self._measure_next()

    def _say_failed(self) -> None:
        if not self._failed:
            return
        words = "\n".join(self._failed[:8])
        self._failed = []
        if self._photo is not None:
            self._pages.setCurrentWidget(self._frame)
            QMessageBox.information(self, "Not every photo could be used", words)
            return
        again = button("Open photos ...", self.ask_for_photos, "main")
        self._notice.say("That photo could not be used", words, again)
        self._pages.setCurrentWidget(self._notice)

    def _say_empty(self) -> None:
        again = button("Open photos ...", self.ask_for_photos, "main")
        words = (
            "Open photos of brood comb, or drop them here. Take them straight down the cells, "
            "sharp at the floors, close enough that few cells fill the picture. Every cell found "
            f"is measured; what cannot be told is said. {_CAUTION}"
        )
        self._notice.say("Measure your own comb", words, again)
        self._pages.setCurrentWidget(self._notice)

    def _say_busy(self, title: str) -> None:
        words = "A large photo takes some seconds. You can go on practising meanwhile."
        self._notice.say(title, words, button("Stop", self._stop))
        self._pages.setCurrentWidget(self._notice)

    def _stop(self) -> None:
        self._waiting.clear()
        if self._job is not None:
            self._job.forget()
            self._job = None
        if self._photo is None:
            self._say_empty()
        else:
            self._pages.setCurrentWidget(self._frame)

    def _open_kept(self, sha256: str) -> None:
        photo = self._kept(sha256)
        shown = self._photo.sheet.photo.sha256 if self._photo is not None else ""
        if photo is None or self._job is not None or sha256 == shown:
            return
        self._say_busy(f"Opening {photo.name} ...")
        context = self._context
        work = partial(
            own_photos.open_kept, context.store, context.folder, photo, limits=context.limits
        )
        self._job = Job(work, self._measured, partial(self._not_opened, photo)).start()

    def _not_opened(self, photo: "KeptPhoto", error: LarvasightError) -> None:
        self._job = None
        words = f"{error} Remove {photo.name} from the list?"
        if ask_yes(self, f"{photo.name} cannot be opened", words):
            own_photos.forget_photo(self._context.store, self._context.folder, photo)
        self._show_list()
        if self._photo is None:
            self._say_empty()
        else:
            self._pages.setCurrentWidget(self._frame)

    def _measure_again(self, guess: ScaleGuess) -> None:
        if self._photo is None or self._job is not None:
            return
        photo = self._kept(self._photo.sheet.photo.sha256)
        if photo is None:
            return
        self._say_busy(f"Measuring {photo.name} again ...")
        context = self._context
        work = partial(
            own_photos.measure_again,
            *(context.store, context.folder, photo),
            guess=guess,
            limits=context.limits,
        )
        self._job = Job(work, self._measured, partial(self._not_measured, Path(photo.name))).start()

    def _ask_forget(self) -> None:
        if self._photo is None or self._job is not None:
            return
        photo = self._kept(self._photo.sheet.photo.sha256)
        if photo is None:
            return
        words = f"Remove {photo.name} from larvasight? Your own file stays where it is."
        if not ask_yes(self, "Remove photo", words):
            return
        try:
            own_photos.forget_photo(self._context.store, self._context.folder, photo)
        except LarvasightError as error:
            QMessageBox.warning(self, "Remove photo", str(error))
            return
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
        places = [
            CellPlace(
                centre_xy_px=cell.centre_xy_px,
                pitch_px=cell.px_per_mm * sheet.scale.pitch_mm,
                outline_xy_px=cell.outline_xy_px,
                midline_xy_px=cell.midline_xy_px,
            )
            for cell in sheet.cells
        ]
        scale = sheet.scale.px_per_mm
        self.comb.show_comb(self._image, places, sheet.lattice.row_angle_deg, px_per_mm=scale)
        for index, cell in enumerate(sheet.cells):
            self.comb.set_face(index, self.hand.face_of(index, cell))
        self._pages.setCurrentWidget(self._frame)
        self._show_sums()
        self.bar.show_photo(sheet)
        first = _first_cell(sheet)
        if first is not None:
            self._show_why(first)
        if self.isVisible():
            self.comb.setFocus(Qt.FocusReason.OtherFocusReason)

    def _show_sums(self) -> None:
        sheet, marks = self._put_right, self.hand.marks
        by_hand = [BY_HAND_MARK] if marks is not None and marks.marks else []
        self._frame.legend.show_marks([*marks_in(sheet), *by_hand])
        self.side.show_photo(sheet)

    def _show_why(self, index: int) -> None:
        if self._photo is None:
            return
        # First: a line of another cell that is let go shows that cell once more.
        self.hand.chosen(index)
        self.comb.set_place(index)
        self._explain(index, self._put_right.cells[index])

    def _explain(self, index: int, cell: Cell) -> None:
        why = why_measured(cell, self._put_right)
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


def _first_cell(sheet: Sheet) -> int | None:
    """Return the first larva with an age, else the first larva, else the cell in the middle."""
    cells = sheet.cells
    larvae = [k for k, cell in enumerate(cells) if cell.content is Content.LARVA]
    aged = [k for k in larvae if cells[k].age_h is not None]
    if larvae:
        return (aged or larvae)[0]
    middle = (sheet.photo.width_px / 2.0, sheet.photo.height_px / 2.0)
    away = [math.dist(cell.centre_xy_px, middle) for cell in cells]
    return away.index(min(away)) if away else None
