"""Grafts: the record of real grafts, from the bench to the laying queen."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QFileDialog, QMessageBox, QStackedWidget, QVBoxLayout, QWidget
from shiboken6 import isValid

from larvasight.app.asking import ask_save_path, ask_yes, tell_saved
from larvasight.app.context import Context
from larvasight.app.grafts_batch import BatchView
from larvasight.app.grafts_bench import Bench
from larvasight.app.grafts_form import BatchForm
from larvasight.app.grafts_list import BatchList
from larvasight.app.grafts_told import ToldView
from larvasight.app.jobs import Job
from larvasight.app.parts import Notice, button
from larvasight.desk.grafting import Kept, Told, eye_and_takes, kept, tell
from larvasight.desk.grafts_table import BroughtIn, bring_in, save_grafts_table
from larvasight.desk.reporting import local_zone
from larvasight.errors import LarvasightError
from larvasight.grafts import Batch
from larvasight.grafts.acceptance import EyeDay
from larvasight.grafts.words import batch_words

if TYPE_CHECKING:
    from larvasight.records.store import Store


class GraftsPage(QWidget):
    """Goes between the list, one batch, its form, the bench and what the grafts say.

    What is shown is what the records hold or will hold: every change goes to the thread that
    writes, and a cup's mark is drawn as kept only after it is on the disk.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._job: Job | None = None
        self._kept: Kept | None = None
        self._is_stale = False
        self._pages = QStackedWidget()
        self._notice = Notice()
        self.list = BatchList()
        self.batch = BatchView(context)
        self.form = BatchForm(context)
        self.bench = Bench(context)
        self.told = ToldView(context)
        for page in (self._notice, self.list, self.batch, self.form, self.bench, self.told):
            self._pages.addWidget(page)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self._pages)
        self._connect()
        back = QShortcut(QKeySequence("Esc"), self)
        back.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        back.activated.connect(self._go_back)
        context.learner_changed.connect(self._forget)

    def arrive(self) -> None:
        """Read the batches anew; called when the page is gone to."""
        if self._is_among(self.form, self.bench):
            return  # what is typed or counted stays
        if self._kept is None:
            self._notice.say("Reading your grafts ...", "")
            self._pages.setCurrentWidget(self._notice)
        self._read(self._show_arrived)

    def show_list(self) -> None:
        """Show all batches, or what to do first where there is none."""
        if self._kept is None or self._is_stale:
            self._is_stale = False
            self._kept = None
            self._pages.setCurrentWidget(self._notice)
            self.arrive()
            return
        if not self._kept.batches:
            first = button("Note a batch", self.note_batch, "main")
            self._notice.say(
                "No grafts noted yet",
                "Note a batch after grafting, then mark each cup as it comes along: accepted, "
                "capped, emerged, mated, laying. Then this page tells where queens are lost.",
                first,
                button("At the bench", self.go_to_bench),
                button("Bring in a table (CSV) ...", self.read_table),
            )
            self._pages.setCurrentWidget(self._notice)
            first.setFocus()
            return
        self.list.show_bench(self.bench.minutes)
        self.list.show_batches(self._kept.batches)
        self._pages.setCurrentWidget(self.list)
        self.list.list.setFocus()

    def note_batch(self, **known: str) -> None:
        """Ask for a new batch."""
        if self._kept is not None:
            self.form.ask_new(self._kept, **known)
            self._pages.setCurrentWidget(self.form)

    def go_to_bench(self) -> None:
        """Show the bench."""
        self._pages.setCurrentWidget(self.bench)
        self.bench.setFocus()

    def show_told(self) -> None:
        """Work out what the grafts say, and show it."""
        if self._kept is None:
            return
        store, batches = self._context.store, self._kept.batches
        learner = self._context.learner

        def work() -> tuple[Told, list[EyeDay]]:
            eye = eye_and_takes(store, batches, learner.id) if learner is not None else []
            return tell(batches), eye

        def show(found: tuple[Told, list[EyeDay]]) -> None:
            self._job = None
            self.told.show_told(*found)
            self._pages.setCurrentWidget(self.told)

        self._notice.say("Working out what your grafts say ...", "")
        self._pages.setCurrentWidget(self._notice)
        self._start(work, show)

    def open_batch(self, batch: Batch) -> None:
        """Show one batch with its bar."""
        self.batch.show_batch(batch)
        self._pages.setCurrentWidget(self.batch)
        self.batch.bar.setFocus()

    def save_table(self) -> None:
        """Ask for a file and write all batches as CSV."""
        title = "Save as a table"
        path = ask_save_path(self, title, "larvasight grafts.csv", "CSV (*.csv)", ".csv")
        if path is None:
            return
        self._context.keeper.flush(3.0)
        try:
            save_grafts_table(self._context.store, path)
        except LarvasightError as error:
            QMessageBox.warning(self, title, str(error))
        else:
            tell_saved(self, title, path)

    def read_table(self) -> None:
        """Ask for a CSV file and bring its batches in, all or none."""
        title = "Bring in a table"
        name, _ = QFileDialog.getOpenFileName(self, title, "", "CSV (*.csv)")
        if not name:
            return
        store, now = self._context.store, self._context.now()

        def told(brought: BroughtIn) -> None:
            self._job = None
            self._read(self._show_arrived)
            QMessageBox.information(self, title, _brought_words(brought))

        def failed(error: LarvasightError) -> None:
            self._job = None
            QMessageBox.warning(self, title, str(error))
            self.show_list()

        self._notice.say("Bringing in the table ...", "")
        self._pages.setCurrentWidget(self._notice)
        work = partial(bring_in, store, Path(name), now=now, zone=local_zone())
        self._start(work, told, failed)

    def _connect(self) -> None:
        self.list.opened.connect(self.open_batch)
        self.list.new_pressed.connect(self.note_batch)
        self.list.bench_pressed.connect(self.go_to_bench)
        self.list.told_pressed.connect(self.show_told)
        self.list.save_pressed.connect(self.save_table)
        self.list.read_pressed.connect(self.read_table)
        self.batch.back_pressed.connect(self.show_list)
        self.batch.change_pressed.connect(self._change_batch)
        self.batch.delete_pressed.connect(self._delete_batch)
        self.batch.changed.connect(self._keep_mark)
        self.form.saved.connect(self._keep_form)
        self.form.given_up.connect(self.show_list)
        self.bench.done.connect(self._note_bench)
        self.bench.given_up.connect(self.show_list)
        self.told.back_pressed.connect(self.show_list)

    def _go_back(self) -> None:
        """Go back to the list; what is typed in a form is only left by its own buttons."""
        if not self._is_among(self.form, self.list):
            self.show_list()

    def _is_among(self, *pages: QWidget) -> bool:
        return self._kept is not None and self._pages.currentWidget() in pages

    def _read(self, show: Callable[[Kept], None]) -> None:
        store, keeper = self._context.store, self._context.keeper

        def work() -> Kept:
            keeper.flush(3.0)  # what is in line belongs to what is read
            return kept(store)

        self._start(work, show)

    def _start(
        self,
        work: Callable[[], object],
        show: Callable[..., None],
        failed: Callable[[LarvasightError], None] | None = None,
    ) -> None:
        if self._job is not None:
            self._job.forget()
        self._job = Job(work, show, failed or self._fail).start()

    def _show_arrived(self, found: Kept) -> None:
        self._job = None
        self._kept = found
        shown = self.batch.batch
        again = next((b for b in found.batches if shown is not None and b.id == shown.id), None)
        if self._pages.currentWidget() is self.batch and again is not None:
            return
        self.show_list()

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        self._notice.say(
            "Your grafts cannot be read now", str(error), button("Try again", self._again, "main")
        )
        self._pages.setCurrentWidget(self._notice)

    def _again(self) -> None:
        self._kept = None
        self.arrive()

    def _forget(self) -> None:
        """Read anew: the learners that grafts can be noted under may have changed."""
        if self._is_among(self.form, self.bench):
            self._is_stale = True  # what is typed or counted stays until it is done
            return
        self._kept = None
        if self.isVisible() and self._context.learner is not None:
            self.arrive()

    def _keep_mark(self, batch: Batch, number: int) -> None:
        self._put(batch, partial(self.batch.stored, batch, number))

    def _keep_form(self, batch: Batch) -> None:
        self.open_batch(batch)
        self._put(batch, partial(self.batch.stored, batch, 0))  # no single cup waits for it

    def _put(self, batch: Batch, stored: Callable[[], None]) -> None:
        """Hand a batch to the thread that writes, and show it from now on."""
        now = self._context.now()

        def write(store: "Store") -> None:
            store.put_batches([batch], now=now)

        def tell() -> None:
            if isValid(self):  # after a backup was brought back there are other pages
                stored()

        self._context.keeper.hand(write, tell)
        if self._kept is not None:
            others = [other for other in self._kept.batches if other.id != batch.id]
            ordered = sorted([batch, *others], key=lambda each: each.grafted_at, reverse=True)
            self._kept = Kept(
                batches=tuple(ordered), plans=self._kept.plans, learners=self._kept.learners
            )

    def _change_batch(self) -> None:
        if self._kept is not None and self.batch.batch is not None:
            self.form.ask_change(self._kept, self.batch.batch)
            self._pages.setCurrentWidget(self.form)

    def _delete_batch(self) -> None:
        batch = self.batch.batch
        if batch is None or self._kept is None:
            return
        words = (
            f"Delete this batch ({batch_words(batch)}) and all that is noted of its cups? This "
            "cannot be taken back here; backups made before keep it."
        )
        if not ask_yes(self, "Delete a batch", words, yes="Delete"):
            return
        batch_id = batch.id
        self._context.keeper.hand(lambda store: store.remove_batch(batch_id), None)
        left = tuple(other for other in self._kept.batches if other.id != batch_id)
        self._kept = Kept(batches=left, plans=self._kept.plans, learners=self._kept.learners)
        self.show_list()

    def _note_bench(self, minutes: float, n_cups: int, began: datetime) -> None:
        local = began.astimezone(local_zone())
        self.note_batch(
            day=local.date().isoformat(),
            time=local.strftime("%H:%M"),
            out_min=f"{minutes:g}",
            n_cups=str(n_cups or 20),
        )


def _brought_words(brought: BroughtIn) -> str:
    told = f"Brought in: {brought.n_batches} batches with {brought.n_cups} cups."
    if brought.n_there_already:
        told += f" There already, and left as they are: {brought.n_there_already}."
    return told
