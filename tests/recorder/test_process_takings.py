"""Taking parts over the whole way: probes on a part, a reading that settles, told until it is kept."""

import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.near import HANG, Inside, bench_text
from helpers.until import until

from benchlog.errors import BadInput
from benchlog.recorder import messages, taker, taking
from benchlog.recorder.messages import Cut, Kept, Notice, Null, Take, Taken
from benchlog.store import query
from benchlog.store.ids import new_id

PARTS = "parts meter"


@pytest.fixture
def board() -> Iterator[LiveBench]:
    with live_bench("board") as far:
        yield far


@pytest.fixture
def near(board: LiveBench) -> Iterator[Inside]:
    made = Inside()
    made.open_bench(bench_text(board, "board"), board.bench.speed)
    yield made
    made.close()


def take(designator: str = "R101", function: str = "ohms", job: str = PARTS) -> Take:
    return Take(id=0, reading=new_id(), job=job, designator=designator, function=function)


def refused(near: Inside, request: Take) -> str:
    with pytest.raises(BadInput) as caught:
        near.request(request)
    return str(caught.value)


def probe(board: LiveBench, part: str) -> None:
    assert board.control("probe", part=part)["ok"]


def questions(board: LiveBench) -> int:
    """How often the parts meter was asked for a reading."""
    return len(board.saw("command", job=PARTS, text="READ?"))


def test_a_part_is_taken_told_until_kept_and_the_meter_rests(
    near: Inside, board: LiveBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(taking, "REPEAT_SECONDS", 0.01)
    probe(board, "R101")
    request = take()
    near.request(request)
    taken = near.wait(Taken)
    assert (taken.reading, taken.designator, taken.job) == (request.reading, "R101", PARTS)
    assert (taken.function, taken.unit, taken.outcome, taken.settled) == ("ohms", "ohm", "ok", True)
    assert taken.value == pytest.approx(4661.0, rel=0.01)
    until(lambda: len(near.of(Taken)) > 3, "its repetition")
    assert all(again == taken for again in near.of(Taken))
    near.request(Kept(id=0, reading=request.reading))
    # What was told before the answer may still be on its way.
    near.request(Kept(id=0, reading="another"))
    said = len(near.of(Taken))
    # The next part is taken with the same meter, which rested in between.
    probe(board, "ZD101")
    near.request(take("ZD101", "diode"))
    second = near.wait(Taken, lambda taken: taken.designator == "ZD101")
    assert second.value == pytest.approx(0.712, rel=0.01)
    assert [taken.designator for taken in near.of(Taken)[said:]].count("R101") == 0
    desk = near.recorder._desk
    assert desk is not None
    paused = until(lambda: desk.walking(PARTS).do(lambda meter: meter._paused).result(HANG), "its rest")
    assert paused


def test_what_a_meter_cannot_do_is_refused_and_the_next_part_can_be_taken(
    near: Inside, board: LiveBench
) -> None:
    probe(board, "R101")
    assert refused(near, take(function="ohm")).startswith("take: 'ohm' is no function of a meter; use one of")
    assert "does not measure inductance; it measures" in refused(near, take(function="inductance"))
    assert refused(near, take(job="bench supply")).startswith("take: the bench has no meter 'bench supply'")
    near.request(take())
    assert near.wait(Taken).designator == "R101"


def test_a_meter_takes_one_part_at_a_time(near: Inside, board: LiveBench) -> None:
    board.bench._plugged[PARTS].thing.silent = True  # type: ignore[union-attr]
    near.request(take("R101"))
    assert refused(near, take("R201")) == "take: parts meter is still taking R101; wait for it."


def test_nulled_leads_are_taken_off_and_the_reading_says_so_with_its_error(
    near: Inside, board: LiveBench
) -> None:
    probe(board, "R101")
    near.request(Null(id=0, job=PARTS, value=1.5, utc=datetime.now(UTC).isoformat()))
    near.request(take())
    taken = near.wait(Taken)
    raw = float(taken.raw)
    assert (taken.nulled, taken.value) == (1.5, pytest.approx(raw - 1.5))
    assert taken.error == pytest.approx(0.003 * raw), "the bench says 0.3 %"


@pytest.mark.parametrize(
    ("value", "utc", "said"),
    [
        (
            2.5,
            "2026-01-01T10:00:00Z",
            "null: parts meter reads 2.5 Ω on its shorted leads; clean tips and plugs",
        ),
        (-0.1, "2026-01-01T10:00:00Z", "null: parts meter reads -0.1 Ω on its shorted leads"),
        (0.1, "ten o'clock", "is no time"),
    ],
)
def test_leads_that_cannot_be_so_are_refused(near: Inside, value: float, utc: str, said: str) -> None:
    with pytest.raises(BadInput) as caught:
        near.request(Null(id=0, job=PARTS, value=value, utc=utc))
    assert said in str(caught.value)


def test_a_meter_that_says_nothing_is_given_up_and_told_of(near: Inside, board: LiveBench) -> None:
    near.request(take("R101"))
    board.bench._plugged[PARTS].thing.silent = True  # type: ignore[union-attr]
    notice = near.wait(Notice)
    assert (notice.place, notice.problem) == (PARTS, "gave no reading to take")


def test_a_meter_whose_thread_is_busy_is_not_waited_for_for_ever(
    near: Inside, board: LiveBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(taker, "SETTING_SECONDS", 0.2)
    desk = near.recorder._desk
    assert desk is not None
    goes_on = threading.Event()
    busy = desk.walking(PARTS).do(lambda _: goes_on.wait(HANG))
    assert refused(near, take()).startswith("parts meter: did not take its setting within 0.2 s")
    goes_on.set()
    busy.result(HANG)
    probe(board, "R101")
    near.request(take())
    assert near.wait(Taken).value == pytest.approx(4661.0, rel=0.01)


def test_a_meter_that_is_gone_is_refused_and_free_when_it_is_back(board: LiveBench) -> None:
    near = Inside()
    gone = bench_text(board, "board").replace(board.address(PARTS), "tcp://127.0.0.1:1")
    near.open_bench(gone, 20.0)
    assert refused(near, take()).startswith("parts meter: nobody listens at 127.0.0.1 port 1")
    assert refused(near, take()).startswith("parts meter: nobody listens at 127.0.0.1 port 1")
    near.close()


def test_parts_are_taken_beside_a_live_unit_in_volts_alone_and_its_session_keeps_them(
    near: Inside, board: LiveBench, tmp_path: Path
) -> None:
    path = near.live(board, "board", tmp_path, dwell=600.0)
    assert refused(near, take("R101", "ohms")).startswith("take: ohms is not measured while a run is open")
    assert refused(near, take("x", "volts_dc", "regulated +")).startswith(
        "take: regulated + watches the unit"
    )
    probe(board, "R101")
    request = take("Q101C", "volts_dc")
    near.request(request)
    taken = near.wait(Taken)
    near.request(Cut(id=0))
    near.wait(messages.Closed)
    (kept,) = query.taken(path)
    assert kept.id == request.reading
    assert (kept.body["designator"], kept.body["function"], kept.body["value"]) == (
        "Q101C",
        "volts_dc",
        taken.value,
    )
    # Told on, since no library has it yet.
    told = len(near.of(Taken))
    until(lambda: len(near.of(Taken)) > told, "its repetition after the run")


def test_a_part_that_settles_while_its_bench_is_closed_is_told_all_the_same() -> None:
    near = Inside()
    taken = Taken(
        reading="id",
        designator="R101",
        part="",
        job=PARTS,
        function="ohms",
        outcome="ok",
        value=4680.0,
        unit="ohm",
        raw="4680",
        utc="",
    )
    near.recorder._taker.keep(taken)
    near.close()
