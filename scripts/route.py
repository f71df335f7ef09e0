"""The whole route through the window, with a picture of every station: `python -m route FOLDER SCALE`."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from driven import Driven
from PySide6.QtCore import QSize, Qt

from benchlog.window import words
from benchlog.window.graph import RunGraph
from benchlog.window.parts_page import PartsPage
from benchlog.window.run_view import Phase

SIZES = (QSize(1440, 900), QSize(683, 768))
THEMES = ("light", "dark")
SPEED = 10.0


class Camera:
    """Takes each station in both themes and at both sizes."""

    def __init__(self, folder: Path, scale: str) -> None:
        self.folder = folder
        self.scale = scale
        self.taken: list[Path] = []

    def take(self, driven: Driven, station: str) -> None:
        """A picture of the window as it stands, four times over."""
        for size in SIZES:
            driven.frame.resize(size)
            for theme in THEMES:
                driven.program.look.set_theme(theme)
                driven.settle()
                path = self.folder / f"{station}-{theme}-{size.width()}-{self.scale}x.png"
                if not driven.frame.grab().save(str(path)):
                    raise OSError(f"{path} cannot be written")
                self.taken.append(path)
        driven.program.look.set_theme("light")
        driven.frame.resize(SIZES[0])
        driven.settle()


def intake(driven: Driven, camera: Camera) -> None:
    """The example's unit is taken in, its bench opened."""
    camera.take(driven, "01-no-unit")
    driven.key(Qt.Key.Key_F2)
    driven.click("take the demo's unit")
    driven.until(lambda: driven.program.shelf.unit is not None, "the unit")
    driven.until(lambda: driven.program.shelf.visit is not None, "the visit")
    driven.until(lambda: driven.shows("Change its data"), "the unit's page")
    camera.take(driven, "02-unit")
    driven.key(Qt.Key.Key_F3)
    driven.until(lambda: driven.view.phase is not Phase.NOTHING, "the bench")
    driven.until(lambda: driven.view.live, "the first reading")
    camera.take(driven, "03-bench")


def parts(driven: Driven, camera: Camera) -> None:
    """Some parts taken by key, some typed, one undone."""
    driven.key(Qt.Key.Key_F4)
    take_parts(driven, 6)
    camera.take(driven, "04-parts")
    driven.write("4.65")
    camera.take(driven, "05-parts-typed")
    driven.key(Qt.Key.Key_Backspace, Qt.Key.Key_Backspace, Qt.Key.Key_Backspace, Qt.Key.Key_Backspace)
    take_hands_free(driven, camera)


def take_hands_free(driven: Driven, camera: Camera) -> None:
    """A part taken by itself as the tips come to rest on it; then by keys again."""
    page = driven.frame.pages[words.PARTS]
    if not isinstance(page, PartsPage):
        raise TypeError(page.title)
    hand = page.hand
    driven.key(Qt.Key.Key_F11)
    driven.until(lambda: hand.hands_free, "hands-free")
    row = hand.row
    if row is None:
        raise RuntimeError("no part is at hand")
    driven.hand(do="hands", part=row.line.part.designator, bounces=1.0)
    driven.until(lambda: row.kept is not None, f"{row.designator} taken by itself")
    camera.take(driven, "05-parts-hands-free")
    driven.key(Qt.Key.Key_F11)


def views(driven: Driven, camera: Camera) -> None:
    """What opens in the place of the part at hand: by its button, and by its key; away by Esc."""
    driven.key(Qt.Key.Key_Asterisk, Qt.Key.Key_Home)
    camera.take(driven, "05-parts-open-list")
    driven.key(Qt.Key.Key_Escape, Qt.Key.Key_Asterisk)
    for begins, station in (
        ("should read", "should-read"),
        ("this part", "history"),
        ("another in its place", "replacing"),
        ("all as found", "as-found-as-left"),
    ):
        driven.click(begins)
        camera.take(driven, f"05-parts-{station}")
        driven.key(Qt.Key.Key_Escape)


def take_parts(driven: Driven, count: int) -> None:
    """Put the probes on each part that is asked for and take it by Enter, the leads turned where that is asked."""
    page = driven.frame.pages[words.PARTS]
    if not isinstance(page, PartsPage):
        raise TypeError(page.title)
    hand = page.hand
    driven.until(lambda: hand.row, "the first part")
    for _ in range(count):
        row = hand.row
        if row is None:
            return
        part = row.designator
        while (
            hand.row is not None
            and hand.row.designator == part
            and (hand.row.kept is None or hand.turn == hand.at)
        ):
            driven.hand(do="probe", part=part, side="reverse" if hand.turn == hand.at else "")
            driven.key(Qt.Key.Key_Enter)
            driven.until(lambda: hand.waiting is None, f"a reading of {part}")
            driven.settle()
        if hand.row is not None and hand.row.designator == part:
            driven.key(Qt.Key.Key_Plus)


def healthy(driven: Driven, camera: Camera) -> None:
    """A power-up to its end."""
    begin(driven, camera)
    middle = len(driven.view.plan.stage) // 2 if driven.view.plan is not None else 0
    driven.climb(lambda: driven.view.stage is not None and driven.view.stage.index >= middle)
    camera.take(driven, "08-live")
    driven.climb(lambda: driven.view.phase in (Phase.OFF, Phase.CLOSED))
    camera.take(driven, "09-tail")
    # What a supply feeds is gone at once, and nobody is asked about it.
    driven.obey_until(
        lambda: driven.asked_for("rebound") or driven.view.phase is Phase.CLOSED,
        "the question after a minute",
    )
    if driven.asked_for("rebound"):
        camera.take(driven, "09-tail-low")
    driven.obey_until(lambda: driven.view.phase is Phase.CLOSED, "the close")
    camera.take(driven, "10-closed")


def begin(driven: Driven, camera: Camera | None = None) -> None:
    """Check the plan, prove the off-switch, begin."""
    enter = Qt.Key.Key_Enter
    driven.key(Qt.Key.Key_F5)
    driven.phase(Phase.CHECKED)
    if camera is not None:
        camera.take(driven, "06-cold-checks")
        driven.say_cold()
        camera.take(driven, "06-plan-checked")
    driven.leave(Phase.CHECKED, enter)
    driven.obey_until(lambda: driven.view.phase is Phase.PROVEN, "the proof")
    if camera is not None:
        camera.take(driven, "07-proven")
    driven.leave(Phase.PROVEN, enter)


def trip(driven: Driven, camera: Camera) -> None:
    """The same again with a shorted output, and the last ten seconds of it."""
    driven.leave(Phase.CLOSED, Qt.Key.Key_Enter)
    driven.hand(do="fault", name="shorted-output")
    begin(driven)
    driven.climb(lambda: driven.view.trip is not None)
    driven.until(lambda: driven.view.seen_off, "the off")
    camera.take(driven, "11-cut")
    small = driven.frame.grab().scaledToWidth(
        SIZES[0].width() // 5, Qt.TransformationMode.SmoothTransformation
    )
    small.save(str(camera.folder / f"11-cut-a-fifth-{camera.scale}x.png"))
    driven.key(Qt.Key.Key_5)
    driven.until(lambda: driven.frame.page.title == words.PAST_RUNS, "the last ten seconds")
    driven.until(lambda: any(graph.isVisible() for graph in driven.frame.findChildren(RunGraph)), "its graph")
    driven.settle()
    camera.take(driven, "12-last-ten-seconds")
    driven.key(Qt.Key.Key_F5)
    driven.obey_until(lambda: driven.view.prompt is None, "the dial at zero")
    driven.leave(Phase.OFF, Qt.Key.Key_Asterisk)


def past(driven: Driven, camera: Camera) -> None:
    """Both runs are found again."""
    driven.key(Qt.Key.Key_F6)
    driven.key(Qt.Key.Key_Down)
    driven.settle()
    camera.take(driven, "13-past-run")
    driven.key(Qt.Key.Key_F1)
    camera.take(driven, "14-keys")


def main() -> int:
    """Walk it."""
    folder, scale = Path(sys.argv[1]), sys.argv[2]
    camera = Camera(folder, scale)
    with tempfile.TemporaryDirectory(prefix="benchlog-route-") as home:
        driven = Driven.simulating(Path(home) / "workshop", speed=SPEED)
        try:
            for station in (intake, parts, views, healthy, trip, past):
                station(driven, camera)
        finally:
            driven.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
