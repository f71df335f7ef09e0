"""Mains and minutes on beside a reading that is taken in a live run: never from what is old or doubted (rule 39)."""

from benchlog import resources, textfile
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role
from benchlog.recorder.client import messages
from benchlog.window.run_under import mains_now, minutes_on
from benchlog.window.run_view import Phase, RunView

SECOND = 1_000_000_000


def live(*, on: bool = True) -> RunView:
    """A live run of the example, its mains read at 12 s of the window's clock, ten minutes into the run."""
    view = RunView()
    view.plan = textfile.read(resources.path("examples", "amplifier", "plan.toml"), Plan)
    view.phase = Phase.LIVE
    view.stage = messages.Stage(t=600 * SECOND, state="dwelling", index=0, name="10 %")
    if on:
        view.hear(messages.Event(t=60 * SECOND, kind="on", text="on", data={"done": True}), 2.0)
    rows: list[tuple[int, int, float | None, str]] = [(1, 600 * SECOND, 229.5, "ok")]
    view.hear(messages.Readings(batches=[messages.Batch(mains_of(view), rows)]), 12.0)
    return view


def mains_of(view: RunView) -> str:
    """The trace of the mains."""
    assert view.plan is not None
    return next(trace.name for trace in view.plan.trace if trace.role is Role.MAINS)


def test_mains_and_minutes_are_those_of_the_run() -> None:
    view = live()
    assert mains_now(view, 12.5) == 229.5
    assert minutes_on(view) == 9.0


def test_old_or_doubted_mains_are_none() -> None:
    view = live()
    assert mains_now(view, 60.0) is None
    view.doubts[mains_of(view)] = "unproven"
    assert mains_now(view, 12.5) is None


def test_what_is_not_on_has_neither() -> None:
    assert minutes_on(live(on=False)) is None
    view = live()
    view.phase = Phase.CLOSED
    assert mains_now(view, 12.5) is None
    assert minutes_on(view) is None
    assert mains_now(RunView(), 0.0) is None
