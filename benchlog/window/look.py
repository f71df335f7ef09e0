"""Colours, fonts and sizes: one meaning a colour, numerals first, light and dark.

The palette is Okabe and Ito's, which the colour-blind tell apart. Vermilion is danger and nothing else,
bluish green is within, orange is undecided or unproven, blue is here and now.
"""

import os
from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontMetricsF, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from benchlog import resources
from benchlog.window.sheet import style_sheet

THEME_VARIABLE = "BENCHLOG_THEME"
"""`light` or `dark` in place of what the system says."""

FAMILIES = ("Atkinson Hyperlegible", "Noto Sans")
"""The second has the ohm sign, which the first lacks."""

FONT_FILES = (
    "atkinson-hyperlegible-regular.woff",
    "atkinson-hyperlegible-bold.woff",
    "noto-sans-greek-regular.woff",
    "noto-sans-greek-bold.woff",
)


@dataclass(frozen=True, slots=True)
class Theme:
    """The colours of one theme, by meaning.

    Attributes:
        page, card, ink, soft, hairline: paper, white cards, text, text of second rank, thin lines.
        chosen: behind what is selected; `here_pale` behind the present stage.
        danger, good, doubt, here: vermilion, bluish green, orange, blue; the pale ones are for areas.
        traces: of a graph, the first one blue; never orange or vermilion.
        on_danger: text on vermilion.
    """

    name: str
    page: QColor
    card: QColor
    ink: QColor
    soft: QColor
    hairline: QColor
    chosen: QColor
    here_pale: QColor
    danger: QColor
    danger_deep: QColor
    on_danger: QColor
    good: QColor
    good_pale: QColor
    doubt: QColor
    here: QColor
    traces: tuple[QColor, ...]

    @property
    def dark(self) -> bool:
        """Whether it is the dark one."""
        return self.name == "dark"


LIGHT = Theme(
    name="light",
    page=QColor("#f5f3ee"),
    card=QColor("#ffffff"),
    ink=QColor("#1f2329"),
    soft=QColor("#62676f"),
    hairline=QColor("#dcd8ce"),
    chosen=QColor("#e9e4d9"),
    here_pale=QColor("#e1edf5"),
    danger=QColor("#d55e00"),
    danger_deep=QColor("#b34f00"),
    on_danger=QColor("#ffffff"),
    good=QColor("#009e73"),
    good_pale=QColor("#cce8df"),
    doubt=QColor("#e69f00"),
    here=QColor("#0072b2"),
    traces=tuple(QColor(name) for name in ("#0072b2", "#56b4e9", "#cc79a7", "#6b7078", "#005380", "#96507a")),
)

DARK = Theme(
    name="dark",
    page=QColor("#15171a"),
    card=QColor("#1f2226"),
    ink=QColor("#eeece6"),
    soft=QColor("#a3a8af"),
    hairline=QColor("#383c42"),
    chosen=QColor("#2c2f34"),
    here_pale=QColor("#1b3244"),
    danger=QColor("#e8701a"),
    danger_deep=QColor("#b34f00"),
    on_danger=QColor("#17120e"),
    good=QColor("#1fb58a"),
    good_pale=QColor("#17463a"),
    doubt=QColor("#e69f00"),
    here=QColor("#4aa8e0"),
    traces=tuple(QColor(name) for name in ("#4aa8e0", "#8fd0f5", "#dd94bb", "#a3a8af", "#2f7fb0", "#b36f96")),
)


class Look(QObject):
    """The theme in use and the fonts; `changed` when the system goes from light to dark or back.

    Made once, after the application.
    """

    changed = Signal()

    def __init__(self, application: QApplication, named: str | None = None) -> None:
        super().__init__()
        self._application = application
        self._named = os.environ.get(THEME_VARIABLE, "") if named is None else named
        for file in FONT_FILES:
            QFontDatabase.addApplicationFont(str(resources.path("fonts", file)))
        self.theme = self._wanted()
        application.setStyle("Fusion")
        self._apply()
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._follow)

    def font(self, pixels: float, *, bold: bool = False) -> QFont:
        """The font of the window at a size in logical pixels, its digits all of one width."""
        font = QFont()
        font.setFamilies(list(FAMILIES))
        font.setPixelSize(max(1, round(pixels)))
        font.setWeight(QFont.Weight.Bold if bold else QFont.Weight.Normal)
        font.setFeature(QFont.Tag("tnum"), 1)
        return font

    def fitting(
        self, text: str, width: float, most: float, *, least: float = 10.0, bold: bool = True
    ) -> QFont:
        """The largest font up to `most` pixels in which `text` is no wider than `width`, never below `least`."""
        font = self.font(most, bold=bold)
        wide = QFontMetricsF(font).horizontalAdvance(text)
        if wide > width > 0.0:
            pixels = max(least, most * width / wide)
            font = self.font(pixels, bold=bold)
            # Letters come in whole pixels, and seldom shrink in proportion.
            while pixels - 1.0 >= least and QFontMetricsF(font).horizontalAdvance(text) > width:
                pixels -= 1.0
                font = self.font(pixels, bold=bold)
        return font

    def set_theme(self, name: str) -> None:
        """Take `light`, `dark`, or follow the system with an empty name."""
        self._named = name
        self._follow()

    def _follow(self) -> None:
        wanted = self._wanted()
        if wanted is not self.theme:
            self.theme = wanted
            self._apply()
            self.changed.emit()

    def _wanted(self) -> Theme:
        if self._named in ("light", "dark"):
            return DARK if self._named == "dark" else LIGHT
        dark = QGuiApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark
        return DARK if dark else LIGHT

    def _apply(self) -> None:
        self._application.setPalette(palette_of(self.theme))
        self._application.setFont(self.font(15))
        self._application.setStyleSheet(style_sheet(self.theme_names()))

    def theme_names(self) -> dict[str, str]:
        """The theme's colours as text, for the style sheet."""
        theme = self.theme
        names = (
            "page",
            "card",
            "ink",
            "soft",
            "hairline",
            "chosen",
            "here_pale",
            "danger",
            "on_danger",
            "here",
        )
        return {name: getattr(theme, name).name() for name in names}


def palette_of(theme: Theme) -> QPalette:
    """The theme for whatever Qt draws by itself."""
    palette = QPalette()
    role = QPalette.ColorRole
    for which, colour in (
        (role.Window, theme.page),
        (role.WindowText, theme.ink),
        (role.Base, theme.card),
        (role.AlternateBase, theme.page),
        (role.Text, theme.ink),
        (role.PlaceholderText, theme.soft),
        (role.Button, theme.card),
        (role.ButtonText, theme.ink),
        (role.ToolTipBase, theme.card),
        (role.ToolTipText, theme.ink),
        (role.Highlight, theme.here),
        (role.HighlightedText, theme.card),
        (role.Link, theme.here),
        (role.Light, theme.card),
        (role.Midlight, theme.chosen),
        (role.Mid, theme.hairline),
        (role.Dark, theme.soft),
    ):
        palette.setColor(which, colour)
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, theme.soft)
    return palette
