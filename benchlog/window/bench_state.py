"""How the attached bench stands: which instruments answer, and the one sentence for it."""

import tomllib
from dataclasses import replace

from benchlog.domain.reading import Outcome
from benchlog.instruments.bench import Bench, MeterEntry, PedalEntry, SupplyEntry
from benchlog.recorder.client import messages
from benchlog.window.bench_file import Draft
from benchlog.window.fault_list import counted
from benchlog.window.shapes import Shape

FIRST = 5
"""So many readings of each meter are told; after that only what is none, when it begins."""


GARBLED = "what it answers cannot be read with its profile; try it by itself to see why"
"""Why a meter that answers gives nothing."""

Instrument = MeterEntry | SupplyEntry
Attachable = Instrument | PedalEntry


class Attached:
    """What came of attaching a bench.

    `rate` is that of plan time for the addresses of `offered`, a simulated bench's own; every other bench
    lives in real time.

    Attributes:
        bench: the one the recorder has open; None where it has none.
        states: by job, the state and what is wrong; empty texts where nothing was tried.
        at_work: whether something is being attached or tried just now.
        wanted: the one that a person last wanted attached, whatever has become of it.
    """

    def __init__(self, rate: float = 1.0, offered: str = "") -> None:
        self.bench: Bench | None = None
        self.wanted: Bench | None = None
        self.states: dict[str, tuple[str, str]] = {}
        self._entries: dict[str, Attachable] = {}
        self.at_work = False
        self._rate = rate
        self._simulated = addresses_in(offered) if rate != 1.0 else frozenset[str]()
        self._told: dict[str, tuple[int, str]] = {}
        self._garbled: dict[str, str] = {}
        """Jobs that answer, but not so that it could be read, and why."""
        self._coming: Bench | None = None

    # --- what happens --------------------------------------------------------------------------------

    def begin(self, bench: Bench) -> float:
        """A bench is being attached; the rate of plan time it lives at."""
        self.at_work = True
        self.bench, self._coming = None, bench
        self.wanted = bench
        self._entries = {entry.job: entry for entry in bench.meter}
        self._entries |= {entry.job: entry for entry in bench.supply}
        self._entries |= {entry.job: entry for entry in bench.pedal}
        self.states = dict.fromkeys(self._entries, ("opening", ""))
        self._told, self._garbled = {}, {}
        return self._rate if _addresses(bench) <= self._simulated else 1.0

    def opened(self, meters: dict[str, list[str]]) -> None:
        """It is attached: each instrument is open or has failed once."""
        self.at_work = False
        self.bench, self._coming = self._coming, None
        for job, (state, text) in meters.items():
            self.states[job] = (state, "" if state == "open" else text)

    def failed(self) -> None:
        """Nothing came of it."""
        self.at_work = False
        self.bench = self._coming = None
        self.states = {}

    def begin_trial(self, entry: Instrument) -> None:
        """One instrument is tried by itself; the others are let go."""
        self.at_work = True
        self.bench = None
        self._entries, self._garbled = {entry.job: entry}, {}
        self.states = {entry.job: ("opening", "")}

    def tried(self, job: str, wrong: str, unreadable: str = "") -> None:
        """What came of it; `wrong` is empty where it answered, `unreadable` where that could be read."""
        self.at_work = False
        self._garbled = {job: unreadable} if unreadable else {}
        self.states = {job: ("refused", wrong) if wrong else ("open", "")}

    def heard(self, message: messages.Meter) -> bool:
        """An instrument says how it is doing; false where it is none of this bench."""
        if message.job not in self.states or (self.bench or self._coming) is None:
            return False
        self.states[message.job] = (message.state, "" if message.state == "open" else message.text)
        return True

    def hear_outcome(self, job: str, outcome: str) -> bool:
        """How its newest reading came out; whether that changes how the instrument stands."""
        before = job in self._garbled
        if outcome == Outcome.MALFORMED:
            self._garbled.setdefault(job, GARBLED)
        elif outcome in (Outcome.OK, Outcome.OVERLOAD, Outcome.NOT_A_NUMBER):
            self._garbled.pop(job, None)
        return before != (job in self._garbled)

    def doubt_profiles(self, names: frozenset[str]) -> None:
        """These profiles were changed: what did not serve with them before counts as not tried."""
        for entry in self._entries.values():
            if isinstance(entry, PedalEntry):
                continue
            if entry.profile in names and self._state(entry.job)[0] not in ("open", "opening"):
                self._garbled.pop(entry.job, None)
                self.states[entry.job] = ("", "")

    def state_of(self, entry: Attachable) -> tuple[str, str]:
        """State and why of an instrument just as it stands; empty texts where it was changed or not tried."""
        return self._state(entry.job) if self._entries.get(entry.job) == entry else ("", "")

    def _state(self, job: str) -> tuple[str, str]:
        """State and why; one that answers what cannot be read is not one that answers."""
        state, why = self.states.get(job, ("", ""))
        return (
            ("unreadable", self._garbled[job]) if state == "open" and job in self._garbled else (state, why)
        )

    def holds(self, bench: Bench) -> bool:
        """Whether just these instruments are attached; what the bench is called does not matter."""
        return _same(self.bench, bench)

    def wants(self, bench: Bench) -> bool:
        """Whether just these instruments were to be attached."""
        return _same(self.wanted, bench)

    def lost(self, why: str) -> None:
        """Whatever read the instruments is gone."""
        self.at_work = False
        self.bench = self._coming = None
        self.states = dict.fromkeys(self.states, ("gone", why))

    def worth_telling(self, job: str, outcome: str) -> MeterEntry | None:
        """The meter of a reading that belongs into the transcript."""
        bench = self.bench or self._coming
        meters = bench.meter if bench is not None else ()
        entry = next((one for one in meters if one.job == job and one.function is not None), None)
        if entry is None:
            return None
        count, before = self._told.get(job, (0, ""))
        self._told[job] = (count + 1, outcome)
        return entry if count < FIRST or before not in (outcome, "") else None

    # --- how it stands -------------------------------------------------------------------------------

    def account(self, draft: Draft, *, busy: bool) -> tuple[str, Shape, str]:
        """A sentence, and shape and words for the column of steps."""
        if draft.empty:
            return "", Shape.TO_DO, ""
        count = _count(draft.bench)
        unsaved = "" if draft.saved else " Not saved yet."
        if busy:
            return "A run is open: the bench stays as it is until it is closed.", *self._stands(draft, count)
        if draft.faults:
            mend = counted(len(draft.faults), "thing")
            general = [str(fault) for fault in draft.faults if "[" not in fault.place]
            says = " ".join([f"{mend} to mend before it can be attached.", *general])
            return says, Shape.DOUBT, f"{mend} to mend"
        if self.at_work:
            return "Asking each what it is.", Shape.DOUBT, "being tried"
        if self.bench is None:
            return f"Not attached: try the bench.{unsaved}", Shape.TO_DO, f"{count}, not tried"
        if not self.holds(draft.bench):
            return f"Changed since it was attached: try it again.{unsaved}", Shape.DOUBT, "changed, not tried"
        shape, detail = self._stands(draft, count)
        return f"{self._answering()}{unsaved}", shape, detail

    def _stands(self, draft: Draft, count: str) -> tuple[Shape, str]:
        answers = sum(self._state(job)[0] == "open" for job in self.states)
        if answers < len(self.states):
            return (
                Shape.DOUBT,
                f"{answers} of {len(self.states)} {'can be read' if self._garbled else 'answer'}",
            )
        if not draft.bench.off_switch:
            return Shape.DOUBT, f"{count}, no off-switch"
        return Shape.GOOD, count

    def _answering(self) -> str:
        silent = [job for job in self.states if self._state(job)[0] != "open"]
        if not silent:
            return "Attached: every instrument answers."
        return f"Attached, but without {', '.join(silent)}: see why on the card, or try it by itself."


def _same(one: Bench | None, other: Bench) -> bool:
    return one is not None and replace(one, name=other.name) == other


def addresses_in(text: str) -> frozenset[str]:
    """Every address of a bench file's text; none where it cannot be read."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError):
        return frozenset()
    lists = [table.get(key) for key in ("meter", "supply", "off_switch")]
    entries = [
        entry for found in lists if isinstance(found, list) for entry in found if isinstance(entry, dict)
    ]
    return frozenset(str(entry["address"]) for entry in entries if entry.get("address"))


def _addresses(bench: Bench) -> frozenset[str]:
    found = {entry.address for entry in bench.meter}
    found |= {entry.address for entry in bench.supply} | {entry.address for entry in bench.off_switch}
    return frozenset(found - {""})


def _count(bench: Bench) -> str:
    said = [
        counted(len(bench.meter), "meter") if bench.meter else "",
        f"{len(bench.supply)} {'supply' if len(bench.supply) == 1 else 'supplies'}" if bench.supply else "",
    ]
    return ", ".join(text for text in said if text) or "no instrument"
