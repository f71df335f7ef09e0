"""What is to be said after a cut, apart from any widget: why, whether the unit was seen off, what is still charged."""

from dataclasses import dataclass

from benchlog.domain.discharge import UNDER
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Outcome
from benchlog.errors import WATCH
from benchlog.recorder.client import messages
from benchlog.window import words
from benchlog.window.charges import NEVER_TRUST, Charge, charges_of, keep_out
from benchlog.window.run_view import Phase, RunView
from benchlog.window.shapes import Shape

_SHOW_SUPPLY, _SHOW_MAINS = (Role.SUPPLY_VOLTS,), (Role.MAINS, Role.LAMP)
"""Traces that show the unit live behind a supply, and behind a relay or a hand."""


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
    never_trust: str
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
    # One that went off in good order, only late, was never cut.
    good = view.seen_off and not view.was_cut and view.trip is None and not view.lost
    return Story(
        word=words.STILL_LIVE if still else words.OFF if good else words.CUT,
        what=still or _sentence(what),
        where=where,
        switches=_switches(view),
        keep_out=_keep_out(view, charges),
        charges=charges,
        never_trust=NEVER_TRUST,
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
            if live is not None and fresh and live.value is not None and abs(live.value) >= UNDER:
                return f"{trace.name} {trace.shown(live.value)}"
    return ""


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
        # A hand takes seconds, an automatic off-switch a part of one.
        much = f"{seconds * 1e3:.0f} ms" if seconds < 1.0 else f"{seconds:.1f} s"
        return f"{much} after the cut"
    return f"{seconds:.1f} s after it was switched off"


def _keep_out(view: RunView, charges: tuple[Charge, ...]) -> str:
    if not view.seen_off and view.off != "verified off":
        return "Treat it as live: switch off by hand and pull the plug."
    return keep_out(charges)


def _next(view: RunView, *, asks: bool, still: bool) -> str:
    if still:
        return "Pull the plug." + (" Then say so." if asks else "")
    if asks:
        return "Switch the unit off by hand, then say so."
    if view.failed and view.seen_off:
        failed = " and ".join(view.failed)
        return f"{failed} did not act: find out why. It is proven anew, with its fault named, before the next run."
    if view.prompt is not None and view.prompt.kind == "rebound":
        return f"{view.prompt.text} Leave this page to answer."
    if view.dial_back:
        return f"{view.dial_back} It is asked for again before the next start."
    if view.lost:
        first = "" if view.seen_off else "Switch the unit off by hand and pull the plug. "
        return f"{first}Nothing is logged any more; leaving this page starts {WATCH} anew."
    if view.phase is Phase.CLOSED and not view.was_cut and view.trip is None:
        return "The run is closed and kept."
    if view.phase is Phase.CLOSED:
        return "The run is closed and kept. Find the cause before you go up again."
    return "Still logging until the reservoirs are low. Write a note, or look at the last ten seconds."
