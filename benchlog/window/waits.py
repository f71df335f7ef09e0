"""What stands beside the ladder in lines: what is awaited before the next stage, or what is left after off."""

from collections.abc import Iterator, Mapping, Sequence

from benchlog.domain.stages import State
from benchlog.domain.trust import UNPROVEN
from benchlog.recorder.client import messages
from benchlog.window import after_cut, words
from benchlog.window.call import tail_in_words
from benchlog.window.charges import NEVER_TRUST, Charge, charges_of
from benchlog.window.foretold import at_length
from benchlog.window.graph_scale import moment
from benchlog.window.lines import Line
from benchlog.window.run_view import NOT_KNOWN, Phase, RunView
from benchlog.window.shapes import Shape
from benchlog.window.touching import countdowns


def lines_of(view: RunView, now: float, meters: Mapping[str, messages.Meter]) -> tuple[Line, ...]:
    """The lines of this moment, a heading first."""
    if view.phase in (Phase.OFF, Phase.CLOSED):
        return (*_meters(view, meters), *_after(view, now))
    if view.state in (State.GOING_OFF, State.CHANGING):
        return (*_meters(view, meters), *_charges(view, charges_of(view, now)))
    return (*countdowns(view), *_meters(view, meters), *_awaited(view, now), *_foretold(view, now))


def _meters(view: RunView, meters: Mapping[str, messages.Meter]) -> Iterator[Line]:
    """Meters of the plan that do not answer, and what is known of why."""
    jobs = {trace.job for trace in view.plan.trace} if view.plan is not None else set()
    for job, meter in meters.items():
        if job in jobs and meter.state != "open":
            state = words.METER_STATE.get(meter.state, meter.state)
            said = f"{job}: {state}, {meter.text}" if meter.text else f"{job}: {state}"
            yield Line(said, shape=Shape.NOTHING, bold=True)


def _awaited(view: RunView, now: float) -> Iterator[Line]:
    stage, plan = view.stage, view.plan
    if stage is None or plan is None or not stage.waits:
        return
    last = stage.index + 1 == len(plan.stage)
    yield Line("before the end" if last else "before the next stage", bold=True)
    if view.state is State.DRILL:
        # What held until now is about to fall on purpose, and is awaited anew after it.
        yield Line("the drill: off by your hand, and seen", shape=Shape.HERE)
        return
    for at, (what, holds, progress) in enumerate(stage.waits):
        shape = Shape.GOOD if holds else Shape.TO_DO
        if at == 0:
            dwell = moment(plan.stage[stage.index].dwell)
            yield Line(f"dwell {dwell}", "" if holds else f"{moment(stage.left)} left", shape)
        else:
            yield Line(what, progress, _shape(view, stage, at - 1, now, shape))


def _foretold(view: RunView, now: float) -> Iterator[Line]:
    """Where the traces are heading, each with what it lies between."""
    found = []
    for trace in view.plan.trace if view.plan is not None and view.is_live else ():
        foretold, live = view.foretold.get(trace.name), view.live.get(trace.name)
        if foretold is not None and live is not None and not (foretold.stale(now) or live.stale(now)):
            found.append(Line(f"{trace.name}: {at_length(foretold, trace, live.t)}", soft=True))
    if found:
        yield Line("where it is heading", bold=True)
    yield from found


def _shape(view: RunView, stage: messages.Stage, at: int, now: float, shape: Shape) -> Shape:
    """Never good where it is judged by a value that is not of now, or proves nothing yet."""
    waits = view.plan.stage[stage.index].awaits if view.plan is not None else ()
    name = waits[at].trace if at < len(waits) else ""
    live = view.live.get(name)
    if live is not None and live.stale(now):
        return Shape.NOTHING
    return Shape.DOUBT if shape is Shape.GOOD and view.doubt_in(name) == UNPROVEN else shape


def _after(view: RunView, now: float) -> Iterator[Line]:
    story = after_cut.story_of(view, now)
    if view.cuts or (view.plan is not None and view.plan.run_kind.feeds):
        yield Line("off-switch", bold=True)
        for switch in story.switches:
            yield Line(switch.text, switch.took, switch.shape)
    yield from _charges(view, story.charges)
    tail = tail_in_words(view)
    if tail:
        yield Line(tail, soft=True)


def _charges(view: RunView, charges: Sequence[Charge]) -> Iterator[Line]:
    """What the reservoirs still hold."""
    if charges:
        yield Line(
            "still in the reservoirs" if view.phase is not Phase.CLOSED else "last seen in the reservoirs",
            bold=True,
        )
    for charge in charges:
        shape = Shape.NOTHING if charge.stale else Shape.DOUBT
        if view.phase is Phase.CLOSED and charge.stale and not charge.words.startswith(NOT_KNOWN):
            yield Line(f"{charge.name}: measure it before you touch", charge.shown, Shape.DOUBT)
        else:
            yield Line(f"{charge.name}: {charge.words}", charge.shown, shape)
    if charges:
        yield Line(NEVER_TRUST, soft=True)
