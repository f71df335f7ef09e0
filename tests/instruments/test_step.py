"""At full pace step is proven now and then: a second answer that nobody can tell apart does not count for good."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

from helpers.fake_wire import FakeWire

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.meter import Meter
from benchlog.instruments.profile import Profile, find_profile
from benchlog.instruments.talk import PROOF_AFTER, PROOF_EVERY

SCPI = find_profile("scpi-multimeter")


def counting(then: Callable[[int], list[tuple[float, bytes]]]) -> Callable[[str], list[tuple[float, bytes]]]:
    """A meter whose n-th reading is n, given as `then` says."""
    asked = 0

    def script(line: str) -> list[tuple[float, bytes]]:
        nonlocal asked
        if line == "*IDN?":
            return [(1e-3, b"M,M,0,1\n")]
        if line == "SYST:ERR?":
            return [(1e-3, b"0,none\n")]
        if line != "READ?":
            return []
        asked += 1
        return then(asked)

    return script


def read(wire: FakeWire, seconds: float, profile: Profile = SCPI) -> list[Reading]:
    meter = Meter("lamp", wire, profile, Function.VOLTS_DC, clock=wire.clock)
    until = wire.now + round(seconds * 1e9)
    found: list[Reading] = []
    while wire.now < until:
        found += meter.step(0.1)
    return found


def test_one_answer_too_many_is_found_at_the_next_proof() -> None:
    def doubled(n: int) -> list[tuple[float, bytes]]:
        answer = b"%d\n" % n
        # The second answer comes while the next question is out, and every later one is one behind.
        return [(1e-3, answer), (5e-4, answer)] if n == 10 else [(1e-3, answer)]

    wire = FakeWire(counting(doubled))
    found = read(wire, 2.5 * PROOF_EVERY * 1e-9)
    good = [one.value for one in found if one.outcome is Outcome.OK]
    assert good[10] == 10.0, "nobody can tell"
    late = next(n for n, one in enumerate(found) if one.outcome is Outcome.LATE)
    assert found[late].at - found[0].at <= 1.1 * PROOF_EVERY
    after = [one for one in found[late + 1 :] if one.outcome is Outcome.OK]
    asked = wire.lines.count("READ?")
    assert after[-1].value in (asked, asked - 1), "in step again"
    assert after[0].value == (found[late - 1].value or 0.0) + 2.0


def test_a_meter_in_step_answers_the_proof_and_nothing_is_said_of_it() -> None:
    wire = FakeWire(counting(lambda n: [(1e-3, b"%d\n" % n)]))
    found = read(wire, 2.5 * PROOF_EVERY * 1e-9)
    assert {one.outcome for one in found} == {Outcome.OK}
    assert [one.value for one in found] == [float(n + 1) for n in range(len(found))]
    assert wire.lines.count("*IDN?") == 3


def test_a_slow_instrument_is_read_and_not_only_asked_what_it_is() -> None:
    slow = replace(SCPI, link=replace(SCPI.link, deadline=8.0))

    def script(line: str) -> list[tuple[float, bytes]]:
        answers = {"*IDN?": b"M,M,0,1\n", "SYST:ERR?": b"0,none\n", "READ?": b"1\n"}
        return [(5.0, answers[line])] if line in answers else []

    wire = FakeWire(script)
    found = read(wire, 200.0, slow)
    assert {one.outcome for one in found} == {Outcome.OK}
    assert len(found) > 25
    proofs = [n for n, line in enumerate(wire.lines) if line == "*IDN?"]
    assert len(proofs) > 2, "it is proven all the same"
    assert min(after - before for before, after in pairwise(proofs)) > PROOF_AFTER
