"""What a person does to a meter at the panel: it shows at the wire as it would in life."""

from collections.abc import Iterator

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.until import until

from benchlog.simbench.tampered import ACTS, Tampered


@pytest.fixture(scope="module")
def on() -> Iterator[LiveBench]:
    """The commonest bench, switched on at full mains: the handheld is on the rail, the other on the lamp."""
    with live_bench("by-hand", speed=50.0, sockets=True, played=True) as live:
        live.control("turn", fraction=1.0)
        live.control("switch", on=True)
        live.line("lamp").say("CONF:VOLT:AC")
        live.read_until("lamp", 20.0, 60.0)
        shows(live, lambda text: text.startswith("+03"))
        yield live


def shows(live: LiveBench, fits: object) -> str:
    """The first line of the handheld that fits."""

    def fitting() -> list[str]:
        text = live.line("+B").hear()
        return [text] if fits(text) else []  # type: ignore[operator]

    return until(fitting, "a line of the handheld")[0]


def do(live: LiveBench, job: str, act: str) -> None:
    assert live.control("meter", job=job, act=act) == {"ok": True}
    assert live.saw("meter", job=job, act=act)


def test_hold_freezes_the_display_and_says_so_until_pressed_again(on: LiveBench) -> None:
    do(on, "+B", "hold")
    held = shows(on, lambda text: text.endswith(" V DC HOLD"))
    assert {shows(on, bool) for _ in range(5)} == {held}
    do(on, "+B", "hold")
    shows(on, lambda text: text.endswith(" V DC"))
    do(on, "lamp", "hold")
    assert len({on.ask("lamp", "READ?") for _ in range(5)}) == 1
    do(on, "lamp", "right")
    until(lambda: len({on.ask("lamp", "READ?") for _ in range(3)}) == 3)


def test_a_dial_on_ohms_shows_nothing_but_an_overload(on: LiveBench) -> None:
    do(on, "+B", "ohms")
    shows(on, lambda text: text == "+OL ohm")
    do(on, "+B", "right")
    shows(on, lambda text: text.endswith(" V DC"))
    do(on, "lamp", "ohms")
    assert on.read("lamp") == 9.9e37
    do(on, "lamp", "right")


def test_a_clip_that_fell_off_reads_nothing_and_a_slipped_prefix_a_thousandth(on: LiveBench) -> None:
    do(on, "+B", "clip")
    shows(on, lambda text: text[1:6] == "000.0" and text.endswith(" V DC"))
    do(on, "+B", "right")
    do(on, "+B", "slip")
    shows(on, lambda text: text.startswith("+000.03"))
    do(on, "+B", "right")
    do(on, "lamp", "clip")
    assert on.read("lamp") < 0.1
    do(on, "lamp", "right")


def test_an_open_clip_on_volts_drifts_within_fifty_millivolts() -> None:
    fallen = Tampered(off=True)
    seen = [fallen.seen(lambda _: 40.0, "VOLT:DC") for _ in range(5)]
    assert all(abs(volts) <= 0.05 for volts in seen)
    assert len(set(seen)) > 1
    assert fallen.seen(lambda _: 40.0, "VOLT:AC") == 0.0


def test_swapped_leads_read_the_other_sign_and_swapped_again_are_right(on: LiveBench) -> None:
    do(on, "+B", "swap")
    shows(on, lambda text: text.startswith("-03"))
    do(on, "+B", "swap")
    shows(on, lambda text: text.startswith("+03"))


def test_a_dial_on_ac_reads_the_ripple_of_the_rail(on: LiveBench) -> None:
    do(on, "+B", "ac")
    text = shows(on, lambda text: text.endswith(" V AC"))
    assert 0.09 < float(text.split()[0]) < 0.31
    do(on, "+B", "right")
    shows(on, lambda text: text.endswith(" V DC"))


def test_a_stuck_meter_repeats_itself_and_says_nothing_of_it(on: LiveBench) -> None:
    do(on, "+B", "stuck")
    until(lambda: len({shows(on, lambda text: text.endswith(" V DC")) for _ in range(8)}) == 1)
    do(on, "lamp", "stuck")
    assert len({on.ask("lamp", "READ?") for _ in range(5)}) == 1
    do(on, "+B", "right")
    do(on, "lamp", "right")


def test_a_pulled_cable_carries_nothing_until_it_is_put_back(on: LiveBench) -> None:
    do(on, "lamp", "unplug")
    line = on.another_line("lamp")
    line.say("READ?")
    line.say("*IDN?")
    until(lambda: on.saw("command", job="lamp", text="*IDN?"))
    before = len(on.saw("reply", job="lamp"))
    do(on, "+B", "unplug")
    written = len(on.saw("reply", job="+B"))
    began = on.bench.plan_now()
    until(lambda: on.bench.plan_now() > began + 5.0)
    assert len(on.saw("reply", job="lamp")) == before
    assert len(on.saw("reply", job="+B")) <= written + 1
    do(on, "lamp", "right")
    do(on, "+B", "right")
    until(lambda: len(on.saw("reply", job="+B")) > written + 1)
    on.read("lamp")
    line.close()


def test_a_flash_is_one_reading_in_another_decade(on: LiveBench) -> None:
    before = on.read("lamp")
    do(on, "lamp", "flash")
    flashed = on.read("lamp")
    assert flashed == pytest.approx(10.0 * before, rel=0.1)
    assert on.read("lamp") == pytest.approx(before, rel=0.1)


def test_the_names_say_which_meters_and_what_and_nothing_else_is_taken(on: LiveBench) -> None:
    names = on.control("names")
    assert names["meters"] == ["lamp", "+B"]
    assert names["acts"] == ACTS
    assert "there is no" in on.control("meter", job="wall", act="hold")["why"]
    assert "nothing that can be done" in on.control("meter", job="lamp", act="eat")["why"]
