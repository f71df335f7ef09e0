"""Every message that crosses the pipe between a recorder and its client, both ways.

One JSON object a line; `is` names its kind. The same objects are the `--json` stream, so field
names are words of the trade and never change meaning: a change of shape raises `VERSION`, and
unequal versions refuse each other at `hello`.

Requests carry an `id`; the recorder answers each with `Done` or `Refused` of the same id.
What the recorder publishes on its own has none.
"""

from typing import Any

import msgspec

from benchlog.domain.cold_checks import ColdAnswer
from benchlog.domain.reference import Reference
from benchlog.recorder.message import Message, Request
from benchlog.recorder.messages_taking import Ahead, Hands, Kept, Null, Part, Press, Take, Taken

__all__ = ["Ahead", "Hands", "Kept", "Message", "Null", "Part", "Press", "Request", "Take", "Taken"]
"""What is defined elsewhere, and belongs to these all the same."""

VERSION = 2
LINE_LIMIT = 1 << 20
"""Longest line either side accepts, in bytes."""


# --- both ways ---------------------------------------------------------------------------------


class Hello(Message, tag="hello"):
    """First line of each side. `program` is a version text, `pid` the sender's process."""

    version: int
    program: str = ""
    pid: int = 0


class Beat(Message, tag="beat"):
    """A heartbeat; `n` counts up."""

    n: int


# --- client to recorder ------------------------------------------------------------------------


class OpenBench(Request, tag="open_bench"):
    """Attach the instruments of a bench; replaces the one that is open.

    `text` is the bench file, `place` its name in messages, `profiles` folders searched first to
    last, `rate` the speed of plan time (1 unless the addresses are a simulated bench's own).
    """

    text: str
    place: str
    profiles: list[str]
    rate: float = 1.0


class Try(Request, tag="try"):
    """Open the instrument `job` of a bench by itself, ask what it is and for a reading, and close it.

    The open bench is closed first. `Done.data` holds `lines`, each (seconds, `asked` or `answered`, text) as it
    went over the wire; `read`, each (channel, function, outcome, value or null); `identity`; and `wrong`, a
    sentence where it did not go well, else empty.
    """

    text: str
    place: str
    profiles: list[str]
    job: str


class LoadPlan(Request, tag="load_plan"):
    """Check a plan against the open bench; `Done.data` holds `sentences`, what the check says.

    `reference` is the good run of the unit that the plan is for; left out where there is none.
    """

    text: str
    place: str
    reference: Reference | None = None


class Prove(Request, tag="prove"):
    """Prove every off-switch of the open bench; `Done` when all are proven, else `Refused`."""


class Arm(Request, tag="arm"):
    """Open a session file in `folder` and stand before the first stage.

    `session` is its UUIDv7; `unit` and `visit` are ids of the library, empty where there is none. `to_discharge`:
    after off the run stays open until its reservoirs were seen to discharge, for a person who looks after it.
    `again` is the file of the run that tripped, to be climbed back to with short dwells; `cause`: what tripped it.
    `idle_set` are the traces whose idle was marked as set in earlier runs of the visit. `cold` is how each cold check
    that the plan demands stands; `alone`: nobody stays with it.
    """

    session: str
    folder: str
    title: str = ""
    unit: str = ""
    visit: str = ""
    to_discharge: bool = False
    again: str = ""
    cause: str = ""
    idle_set: list[str] = []
    cold: list[ColdAnswer] = []
    alone: bool = False


class Act(Request, tag="act"):
    """What the operator does to a live run.

    `what` is one of `next`, `hold`, `resume`, `back`, `off`, `close`. `cut` has its own message.
    `stage` is the index of the stage the operator was looking at, so that a key pressed twice does not go
    up twice; -1 where it does not matter.
    """

    what: str
    stage: int = -1


class Clip(Request, tag="clip"):
    """The clip of a trace is taken in hand, which rests it for a while; asked again: it is on again."""

    trace: str


class Trimmer(Request, tag="trimmer"):
    """Somebody turns a trimmer: a runaway is looked for anew some time after."""


class IdleSet(Request, tag="idle_set"):
    """The idle that a trace shows is set from now on, so that it must not fall; asked again: it is not."""

    trace: str


class SetLimit(Request, tag="set_limit"):
    """Set the limit at that place of the plan, from 0, to another figure; logged with old and new.

    `field` is one of `loosening.FIELDS`; empty: the one its kind is bounded by. A limit that
    becomes looser needs a `reason`.
    """

    limit: int
    value: float
    field: str = ""
    reason: str = ""


class Cut(Request, tag="cut"):
    """The operator's cut: fired before anything else is looked at."""

    reason: str = "cut by the operator"


class Answer(Request, tag="answer"):
    """The person's answer to a `Prompt`; `yes` is false where it was not done or not perceived."""

    prompt: int
    yes: bool = True


class Remark(Request, tag="remark"):
    """A timed note by the operator; `remark` is its UUIDv7, `ago` the wire seconds since what it is about."""

    remark: str
    text: str
    ago: float = 0.0


class Observe(Request, tag="observe"):
    """What a person sees, hears, smells or feels at the live unit: `what` is one of the domain's observations.

    `ago` are the wire seconds since it was so.
    """

    what: str
    ago: float = 0.0


class Spot(Request, tag="spot"):
    """What was read at the spot `name` of the present stage, as typed; empty where it is skipped."""

    name: str
    text: str = ""


class StayAwake(Request, tag="stay_awake"):
    """A part of a round is read: the computer must not go to sleep while the next one is looked for."""


class Quit(Request, tag="quit"):
    """Close everything and end the process; a live run is cut first."""


# --- recorder to client ------------------------------------------------------------------------


class Done(Message, tag="done"):
    """A request was carried out."""

    id: int
    data: dict[str, Any] = {}


class Refused(Message, tag="refused"):
    """A request was not carried out; `faults` are (place, problem, fix), at least one."""

    id: int
    faults: list[tuple[str, str, str]]


class Meter(Message, tag="meter"):
    """How an instrument of the bench is doing: `state` is `open`, `opening`, `gone` or `refused`."""

    job: str
    state: str
    text: str = ""
    identity: str = ""


class Pedal(Message, tag="pedal"):
    """The pedal `job` was pressed; it `does` `cut`, which has been carried out, or what is the window's to do."""

    job: str
    does: str


class Batch(msgspec.Struct, frozen=True, array_like=True):
    """Readings of one trace or meter: (sequence number, plan ns, value or null, outcome) each.

    Sequence numbers count up by one per trace, so a reader sees what was dropped. Before a
    session is open `t` is wire time since the recorder's start.
    """

    trace: str
    rows: list[tuple[int, int, float | None, str]]


class Readings(Message, tag="readings"):
    """New readings; may be dropped when the client is slow. The store is the truth."""

    batches: list[Batch]


class Stored(Message, tag="stored"):
    """Everything up to these sequence numbers is on the disk."""

    traces: dict[str, int]
    t: int


class Event(Message, tag="event"):
    """Something that happened in the run, as it is kept: see the store's `event` table."""

    t: int
    kind: str
    text: str
    data: dict[str, Any] = {}


class Stage(Message, tag="stage"):
    """Where the run stands.

    `state` is one of the stage machine's states; `waits` are (what is awaited, whether it holds,
    how far it is as text); `left` the plan seconds of dwell that remain. `astray` says where a meter shows the
    source in place of where it must stand, empty where it agrees. `unarmed` are the plan's limits that do not look
    now, by their place in the plan from 0, each with the plan seconds until it does; null where nobody can say.
    `spot` is the spot reading that is asked for now, empty where none is.
    `clips` are the traces whose clips are being moved, each with the wire seconds it has left; `adjusting` the plan
    seconds until a runaway is looked for again after a trimmer was turned, 0 where it is.
    """

    t: int
    state: str
    index: int
    name: str
    waits: list[tuple[str, bool, str]] = []
    left: float = 0.0
    astray: str = ""
    spot: str = ""
    unarmed: list[tuple[int, float | None]] = []
    clips: list[tuple[str, float]] = []
    adjusting: float = 0.0


class Prompt(Message, tag="prompt"):
    """Something a person must do or perceive; answered by `Answer`.

    `kind` is `set_dial`, `switch_on`, `switch_off`, `fit_lamp`, `heard_alarm`, `relay_clicked` or
    `mended`, or after off `rebound`; `data` its numbers; `text` the sentence to show and speak.
    """

    prompt: int
    kind: str
    text: str
    data: dict[str, Any] = {}


class Withdrawn(Message, tag="withdrawn"):
    """A `Prompt` is open no longer, without an answer: what it asked for is overtaken."""

    prompt: int


class Holds(Message, tag="holds"):
    """What holds at the recorder while no session is open: `nothing`, `bench`, `plan` or `proof`; else `run`.

    Said when it changed: after the answer of a request that changed it, and before the answer of the next.
    """

    what: str


class Trip(Message, tag="trip"):
    """A limit broke: what, where, how far beyond. `wire_ns` is the violating reading's arrival."""

    t: int
    wire_ns: int
    trace: str
    limit: str
    text: str
    value: float | None = None
    bound: float | None = None


class CutState(Message, tag="cut_state"):
    """How an off-switch stands after a cut was asked.

    `outcome` is `asked`, `verified off`, `asked, still live`, `refused` or `unknown`. `asked_ns` and `at_ns` are
    wire time: when the cut left, and when this outcome was known. `seen_off` says that what it switches is seen off
    all the same, by another; one that failed stays so.
    """

    t: int
    path: str
    outcome: str
    text: str
    asked_ns: int
    at_ns: int
    seen_off: bool = False


class Notice(Message, tag="notice"):
    """Something the person should know that is no event of the run."""

    place: str
    problem: str
    fix: str = ""
    grave: bool = False


class Recipe(Message, tag="recipe"):
    """How to cut without this recorder: sent at arming, used by the one-shot recorder.

    `lines` are (host, port, text to send, question that reads the state back, answers that
    mean off with `|` between them, a question for the volts of each output) for each network supply; relays
    and hands have none.
    """

    lines: list[tuple[str, int, str, str, str, list[str]]]


class Closed(Message, tag="closed"):
    """The session is closed: its file, how and why it ended, whether it is folded."""

    path: str
    outcome: str
    reason: str
    folded: bool


_ToPrepare = Hello | Beat | OpenBench | Try | LoadPlan | Prove | Arm | Act
_ToRun = _ToPrepare | Clip | Trimmer | IdleSet | SetLimit | Cut | Answer | Remark | Observe | Spot
Incoming = _ToRun | Take | Ahead | Press | Null | Kept | StayAwake | Quit
"""What a recorder accepts."""

_Standing = Hello | Beat | Done | Refused | Meter | Pedal | Readings | Stored
_Happening = _Standing | Event | Stage | Prompt | Withdrawn | Holds | Trip | CutState | Taken
Outgoing = _Happening | Hands | Notice | Recipe | Closed
"""What a client accepts."""
