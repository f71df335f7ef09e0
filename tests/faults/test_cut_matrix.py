"""A cut against every way an off-switch can fail, alone and two at once: what is said, beside what is true.

Bench and recorder are real, in this process, over their wires; the alarm and the one-shot recorder are processes.
Wherever the far end stays live nobody may say that it is off, whatever its instruments say.
"""

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.near import Inside, bench_text, hands
from helpers.plans import short_plan
from helpers.until import until

from benchlog.errors import BadInput
from benchlog.recorder import alarm_link, lost, messages, oneshot, process
from benchlog.simbench import supply
from benchlog.simbench.truth import OffTruth
from benchlog.store import query

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs signals")

LIVE, REFUSED, UNKNOWN, OFF = "asked, still live", "refused", "unknown", "verified off"


@dataclass
class Scene:
    """A live run whose off-switch fails from now on, and who is there to pull the plug."""

    far: LiveBench
    near: Inside
    path: Path
    helps: list[bool] = field(default_factory=list)
    """Holds something once a person does what is asked."""

    def breaks(self, how: str) -> None:
        """The off-switch fails: it could be proven before."""
        self.far.loop.after(0.0, lambda: self.far.bench._failing.play(OffTruth(how)))
        self.far.wait_for("off fails", how=how)

    def cut(self) -> int:
        """The operator's cut: when it was asked, wire ns."""
        self.near.request(messages.Cut(id=0))
        return self.near.wait(messages.CutState).asked_ns

    def is_live(self) -> bool:
        """What is true, whatever anybody says."""
        state = self.far.control("state")
        return any(state["outputs"]) if state.get("outputs") else bool(state["live"])

    def went_off(self, asked: int) -> float:
        """Seconds from the cut to the far end's off, as its witness saw it."""
        moves = [
            one for kind in ("mains", "power") for one in self.far.saw(kind, on=False) if one["t"] > asked
        ]
        return float(moves[0]["t"] - asked) / 1e9

    def outcomes(self) -> dict[str, str]:
        """The last that was said of each off-switch."""
        return {state.path: state.outcome for state in self.near.of(messages.CutState)}

    def ends(self) -> dict[str, object]:
        """What the run says of itself at its close."""
        self.near.wait(messages.Closed)
        (closed,) = query.events(self.path, "closed")
        return dict(closed.data)

    def rings(self, after: int) -> int:
        """How often the alarm was heard since the cut."""
        return sum(one["t"] > after for one in self.far.saw("alarm"))


def patient(bench: str) -> str:
    """A bench whose relay, if it has one, goes on after beats that a busy machine sends late."""
    return bench.replace("drop_out = 0.5", "drop_out = 0.9")


def shown(near: Inside, trace: str, least: float) -> list[float]:
    """Readings of a trace from so many volts upward."""
    batches = (batch for message in near.of(messages.Readings) for batch in message.batches)
    rows = (row for batch in batches if batch.trace == trace for row in batch.rows)
    return [value for _, _, value, _ in rows if value is not None and value >= least]


@contextmanager
def live(example: str, folder: Path, *, ear: bool = True) -> Iterator[Scene]:
    """On at the first stage; a person does what is asked but at a cut, where they look away unless they help."""
    with live_bench(example) as far:
        helps: list[bool] = []
        does = hands(far)

        def person(prompt: messages.Prompt) -> bool | None:
            if prompt.kind != "switch_off" or prompt.data.get("drill"):
                return does(prompt)
            if not helps:
                return None
            # Nobody is so quick that meters have not read once more.
            seen = len(shown(near, "mains", 2.0))
            until(lambda: len(shown(near, "mains", 2.0)) > seen + 2, "what stands still")
            return does(prompt)

        player = [sys.executable, "-m", "benchlog.simbench.ear", far.address("control")] if ear else None
        near = Inside(person, player=player)
        try:
            near.open_bench(patient(bench_text(far, example)), far.bench.speed)
            near.load(short_plan(example, dwell=600.0))
            near.request(messages.Prove(id=0))
            path = near.arm(folder)
            near.act("next")
            near.wait(messages.Stage, lambda stage: stage.state in ("dwelling", "ready"))
            seen = len(near.of(messages.Readings))
            until(lambda: len(near.of(messages.Readings)) > seen + 5, "readings of what stands")
            yield Scene(far, near, path, helps)
        finally:
            near.close()


# --- a supply -------------------------------------------------------------------------------------

SUPPLY = [("refuses", REFUSED), ("lies", LIVE), ("vanishes", UNKNOWN)]


@pytest.mark.parametrize(
    ("how", "said", "alarm"), [*((how, said, "") for how, said in SUPPLY), ("lies", LIVE, "suspended")]
)
def test_a_supply_that_stays_on_is_never_told_off(
    how: str, said: str, alarm: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(alarm_link, "DEAF", 3)
    with live("board", tmp_path) as scene:
        scene.breaks(how)
        if alarm:
            os.kill(scene.near.recorder._alarm.pid, signal.SIGSTOP)  # type: ignore[union-attr]
        asked = scene.cut()
        ends = scene.ends()
        assert scene.is_live()
        assert OFF not in scene.near.outcomes()
        assert (ends["off"], scene.outcomes()) == (said, {"bench supply": said})
        assert ends["failed"] == ([] if said == UNKNOWN else ["bench supply"])
        (asks,) = scene.near.of(messages.Prompt)[-1:]
        assert (asks.kind, asks.text.endswith("Pull the plug.")) == ("switch_off", True)
        # One that stands still is started anew, and told again what it was told.
        until(lambda: scene.rings(asked), "the alarm")


def test_a_supply_that_is_late_is_off_when_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supply, "LATE", 0.4)
    with live("board", tmp_path) as scene:
        scene.breaks("late")
        asked = scene.cut()
        assert scene.ends()["off"] == OFF
        assert not scene.is_live()
        told = [state for state in scene.near.of(messages.CutState) if state.outcome == OFF]
        assert 0.4 <= scene.went_off(asked) <= (told[0].at_ns - asked) / 1e9


def test_a_window_that_stands_still_before_a_supply_that_lies(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(process, "CLIENT_SILENT", 0.5)
    with live("board", tmp_path) as scene:
        scene.breaks("lies")
        scene.near.beats = False
        assert scene.ends()["off"] == LIVE
        assert scene.is_live()
        scene.near.beats = True


@pytest.mark.parametrize(("how", "said"), [*SUPPLY[1:], ("late", OFF)])
def test_a_recorder_that_stands_still_before_such_a_supply(
    how: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(supply, "LATE", 0.3)
    monkeypatch.setattr(oneshot, "PATIENCE", 2.5)
    with live("board", tmp_path, ear=False) as scene:
        scene.breaks(how)
        (recipe,) = scene.near.of(messages.Recipe)
        states: list[messages.CutState] = []
        lost.cut_without_recorder(recipe, states.append)
        assert scene.is_live() == (said != OFF)
        assert states[-1].outcome == said
        scene.far.loop.after(0.0, lambda: scene.far.bench._failing.play(None))


# --- a relay and a hand ---------------------------------------------------------------------------


def test_a_welded_relay_is_not_put_right_by_the_hand_that_switches_off(tmp_path: Path) -> None:
    with live("amplifier", tmp_path) as scene:
        scene.breaks("welded")
        scene.far.bench.hand.deaf = True  # It goes by the prompt.
        scene.helps.append(True)
        asked = scene.cut()
        ends = scene.ends()
        assert not scene.is_live()
        relay = scene.far.bench.relay
        assert relay is not None
        assert relay.closed
        # The hand was called, and may be quicker than the alarm's first sound; the relay is told as what it is.
        assert any(one.text.endswith("Pull the plug.") for one in scene.near.of(messages.Prompt))
        assert (ends["off"], ends["failed"]) == (OFF, ["mains relay"])
        last = scene.near.of(messages.CutState)[-1]
        assert (last.path, last.outcome, last.seen_off) == ("mains relay", LIVE, True)
        assert last.text.startswith("did not act: mains read ")
        assert scene.went_off(asked) < (last.at_ns - asked) / 1e9
        # And it is not armed again before its fault was named.
        scene.near.load(short_plan("amplifier"))
        with pytest.raises(BadInput, match=r"mains relay: failed at its last cut .* prove it anew"):
            scene.near.arm(tmp_path)


@pytest.mark.parametrize("meters", ["", "silent"])
def test_a_welded_relay_with_nobody_there_is_never_told_off(meters: str, tmp_path: Path) -> None:
    with live("amplifier", tmp_path, ear=False) as scene:
        scene.breaks("welded")
        if meters:
            for job in ("mains", "lamp"):
                scene.far.bench._plugged[job].thing.silent = True  # type: ignore[union-attr]
        scene.cut()
        ends = scene.ends()
        assert scene.is_live()
        said = UNKNOWN if meters else LIVE
        assert OFF not in scene.near.outcomes()
        assert (ends["off"], scene.outcomes()) == (said, {"mains relay": said})
        asks = [prompt.text for prompt in scene.near.of(messages.Prompt) if prompt.kind == "switch_off"]
        assert asks
        assert asks[0].endswith("Pull the plug.")
        assert asks[0].startswith("STILL LIVE: mains reads " if not meters else "Off is not proven")


@pytest.mark.parametrize("alarm", ["", "suspended"])
def test_a_hand_is_told_off_only_once_it_has_switched(
    alarm: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(alarm_link, "DEAF", 3)
    with live("by-hand", tmp_path) as scene:
        if alarm:
            os.kill(scene.near.recorder._alarm.pid, signal.SIGSTOP)  # type: ignore[union-attr]
        asked = scene.cut()
        until(lambda: not scene.is_live(), "the hand")
        # Nobody looked at the screen: it was the alarm that called, started anew where it stood still.
        until(lambda: scene.rings(asked), "the alarm")
        told = [state.at_ns for state in scene.near.of(messages.CutState) if state.outcome == OFF]
        assert all(at > asked + scene.went_off(asked) * 1e9 for at in told)


def test_a_deaf_hand_is_never_told_off(tmp_path: Path) -> None:
    with live("by-hand", tmp_path) as scene:
        scene.breaks("deaf")
        asked = scene.cut()
        ends = scene.ends()
        assert scene.is_live()
        assert OFF not in scene.near.outcomes()
        assert ends["off"] in (LIVE, UNKNOWN)
        until(lambda: scene.rings(asked), "the alarm")
        assert query.events(scene.path, "overdue")


# --- a relay that was welded before its proof -----------------------------------------------------


@contextmanager
def welded_before(hears: bool) -> Iterator[tuple[LiveBench, Inside]]:
    """A bench whose relay never opens once it has closed; whoever listens hears that, or takes it for granted."""
    with live_bench("amplifier") as far:
        does = hands(far)

        def person(prompt: messages.Prompt) -> bool | None:
            if prompt.kind == "relay_clicked" and not hears:
                return True
            if prompt.kind == "switch_off":
                return None
            done = does(prompt)
            if prompt.data.get("fraction"):
                until(lambda: len(shown(near, "mains", 20.0)) > 2, "the meter that the dial is set by")
            return done

        near = Inside(person)
        try:
            far.loop.after(0.0, lambda: far.bench._failing.play(OffTruth("welded")))
            far.wait_for("off fails")
            near.open_bench(patient(bench_text(far, "amplifier")), far.bench.speed)
            near.load(short_plan("amplifier", dwell=600.0))
            yield far, near
        finally:
            near.close()


def test_a_relay_welded_before_is_caught_by_who_counts_its_clicks() -> None:
    with welded_before(hears=True) as (_, near), pytest.raises(BadInput, match="did not click in and out"):
        near.request(messages.Prove(id=0))


def test_a_relay_welded_before_is_caught_by_the_meters_where_nobody_listened(tmp_path: Path) -> None:
    with welded_before(hears=False) as (far, near):
        (said,) = near.request(messages.Prove(id=0))["said"]
        # With the dial at zero no meter can tell: that is said, and not more.
        assert "no meter has seen its contacts open" in said
        near.arm(tmp_path)
        near.act("next")
        trip = near.wait(messages.Trip)
        # The watch may be first to find it, with the dial still being set.
        assert trip.text.startswith("the unit is on, and nobody") or trip.text.endswith("welded or bypassed")
        near.wait(messages.Closed)
        assert near.outcomes()[-1] == LIVE
        assert far.control("state")["live"]
