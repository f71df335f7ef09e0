"""The witness writes every line, and waits for nobody."""

import json
import os

import pytest

from benchlog.simbench import witness


def test_every_line_is_written_in_order_with_its_time() -> None:
    near, far = os.pipe()
    told = witness.Witness(far)
    for number in range(100):
        told.tell("reply", t=number, job="+B", text=f"{number}")
    told.tell("mains", on=True)
    told.close()
    os.close(far)
    with os.fdopen(near) as file:
        seen = [json.loads(line) for line in file]
    assert seen[:100] == [{"saw": "reply", "t": n, "job": "+B", "text": f"{n}"} for n in range(100)]
    assert seen[100]["on"] is True
    assert seen[100]["t"] > 0


def test_a_reader_who_takes_nothing_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(witness, "LAST_LINES", 0.05)
    near, far = os.pipe()
    told = witness.Witness(far)
    for _ in range(5000):
        told.tell("reply", text="x" * 100)
    told.close()
    assert told._thread.is_alive()
    os.close(near)
    told._thread.join(30.0)
    assert not told._thread.is_alive()
    os.close(far)


def test_a_reader_who_has_gone_is_told_nothing_more() -> None:
    near, far = os.pipe()
    os.close(near)
    told = witness.Witness(far)
    told.tell("mains", on=True)
    told._thread.join(30.0)
    told.tell("mains", on=False)
    assert told._lines.empty()
    told.close()
    os.close(far)


S = 1_000_000_000


def test_thinned_it_leaves_out_most_readings_but_those_that_led_to_an_off() -> None:
    thinned = witness.Thinned()
    lines: list[dict[str, object]] = []
    for tick in range(200):
        t = tick * S // 10
        lines += thinned.take({"saw": "command", "t": t, "job": "+B", "text": "READ?"})
        lines += thinned.take({"saw": "reply", "t": t, "job": "+B", "text": f"{tick}"})
    assert [line["t"] for line in lines] == [0, 0, 10 * S, 10 * S]
    done = {"saw": "command", "t": 20 * S, "job": "supply", "text": "OUTP ON"}
    on = {"saw": "output", "t": 20 * S, "output": 1, "on": True, "why": "command"}
    assert thinned.take(done) == [done]
    assert thinned.take(on) == [on]
    off = {"saw": "relay", "t": 20 * S, "job": "relay", "closed": False, "last": 0}
    *before, last = thinned.take(off)
    assert last == off
    replies = [line["text"] for line in before if line["saw"] == "reply"]
    assert replies == [f"{tick}" for tick in range(180, 200)]
    assert thinned.take({"saw": "alarm", "t": 21 * S}) == [{"saw": "alarm", "t": 21 * S}]
