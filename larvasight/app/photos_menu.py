"""The menu of one cell of a photo: what it holds, its body line, as measured."""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMenu, QWidget

from larvasight.desk.by_hand import ByHand
from larvasight.desk.why import CONTENT_WORDS
from larvasight.sheet import Content

CONTENT_KEYS: dict[int, Content] = {
    Qt.Key.Key_1: Content.EMPTY,
    Qt.Key.Key_2: Content.EGG,
    Qt.Key.Key_3: Content.LARVA,
    Qt.Key.Key_4: Content.CAPPED,
    Qt.Key.Key_5: Content.STORES,
    Qt.Key.Key_6: Content.COVERED,
    Qt.Key.Key_7: Content.UNCLEAR,
}
AS_MEASURED_KEY = Qt.Key.Key_8
RIGHT_KEY = Qt.Key.Key_9


def cell_menu(
    parent: QWidget,
    marks: ByHand,
    index: int,
    *,
    say: Callable[[int, Content], object],
    right: Callable[[int], object],
    line: Callable[[], object],
    outline: Callable[[], object],
    back: Callable[[int], object],
) -> QMenu:
    """Return the menu that says what a cell holds.

    Parameters
    ----------
    parent : QWidget
        Where it belongs.
    marks : ByHand
        The marks on the photo.
    index : int
        Which cell.
    say, right, line, outline, back : callable
        Mark a content, say that it is right as shown, move the body line, brush the outline, take
        the mark away.
    """
    menu = QMenu(parent)
    menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    cell = marks.sheet.cells[index]
    for key, content in CONTENT_KEYS.items():
        words = CONTENT_WORDS[content]
        action = menu.addAction(f"{words[0].upper()}{words[1:]}\t{chr(key)}")
        action.setCheckable(True)
        action.setChecked(content is cell.content)
        action.triggered.connect(partial(_do, say, index, content))
    menu.addSeparator()
    checked = menu.addAction(f"Right as shown\t{chr(RIGHT_KEY)}")
    checked.setEnabled(marks.can_confirm(index))
    checked.triggered.connect(partial(_do, right, index))
    for words, act in (("Move body line\tB", line), ("Brush outline\tO", outline)):
        body = menu.addAction(words)
        body.setEnabled(cell.content is Content.LARVA)
        body.triggered.connect(partial(_do, act))
    undone = menu.addAction(f"As measured\t{chr(AS_MEASURED_KEY)}")
    undone.setEnabled(index in marks.marks)
    undone.triggered.connect(partial(_do, back, index))
    return menu


def _do(act: Callable[..., object], *told: object) -> None:
    """Act, leaving out what Qt says of a check mark."""
    act(*(one for one in told if type(one) is not bool))
