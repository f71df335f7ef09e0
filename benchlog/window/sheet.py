"""The style sheet: what Qt's own widgets look like on paper and ink."""

from collections.abc import Mapping
from string import Template

_SHEET = Template("""
QWidget { color: $ink; }
QMainWindow, QDialog, QScrollArea, QScrollArea > QWidget > QWidget { background: $page; }
QToolTip { background: $card; color: $ink; border: 1px solid $hairline; padding: 4px; }
QPushButton {
    background: $card; border: 1px solid $hairline; border-radius: 7px; padding: 7px 14px; min-height: 20px;
}
QPushButton:hover { border-color: $soft; }
QPushButton:focus { border: 2px solid $here; padding: 6px 13px; }
QPushButton:pressed, QPushButton:checked { background: $chosen; }
QPushButton:disabled { color: $soft; background: $page; }
QPushButton[main="true"] { background: $here; color: $card; border-color: $here; font-weight: bold; }
QPushButton[main="true"]:disabled { background: $hairline; border-color: $hairline; color: $soft; }
QPushButton[small="true"] { padding: 2px 9px; min-height: 17px; font-size: 13px; color: $soft; }
QPushButton[small="true"]:focus { padding: 1px 8px; }
QLineEdit, QPlainTextEdit, QComboBox, QSpinBox, QDoubleSpinBox {
    background: $card; border: 1px solid $hairline; border-radius: 7px; padding: 6px 9px;
    selection-background-color: $here; selection-color: $card;
}
QLineEdit:focus, QPlainTextEdit:focus, QComboBox:focus { border: 2px solid $here; padding: 5px 8px; }
QComboBox::drop-down { border: none; width: 22px; }
QComboBox::down-arrow {
    width: 0; height: 0; border-left: 5px solid $card; border-right: 5px solid $card; border-top: 6px solid $soft;
}
QComboBox QAbstractItemView { background: $card; border: 1px solid $hairline; selection-background-color: $here_pale;
    selection-color: $ink; outline: none; }
QAbstractItemView { background: transparent; border: none; outline: none; }
QTableView { selection-background-color: $here_pale; selection-color: $ink; }
QListWidget::item { color: $ink; padding: 2px; }
QListWidget::item:selected { background: $here_pale; color: $ink; }
QListWidget::indicator { width: 12px; height: 12px; border: 2px solid $ink; border-radius: 3px; background: $card; }
QListWidget::indicator:checked { background: $ink; }
QHeaderView::section { background: $page; color: $soft; border: none; padding: 4px 6px; }
QTableCornerButton::section { background: $page; border: none; }
QScrollBar:vertical { background: transparent; width: 10px; margin: 0; }
QScrollBar:horizontal { background: transparent; height: 10px; margin: 0; }
QScrollBar::handle { background: $hairline; border-radius: 5px; min-height: 24px; min-width: 24px; }
QScrollBar::handle:hover { background: $soft; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QScrollArea { border: none; }
QCheckBox { spacing: 8px; }
QProgressBar { background: $hairline; border: none; border-radius: 4px; max-height: 8px; min-height: 8px; }
QProgressBar::chunk { background: $here; border-radius: 4px; }
QLabel[rank="title"] { font-size: 21px; font-weight: bold; }
QLabel[rank="head"] { font-size: 15px; font-weight: bold; }
QLabel[rank="soft"] { color: $soft; font-size: 14px; }
QLabel[rank="danger"] { color: $danger; }
QFrame[card="true"] { background: $card; border: 1px solid $hairline; border-radius: 9px; }
QFrame[line="true"] { background: $hairline; border: none; }
""")


def style_sheet(colours: Mapping[str, str]) -> str:
    """The sheet with the theme's colours in it."""
    return _SHEET.substitute(colours)
