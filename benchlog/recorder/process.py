"""The recorder process: wires channel, bench, run and alarm together, and looks at the clock.

Three kinds of thread meet here. The channel's reader carries out what must not wait (cut, act, answer,
remark, kept) itself; the worker does what may block (open a bench, prove, arm, close); the main
thread is the watch, every 50 ms.
"""

import logging
import queue
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from benchlog import __version__, resources
from benchlog.domain.plan import Plan
from benchlog.domain.reading import Reading
from benchlog.domain.trust import annunciated, believed, not_live
from benchlog.errors import BadInput, BenchlogError, LinkError
from benchlog.recorder import messages
from benchlog.recorder.alarm_link import AlarmLink, NoAlarm
from benchlog.recorder.awake import Awake
from benchlog.recorder.channel import Channel
from benchlog.recorder.clock import SECOND, Clock, wire_now
from benchlog.recorder.desk import COMPARE, Desk
from benchlog.recorder.framing import complaint
from benchlog.recorder.holding import Holding
from benchlog.recorder.means import LeftUp, Means
from benchlog.recorder.outlet import Outlet
from benchlog.recorder.pedals import Pedals
from benchlog.recorder.place import Places
from benchlog.recorder.plancheck import check, unknown_links
from benchlog.recorder.prompts import Prompts
from benchlog.recorder.run import Run
from benchlog.recorder.taker import Taker
from benchlog.recorder.touches import Touches
from benchlog.recorder.trial import try_one
from benchlog.store.records import Ending
from benchlog.textfile import parse

log = logging.getLogger(__name__)

WATCH_SECONDS = 0.05
BEAT_SECONDS = 0.25
CLIENT_SILENT = 5.0
WATCH_STALE = 0.5
METER_STUCK = 1.0
PLAYER_SECONDS = 5.0


class Recorder:
    """One recorder over one channel."""

    def __init__(self, channel: Channel, player: list[str] | None, *, alarm: bool) -> None:
        self._channel = channel
        self._clock = Clock()
        self._outlet = Outlet(channel.send)
        self._prompts = Prompts(channel.send)
        self._awake = Awake(self._clock, self._outlet)
        self._desk: Desk | None = None
        self._pedals: Pedals | None = None
        self._run: Run | None = None
        self._closed: Places | None = None
        self._bench_text = ""
        self._work: queue.SimpleQueue[Callable[[], None] | None] = queue.SimpleQueue()
        self._taker = Taker(self._clock, self._outlet, lambda: self._desk, lambda: self._run)
        self._flags: dict[str, str] = {}
        self._unproven = False
        self._left_up = LeftUp()
        self._holding = Holding(channel.send)
        self._leaving = threading.Event()
        self._why_leaving = ("", "")
        self._watched = wire_now()
        self._alarm: AlarmLink | NoAlarm = NoAlarm()
        if alarm:
            self._alarm = AlarmLink(
                resources.path("sounds", "alarm.wav"),
                alive=self._watch_alive,
                on_notice=channel.send,
                player=player,
            )
        self._quick: dict[type[messages.Request], Callable[[Any], dict[str, Any] | None]] = {
            messages.Cut: self._cut,
            messages.Act: lambda request: self._the_run("act").act(request.what, request.stage),
            messages.Clip: lambda request: {"said": self._touches("clip").clip(request.trace)},
            messages.Trimmer: lambda _request: {"said": self._touches("trimmer").trimmer()},
            messages.IdleSet: lambda request: {"said": self._touches("idle").idle(request.trace)},
            messages.SetLimit: lambda request: {
                "said": self._touches("limit").limit(
                    request.limit, request.value, request.field, request.reason
                )
            },
            messages.Answer: self._answer,
            messages.Remark: self._remark,
            messages.Observe: lambda request: self._the_run("observe").teller.observe(
                request.what, request.ago
            ),
            messages.Spot: lambda request: self._the_run("spot").teller.spot(request.name, request.text),
            messages.Kept: lambda request: self._taker.kept(request.reading),
            messages.Press: self._taker.press,
            messages.StayAwake: lambda _request: self._awake.part(),
            messages.Quit: self._quit,
        }
        self._slow: dict[type[messages.Request], Callable[[Any], dict[str, Any] | None]] = {
            messages.OpenBench: self._open_bench,
            messages.LoadPlan: self._load_plan,
            messages.Prove: self._prove,
            messages.Arm: self._arm,
            messages.Take: self._taker.take,
            messages.Ahead: self._taker.ahead,
            messages.Null: self._taker.null,
            messages.Try: self._try,
        }

    # --- from the client ------------------------------------------------------------------------

    def on_message(self, message: messages.Message) -> None:
        """Carry out one request; called by the channel's reader thread."""
        if not isinstance(message, messages.Request):
            return
        quick = self._quick.get(type(message))
        if quick is not None:
            self._carry_out(quick, message)
        else:
            slow = self._slow[type(message)]
            self._work.put(lambda: self._carry_out(slow, message))

    def _carry_out(self, how: Callable[[Any], dict[str, Any] | None], request: messages.Request) -> None:
        try:
            data = how(request)
        except BenchlogError as error:
            faults = [(fault.place, fault.problem, fault.fix) for fault in error.faults]
            self._channel.send(messages.Refused(id=request.id, faults=faults))
        else:
            self._channel.send(messages.Done(id=request.id, data=data or {}))

    def on_fault(self, error: LinkError, request: int) -> None:
        """A line that could not be read: say so, and go on."""
        log.error("%s", error)
        self._channel.send(complaint(error, request))

    def on_end(self) -> None:
        """The client is gone: a live run is cut, and closed after its tail."""
        self._leave("the window or terminal of this run ended")
        self._prompts.nobody_left()

    def terminate(self, _signal: int, _frame: object) -> None:
        """SIGTERM: cut, close with the reason, end."""
        # A thread of its own: the signal may have come while a lock was held.
        reason = "benchlog was told to end"
        threading.Thread(target=self._leave, args=(reason,), name="terminate", daemon=True).start()

    def abandon(self) -> None:
        """A bug ends this program: whatever may hold something on lets go, in bounded time, also during a proof."""
        run = self._run
        if run is not None:
            run.off.abandon(open_run=run.session is not None)

    def _leave(self, reason: str, ending: str = Ending.ALONE) -> None:
        if not self._leaving.is_set():
            self._why_leaving = (reason, ending)
        self._leaving.set()
        run = self._run
        if run is not None:
            run.leave(reason, ending)

    def _the_run(self, what: str) -> Run:
        if self._run is None:
            raise BadInput(what, "no plan is loaded", "load one first")
        return self._run

    def _touches(self, what: str) -> Touches:
        return self._the_run(what).touches

    def _the_desk(self, what: str) -> Desk:
        if self._desk is None:
            raise BadInput(what, "no bench is open", "open one first")
        return self._desk

    def _cut(self, request: messages.Cut) -> None:
        run = self._run
        if run is None:
            raise BadInput("cut", "nothing is armed", "if something is on, pull the plug")
        run.cut(request.reason)

    def _answer(self, request: messages.Answer) -> None:
        self._prompts.answer(request.prompt, request.yes)

    def _remark(self, request: messages.Remark) -> None:
        self._the_run("remark").teller.remark(request.remark, request.text, request.ago)

    def _quit(self, _request: messages.Quit) -> None:
        self._leave("ended by the operator", Ending.STOPPED)

    # --- what may block -------------------------------------------------------------------------

    def _open_bench(self, request: messages.OpenBench) -> dict[str, Any]:
        if self._run is not None and self._run.session is not None:
            raise BadInput("open_bench", "a run is open", "close it first")
        if not 0.0 < request.rate < float("inf"):
            raise BadInput("open_bench", f"plan time cannot run at {request.rate:g}", "leave the rate at 1")
        self._close_bench()
        self._clock.rate = request.rate
        folders = [Path(folder) for folder in request.profiles]
        desk = Desk(request.text, request.place, folders, request.rate, self._reading, self._meter_state)
        self._bench_text, self._desk = request.text, desk
        pedals, port_of = desk.bench.pedal, desk.pedal_port
        self._pedals = Pedals(pedals, port_of, lambda: self._run, self._outlet, self._meter_state)
        for job, due in desk.overdue():
            self._channel.send(messages.Notice(place=job, problem=due, fix=COMPARE))
        return {"meters": desk.wait_open()}

    def _try(self, request: messages.Try) -> dict[str, Any]:
        """Hear one instrument out; the bench lets go first, since a port or a meter takes one caller."""
        if self._run is not None and self._run.session is not None:
            raise BadInput("try", "a run is open", "close it first")
        self._close_bench()
        return try_one(request)

    def _load_plan(self, request: messages.LoadPlan) -> dict[str, Any]:
        desk = self._the_desk("load_plan")
        if self._run is not None:
            if self._run.session is not None:
                raise BadInput("load_plan", "a run is open", "close it first")
            self._run.close()
            self._run = None
        plan = parse(request.text, request.place, Plan)
        sentences = check(plan, desk.bench, request.place, desk.unprotected, request.reference)
        self._alarm.quiet()
        player = self._alarm.wait_player(PLAYER_SECONDS) or "none"
        switches = desk.switches(self._alarm, player, self._permit, self._lost)
        self._run = Run(
            plan,
            request.text,
            switches,
            Means(self._clock, self._outlet, self._prompts, self._alarm, self._left_up, self._may_rise),
            desk.supply_setter(plan.source.supply),
            request.reference,
        )
        return {"sentences": sentences, "player": player}

    def _may_rise(self) -> None:
        if self._pedals is not None:
            self._pedals.may_rise()

    def _prove(self, _request: messages.Prove) -> dict[str, Any]:
        run = self._the_run("prove")
        if self._pedals is not None:
            # A proof pulls relays in.
            self._pedals.check()
        return {"said": run.prove()}

    def _arm(self, request: messages.Arm) -> dict[str, Any]:
        run, desk = self._the_run("arm"), self._the_desk("arm")
        if self._pedals is not None:
            self._pedals.check()
        program = f"benchlog {__version__}"
        path = run.arm(request, bench=self._bench_text, profiles=desk.profile_texts, program=program)
        self._alarm.guard(True)
        for text in unknown_links(run.plan, desk.bench):
            self._outlet.event(self._clock.now(), "warn", text)
        self._channel.send(messages.Recipe(lines=desk.recipe()))
        return {"session": str(path)}

    # --- from the instruments -------------------------------------------------------------------

    def _reading(self, job: str, reading: Reading) -> None:
        if reading.flags or job in self._flags:
            reading = self._look_at_flags(job, reading)
        run = self._run
        if run is not None and run.reading(job, reading):
            return
        self._taker.reading(job, reading)
        # Of a run that was closed the traces go on being shown, by their names.
        name = self._closed.name(job, reading) if self._closed is not None else None
        name = name or (f"{job} {reading.channel}" if reading.channel else job)
        self._outlet.reading(name, reading, self._clock.of(reading.at))

    def _look_at_flags(self, job: str, reading: Reading) -> Reading:
        """A meter on HOLD gives no reading of now; said once each time it begins."""
        text = annunciated(job, reading)
        if text and self._flags.get(job) != text:
            doubt = not_live(reading)
            self._outlet.event(self._clock.of(reading.at), "warn", text, job=job, doubt=doubt)
        self._flags[job] = text
        return believed(reading)

    def _meter_state(self, job: str, state: str, text: str) -> None:
        identity = text if state == "open" else ""
        if state == "open":
            self._taker.opened(job)
        self._channel.send(messages.Meter(job=job, state=state, text=text, identity=identity))
        if self._outlet.writer is not None:
            self._outlet.event(self._clock.now(), "meter", f"{job}: {state}", job=job, state=state, said=text)

    # --- the watch ------------------------------------------------------------------------------

    def _watch_alive(self) -> bool:
        return wire_now() - self._watched < WATCH_STALE * SECOND

    def _permit(self) -> bool:
        """Whether a relay may be held in: the watch looks, and every guarded meter's thread is alive."""
        run, desk = self._run, self._desk
        if run is None or desk is None or not self._watch_alive():
            return False
        return all(desk.quiet_for(job) < METER_STUCK for job in run.places.guarded)

    def _lost(self, name: str, reason: str) -> None:
        """An off-switch let go by itself: what it held is over, and nothing may pull it in again."""
        run = self._run
        if run is not None:
            run.trip(name, f"{name}: {reason}")

    def watch(self) -> None:
        """Look at the clock until it is time to end."""
        worker = threading.Thread(target=self._worker, name="worker", daemon=True)
        worker.start()
        beats, last_beat, looked = 0, 0, 0
        closing: Run | None = None
        tick = threading.Event()
        while True:
            self._watched = wire_now()
            run = self._run
            if run is not None:
                run.watch()
                self._look_at_client(run)
                # Each run once: the next one may be loaded before anybody looks again.
                if run.closed.is_set() and run is not closing:
                    closing = run
                    self._work.put(self._close_run)
            self._awake.look()
            self._outlet.flush()
            self._taker.look()
            if self._watched - last_beat > BEAT_SECONDS * SECOND:
                beats, last_beat = beats + 1, self._watched
                self._channel.send(messages.Beat(n=beats))
            if self._watched - looked > SECOND and self._work.empty():
                looked = self._watched
                self._work.put(lambda: None)  # The worker looks again: a proof may run out by itself.
            if self._leaving.is_set() and (self._run is None or self._run.session is None):
                break
            tick.wait(WATCH_SECONDS)
        # A proof may wait for a person who is gone.
        self._prompts.nobody_left()
        self._work.put(None)
        worker.join()

    def _look_at_client(self, run: Run) -> None:
        """End a run that nobody looks after, also one that was armed while its client went away."""
        silent = self._channel.silence()
        if run.session is None or run.ended:
            return
        if self._leaving.is_set():
            run.leave(*self._why_leaving)
        elif silent > CLIENT_SILENT:
            run.leave(f"the window fell silent for {CLIENT_SILENT:g} s", Ending.ALONE)

    def _worker(self) -> None:
        while (work := self._work.get()) is not None:
            work()
            self._holding.tell(bench=self._desk is not None, run=self._run)

    def _close_run(self) -> None:
        run, self._run = self._run, None
        if run is None:
            return
        closed, self._closed = run.close(), run.places
        # An off that nobody has seen keeps its alarm, also when everything else has ended.
        self._unproven = not run.proven_off
        if not self._unproven:
            self._alarm.guard(False)
        if closed is not None:
            self._channel.send(closed)
        if self._desk is not None:
            self._desk.let_go()

    def _close_bench(self) -> None:
        self._close_run()
        self._taker.end()
        self._closed = None
        if self._pedals is not None:
            self._pedals.stop()
            self._pedals = None
        if self._desk is not None:
            self._desk.close()
            self._desk = None

    def close(self) -> None:
        """Let go of everything."""
        run = self._run
        if run is not None and not run.ended:
            run.leave(*self._why_leaving)
        self._close_bench()
        self._awake.close()
        if not (self._unproven and self._channel.broken):
            self._alarm.close()
        self._channel.close()
