"""What matters of a part between two passes: what is still out, differs, is unproven, was not read, or changed.

Rule 26 gives what counts as the same (5 %, 0.1 ohm at least, the same meter, the leads the same way round,
equally lifted), rule 37 which two passes lie beside each other, rule 38 that another item is another matter.
"""

from dataclasses import dataclass
from enum import IntEnum

from benchlog.domain.quantity import Overload
from benchlog.domain.standing import MIRROR_WITHIN, agrees
from benchlog.domain.verdict import Verdict


class Matter(IntEnum):
    """What a part wants to be looked at for; the smaller one comes first."""

    OUT = 1
    """Out of its limits in the later pass, or in the earlier one where no later one is."""
    DIFFERS = 2
    """Not as the other side, read in the same way."""
    UNPROVEN = 3
    """What it read proves nothing yet."""
    NO_LATER = 4
    """Read or replaced, and not read in the later pass."""
    UNREAD = 5
    """Read in neither."""
    CHANGED = 6
    """Another item, another result, or another figure by more than part differs from part."""


BAD = frozenset({Verdict.HIGH, Verdict.LOW, Verdict.OPEN, Verdict.SHORT})
"""Verdicts that say a part is out."""
GOOD = frozenset({Verdict.WITHIN, Verdict.AS_OTHER_SIDE, Verdict.DRIFTED})
"""Verdicts with which it may stay."""


@dataclass(frozen=True, slots=True)
class Read:
    """A reading as far as it is compared.

    Attributes:
        value: in `unit` (SI), or the overload; None where nothing was read.
        verdict: what it proves; None where nobody has judged it.
        item: the id of what was fitted there.
        way: how it was read: meter, leads, circuit; only what was read in one way is compared with the other side.
    """

    value: float | Overload | None
    unit: str
    verdict: Verdict | None = None
    item: str = ""
    way: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Compared:
    """A part in an earlier and a later pass, and the same part on the other side in each; `now` is what sits there."""

    earlier: Read | None
    later: Read | None
    other_earlier: Read | None = None
    other_later: Read | None = None
    now: str = ""

    @property
    def stands(self) -> Read | None:
        """How the part stands: as read last, and of the item that sits there now."""
        for read in (self.later, self.earlier):
            if read is not None and not (self.now and read.item and read.item != self.now):
                return read
        return None

    @property
    def other(self) -> Read | None:
        """The other side's reading that is shown beside it: of the same pass as what stands, else the newest."""
        if self.stands is not None and self.stands is self.earlier and self.other_earlier is not None:
            return self.other_earlier
        return self.other_later or self.other_earlier

    @property
    def replaced(self) -> bool:
        """Whether another item sits there than was read in the earlier pass."""
        if self.earlier is None:
            return False
        now = self.now or (self.later.item if self.later is not None else "")
        return bool(now and self.earlier.item and now != self.earlier.item)


def differs(one: Read | None, other: Read | None) -> bool:
    """Whether two sides that were read in one way do not read the same (rule 26)."""
    if one is None or other is None or one.value is None or other.value is None:
        return False
    return one.way == other.way and not agrees(one.value, other.value, MIRROR_WITHIN, one.unit)


def changed(compared: Compared) -> bool:
    """Whether the later pass says another thing than the earlier one."""
    one, other = compared.earlier, compared.later
    if compared.replaced:
        return True
    if one is None or other is None or one.value is None or other.value is None:
        return False
    return one.verdict is not other.verdict or not agrees(other.value, one.value, MIRROR_WITHIN, one.unit)


def matters(compared: Compared) -> tuple[Matter, ...]:
    """Everything that wants a look, the gravest first; empty where nothing does."""
    stands = compared.stands
    found = []
    if stands is not None and stands.verdict in BAD:
        found.append(Matter.OUT)
    if differs(stands, compared.other):
        found.append(Matter.DIFFERS)
    if stands is not None and stands.verdict not in BAD | GOOD:
        found.append(Matter.UNPROVEN)
    if compared.later is None or (compared.now and compared.later.item not in ("", compared.now)):
        found.append(Matter.NO_LATER if compared.earlier or compared.later else Matter.UNREAD)
    if changed(compared):
        found.append(Matter.CHANGED)
    return tuple(sorted(found))


def weight(found: tuple[Matter, ...]) -> int:
    """By what a list is sorted: the gravest matter, nothing last."""
    return int(found[0]) if found else len(Matter) + 1
