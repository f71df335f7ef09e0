"""One instrument tried by itself: the lines on its wire are told word for word, also where it does not fit."""

from collections.abc import Iterator
from typing import Any

import pytest
from helpers.far_end import far_end, multimeter
from helpers.live_bench import LiveBench, live_bench
from helpers.near import Inside, bench_text

from benchlog.errors import BadInput
from benchlog.recorder import trial
from benchlog.recorder.messages import Take, Try


def meter(address: str, job: str = "lamp", function: str = 'function = "volts_ac"') -> Try:
    text = (
        'file = "benchlog bench 1"\nname = "one meter"\n[[meter]]\n'
        f'job = "{job}"\nprofile = "scpi-multimeter"\naddress = "{address}"\n{function}\n'
    )
    return Try(id=0, text=text, place="bench.toml", profiles=[], job=job)


def said(found: dict[str, Any], who: str) -> list[str]:
    return [text for _, by, text in found["lines"] if by == who]


def test_a_meter_is_asked_what_it_is_set_up_and_read() -> None:
    with far_end(multimeter(b"+2.31000000E+00\n")) as far:
        found = trial.try_one(meter(far.address))
    assert found["identity"] == "FAR END,METER,0,1"
    assert found["read"] == [("", "volts_ac", "ok", 2.31)]
    assert found["wrong"] == ""
    assert said(found, "asked") == far.heard
    assert said(found, "asked")[0] == "*IDN?"
    assert said(found, "asked")[-1] == "READ?"
    assert said(found, "answered")[-1] == "+2.31000000E+00"
    seconds = [at for at, _, _ in found["lines"]]
    assert seconds == sorted(seconds)


def test_a_reply_that_cannot_be_read_says_which_key_it_wants() -> None:
    with far_end(multimeter(b"+012.35 V\n")) as far:
        found = trial.try_one(meter(far.address))
    assert (found["read"][0][2], found["wrong"]) == ("malformed", "")
    assert found["unreadable"] == (
        'scpi-multimeter.toml: reply: "+012.35 V" ends in "V", which the profile does not name; '
        'write suffix = "V".'
    )


def test_a_meter_that_walks_is_asked_only_what_it_is() -> None:
    with far_end(multimeter()) as far:
        found = trial.try_one(meter(far.address, function=""))
    assert (found["identity"], found["read"], found["wrong"]) == ("FAR END,METER,0,1", [], "")
    assert said(found, "asked") == ["*IDN?"]


def test_a_stranger_is_told_with_what_it_said() -> None:
    # The whole patience of the profile: a stranger is not taken for one that is slow.
    with far_end(lambda _: b"what?\n") as far:
        found = trial.try_one(meter(far.address))
    assert "what?" in said(found, "answered")
    assert "profile" in found["wrong"]
    assert found["read"] == []


def test_a_line_that_never_ends_is_told_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trial, "PATIENCE", 0.3)
    with far_end(lambda _: b"FAR END,MET") as far:
        found = trial.try_one(meter(far.address))
    assert said(found, "answered") == ["FAR END,MET"]
    assert found["wrong"]


def test_where_nobody_listens_it_says_so() -> None:
    with far_end(multimeter()) as far:
        gone = far.address
    found = trial.try_one(meter(gone))
    assert found["lines"] == []
    assert found["wrong"].startswith("lamp:")


def test_a_job_that_is_not_there_is_refused_with_those_that_are() -> None:
    request = Try(id=0, text=meter("COM3").text, place="bench.toml", profiles=[], job="idle")
    with pytest.raises(BadInput, match="it has lamp"):
        trial.try_one(request)


# --- over a real pipe, with what the simulated bench has -------------------------------------------


@pytest.fixture
def amplifier() -> Iterator[LiveBench]:
    with live_bench("amplifier") as far:
        yield far


@pytest.fixture
def board() -> Iterator[LiveBench]:
    with live_bench("board") as far:
        yield far


@pytest.fixture
def near() -> Iterator[Inside]:
    made = Inside()
    yield made
    made.close()


def test_a_handheld_that_writes_unasked_is_heard(near: Inside, amplifier: LiveBench) -> None:
    text = bench_text(amplifier, "amplifier")
    found = near.request(Try(id=0, text=text, place="bench.toml", profiles=[], job="mains"))
    assert said(found, "asked") == []
    assert said(found, "answered")
    # A busy machine may find several lines at once.
    assert {(function, outcome) for _, function, outcome, _ in found["read"]} == {("volts_ac", "ok")}


def test_a_supply_tells_every_output_and_is_not_switched(near: Inside, board: LiveBench) -> None:
    text = bench_text(board, "board")
    found = near.request(Try(id=0, text=text, place="bench.toml", profiles=[], job="bench supply"))
    assert [(channel, function) for channel, function, *_ in found["read"]] == [
        (channel, function) for channel in ("1", "2") for function in ("volts_dc", "amps_dc", "state")
    ]
    assert all("?" in line for line in said(found, "asked"))


def test_the_open_bench_lets_go_before_one_is_tried(near: Inside, board: LiveBench) -> None:
    text = bench_text(board, "board")
    near.open_bench(text, board.bench.speed)
    found = near.request(Try(id=0, text=text, place="bench.toml", profiles=[], job="bench supply"))
    assert found["wrong"] == ""
    with pytest.raises(BadInput, match="no bench is open"):
        near.request(Take(id=0, reading="x", job="parts meter", designator="R1", function="ohms"))
