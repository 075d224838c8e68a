"""Which stages are taken for which: what each cell was against the name given, counted."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QVBoxLayout

from larvasight.app.parts import label
from larvasight.paper.stage_words import STAGES_TITLE, is_told, named_sentence
from larvasight.practice.stages import STAGE_WORDS, Stage, StageTable

_CORNER = "It was \N{RIGHTWARDS ARROW} you said"
_NONE = "\N{MIDDLE DOT}"


class StageTableBox(QFrame):
    """A sheet with a sentence and a small table; hidden where too few cells were named."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("sheet")
        self._said = label("")
        self._counts: dict[tuple[Stage, Stage], QLabel] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(8)
        column.addWidget(label(STAGES_TITLE, "lead"))
        column.addWidget(self._said)
        column.addLayout(self._table())
        self.hide()

    def show_table(self, table: StageTable) -> None:
        """Show another learner's names, or newer ones."""
        self.setVisible(is_told(table))
        self._said.setText(named_sentence(table))
        for (true, named), shown in self._counts.items():
            n = int(table.counts[true, named])
            shown.setText(str(n) if n else _NONE)
            is_wrong = n > 0 and true is not named
            shown.setProperty("role", "day" if is_wrong else "" if n else "faint")
            shown.style().unpolish(shown)
            shown.style().polish(shown)
            shown.setAccessibleName(
                f"{n} times it was {STAGE_WORDS[true]} and you said {STAGE_WORDS[named]}"
            )

    def _table(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(24)
        grid.setVerticalSpacing(4)
        grid.addWidget(label(_CORNER, "faint", wrap=False), 0, 0)
        for stage in Stage:
            place = stage + 1
            head = label(STAGE_WORDS[stage], "faint", wrap=False)
            grid.addWidget(head, 0, place, Qt.AlignmentFlag.AlignRight)
            grid.addWidget(label(STAGE_WORDS[stage], wrap=False), place, 0)
            for named in Stage:
                shown = self._counts[(stage, named)] = label("", wrap=False)
                grid.addWidget(shown, place, named + 1, Qt.AlignmentFlag.AlignRight)
        grid.setColumnStretch(len(Stage) + 1, 1)
        return grid
