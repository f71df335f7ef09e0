"""A trip, its cause named, and up again: short dwells below the stage reached, the plan's own from there; all real."""

from pathlib import Path

import pytest
from helpers.live_bench import live_bench
from helpers.near import Inside, bench_text
from helpers.plans import short_plan
from helpers.until import until

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.errors import BadInput
from benchlog.recorder import messages
from benchlog.store import query
from benchlog.store.ids import new_id

SPEED = 20.0
DWELL = 20.0
HOLD = ("raw + volts", "raw - volts", "regulated +", "regulated -")
CAUSE = "the limit was set too tight"


def arm(near: Inside, folder: Path, text: str, **again: str) -> Path:
    """Load the plan, prove, and arm; BadInput where the recorder refuses."""
    near.load(text)
    near.request(messages.Prove(id=0))
    arm = messages.Arm(id=0, session=new_id(), folder=str(folder), **again)  # type: ignore[arg-type]
    return Path(near.request(arm)["session"])


def ready(near: Inside, index: int) -> messages.Stage:
    """The next stage is offered at that one: how it stands."""
    return near.wait(messages.Stage, lambda stage: (stage.state, stage.index) == ("ready", index))


def down(near: Inside) -> bool:
    """Whether the newest reading of each output is near zero."""
    newest = {
        batch.trace: batch.rows[-1][2] for message in near.of(messages.Readings) for batch in message.batches
    }
    return all((value := newest.get(name)) is not None and abs(value) < 4.0 for name in HOLD)


def climb_twice(near: Inside, folder: Path) -> tuple[Path, Path]:
    """A run whose limit is set too tight at its second stage, and the one that goes on from it: their files."""
    text = short_plan("board", 2, dwell=DWELL)
    plan = textfile.parse(text, "plan.toml", Plan)
    (ceiling,) = [at for at, one in enumerate(plan.limit) if (one.trace, one.kind) == ("regulated +", "high")]
    first = arm(near, folder, text)
    near.act("next")
    assert ready(near, 0).waits[0][0] == f"dwell {DWELL:g} s"
    near.act("next", 0)
    near.wait(messages.Stage, lambda stage: (stage.state, stage.index) == ("dwelling", 1))
    near.request(messages.SetLimit(id=0, limit=ceiling, value=1.0))
    near.wait(messages.Closed)
    near.heard.clear()
    near.load(text)
    until(lambda: down(near), "outputs that are down")
    second = arm(near, folder, text, again=str(first), cause=CAUSE)
    near.act("next")
    assert ready(near, 0).waits[0][0] == "dwell 10 s"
    near.act("next", 0)
    assert ready(near, 1).waits[0][0] == f"dwell {DWELL:g} s"
    near.act("next", 1)
    near.wait(messages.Closed)
    with pytest.raises(BadInput, match="did not trip"):
        arm(near, folder, text, again=str(second), cause=CAUSE)
    return first, second


def test_up_again_after_a_limit_that_was_set_too_tight(tmp_path: Path) -> None:
    with live_bench("board", speed=SPEED) as far:
        near = Inside()
        try:
            near.open_bench(bench_text(far, "board"), SPEED)
            first, second = climb_twice(near, tmp_path)
        finally:
            near.close()
    (event,) = query.events(second, "again")
    assert event.data["session"] == query.state(first).head.id
    assert (event.data["cause"], event.data["stage"]) == (CAUSE, 1)
    assert query.state(second).outcome == "completed"
