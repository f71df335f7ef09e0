"""The cut leaves at once; its thread reads back, repeats and escalates until the far end is seen off."""

from collections.abc import Iterator

import pytest
from helpers.stand_ins import HANG, REFUSED, STILL_LIVE, UNKNOWN, VERIFIED, Switch, says
from helpers.until import until

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.recorder.clock import wire_now
from benchlog.recorder.cut import CutThread


class Followed:
    """A switch with its cut thread, and all that thread says."""

    def __init__(self) -> None:
        self.switch = Switch()
        self.said: list[tuple[str, CutOutcome, str]] = []
        self.times: list[tuple[int, int]] = []
        self.overdue: list[str] = []
        self.evidence = UNKNOWN
        self.cut = CutThread(
            self.switch, lambda _acts=0.0: self.evidence, self._finding, self.overdue.append, rate=1.0
        )

    def _finding(self, name: str, finding: Finding, asked: int, now: int) -> None:
        self.said.append((name, finding.outcome, finding.text))
        self.times.append((asked, now))

    @property
    def outcomes(self) -> list[CutOutcome]:
        return [outcome for _, outcome, _ in self.said]


@pytest.fixture
def followed() -> Iterator[Followed]:
    made = Followed()
    yield made
    made.switch.goes_on.set()
    made.cut.stop()
    made.cut._thread.join(HANG)
    assert not made.cut._thread.is_alive()


def test_nothing_is_read_back_before_anything_is_fired(followed: Followed) -> None:
    followed.cut.stop()
    assert followed.switch.did == []
    assert followed.said == []


def test_a_cut_is_fired_by_who_asks_for_it_while_its_thread_hangs(followed: Followed) -> None:
    followed.switch.hangs = True
    followed.cut.fire()
    followed.cut.follow()
    until(lambda: "hang" in followed.switch.did, "the thread that hangs")
    followed.cut.fire()
    assert followed.switch.did == ["off", "hang", "off"]


def test_an_off_that_is_proven_is_told_once_with_its_times(followed: Followed) -> None:
    before = wire_now()
    followed.switch.finds = VERIFIED
    followed.cut.fire()
    followed.cut.follow()
    until(lambda: len(followed.said) == 2, "the proof")
    assert followed.said == [
        ("mains relay", CutOutcome.ASKED, "asked"),
        ("mains relay", CutOutcome.VERIFIED, "it is off"),
    ]
    (asked, asked_at), (same, seen_at) = followed.times
    assert before <= asked == same <= asked_at <= seen_at <= wire_now()
    followed.cut._thread.join(HANG)
    assert len(followed.said) == 2


def test_what_is_fired_is_followed_only_when_it_has_been_noted(followed: Followed) -> None:
    followed.switch.finds = VERIFIED
    followed.cut.fire()
    first = followed.cut.asked
    assert followed.said == []
    followed.cut.fire()
    followed.cut.follow()
    until(lambda: len(followed.said) == 2, "the proof")
    assert {asked for asked, _ in followed.times} == {first}


def test_an_off_that_is_not_seen_yet_is_only_asked(followed: Followed) -> None:
    seen: list[float] = []

    def confirm(acts: float = 0.0) -> Finding:
        seen.append(acts)
        return STILL_LIVE

    followed.switch.finds = None
    followed.cut._evidence = confirm
    followed.cut.fire()
    followed.cut.follow()
    until(lambda: len(seen) > 3, "several looks")
    assert followed.outcomes == [CutOutcome.ASKED]
    assert followed.overdue == []


@pytest.mark.parametrize("finding", [STILL_LIVE, UNKNOWN])
def test_an_off_that_is_overdue_is_told_as_it_stands_and_escalated_once(
    followed: Followed, finding: Finding
) -> None:
    followed.switch.patient = 0.0
    followed.switch.finds = finding
    followed.cut.fire()
    followed.cut.follow()
    until(lambda: followed.overdue, "the escalation")
    assert followed.outcomes == [CutOutcome.ASKED, finding.outcome]
    followed.switch.finds = VERIFIED
    until(lambda: followed.outcomes[-1] is CutOutcome.VERIFIED, "the late proof")
    assert followed.overdue == ["mains relay"]


def test_a_supply_that_says_no_is_told_of_at_once(followed: Followed) -> None:
    followed.switch.finds = REFUSED
    followed.cut.fire()
    followed.cut.follow()
    until(lambda: CutOutcome.REFUSED in followed.outcomes, "the refusal")
    assert followed.overdue == []


def test_every_change_of_outcome_is_told_and_no_repetition(followed: Followed) -> None:
    followed.switch.patient = 0.0
    followed.cut.fire()
    followed.cut.follow()
    for finding in (UNKNOWN, STILL_LIVE, REFUSED, STILL_LIVE, VERIFIED):
        followed.switch.finds = finding
        until(lambda wanted=finding: followed.outcomes[-1:] == [wanted.outcome], "that finding")  # type: ignore[misc]
    assert followed.outcomes == [
        CutOutcome.ASKED,
        CutOutcome.UNKNOWN,
        CutOutcome.STILL_LIVE,
        CutOutcome.REFUSED,
        CutOutcome.STILL_LIVE,
        CutOutcome.VERIFIED,
    ]


def test_the_evidence_of_the_traces_goes_to_the_switch(followed: Followed) -> None:
    followed.switch.finds = None
    followed.cut.fire()
    followed.cut.follow()
    followed.evidence = VERIFIED
    until(lambda: followed.outcomes[-1:] == [CutOutcome.VERIFIED], "the proof by the traces")


def test_where_nobody_looks_any_more_the_last_look_is_told(followed: Followed) -> None:
    followed.cut.fire()
    followed.cut.follow()
    until(lambda: followed.outcomes == [CutOutcome.ASKED], "the asking")
    followed.cut.stop()
    assert followed.outcomes == [CutOutcome.ASKED, CutOutcome.UNKNOWN]
    followed.cut.stop()
    assert len(followed.said) == 2


class KeptSwitch(Switch):
    """A switch with a wire to keep."""

    def keep(self) -> None:
        """Note it."""
        self.did.append("keep")


def test_a_wire_is_used_now_and_then_until_the_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CutThread, "KEEP", 0.01)
    switch = KeptSwitch()
    switch.finds = VERIFIED
    cut = CutThread(switch, says(UNKNOWN), lambda *_: None, lambda _: None, rate=1.0)
    until(lambda: switch.did.count("keep") > 2, "several uses")
    cut.fire()
    cut.follow()
    cut._thread.join(HANG)
    after = switch.did[switch.did.index("off") :]
    assert after.count("keep") <= 1  # One may have been under way.


def test_a_switch_without_a_wire_to_keep_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CutThread, "KEEP", 0.01)
    switch = Switch()
    cut = CutThread(switch, says(UNKNOWN), lambda *_: None, lambda _: None, rate=1.0)
    cut._thread.join(0.1)
    cut.stop()
    assert switch.did == []


def test_a_thread_that_hangs_is_left_behind_at_the_end(
    followed: Followed, monkeypatch: pytest.MonkeyPatch
) -> None:
    followed.switch.hangs = True
    followed.cut.fire()
    followed.cut.follow()
    until(lambda: "hang" in followed.switch.did, "the thread that hangs")
    monkeypatch.setattr(CutThread, "PARTING", 0.01)
    followed.cut.stop()
    assert followed.cut._thread.is_alive()
    assert followed.outcomes == [CutOutcome.ASKED]
