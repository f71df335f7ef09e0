"""The messages about parts that are taken: one by one, hands-free, and told until they are kept."""

import msgspec

from benchlog.recorder.message import Message, Request

# --- client to recorder ------------------------------------------------------------------------


class Take(Request, tag="take", frozen=True):
    """Take one settled reading of a part with the walking meter `job`.

    `reading` is the UUIDv7 it will carry; `part` the id of the fitted item, empty where the taker
    knows it. The reading comes as `Taken`, which is repeated until `Kept`.
    """

    reading: str
    job: str
    designator: str
    function: str
    part: str = ""
    measure: str = ""
    """Which of the part's measures; empty: its own value."""


class Part(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A part that is ahead of the hands: what `Take` says of it, and which values need no second look.

    `near` are spans of such values, lowest and highest, open at a null; null itself where nothing says what it
    should read. `over`: over range needs no look; `by_key`: its reading wants a key, since the air reads the same.
    """

    reading: str
    designator: str
    function: str
    part: str = ""
    measure: str = ""
    """Which of the part's measures; empty: its own value."""
    near: list[tuple[float | None, float | None]] | None = None
    over: bool = True
    by_key: bool = False


class Ahead(Request, tag="ahead", frozen=True):
    """Hands-free: take these parts by themselves with the walking meter `job`, each as its contact comes to rest.

    Replaces what was ahead; none ends it. What was taken already is known by its id and passed over. Each
    reading comes as `Taken`, what goes on between as `Hands`.
    """

    job: str
    parts: list[Part] = []


class Press(Request, tag="press", frozen=True):
    """Hands-free: a key or a pedal for the part that will be the reading `reading`.

    `what` is `take`: what is held stands, else what the tips are at is read, whatever it is; or `drop`: what
    is held goes.
    """

    job: str
    reading: str
    what: str = "take"


class Null(Request, tag="null", frozen=True):
    """Take `value` ohms off what the meter `job` reads on two-wire ohms: its leads, read shorted at `utc`."""

    job: str
    value: float
    utc: str


class Kept(Request, tag="kept", frozen=True):
    """The holder of the library lock has committed a `Taken` reading."""

    reading: str


# --- recorder to client ------------------------------------------------------------------------


class Taken(Message, tag="taken", frozen=True):
    """A part reading, whole; repeated until `Kept` names it."""

    reading: str
    designator: str
    part: str
    job: str
    function: str
    outcome: str
    value: float | None
    unit: str
    raw: str
    utc: str
    resolution: float | None = None
    settled: bool = True
    flags: list[str] = []
    negative: bool = False
    """The sign of an overload."""
    error: float | None = None
    """How far the meter can be off, either way, in the unit; None where nobody has said."""
    nulled: float | None = None
    """Ohms of the leads that were taken off the value."""
    beside: dict[str, float] = {}
    """What came with the value: D, ESR, the Hz of the test signal; of one that still moved, where it was heading."""
    looked: bool = False
    """Whether it was far off and has been borne out already."""
    measure: str = ""
    """Of the part's measures, as it was asked for."""


class Hands(Message, tag="hands", frozen=True):
    """Hands-free: what goes on at the tips of the meter `job`, told when it changes.

    `tips` is one of the domain's words; `reading` and `designator` say for which part, empty where none is
    ahead. `why` is what ails in words or as an outcome. A reading that wants a second look is in `held`, whole.
    """

    job: str
    tips: str
    reading: str = ""
    designator: str = ""
    why: str = ""
    held: Taken | None = None
