"""What the person is told in large at each moment of a power-up, and what Enter does just then. No Qt, no acts."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.discharge import HOLDS, LONGEST
from benchlog.domain.plan import Plan
from benchlog.domain.stages import UNSEEN_TAIL, State
from benchlog.recorder.client import messages
from benchlog.window import words
from benchlog.window.charges import charges_of, keep_out, still_charged
from benchlog.window.climb import completed, known_of, on_in_words, setting_of
from benchlog.window.cold import Cold
from benchlog.window.graph_scale import moment as clock
from benchlog.window.run_view import Phase, RunView
from benchlog.window.shapes import Shape
from benchlog.window.spot_take import walking_of


class Do(StrEnum):
    """What Enter does."""

    NOTHING = "nothing"
    ANSWER = "answer"
    PROVE = "prove"
    BEGIN = "begin"
    NEXT = "next"
    AGAIN = "again"
    DIAL_BACK = "dial back"
    SPOT = "spot"
    COLD = "cold"


@dataclass(frozen=True, slots=True)
class Call:
    """A sentence to be read at two metres.

    Attributes:
        text: the sentence.
        detail: what is known beside it, in small.
        enter: what Enter does just now, in a word or two; empty where it does nothing.
        no: what the key for no says; empty where there is nothing to deny.
        do: what Enter does.
        asks: whether somebody must do something.
        shape: how it stands.
        danger: whether the small line warns of danger.
        key: what makes it another call than the one before.
    """

    text: str
    detail: str = ""
    enter: str = ""
    no: str = ""
    do: Do = Do.NOTHING
    asks: bool = False
    shape: Shape | None = None
    danger: bool = False
    key: str = ""


_YES = {
    "heard_alarm": ("yes, heard", "no"),
    "relay_clicked": ("yes, it did", "no"),
    "switch_off": ("it is off", "not off"),
    "mended": ("found and mended", "not yet"),
    "rebound": ("all under 1 V", "not all"),
}
_DETAIL = {
    "heard_alarm": "It must be louder than the room: it is what calls your hand.",
    "relay_clicked": "Listen at the relay itself.",
    "switch_on": "Keep one hand on the off-switch.",
    "switch_off": "Say so when it is done.",
    "set_dial": "Say so when it stands there.",
    "fit_lamp": "The limits go by what is fitted.",
    "rebound": "Charge comes back: never trust the screen alone, measure.",
}


def call_of(view: RunView, now: float, seen: Mapping[int, str]) -> Call:
    """The call of this moment."""
    if view.prompt is not None:
        return _prompted(view, view.prompt, now)
    plan = view.plan
    if plan is None:
        return Call("")
    if view.phase is Phase.CHECKED:
        return _checked(view)
    if view.phase is Phase.PROVING:
        return Call("Proving the off-switch.", "Hands out. The unit may click on and off.", key="proving")
    if view.phase is Phase.PROVEN:
        name = plan.stage[0].name
        text = f"The off-switch is proven. Hands out, then begin at {name}."
        return Call(
            text,
            _back_in_words(view),
            f"begin at {name}",
            do=Do.BEGIN,
            asks=True,
            shape=Shape.GOOD,
            key="proven",
        )
    if view.phase is Phase.OFF:
        return _off(view, now)
    if view.phase is Phase.CLOSED:
        return _closed(view, plan, now)
    wrong = (
        view.stage.astray if view.stage is not None and view.state in (State.DWELLING, State.READY) else ""
    )
    if wrong:
        # Nothing is offered at a stage that the source does not stand at.
        return Call(
            _sentence(wrong),
            "Turn it there slowly, or switch off.",
            shape=Shape.HIGH,
            danger=True,
            key="astray",
        )
    return _LIVE[view.state](view, plan, now, seen)


def may_end_early(view: RunView) -> bool:
    """Whether the dwell may be cut short: all else holds, and no drill is due."""
    stage = view.stage
    if stage is None or view.state is not State.DWELLING or not all(holds for _, holds, _ in stage.waits[1:]):
        return False
    by_hand = view.bench is not None and all(switch.kind == "hand" for switch in view.bench.off_switch)
    return not by_hand or any(moment.kind == "drill" for moment in view.moments)


def _prompted(view: RunView, prompt: messages.Prompt, now: float) -> Call:
    yes, no = _YES.get(prompt.kind, ("done", "not done"))
    detail = _DETAIL.get(prompt.kind, "")
    if prompt.data.get("drill"):
        detail = "For practice: how long it takes until it is seen off is kept."
    if prompt.kind == "fit_lamp" and still_charged(charges_of(view, now)) and view.falls:
        detail = f"{keep_out(charges_of(view, now))} {detail}"
    if prompt.data.get("after"):
        # What the card says of the reservoirs must not be lost beneath the question.
        detail = f"Before the next start. {_off(view, now).detail}"
    return Call(
        prompt.text,
        detail,
        yes,
        no,
        Do.ANSWER,
        asks=True,
        shape=Shape.HERE,
        danger=bool(prompt.data.get("after")),
        key=f"prompt {prompt.prompt}",
    )


def _checked(view: RunView) -> Call:
    if view.cold is not None and not view.cold.done:
        return _cold(view.cold)
    if view.plan is not None and not view.plan.run_kind.feeds:
        text = "Unplugged, its mains switch on? Then its reservoirs are followed."
        detail = "A resistor across each capacitor's own terminals, never a screwdriver; leave it clipped on."
        return Call(text, detail, "follow them", do=Do.BEGIN, asks=True, shape=Shape.HERE, key="discharge")
    switches = view.bench.off_switch if view.bench is not None else ()
    names = ", ".join(switch.job or switch.supply or switch.kind for switch in switches)
    return Call(
        "Before anything is live the off-switch is proven.",
        _sentence(f"Off-switch: {names}" if names else "", _back_in_words(view)),
        "prove it",
        do=Do.PROVE,
        key="checked",
    )


def _cold(cold: Cold) -> Call:
    """The cold check that is asked now, or whether somebody stays."""
    answer = cold.asked
    if answer is None:
        text = "Do you stay with it?"
        detail = "Left alone, it must have an off-switch that acts by itself."
        return Call(text, detail, "I stay", "alone", Do.COLD, asks=True, shape=Shape.HERE, key="cold alone")
    failed = answer.holds is False
    read = failed and answer.by == "read"
    return Call(
        cold.question(answer),
        cold.beside(answer),
        "read again" if read else "mended: yes" if failed else "yes",
        "" if failed else "no",
        Do.COLD,
        asks=True,
        shape=Shape.HIGH if failed else Shape.HERE,
        danger=failed,
        key=f"cold {answer.check} {answer.holds}",
    )


def _back_in_words(view: RunView) -> str:
    """That it goes on from a trip; empty where it does not."""
    back = view.again
    return (
        "" if back is None else f"Again from {back.stage}, short dwells below it. Cause named: {back.cause}."
    )


# --- live ----------------------------------------------------------------------------------------------


def _standing(view: RunView, plan: Plan, _now: float, _seen: Mapping[int, str]) -> Call:
    name = plan.stage[0].name
    if view.phase is Phase.ARMED:
        return Call(f"Beginning at {name}.", "", "try again", do=Do.AGAIN, key="beginning")
    text = "Not done: the unit stands off."
    return Call(text, "", f"try {name} again", do=Do.AGAIN, asks=True, key="standing")


def _setting(view: RunView, plan: Plan, _now: float, _seen: Mapping[int, str]) -> Call:
    return Call(f"Setting the source to {_stage_words(view, plan)}.", key=_key(view))


def _switching_on(view: RunView, _plan: Plan, _now: float, _seen: Mapping[int, str]) -> Call:
    return Call("Switching on. Hands out.", key=_key(view))


def _moving(view: RunView, plan: Plan, now: float, _seen: Mapping[int, str]) -> Call:
    on = on_in_words(view, now)
    detail = "Low limits rest until it stands still; ceilings, idle and lamp are watched."
    return Call(
        f"Source moving to {_stage_words(view, plan)}.", f"{_sentence(on)} {detail}".strip(), key=_key(view)
    )


def _dwelling(view: RunView, plan: Plan, now: float, seen: Mapping[int, str]) -> Call:
    stage = view.stage
    if stage is None:
        return Call("")
    known = _sentence(known_of(view, stage.index, seen), on_in_words(view, now))
    missing = [what for what, holds, _ in stage.waits[1:] if not holds]
    text = f"{stage.name}: dwelling, {clock(stage.left)} left."
    if stage.left <= 0.0 and missing:
        text = f"{stage.name}: waiting for {missing[0]}."
    if view.spot:
        (spot,) = (one for one in plan.stage[stage.index].spot if one.name == view.spot)
        should = f", should read {spot.should_read}" if spot.should_read else ""
        asked = f"Measure {spot.name}{should}."
        if view.taking:
            return Call(f"Reading {spot.name}: hold the probes there.", text, key=f"taking {spot.name}")
        job = walking_of(view)
        enter, no = (f"take: {job}", "type it") if job else ("type it", "")
        return Call(asked, text, enter, no, do=Do.SPOT, asks=True, shape=Shape.HERE, key=f"spot {spot.name}")
    if may_end_early(view):
        last = stage.index + 1 == len(plan.stage)
        enter = "end early" if last else f"early: {plan.stage[stage.index + 1].name}"
        return Call(text, known, enter, do=Do.NEXT, key=_key(view))
    return Call(text, known, key=_key(view))


def _drill(view: RunView, _plan: Plan, _now: float, _seen: Mapping[int, str]) -> Call:
    return Call("Drill: looking for the unit to go off.", "The meters must show it.", key=_key(view))


def _ready(view: RunView, plan: Plan, now: float, seen: Mapping[int, str]) -> Call:
    index = view.stage.index if view.stage is not None else 0
    known = _sentence(known_of(view, index, seen), on_in_words(view, now))
    if index + 1 == len(plan.stage):
        text = "The last stage is done. Next: off, in good order."
        return Call(text, known, "end", do=Do.NEXT, asks=True, shape=Shape.GOOD, key=_key(view))
    following = plan.stage[index + 1]
    text = f"Ready. Next is {_named(plan, index + 1)}."
    if plan.fitted_at(index + 1) != plan.fitted_at(index):
        text = f"Ready. Next is {following.name}: off, change, on."
    enter = f"next: {following.name}"
    return Call(text, known, enter, do=Do.NEXT, asks=True, shape=Shape.GOOD, key=_key(view))


def _held(view: RunView, _plan: Plan, now: float, seen: Mapping[int, str]) -> Call:
    stage = view.stage
    name = stage.name if stage is not None else ""
    known = known_of(view, stage.index, seen) if stage is not None else ""
    return Call(
        f"Held at {name}.",
        _sentence(known, on_in_words(view, now)),
        shape=Shape.DOUBT,
        key=_key(view),
    )


def _going_off(view: RunView, plan: Plan, _now: float, _seen: Mapping[int, str]) -> Call:
    index = view.stage.index if view.stage is not None else 0
    text = f"Going off, to {plan.fitted_at(index).words}."
    return Call(text, "Hands out until it is seen off.", danger=True, key=_key(view))


def _switching_off(view: RunView, _plan: Plan, _now: float, _seen: Mapping[int, str]) -> Call:
    return Call("Switching off.", key=_key(view))


_LIVE: dict[State, Callable[[RunView, Plan, float, Mapping[int, str]], Call]] = {
    State.STANDING: _standing,
    State.SETTING: _setting,
    State.SWITCHING_ON: _switching_on,
    State.MOVING: _moving,
    State.DWELLING: _dwelling,
    State.DRILL: _drill,
    State.READY: _ready,
    State.HELD: _held,
    State.GOING_OFF: _going_off,
    State.CHANGING: _going_off,
    State.SWITCHING_OFF: _switching_off,
    State.TAIL: _switching_off,
    State.CLOSED: _switching_off,
}


# --- off -----------------------------------------------------------------------------------------------


def _off(view: RunView, now: float) -> Call:
    if view.plan is not None and not view.plan.run_kind.feeds and not view.was_cut:
        text = "The reservoirs are followed until each was seen low."
        return Call(text, keep_out(charges_of(view, now)), shape=Shape.HERE, danger=True, key="off")
    why = "all stages done" if completed(view) else view.off_reason.rstrip(".")
    why = f"Off was asked: {why}." if why else "Off was asked."
    if not view.seen_off and view.off != "verified off":
        detail = "Not seen off yet: treat it as live."
    else:
        detail = keep_out(charges_of(view, now))
    if view.failed:
        detail = f"{' and '.join(view.failed)} did not act. {detail}"
    good = view.seen_off and not view.was_cut and not view.failed
    shape = Shape.STOP if view.trip is not None else Shape.GOOD if good else Shape.DOUBT
    return Call(why, detail, shape=shape, danger=True, key="off")


def tail_in_words(view: RunView) -> str:
    """When the run closes by itself."""
    plan = view.plan
    if view.phase is not Phase.OFF or plan is None or view.off_at is None:
        return ""
    if any(trace.role in HOLDS for trace in plan.trace):
        may = "; close it whenever you like" if view.seen_off or view.told_off else ""
        return f"still logging until the reservoirs are seen low, {LONGEST / 60:g} min at most{may}"
    if not view.seen_off:
        least = plan.tail + UNSEEN_TAIL
        return f"still logging; closes by itself {plan.tail:g} s after off is seen, or {least:g} s after it was asked"
    return f"still logging; closes by itself {plan.tail:g} s after off was seen"


def _closed(view: RunView, plan: Plan, now: float) -> Call:
    closed = view.closed
    ending = words.ENDING.get(closed.outcome, closed.outcome) if closed is not None else ""
    reached = {name for _, name in view.marks}
    text = (
        f"The run {ending}: {len(reached)} of {len(plan.stage)} stages." if ending else "The run is closed."
    )
    if ending and ending[:5] not in ("went ", "tripp"):
        text = f"The run was {ending}: {len(reached)} of {len(plan.stage)} stages."
    reason = closed.reason if closed is not None else ""
    bad = view.trip is not None or view.failed
    shape = Shape.STOP if bad else Shape.GOOD if completed(view) else Shape.DOUBT
    charges = charges_of(view, now)
    charged = not all(charge.low and not charge.stale for charge in charges)
    why = "" if completed(view) else reason
    detail = _sentence(why, _off_in_words(view), keep_out(charges) if charged else "")
    if view.dial_back:
        # What goes live at the next start is harmless only with the dial down: no account stands before that.
        return Call(
            view.dial_back,
            f"{text} {detail}",
            "it is at zero",
            do=Do.DIAL_BACK,
            asks=True,
            shape=Shape.HERE,
            danger=True,
            key="dial back",
        )
    return Call(text, detail, "once more", do=Do.AGAIN, shape=shape, danger=charged, key="closed")


def _off_in_words(view: RunView) -> str:
    if not view.off:
        return ""
    failed = f"; {' and '.join(view.failed)} did not act" if view.failed else ""
    return f"off-switch: {words.CUT_OUTCOME.get(view.off, view.off)}{failed}"


# --- words ---------------------------------------------------------------------------------------------


def _key(view: RunView) -> str:
    """Another stage or state is another call."""
    return f"{view.stage.index} {view.state}" if view.stage is not None else ""


def _named(plan: Plan, index: int) -> str:
    stage = plan.stage[index]
    setting = setting_of(plan, stage)
    return f"{stage.name}, {setting}" if setting else stage.name


def _stage_words(view: RunView, plan: Plan) -> str:
    return _named(plan, view.stage.index) if view.stage is not None else ""


def _sentence(*parts: str) -> str:
    """The parts as sentences of their own."""
    said = [part.strip().rstrip(".") for part in parts if part.strip()]
    return " ".join(f"{part[:1].upper()}{part[1:]}." for part in said)
