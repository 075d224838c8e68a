"""What stands beside a photo: what was found in it, and why a cell got its verdict."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout

from larvasight.app.dressing import Dressing
from larvasight.app.parts import button, label, side_width_px
from larvasight.app.why_panel import WhyPanel
from larvasight.desk.own_photos import sum_up
from larvasight.desk.why import Why
from larvasight.grading import Limits
from larvasight.paper.marks import Mark
from larvasight.sheet import FLAG_SENTENCES, Sheet


class PhotosSide(QFrame):
    """The column beside a photo; hidden while there is none.

    ``known_age`` and ``practise`` tell that their buttons were pressed.
    """

    known_age = Signal()
    practise = Signal()

    def __init__(self, dressing: Dressing) -> None:
        super().__init__()
        self.setObjectName("side")
        self._dressing = dressing
        self._page_px = 1280
        self._title = label("", "lead")
        self._found = label("")
        self._flags = label("", "faint")
        self.why = WhyPanel(dressing)
        self._age, self._practice = label("", "faint"), label("", "faint")
        self._age_button = button("Known age ...", self.known_age.emit, short="Age ...")
        self._age_button.setToolTip("Say when the queen laid in this comb")
        self._practice_button = button(
            "Use for practice ...", self.practise.emit, short="Practise ..."
        )
        self._practice_button.setToolTip("Practise on the cells of this photo")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 16, 0, 8)
        for widget in (self._title, self._found, self._flags, self._age, self._practice):
            widget.setContentsMargins(16, 0, 16, 0)
            outer.addWidget(widget)
        row = QHBoxLayout()
        row.setContentsMargins(16, 0, 16, 0)
        row.addWidget(self._age_button)
        row.addWidget(self._practice_button)
        row.addStretch(1)
        outer.addLayout(row)
        outer.addWidget(self.why, 1)
        dressing.changed.connect(self.fit)
        self.fit()
        self.hide()

    def fit_to(self, page_px: int) -> None:
        """Keep the column within a page of this width."""
        self._page_px = page_px
        self.fit()

    def fit(self) -> None:
        """Keep the column as wide as its words need and the page allows."""
        self.setFixedWidth(side_width_px(self._dressing.text_px, self._page_px))

    def show_photo(self, sheet: Sheet) -> None:
        """Show what was found in a photo."""
        metrics = self._title.fontMetrics()
        room = self.width() - 32
        middle = Qt.TextElideMode.ElideMiddle
        self._title.setText(metrics.elidedText(sheet.photo.name, middle, room))
        self._found.setText(sum_up(sheet))
        flags = "\n".join(FLAG_SENTENCES[flag] for flag in sheet.lattice.flags)
        self._flags.setText(flags)
        self._flags.setVisible(bool(flags))
        self.show()

    def show_set(self, age_words: str, practice_words: str) -> None:
        """Show what is known of the comb's age, and how the photo is used for practice."""
        for told, words in ((self._age, age_words), (self._practice, practice_words)):
            told.setText(words)
            told.setVisible(bool(words))

    def show_why(
        self, image: QImage, why: Why, mark: Mark | None, limits: Limits, *, by_hand: str = ""
    ) -> None:
        """Show one cell of the photo; ``by_hand`` tells of a mark on it."""
        self.why.show_why(image, why, mark, limits, by_hand=by_hand)
