"""Timetable: plans for batches of queens, what to do when, and what ages to expect."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

from PySide6.QtCore import QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QComboBox,
    QFrame,
    QHBoxLayout,
    QMessageBox,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from shiboken6 import isValid

from larvasight.app.asking import ask_save_path, ask_yes, tell_saved
from larvasight.app.context import Context
from larvasight.app.jobs import Job
from larvasight.app.parts import Notice, button, side_width_px
from larvasight.app.timetable_form import Draft, PlanForm, draft_of
from larvasight.app.timetable_view import PlanView
from larvasight.desk.reporting import local_zone
from larvasight.desk.timetabling import (
    KeptPlan,
    first_spec,
    keep_plan,
    kept_plans,
    named_plans,
    next_name,
    remove_plan,
    save_calendar,
    save_cell_list,
    save_grafting_sheet,
    save_lid_labels,
)
from larvasight.errors import LarvasightError
from larvasight.timetable import NamedPlan

if TYPE_CHECKING:
    from larvasight.records.store import Store

# The plan at the right follows what is typed this long after the last key.
_FOLLOW_MS = 200


class TimetablePage(QWidget):
    """Asks at the left, tells at the right.

    Every change that can be used goes to the thread that writes at once. What cannot be used is
    told beside its field and stays typed, also when another plan is looked at meanwhile.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._tz = local_zone()
        self._job: Job | None = None
        self._plans: list[KeptPlan] | None = None
        self._shown: UUID | None = None
        self._drafts: dict[UUID, Draft] = {}
        # Plans whose write has not begun, and writes that are not done.
        self._in_line: set[UUID] = set()
        self._n_pending = 0
        self._notice = Notice()
        self.form = PlanForm(self._tz, context.limits)
        self.form.changed.connect(self._changed)
        papers = (
            ("Grafting-day sheet ...", self.save_sheet),
            ("Calendar file ...", self.save_calendar),
            ("Lid labels ...", self.save_labels),
            ("Cell list ...", self.save_list),
        )
        self.view = PlanView(context, papers, self.save_all_calendars)
        self._pages = QStackedWidget()
        self._pages.addWidget(self._notice)
        self._work = self._work_page()
        self._pages.addWidget(self._work)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self._pages)
        self._follow = QTimer(self)
        self._follow.setSingleShot(True)
        self._follow.setInterval(_FOLLOW_MS)
        self._follow.timeout.connect(self._tell)
        context.learner_changed.connect(self._limits_changed)

    def arrive(self) -> None:
        """Read the plans anew where nothing is in line to be written."""
        if self._n_pending:
            self._tell()
            return
        if self._plans is None:
            self._notice.say("Reading your plans ...", "")
            self._pages.setCurrentWidget(self._notice)
        if self._job is not None:
            self._job.forget()
        store = self._context.store
        self._job = Job(lambda: kept_plans(store), self._show_read, self._fail).start()

    def plan_new(self) -> None:
        """Begin a plan; it is kept from the start."""
        names = [plan.name for plan in self._plans or []]
        spec = first_spec(self._context.now(), self._tz)
        made = KeptPlan(id=uuid4(), name=next_name(names), spec=spec)
        self._plans = [made, *(self._plans or [])]
        self._keep(made)
        self._open(made.id)
        self.form.ensureWidgetVisible(self.form.name)
        self.form.name.line.setFocus()
        self.form.name.line.selectAll()

    def delete_shown(self) -> None:
        """Ask, then take the plan that is shown out of the list."""
        plan = self._plan_shown()
        if plan is None or self._plans is None:
            return
        words = f"Take {plan.name} out of the timetable? This cannot be taken back."
        if not ask_yes(self, "Delete plan", words, yes="Delete"):
            return
        now = self._context.now()
        self._context.keeper.hand(lambda store: remove_plan(store, plan.id, now=now), None)
        self._plans = [other for other in self._plans if other.id != plan.id]
        self._drafts.pop(plan.id, None)
        self._shown = None
        self._show_plans()

    def named_shown(self) -> NamedPlan | None:
        """Return the plan that is shown, computed from what could last be used."""
        plan = self._plan_shown()
        found = named_plans([plan] if plan else [], self._tz, self._context.limits)
        return found[0] if found else None

    def save_calendar(self) -> None:
        """Ask for a file and write the plan as a calendar file."""
        now = self._context.now()
        self._save("Save calendar file", "ics", lambda n, p: save_calendar(p, [n], now=now))

    def save_all_calendars(self) -> None:
        """Ask for a file and write all plans as one calendar file."""
        now = self._context.now()
        every = named_plans(self._plans or [], self._tz, self._context.limits)
        self._save("Save calendar of all", "ics", lambda _n, p: save_calendar(p, every, now=now))

    def save_sheet(self) -> None:
        """Ask for a file and write the page for the day of grafting."""
        limits, today = self._context.limits, self._today()
        self._save(
            "Save grafting-day sheet",
            "pdf",
            lambda n, p: save_grafting_sheet(p, n, limits, made_on=today),
        )

    def save_labels(self) -> None:
        """Ask for a file and write the lid labels."""
        today = self._today()
        self._save("Save lid labels", "pdf", lambda n, p: save_lid_labels(p, n, made_on=today))

    def save_list(self) -> None:
        """Ask for a file and write the list of cells and nucs."""
        today = self._today()
        self._save("Save cell list", "pdf", lambda n, p: save_cell_list(p, n, made_on=today))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Give the form the width its words need."""
        super().resizeEvent(event)
        self._fit()

    def _work_page(self) -> QWidget:
        made = QWidget()
        row = QHBoxLayout(made)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        self._side = QFrame()
        self._side.setObjectName("plan")
        column = QVBoxLayout(self._side)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        top = QVBoxLayout()
        top.setContentsMargins(24, 16, 24, 8)
        top.setSpacing(8)
        self.chooser = QComboBox()
        self.chooser.setAccessibleName("Plan")
        self.chooser.activated.connect(self._chosen)
        top.addWidget(self.chooser)
        buttons = QHBoxLayout()
        buttons.addWidget(button("New plan", self.plan_new))
        buttons.addWidget(button("Delete ...", self.delete_shown))
        top.addLayout(buttons)
        column.addLayout(top)
        column.addWidget(self.form, 1)
        row.addWidget(self._side)
        row.addWidget(self.view, 1)
        self._context.dressing.changed.connect(self._fit)
        return made

    def _fit(self) -> None:
        self._side.setFixedWidth(side_width_px(self._context.dressing.text_px, self.width()))

    def _show_read(self, plans: list[KeptPlan]) -> None:
        self._job = None
        self._plans = plans
        self._show_plans()

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        self._notice.say(
            "Your plans cannot be read now", str(error), button("Try again", self.arrive, "main")
        )
        self._pages.setCurrentWidget(self._notice)

    def _show_plans(self) -> None:
        """Show the plan shown last, else the newest, else what to do first."""
        if not self._plans:
            first = button("Plan a grafting", self.plan_new, "main")
            self._notice.say(
                "No plan yet",
                "Say when you want to graft, or when you need queens. The timetable tells what to "
                "do on which day, and how old the larvae on your comb will be.",
                first,
            )
            self._pages.setCurrentWidget(self._notice)
            first.setFocus()
            return
        ids = [plan.id for plan in self._plans]
        shown = self._shown if self._shown in ids else ids[0]
        self._open(shown)

    def _open(self, plan_id: UUID | None) -> None:
        """Show a plan with what was typed of it, even where it cannot be used yet."""
        self._shown = plan_id
        plan = self._plan_shown()
        self._fill_chooser()
        self._pages.setCurrentWidget(self._work)
        if plan is None or plan.spec is None:
            self.form.setEnabled(False)
            self.view.show_trouble(plan.trouble if plan is not None else "")
            return
        self.form.setEnabled(True)
        self.view.show_kept(is_kept=self._n_pending == 0)
        self.form.put(self._drafts.get(plan.id) or draft_of(plan.name, plan.spec, self._tz))
        self._tell()

    def _fill_chooser(self) -> None:
        self.chooser.clear()
        for plan in self._plans or []:
            self.chooser.addItem(plan.name, str(plan.id))
        self.chooser.setCurrentIndex(max(0, self.chooser.findData(str(self._shown))))

    def _chosen(self, row: int) -> None:
        self._open(UUID(self.chooser.itemData(row)))

    def _changed(self) -> None:
        """Keep what can be used; remember what cannot."""
        plan = self._plan_shown()
        if plan is None or self._plans is None:
            return
        draft, spec = self.form.draft(), self.form.spec()
        if spec is None:
            self._drafts[plan.id] = draft
            self.view.show_pending()
            return
        self._drafts.pop(plan.id, None)
        changed = replace(plan, name=" ".join(draft.name.split()), spec=spec)
        self._plans = [changed if other.id == plan.id else other for other in self._plans]
        row = self.chooser.findData(str(plan.id))
        self.chooser.setItemText(row, changed.name)
        self._keep(changed)
        self._follow.start()

    def _keep(self, plan: KeptPlan) -> None:
        """Put a plan in line to be written; a write that has not begun takes the newest along."""
        if plan.id in self._in_line:
            return
        self._in_line.add(plan.id)
        self._n_pending += 1
        now = self._context.now()

        def write(store: "Store") -> None:
            # First out of the line, then read: what is typed from here on gets a write of its own.
            self._in_line.discard(plan.id)
            newest = next((p for p in self._plans or [] if p.id == plan.id), None)
            if newest is not None and newest.spec is not None:
                keep_plan(store, newest, now=now)

        self._context.keeper.hand(write, self._kept, self._given_up)
        self.view.show_kept(is_kept=False)

    def _kept(self) -> None:
        self._n_pending -= 1
        if not isValid(self):
            return  # written while the window closed
        if self._n_pending == 0 and self._shown not in self._drafts:
            self.view.show_kept(is_kept=True)

    def _given_up(self, sentence: str) -> None:
        self._n_pending -= 1
        if isValid(self):
            self.view.show_not_kept(sentence)

    def _tell(self) -> None:
        """Show the plan and the season at the right."""
        named = self.named_shown()
        if named is None:
            return
        every = named_plans(self._plans or [], self._tz, self._context.limits)
        self.view.show_plan(named, every)
        if self._shown in self._drafts:
            self.view.show_pending()

    def _limits_changed(self) -> None:
        self.form.limits = self._context.limits
        if self._plans is not None and self._pages.currentWidget() is self._work:
            self._tell()

    def _plan_shown(self) -> KeptPlan | None:
        return next((plan for plan in self._plans or [] if plan.id == self._shown), None)

    def _today(self) -> date:
        return self._context.now().astimezone(self._tz).date()

    def _save(self, title: str, ending: str, write: Callable[[NamedPlan, Path], None]) -> None:
        """Ask for a file and write into it; say so, or why not."""
        named = self.named_shown()
        if named is None:
            return
        kinds = {"ics": "Calendar (*.ics)", "pdf": "PDF (*.pdf)"}[ending]
        safe = "".join(c if c.isalnum() or c in " -_" else "-" for c in named.name)
        what = title.removeprefix("Save ")
        path = ask_save_path(self, title, f"{safe} {what}.{ending}", kinds, f".{ending}")
        if path is None:
            return
        try:
            write(named, path)
        except LarvasightError as error:
            QMessageBox.warning(self, title, str(error))
        else:
            tell_saved(self, title, path)
