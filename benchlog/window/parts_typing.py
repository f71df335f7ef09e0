"""What is typed on the number pad, and the part at hand: each key, what it would be stored as, where it goes."""

from collections.abc import Callable

from benchlog.domain.measures import LCR
from benchlog.domain.severaltyped import unit_of
from benchlog.window.keys import PARTS, Action
from benchlog.window.parts_book import Row
from benchlog.window.parts_entry import Entry, Meant, goes_on, meant_of, place_of
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_listing import Listing
from benchlog.window.parts_readings import Readings


class Typing:
    """One entry after the other; `changed` is called where something else is to be shown."""

    def __init__(
        self, hand: InHand, listing: Listing, readings: Readings, changed: Callable[[], None]
    ) -> None:
        self.entry = Entry()
        self._hand = hand
        self._listing = listing
        self._readings = readings
        self._changed = changed

    def act(self, action: Action) -> bool:
        """Do what a key does while something is typed; false where it does nothing then."""
        row, entry = self._hand.row, self.entry
        if action in (Action.NEXT, Action.OVER_RANGE):
            entry.over_range()
        elif action is Action.UNDO:
            entry.flip()
        elif action is Action.LIFTED and row is not None:
            place = place_of(entry, row)
            entry.step_prefix(unit_of(row.line.part, place), row.expects(place))
        elif action is Action.SKIP and row is not None and entry.jump is None and self._goes_on(row):
            entry.go_on(unit_of(row.line.part, place_of(entry, row)))
        elif action in (Action.GO, Action.SKIP):
            self._store(on=action is Action.SKIP)
            return True
        else:
            return False
        self._hand.sentence = ""
        self._changed()
        return True

    def meant(self) -> Meant | None:
        """What the entry would be stored as; None where there is none, or it is a jump."""
        row = self._hand.row
        if not self.entry.active or self.entry.jump is not None or row is None:
            return None
        return meant_of(self.entry, row)

    def _goes_on(self, row: Row) -> bool:
        """Whether another value of the same part follows."""
        return goes_on(self.entry, row, bridge=self._hand.lcr.frequency is not None)

    def jump(self) -> str:
        """Where a typed jump goes, in words."""
        digits = self.entry.jump
        if not digits:
            return "the last digits of a part" if digits is not None else ""
        at = self._hand.book.ending(digits, self._hand.at)
        return f"to {self._hand.book.rows[at].designator}" if at is not None else "no part ends so"

    def _store(self, *, on: bool) -> None:
        """Store what is typed, or go where it says; `on` goes to the next part as well."""
        if self.entry.jump is not None:
            at = self._hand.book.ending(self.entry.jump, self._hand.at) if self.entry.jump else None
            if at is None:
                self._refuse()
                return
            self.entry.clear()
            self.go(at)
            return
        found = self.meant()
        if found is None or found.reading is None:
            self._hand.sentence = found.problem if found is not None else ""
            self._refuse()
            return
        self.entry.clear()
        self._put(found)
        if not on or self._hand.held is not None:
            self._changed()
            return
        left = self._hand.row
        self._hand.next()
        self._say_frequency(left)

    def _say_frequency(self, left: Row | None) -> None:
        """What an LCR meter shows besides goes with its value once its frequency is known: the next digits do not."""
        if left is None or left.measure.function not in LCR or self._hand.lcr.frequency is not None:
            return
        key = self._hand.work.keys.name(Action.LCR, PARTS)
        self._hand.say(
            f"{left.designator} is stored alone: its D and ESR go behind it"
            f" once the LCR meter's frequency is said, by {key}."
        )

    def _refuse(self) -> None:
        """Why stands below the numeral already."""
        if self._hand.work.voice is not None:
            self._hand.work.voice.refused()
        self._changed()

    def keep(self, found: Meant) -> None:
        """Store what was typed for the part at hand."""
        self._put(found)
        self._changed()

    def _put(self, found: Meant) -> None:
        row = self._hand.row
        if found.values and row is not None:
            self._listing.keep(row, found.values)
        elif found.reading is not None:
            self._readings.store(found.reading)

    def go(self, at: int) -> None:
        """Take another part in hand; what was typed for this one is gone."""
        self.entry.clear()
        self._hand.go(at)
