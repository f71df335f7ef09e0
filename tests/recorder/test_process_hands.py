"""Hands-free over the whole way: a technician's tips, a meter, a recorder that goes on by itself."""

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.near import Inside, bench_text, hang_up
from helpers.plans import short_plan
from helpers.technician import Landing, take_part
from helpers.until import until

from benchlog import resources, textfile
from benchlog.domain.handsfree import Coming, Tips, coming
from benchlog.domain.reading import Function
from benchlog.domain.unit import UnitFile
from benchlog.errors import BadInput
from benchlog.recorder import taking
from benchlog.recorder.messages import Ahead, Hands, Kept, Meter, Notice, Part, Press, Prove, Take, Taken
from benchlog.store.ids import new_id

PARTS = "parts meter"


@pytest.fixture
def far() -> Iterator[LiveBench]:
    with live_bench("amplifier", speed=30.0, seed=5) as bench:
        yield bench


@pytest.fixture
def near(far: LiveBench) -> Iterator[Inside]:
    made = Inside()
    made.open_bench(bench_text(far, "amplifier"), far.bench.speed)
    yield made
    made.close()


def spans(made: Coming) -> list[tuple[float | None, float | None]] | None:
    if made.near is None:
        return None
    return [
        (low if math.isfinite(low) else None, high if math.isfinite(high) else None)
        for low, high in made.near
    ]


def listed() -> dict[str, Coming]:
    """Every part of the example's unit by its designator, as a window would send it ahead."""
    text = resources.path("examples", "amplifier", "unit.toml").read_text(encoding="utf-8")
    found: dict[str, Coming] = {}
    for board in textfile.parse(text, "unit.toml", UnitFile).board:
        for entry in board.part:
            found[entry.designator] = coming(new_id(), entry.measured_with, entry.expectation)
    return found


def ahead(parts: dict[str, Coming]) -> list[Part]:
    return [
        Part(
            reading=made.reading,
            designator=name,
            function=made.function.value,
            near=spans(made),
            over=made.over,
            by_key=made.by_key,
        )
        for name, made in parts.items()
    ]


class Window:
    """What a window hears and answers, and nothing more."""

    def __init__(self, near: Inside, parts: dict[str, Coming]) -> None:
        self.near = near
        self.parts = parts
        self.near.request(Ahead(id=0, job=PARTS, parts=ahead(parts)))

    def taken(self, name: str) -> Taken | None:
        return next((one for one in self.near.of(Taken) if one.reading == self.parts[name].reading), None)

    def held(self, name: str) -> Taken | None:
        """What is held of a part just now."""
        told = self.near.of(Hands)
        return told[-1].held if told and told[-1].reading == self.parts[name].reading else None

    def tips(self) -> str:
        return self.near.of(Hands)[-1].tips

    def wait(self, tips: Tips) -> None:
        until(lambda: self.near.of(Hands) and self.tips() == tips, tips.value)

    def press(self, name: str, what: str = "take") -> None:
        self.near.request(Press(id=0, job=PARTS, reading=self.parts[name].reading, what=what))

    def take(self, far: LiveBench, name: str, **habits: Any) -> Landing:
        function = {Function.OHMS: "RES", Function.OHMS_4W: "FRES", Function.DIODE: "DIOD"}.get(
            self.parts[name].function, "CAP"
        )

        def key() -> None:
            if self.taken(name) is None:
                self.press(name)

        landing = take_part(
            far,
            name,
            taken=lambda: self.taken(name) is not None,
            held=lambda: self.held(name) is not None,
            reads_air=lambda: math.isinf(far.bench.probes.look(function)),
            key=key,
            **habits,
        )
        taken = self.taken(name)
        assert taken is not None
        self.near.request(Kept(id=0, reading=taken.reading))
        return landing


def test_forty_parts_are_taken_by_hands_that_bounce_and_slip_and_nothing_far_off_unseen(
    near: Inside, far: LiveBench
) -> None:
    parts = listed()
    assert len(parts) == 40
    window = Window(near, parts)
    landings = {name: window.take(far, name, slips=0.2, bounces=0.5) for name in parts}
    assert [one.designator for one in near.of(Taken)] == list(parts), "each once, in their order"
    assert window.tips() == Tips.NOTHING
    held = {told.held.reading for told in near.of(Hands) if told.held is not None}
    slipped = [name for name, landing in landings.items() if landing.slipped]
    assert len(slipped) > 3
    assert held
    for name, made in parts.items():
        taken = window.taken(name)
        assert taken is not None
        if not made.needs_no_look(taken.value):
            assert taken.looked, f"{name} is far off, and nobody looked"
            assert made.reading in held, f"{name} was looked at, and nothing was told of it"
        on = far.bench.truth.parts[landings[name].on[-1]]
        true = {Function.DIODE: on.forward, Function.CAPACITANCE: on.farads}.get(made.function, on.ohms)
        if true >= 0.0:
            leads = 0.12 if made.function is Function.OHMS else 0.0
            assert taken.value == pytest.approx(true + leads, rel=0.02, abs=0.002), name
        else:
            assert taken.value is None, f"{name} is open"
    assert not near.of(Notice)


def test_a_window_that_hangs_loses_nothing(
    near: Inside, far: LiveBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(taking, "REPEAT_SECONDS", 0.05)
    names = ("R101", "R102", "R103")
    parts = {name: made for name, made in listed().items() if name in names}
    window = Window(near, parts)
    for name in names:
        take_part(
            far,
            name,
            taken=lambda name=name: window.taken(name) is not None,  # type: ignore[misc]
            held=lambda: False,
            reads_air=lambda: False,
            key=lambda: None,
        )
    # It comes to itself, and its queue has what was taken long ago.
    near.request(Ahead(id=0, job=PARTS, parts=ahead(listed() | parts)[:4]))
    for name in names:
        told = window.taken(name)
        assert told is not None
        until(lambda told=told: near.of(Taken).count(told) > 1, "its repetition")  # type: ignore[misc]
        near.request(Kept(id=0, reading=parts[name].reading))
    assert near.of(Hands)[-1].designator == "R104"


def test_the_air_takes_nothing_and_a_key_bears_an_open_part_out(near: Inside, far: LiveBench) -> None:
    window = Window(near, {"R209": listed()["R209"]})
    far.control("hands", part="R209")
    window.wait(Tips.AIR)
    window.press("R209")
    until(lambda: window.held("R209"), "the look")
    assert not near.of(Taken)
    window.press("R209")
    taken = near.wait(Taken)
    assert (taken.outcome, taken.value, taken.looked) == ("overload", None, True)


def test_what_is_held_is_dropped_by_a_key_and_a_key_for_another_part_is_refused(
    near: Inside, far: LiveBench
) -> None:
    parts = {name: made for name, made in listed().items() if name in ("R106", "R107")}
    window = Window(near, parts)
    far.control("hands", part="")
    window.wait(Tips.AIR)
    far.control("hands", part="R107")
    until(lambda: window.held("R106"), "the look")
    with pytest.raises(BadInput, match="another part is at hand by now"):
        window.press("R107")
    with pytest.raises(BadInput, match="'go' is nothing a key does"):
        window.press("R106", "go")
    window.press("R106", "drop")
    until(lambda: near.of(Hands)[-1].held is None, "its going")
    assert window.tips() == Tips.LIFT
    window.take(far, "R106")
    assert window.taken("R106").value == pytest.approx(4683.0, rel=0.01)  # type: ignore[union-attr]


def test_a_dial_left_on_volts_is_no_part(near: Inside, far: LiveBench) -> None:
    window = Window(near, {"R106": listed()["R106"]})
    far.control("hands", part="")
    window.wait(Tips.AIR)
    far.control("hands", part="R106", leaves="VOLT:DC")
    far.control("hands", part="R106")
    until(lambda: window.held("R106") or near.of(Taken), "what the volts come to")
    assert not near.of(Taken)


def test_a_creeping_reading_goes_on_with_where_it_is_heading(near: Inside, far: LiveBench) -> None:
    slow = far.bench.truth.parts["R106"]
    object.__setattr__(slow, "settle", 4.0)
    object.__setattr__(slow, "creep", 0.8)
    window = Window(near, {"R106": listed()["R106"]})
    window.take(far, "R106")
    taken = window.taken("R106")
    assert taken is not None
    assert taken.value is not None
    assert not taken.settled
    assert taken.value < 4400.0
    assert taken.beside["heading"] == pytest.approx(4683.0, rel=0.03)


def test_a_meter_that_falls_silent_is_told_and_one_that_cannot_measure_it_is_too(
    near: Inside, far: LiveBench
) -> None:
    window = Window(near, {"R106": listed()["R106"]})
    far.control("hands", part="")
    window.wait(Tips.AIR)
    meter = far.bench._plugged[PARTS].thing
    meter.silent = True  # type: ignore[union-attr]
    window.wait(Tips.SILENT)
    meter.silent = False  # type: ignore[union-attr]
    window.wait(Tips.AIR)
    coil = Part(reading="coil", designator="L1", function="inductance")
    near.request(Ahead(id=0, job=PARTS, parts=[coil]))
    told = near.wait(Hands, lambda one: one.designator == "L1" and one.why != "")
    assert told.tips == Tips.WRONG
    assert "does not measure inductance" in told.why


def test_what_a_recorder_cannot_do_is_refused_and_a_meter_does_one_thing_at_a_time(
    near: Inside, far: LiveBench
) -> None:
    window = Window(near, {"R106": listed()["R106"]})
    with pytest.raises(BadInput, match="parts meter is taking hands-free"):
        near.request(Take(id=0, reading=new_id(), job=PARTS, designator="R1", function="ohms"))
    with pytest.raises(BadInput, match="the bench has no meter 'another'"):
        near.request(Ahead(id=0, job="another", parts=ahead(window.parts)))
    with pytest.raises(BadInput, match="'ohm' is no function of a meter"):
        near.request(Ahead(id=0, job=PARTS, parts=[Part(reading="x", designator="R1", function="ohm")]))
    near.request(Ahead(id=0, job=PARTS))
    with pytest.raises(BadInput, match="another part is at hand by now"):
        window.press("R106")
    # It rests again, and takes when it is asked to.
    far.control("probe", part="R106")
    near.request(Take(id=0, reading=new_id(), job=PARTS, designator="R106", function="ohms"))
    with pytest.raises(BadInput, match="parts meter is still taking R106"):
        near.request(Ahead(id=0, job=PARTS, parts=ahead(window.parts)))
    assert near.wait(Taken).value == pytest.approx(4683.0, rel=0.01)


def test_a_meter_that_hangs_up_goes_on_once_it_is_back(near: Inside, far: LiveBench) -> None:
    def opened() -> int:
        return sum(one.job == PARTS and one.state == "open" for one in near.of(Meter))

    window = Window(near, {"R106": listed()["R106"]})
    far.control("hands", part="")
    window.wait(Tips.AIR)
    before = opened()
    hang_up(far, PARTS)
    until(lambda: opened() > before, "its return")
    window.take(far, "R106")
    assert window.taken("R106").value == pytest.approx(4683.0, rel=0.01)  # type: ignore[union-attr]


def test_beside_a_live_unit_volts_go_on_by_key_and_what_was_ahead_in_ohms_ends(tmp_path: Path) -> None:
    with live_bench("board") as far:
        near = Inside()
        near.open_bench(bench_text(far, "board"), far.bench.speed)
        near.load(short_plan("board"))
        near.request(Prove(id=0))
        ohms = Window(near, {"R101": coming("ohms", Function.OHMS, None)})
        far.control("hands", part="")
        ohms.wait(Tips.AIR)
        near.arm(tmp_path)
        far.control("hands", part="R101")
        assert "ohms is not measured while a run is open" in near.wait(Notice).problem
        assert not near.of(Taken)
        assert "ohms is not measured" in near.wait(Hands, lambda told: told.tips == Tips.NOTHING).why
        with pytest.raises(BadInput, match="ohms is not measured while a run is open"):
            Window(near, ohms.parts)
        volts = Window(near, {"R101": coming("volts", Function.VOLTS_DC, None)})
        volts.wait(Tips.KEY)
        volts.press("R101")
        assert near.wait(Taken).function == "volts_dc"
        near.close()


def test_a_bench_that_is_closed_ends_it(near: Inside, far: LiveBench) -> None:
    Window(near, {"R106": listed()["R106"]})
    near.open_bench(bench_text(far, "amplifier"), far.bench.speed)
    assert near.of(Hands)[-1].tips == Tips.NOTHING
    near.request(Take(id=0, reading=new_id(), job=PARTS, designator="R106", function="ohms"))
