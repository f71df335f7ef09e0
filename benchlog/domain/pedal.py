"""When a contact that bounces counts as pressed: what successive looks at it come to."""

from dataclasses import dataclass, replace

PRESSED_AFTER = 2
"""Looks in a row that press it; one alone may be a spark nearby."""
RELEASED_AFTER = 5
"""Looks in a row that release it: a contact chatters longest as it opens."""
KNOWN_AFTER = 10
"""Looks in a row until it is known at first: what feeds it may only just have been switched on."""


@dataclass(frozen=True, slots=True)
class Contact:
    """A contact as it is known to be; `pressed` is None until it is."""

    pressed: bool | None = None
    against: bool | None = None
    looks: int = 0

    def look(self, down: bool) -> "Contact":
        """What is known after one more look, which found it down or not."""
        if down is self.pressed:
            return Contact(self.pressed)
        looks = self.looks + 1 if down is self.against else 1
        settled = PRESSED_AFTER if down else RELEASED_AFTER
        needed = KNOWN_AFTER if self.pressed is None else settled
        return Contact(down) if looks >= needed else replace(self, against=down, looks=looks)
