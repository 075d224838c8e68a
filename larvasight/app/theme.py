"""How the window looks: colours, text size and the style sheet made of them."""

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from string import Template

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from larvasight.paper.qt import text_font

TEXT_PX_DEFAULT = 18
TEXT_PX_MIN = 14
TEXT_PX_MAX = 28
# Everything is set on a grid of this many px.
GRID_PX = 8


class Look(StrEnum):
    """Light or dark, or whatever the system says."""

    LIGHT = "light"
    DARK = "dark"
    SYSTEM = "system"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tones:
    """The colours of one look, ``#rrggbb``.

    ``ground`` lies behind everything, ``sheet`` under text that is read, ``well`` around a
    picture. ``accent`` marks the one thing to do next and the keyboard's place.
    """

    ground: str
    sheet: str
    well: str
    ink: str
    faint: str
    line: str
    accent: str
    on_accent: str
    accent_soft: str
    is_dark: bool


PAPER = Tones(
    ground="#f4efe4",
    sheet="#fffdf8",
    well="#e6ddcb",
    ink="#2e2218",
    faint="#6d5c4b",
    line="#d9cdb8",
    accent="#8a5200",
    on_accent="#ffffff",
    accent_soft="#f3e2c3",
    is_dark=False,
)
NIGHT = Tones(
    ground="#17110d",
    sheet="#221a14",
    well="#0e0a07",
    ink="#f2e9dc",
    faint="#b8a793",
    line="#40332a",
    accent="#e9a93c",
    on_accent="#1b1208",
    accent_soft="#4a3617",
    is_dark=True,
)

_ICONS = Path(__file__).with_name("icons")

_SHEET = Template("""
* { font-size: ${text}px; }
QMainWindow, QWidget#ground { background: $ground; color: $ink; }
QWidget { color: $ink; }
QLabel { background: transparent; }
QLabel[role="title"] { font-size: ${title}px; font-weight: 700; }
QLabel[role="lead"] { font-size: ${lead}px; font-weight: 700; }
QLabel[role="faint"] { color: $faint; font-size: ${small}px; }
QLabel[role="day"] { color: $accent; font-weight: 700; }
QLabel[role="wrong"] { color: $accent; font-size: ${small}px; font-weight: 700; }
QLabel[role="figure"] { font-size: ${figure}px; font-weight: 700; }
QFrame#sheet { background: $sheet; border: 1px solid $line; border-radius: 8px; }
QFrame#side { background: $sheet; border: none; border-left: 1px solid $line; }
QFrame#plan { background: $sheet; border: none; border-right: 1px solid $line; }
QFrame#rail { background: $sheet; border: none; border-right: 1px solid $line; }
QFrame#trouble { background: $accent_soft; border: none; border-bottom: 2px solid $accent; }
QPushButton {
    background: $sheet; color: $ink; border: 1px solid $faint; border-radius: 8px;
    padding: 8px 16px; min-height: ${control}px;
}
QPushButton:hover { border-color: $accent; background: $accent_soft; }
QPushButton:focus { border: 2px solid $accent; padding: 7px 15px; }
QPushButton:disabled { color: $faint; border-color: $line; }
QPushButton[role="main"] {
    background: $accent; color: $on_accent; border: 1px solid $accent; font-weight: 700;
}
QPushButton[role="main"]:hover { background: $accent; border-color: $ink; }
QPushButton[role="main"]:focus { border: 3px solid $ink; padding: 6px 14px; }
QPushButton[role="main"]:disabled { background: $line; border-color: $line; color: $faint; }
QPushButton[role="plain"] { border: none; background: transparent; color: $accent; }
QPushButton[role="plain"]:hover { text-decoration: underline; }
QPushButton[role="plain"]:focus { border: 2px solid $accent; }
QPushButton[role="name"] {
    border: 2px solid transparent; background: transparent; color: $accent; padding: 8px 2px;
}
QPushButton[role="name"]:hover { text-decoration: underline; }
QPushButton[role="name"]:focus { border-color: $accent; }
QToolButton {
    background: transparent; border: 2px solid transparent; border-radius: 8px; padding: 6px;
}
QToolButton:hover { background: $accent_soft; }
QToolButton:focus { border-color: $accent; }
QToolButton[role="place"] { padding: 12px 4px; border-radius: 8px; }
QToolButton[role="place"]:checked { background: $accent_soft; font-weight: 700; }
QAbstractSpinBox, QComboBox {
    background: $sheet; color: $ink; border: 1px solid $faint; border-radius: 8px;
    padding: 5px 6px; min-height: ${control}px; selection-background-color: $accent;
    selection-color: $on_accent;
}
QAbstractSpinBox:focus, QComboBox:focus { border: 2px solid $accent; padding: 4px 5px; }
QSpinBox, QDoubleSpinBox { qproperty-alignment: AlignCenter; }
QAbstractSpinBox:disabled, QComboBox:disabled { color: $faint; border-color: $line; }
QComboBox::drop-down, QDateTimeEdit::drop-down {
    subcontrol-origin: border; subcontrol-position: center right; width: ${arrow}px; border: none;
}
QAbstractSpinBox::up-button, QAbstractSpinBox::down-button {
    subcontrol-origin: border; width: ${arrow}px; border: none; background: transparent;
}
QAbstractSpinBox::up-button { subcontrol-position: top right; }
QAbstractSpinBox::down-button { subcontrol-position: bottom right; }
QComboBox::down-arrow, QDateTimeEdit::down-arrow, QAbstractSpinBox::down-arrow {
    image: url("$down"); width: ${small}px; height: ${small}px;
}
QAbstractSpinBox::up-arrow { image: url("$up"); width: ${small}px; height: ${small}px; }
QFrame#foot { background: $sheet; border: none; border-top: 1px solid $line; }
QFrame#bar { background: $sheet; border: none; border-bottom: 1px solid $line; }
QComboBox { combobox-popup: 0; }
QComboBox QAbstractItemView {
    background: $sheet; color: $ink; border: 1px solid $faint;
    selection-background-color: $accent_soft; selection-color: $ink;
}
QComboBox QAbstractItemView::item { min-height: ${control}px; padding: 2px 6px; }
QComboBox QAbstractItemView::item:selected { background: $accent_soft; color: $ink; }
QCheckBox { spacing: 12px; }
QCheckBox::indicator {
    width: ${text}px; height: ${text}px; border: 2px solid $faint; border-radius: 4px;
    background: $sheet;
}
QCheckBox::indicator:checked {
    background: $accent; border-color: $accent; image: url("$tick");
}
QCheckBox:focus::indicator { border-color: $accent; }
QRadioButton { spacing: 12px; }
QRadioButton::indicator {
    width: ${text}px; height: ${text}px; border: 2px solid $faint; border-radius: ${round}px;
    background: $sheet;
}
QRadioButton::indicator:checked {
    border-color: $accent; background: qradialgradient(cx: 0.5, cy: 0.5, fx: 0.5, fy: 0.5,
        radius: 0.5, stop: 0 $accent, stop: 0.62 $accent, stop: 0.7 $sheet, stop: 1 $sheet);
}
QRadioButton:focus::indicator { border-color: $ink; }
QTextBrowser { background: $sheet; border: 1px solid $line; border-radius: 8px; padding: 8px; }
QLineEdit, QPlainTextEdit {
    background: $sheet; color: $ink; border: 1px solid $faint; border-radius: 8px;
    padding: 8px; min-height: ${control}px; selection-background-color: $accent;
    selection-color: $on_accent;
}
QLineEdit:focus, QPlainTextEdit:focus {
    border: 2px solid $accent; padding: 7px;
}
QLineEdit[wrong="true"] { border: 2px solid $accent; padding: 7px; }
QListWidget {
    background: $sheet; border: 1px solid $line; border-radius: 8px; outline: none;
}
QListWidget::item { padding: 8px; border-radius: 6px; }
QListWidget::item:selected { background: $accent_soft; color: $ink; }
QListWidget:focus { border: 2px solid $accent; }
QScrollArea, QScrollArea > QWidget > QWidget { background: transparent; border: none; }
QFrame#side QScrollArea, QFrame#plan QScrollArea { background: transparent; }
QProgressBar {
    background: $well; border: none; border-radius: 4px; min-height: 8px; max-height: 8px;
}
QProgressBar::chunk { background: $accent; border-radius: 4px; }
QMenuBar { background: $sheet; color: $ink; border-bottom: 1px solid $line; padding: 2px; }
QMenuBar::item { padding: 6px 12px; border-radius: 6px; background: transparent; }
QMenuBar::item:selected { background: $accent_soft; }
QMenu { background: $sheet; color: $ink; border: 1px solid $line; padding: 8px; }
QMenu::item { padding: 8px 32px 8px 24px; border-radius: 6px; }
QMenu::item:selected { background: $accent_soft; color: $ink; }
QMenu::item:disabled { color: $faint; }
QMenu::separator { height: 1px; background: $line; margin: 6px 8px; }
QToolTip { background: $sheet; color: $ink; border: 1px solid $faint; padding: 6px; }
QDialog, QMessageBox { background: $ground; }
QDialogButtonBox { dialogbuttonbox-buttons-have-icons: 0; }
QGraphicsView { background: $well; border: none; }
QGraphicsView:focus { border: none; }
QScrollBar:vertical { background: transparent; width: 14px; margin: 0; }
QScrollBar::handle:vertical {
    background: $line; border-radius: 5px; min-height: 32px; margin: 2px;
}
QScrollBar::handle:vertical:hover { background: $faint; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QSlider { min-height: 24px; }
QSlider::groove:horizontal { background: $faint; height: 4px; border-radius: 2px; }
QSlider::handle:horizontal {
    background: $accent; border: 2px solid $accent; width: 16px;
    margin: -8px 0; border-radius: 10px;
}
QSlider::handle:horizontal:focus { border-color: $ink; }
QSplitter::handle { background: $line; }
""")


def tones_of(look: Look) -> Tones:
    """Return the colours of a look, asking the system where it is to decide."""
    if look is Look.SYSTEM:
        is_dark = QGuiApplication.styleHints().colorScheme() is Qt.ColorScheme.Dark
        return NIGHT if is_dark else PAPER
    return NIGHT if look is Look.DARK else PAPER


def dress(app: QApplication, tones: Tones, text_px: int) -> None:
    """Give every widget of the program these colours and this text size."""
    app.setStyle("Fusion")
    app.setPalette(_palette(tones))
    app.setFont(text_font(text_px))
    app.setStyleSheet(_style_sheet(tones, text_px))


def _palette(tones: Tones) -> QPalette:
    palette = QPalette()
    role = QPalette.ColorRole
    for where, colour in (
        (role.Window, tones.ground),
        (role.Base, tones.sheet),
        (role.AlternateBase, tones.ground),
        (role.Button, tones.sheet),
        (role.ToolTipBase, tones.sheet),
        (role.WindowText, tones.ink),
        (role.Text, tones.ink),
        (role.ButtonText, tones.ink),
        (role.ToolTipText, tones.ink),
        (role.PlaceholderText, tones.faint),
        (role.Highlight, tones.accent),
        (role.HighlightedText, tones.on_accent),
        (role.Link, tones.accent),
        (role.Light, tones.line),
        (role.Midlight, tones.line),
        (role.Mid, tones.faint),
        (role.Dark, tones.faint),
        (role.Shadow, tones.faint),
    ):
        palette.setColor(where, QColor(colour))
    for where in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, where, QColor(tones.faint))
    return palette


def _style_sheet(tones: Tones, text_px: int) -> str:
    return _SHEET.substitute(
        ground=tones.ground,
        sheet=tones.sheet,
        well=tones.well,
        ink=tones.ink,
        faint=tones.faint,
        line=tones.line,
        accent=tones.accent,
        on_accent=tones.on_accent,
        accent_soft=tones.accent_soft,
        tick=(_ICONS / f"tick_{'night' if tones.is_dark else 'paper'}.svg").as_posix(),
        up=(_ICONS / f"up_{'night' if tones.is_dark else 'paper'}.svg").as_posix(),
        down=(_ICONS / f"down_{'night' if tones.is_dark else 'paper'}.svg").as_posix(),
        arrow=round(text_px * 1.3),
        text=text_px,
        round=text_px // 2 + 2,
        small=round(text_px * 0.88),
        lead=round(text_px * 1.15),
        title=round(text_px * 1.4),
        figure=round(text_px * 2.0),
        control=round(text_px * 1.4),
    )
