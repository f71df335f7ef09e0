"""The open list by keys: what must be put back, what was; a digit puts something on it, one key strikes it off."""

from collections.abc import Callable

from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.domain.putback import OF_A_PART, OpenKind
from benchlog.errors import BenchlogError
from benchlog.store import query_unit
from benchlog.store.library import Library
from benchlog.store.query_unit import OpenItem
from benchlog.window import parts_renew, rows
from benchlog.window.forms import scrolled
from benchlog.window.keys import Action
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_panel import AskText, Does, Panel
from benchlog.window.past_row import local
from benchlog.window.rows import Rows
from benchlog.window.shapes import Shape
from benchlog.window.work import Work

KINDS = tuple(OpenKind)
"""What a digit from 1 puts on the list."""
EXAMPLES = {
    OpenKind.LINK: "across F1",
    OpenKind.SAFETY_RESISTOR: "22 Ω in the + rail",
    OpenKind.BORROWED_FUSE: "2 A slow for F2, from the drawer",
}
MOST = 60
"""No more entries are listed."""


class OpenPanel(Panel):
    """What must be put back before hand-over."""

    opens = Action.OPEN_LIST

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__(work, hand)
        self._kind = OpenKind.LINK
        self.list = Rows(work.look, "open list", most=MOST)
        self.list.taken.connect(lambda _: self._put_back())
        self.ask = AskText()
        self.ask.given.connect(self._worded)
        self.ask.put_away.connect(self.quiet)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.addWidget(self.list)
        column.addStretch(1)
        self.area = scrolled(inside)
        self.column.addWidget(self.ask)
        self.finish(self.area)

    def begin(self) -> None:
        """The first that is open is marked."""
        self.list.setCurrentRow(-1)
        super().begin()

    def look_again(self) -> None:
        """Open ones first, the newest last; then what was put back in this visit."""
        items = self.hand.book.open_items
        waiting = [item for item in items if item.closed is None]
        done = [item for item in items if item.closed is not None][::-1]
        self.head.say("Open list")
        count = f"{len(waiting)} to put back before it goes home." if waiting else "Nothing to put back."
        self.tell(count)
        self.list.put([self._row(item) for item in (*waiting, *done)][:MOST])
        if waiting and not self.list.key:
            self.list.choose(waiting[0].id)
        row = self.hand.row
        at = row.designator if row is not None else "part"
        self.caps.put(
            (
                Does(self.key(Action.GO), "put back", self._put_back, main=True),
                Does("1", f"{at}: leg lifted", lambda: self._begin(OpenKind.LIFTED_LEG)),
                Does("2", "link", lambda: self._begin(OpenKind.LINK)),
                Does("3", "safety resistor", lambda: self._begin(OpenKind.SAFETY_RESISTOR)),
                Does("4", "borrowed fuse", lambda: self._begin(OpenKind.BORROWED_FUSE)),
                Does("5", f"{at}: taken out", lambda: self._begin(OpenKind.REMOVED)),
                Does(self.key(Action.UNDO), "undo", self.undo),
                self.closing(),
            )
        )

    def _row(self, item: OpenItem) -> rows.Row:
        visit = self.hand.book.visit
        earlier = "left open in an earlier visit, " if visit is not None and item.visit != visit.id else ""
        below = f"{earlier}since {local(item.opened)}"
        if item.closed is not None:
            return rows.Row(item.id, item.text, f"put back {local(item.closed)}", "put back", Shape.GOOD)
        return rows.Row(item.id, item.text, below, "open", Shape.DOUBT)

    # --- keys ----------------------------------------------------------------------------------------

    def act(self, action: Action) -> bool:
        """Up and down choose, Enter or the key of lifted strikes off, undo takes back."""
        if action in (Action.UP, Action.DOWN):
            at = self.list.currentRow() + (1 if action is Action.DOWN else -1)
            self.list.setCurrentRow(min(max(0, at), self.list.count() - 1))
            self._show_chosen()
        elif action in (Action.GO, Action.LIFTED):
            self._put_back()
        elif action is Action.UNDO:
            self.undo()
        else:
            return False
        return True

    def typed(self, event: QKeyEvent) -> bool:
        """A digit puts something on the list."""
        text = event.text()
        if len(text) == 1 and text in "12345" and not event.isAutoRepeat():
            self._begin(KINDS[int(text) - 1])
            return True
        return super().typed(event)

    def _show_chosen(self) -> None:
        if self.area is not None and self.list.key:
            box = self.list.visualItemRect(self.list.currentItem())
            self.area.ensureVisible(0, self.list.y() + box.center().y(), 0, box.height())

    def _begin(self, kind: OpenKind) -> None:
        problem = self._cannot(kind)
        if problem:
            self.refuse(problem)
            return
        self._kind = kind
        if kind in OF_A_PART:
            self._worded("")
            return
        self.ask.ask(kind.value, EXAMPLES[kind])

    def _cannot(self, kind: OpenKind) -> str:
        """Why nothing of that kind can go on the list just now; empty where it can."""
        row, visit = self.hand.row, self.hand.book.visit
        if visit is None or visit.closed is not None:
            return self.hand.cannot_keep()
        if kind not in OF_A_PART:
            return ""
        if row is None:
            return self.hand.cannot_keep()
        if any(
            item.part == row.line.part.id and item.kind == kind and not item.closed for item in self._items
        ):
            return f"{row.designator} stands there already."
        return ""

    @property
    def _items(self) -> tuple[OpenItem, ...]:
        return self.hand.book.open_items

    def _worded(self, text: str) -> None:
        visit, row, kind = self.hand.book.visit, self.hand.row, self._kind
        if visit is not None and (text or row is not None):
            line = row.line if row is not None else None
            self._edit(lambda library: parts_renew.put_on_list(library, visit, kind, line, text))

    def _put_back(self) -> None:
        item = next((one for one in self._items if one.id == self.list.key and one.closed is None), None)
        if item is None:
            self.refuse("Choose what was put back.")
            return
        self._edit(lambda library: parts_renew.put_back(library, item), f"Put back: {item.text}.")

    def _edit(self, work: Callable[[Library], object], says: str = "") -> None:
        """One act, then the list as it stands."""
        visit, book = self.hand.book.visit, self.hand.book
        if visit is None:
            return

        def act(library: Library) -> tuple[OpenItem, ...]:
            work(library)
            return query_unit.open_items(library.folder, visit)

        def done(items: tuple[OpenItem, ...]) -> None:
            book.set_open_items(items)
            self.note = says
            self.list.setCurrentRow(-1)
            self.hand.touched.emit([row.at for row in book.rows if row.line.part.id in _parts(items)])

        def failed(error: BenchlogError) -> None:
            self.refuse(str(error))

        self.hand.edit(act, done, failed)


def _parts(items: tuple[OpenItem, ...]) -> set[str]:
    return {item.part for item in items}
