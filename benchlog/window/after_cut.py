"""What is to be said after a cut, apart from any widget: why, whether the unit was seen off, what is still charged."""

import math
from dataclasses import dataclass

from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.recorder.client import messages
from benchlog.window import words
from benchlog.window.run_view import NOT_KNOWN, Phase, RunView
from benchlog.window.shapes import Shape

CHARGED = 1.0
"""Volts below which a reservoir may be spoken of as low; never as safe (rule 8)."""
_SHOW_SUPPLY, _SHOW_MAINS = (Role.SUPPLY_VOLTS,), (Role.MAINS, Role.LAMP)
"""Traces that show the unit live behind a supply, and behind a relay or a hand."""
HOLDS = (Role.RAIL, Role.REGULATED, Role.SUPPLY_VOLTS)


@dataclass(frozen=True, slots=True)
class Charge:
    """A reservoir: its volts as shown, its share of what it had, what to say of it, and whether that is old news."""

    name: str
    shown: str
    share: float
    words: str
    stale: bool
    charged: bool


@dataclass(frozen=True, slots=True)
class SwitchStands:
    """One off-switch in words, with its shape, and how long it took."""

    text: str
    shape: Shape
    took: str = ""


@dataclass(frozen=True, slots=True)
class Story:
    """Everything the page says: its one word, which is STILL LIVE as long as that is seen, and then the number."""

    word: str
    what: str
    where: str
    switches: tuple[SwitchStands, ...]
    keep_out: str
    charges: tuple[Charge, ...]
    next: str
    end: str
    """What Enter says."""
    asks_hand: bool


def story_of(view: RunView, now: float) -> Story:
    """The page as it stands at `now` of the window's clock."""
    tripped = view.trip.text if view.trip is not None else ""
    what = tripped or view.off_reason or "Cut."
    if view.lost:
        # Whatever it went off for before: that nobody watches it any more comes first.
        what = view.alone or view.off_reason
    stage = view.stage.name if view.stage is not None else ""
    t = view.trip.t / 1e9 if view.trip is not None else view.off_at
    at = f"{int(t // 60)}:{t % 60:04.1f} after the start" if t is not None else ""
    still = still_live(view, now)
    before = what.strip().rstrip(".") if still else tripped if view.lost else ""
    where = ", ".join(part for part in (before, f"stage {stage}" if stage else "", at) if part)
    asks = view.prompt is not None and view.prompt.kind == "switch_off"
    charges = charges_of(view, now)
    return Story(
        word=words.STILL_LIVE if still else words.CUT,
        what=still or _sentence(what),
        where=where,
        switches=_switches(view),
        keep_out=_keep_out(view, charges),
        charges=charges,
        next=_next(view, asks=asks, still=bool(still)),
        end="it is off" if asks or (view.lost and not view.seen_off) else "leave this page",
        asks_hand=asks,
    )


def still_live(view: RunView, now: float) -> str:
    """What shows that it is on although it was asked off, with its newest number; empty where nothing does."""
    for path in view.failed:
        cut = view.cuts[path]
        if not cut.seen_off:
            roles = _SHOW_SUPPLY if path in _supplies(view) else _SHOW_MAINS
            return _newest(view, now, roles) or _sentence(
                cut.text.partition(";")[0].removeprefix("STILL LIVE: ")
            )
    return ""


def _supplies(view: RunView) -> set[str]:
    """Names of the off-switches that are supplies."""
    entries = view.bench.off_switch if view.bench is not None else ()
    return {entry.job for entry in entries if entry.kind == "supply"}


def _newest(view: RunView, now: float, roles: tuple[Role, ...]) -> str:
    """The first trace of these roles that is read now, as a sentence."""
    for role in roles:
        for trace in view.plan.of_role(role) if view.plan is not None else ():
            live = view.live.get(trace.name)
            fresh = live is not None and live.outcome == Outcome.OK and not live.stale(now)
            if live is not None and fresh and live.value is not None and abs(live.value) >= CHARGED:
                return f"{trace.name} {trace.shown(live.value)}"
    return ""


def charges_of(view: RunView, now: float) -> tuple[Charge, ...]:
    """What each reservoir that a trace shows still holds."""
    if view.plan is None:
        return ()
    found = []
    for trace in view.plan.trace:
        live = view.live.get(trace.name)
        if trace.role not in HOLDS or live is None or not live.heard:
            continue
        doubt = view.doubt_in(trace.name, trace.job)
        unknown = doubt.startswith(NOT_KNOWN)
        stale = live.stale(now) or live.value is None or live.outcome != Outcome.OK or unknown
        value = abs(live.value or 0.0)
        if doubt and (unknown or not live.stale(now)):
            said = f"{words.NO_NUMBER.get(doubt, doubt)}; measure at its own terminals"
        elif stale:
            said = f"no news for {live.age(now):.0f} s; measure at its own terminals"
        elif value < CHARGED:
            said = "low here; measure at its own terminals"
        else:
            said = still_charged(view.at_off.get(trace.name), live.t, value)
        shown = trace.shown(live.value) if live.value is not None and not unknown else "- -"
        share = 0.0 if unknown else min(1.0, value / _full(view, trace.name))
        found.append(Charge(trace.name, shown, share, said, stale, charged=value >= CHARGED))
    return tuple(found)


def still_charged(at_off: tuple[float, float] | None, t: float, value: float) -> str:
    """What to say of a reservoir that holds `value` volts at `t` plan seconds, and began to fall at `at_off`.

    Two readings of an exponential fall tell when it reaches one volt, V0 exp(-t / tau); a forecast is said only
    once a fall of 3 % was seen, and it is no promise: a bleeder alone falls ever slower.
    """
    if at_off is None:
        return "still charged"
    begun, full = at_off[0], abs(at_off[1])
    if t <= begun or value > 0.97 * full:
        return "still charged"
    left = (t - begun) * math.log(value / CHARGED) / math.log(full / value)
    much = f"{left:.0f} s" if left < 100 else f"{left / 60:.0f} min"
    return f"1 V in about {much}, if it goes on"


def _full(view: RunView, name: str) -> float:
    """What the bar of a reservoir is full at: the highest limit its trace has, else 50 V."""
    limits = (
        [limit.value for limit in view.plan.limit if limit.trace == name and limit.value] if view.plan else []
    )
    return max(limits, default=50.0)


def _sentence(text: str) -> str:
    clean = text.strip()
    return clean[:1].upper() + clean[1:]


def _switches(view: RunView) -> tuple[SwitchStands, ...]:
    if not view.cuts:
        if view.lost:
            return (SwitchStands("nothing more is heard of the off-switch: pull the plug", Shape.DOUBT),)
        asked = any(moment.kind == "off" for moment in view.moments)
        gone = asked and view.phase is Phase.OFF and view.closed is None
        text = "asked to switch off, not seen yet" if gone else words.CUT_OUTCOME.get(view.off, view.off)
        return (SwitchStands(text or "nothing is known of the off-switch: pull the plug", Shape.DOUBT),)
    found = []
    for path, cut in view.cuts.items():
        took = _took(cut, view) if cut.outcome == "verified off" else ""
        known = words.CUT_BY_ANOTHER if cut.seen_off else words.CUT_OUTCOME
        shape = {
            "verified off": Shape.GOOD,
            "asked": Shape.DOUBT,
            "asked, still live": Shape.STOP,
            "refused": Shape.STOP,
        }.get(cut.outcome, Shape.NOTHING)
        said = known.get(cut.outcome, words.CUT_OUTCOME.get(cut.outcome, cut.outcome))
        found.append(SwitchStands(f"{path}: {said}", shape, took))
    return tuple(found)


def _took(cut: messages.CutState, view: RunView) -> str:
    """How long it took until off was seen, from the cut or from switching off in good order."""
    seconds = (cut.at_ns - cut.asked_ns) / 1e9
    if view.was_cut:
        return f"{seconds * 1e3:.0f} ms after the cut"
    return f"{seconds:.1f} s after it was switched off"


def _keep_out(view: RunView, charges: tuple[Charge, ...]) -> str:
    if not view.seen_off and view.off != "verified off":
        return "Treat it as live: switch off by hand and pull the plug."
    if any(charge.stale or charge.charged for charge in charges):
        return "Keep hands out. The reservoirs are still charged."
    return "Keep hands out until you have measured across each capacitor's own terminals."


def _next(view: RunView, *, asks: bool, still: bool) -> str:
    if still:
        return "Pull the plug." + (" Then say so." if asks else "")
    if asks:
        return "Switch the unit off by hand, then say so."
    if view.failed and view.seen_off:
        failed = " and ".join(view.failed)
        return f"{failed} did not act: find out why. It is proven anew, with its fault named, before the next run."
    if view.dial_back:
        return f"{view.dial_back} It is asked for again before the next start."
    if view.lost:
        first = "" if view.seen_off else "Switch the unit off by hand and pull the plug. "
        return f"{first}Nothing is logged any more; leaving this page starts a new recorder."
    if view.phase is Phase.CLOSED:
        return "The run is closed and kept. Find the cause before you go up again."
    return "Still logging. Write a note, or look at the last ten seconds."
