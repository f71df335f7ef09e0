"""A run as the window drives it: bench, plan, proof, arming, acts and cut, asked of the recorder without waiting."""

import time
from collections.abc import Callable, Iterable

from PySide6.QtCore import QObject, Signal

from benchlog import textfile
from benchlog.domain.cold_checks import ColdReading
from benchlog.domain.plan import Plan
from benchlog.domain.reference import Reference
from benchlog.errors import WATCH, BadInput, BenchlogError, Fault
from benchlog.instruments import bench as benches
from benchlog.recorder.client import messages
from benchlog.store.ids import new_id
from benchlog.window.cold import Cold
from benchlog.window.link import Link
from benchlog.window.run_view import Phase, RunView, still_said


class Runner(QObject):
    """The run at the bench, one at a time.

    `view` is what is known of it. `changed` tells that it was, `read` that readings came (at most 20 times
    a second), `phase_changed` that it came to another phase, `tripped` that a limit broke, `closed` that its
    file is closed, `refused` what was not possible, `noticed` what the recorder wants known, `meter` how an
    instrument is doing, `pedal` which one was pressed, `hands` what the tips do, hands-free. `alone` carries the
    sentence for a cut that no recorder could carry out, `gone` why it ended, `again` tells that a new one runs,
    `abandoned` which file the old one has left. `said_late` carries a run's file that is closed, the plan seconds
    it ended at, and what a person said after that.
    """

    changed = Signal()
    read = Signal(object)
    phase_changed = Signal(object)
    tripped = Signal(object)
    closed = Signal(object)
    refused = Signal(object)
    noticed = Signal(object)
    taken = Signal(object)
    hands = Signal(object)
    meter = Signal(object)
    pedal = Signal(object)
    bench_opened = Signal()
    alone = Signal(str)
    gone = Signal(str)
    again = Signal()
    abandoned = Signal(str)
    said_late = Signal(str, float, str)

    def __init__(self, link: Link, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._link = link
        self._clock = clock
        self.view = RunView()
        self.bench_text = ""
        self.bench_name = ""
        self.rate = 1.0
        self._arming = False
        self._cut_meanwhile = False
        self._changing = 0
        """How many answers are awaited that make another bench or plan hold."""
        self._benches = 0
        self._cuts_alone = 0
        self._was_away = False
        link.heard.connect(self._hear)
        link.down.connect(self._lost)
        link.failed.connect(self._did_not_come)
        link.up.connect(self._came)

    # --- before it is live ---------------------------------------------------------------------------

    def open_bench(
        self,
        text: str,
        name: str,
        profiles: list[str],
        then: Callable[[dict[str, list[str]]], None] | None = None,
        refused: Callable[[BenchlogError], None] | None = None,
    ) -> None:
        """Attach the instruments of a bench file; `then` hears each job's state and what it says of itself.

        Parsing is quick and touches no file but the profiles, which the recorder reads for itself.
        """

        def opened(data: dict[str, object]) -> None:
            meters = data["meters"]
            assert isinstance(meters, dict)  # noqa: S101 - the recorder's own shape
            self.bench_text, self.bench_name = text, name
            self._to(Phase.BENCH)
            if then is not None:
                then(meters)
            self.bench_opened.emit()

        request = messages.OpenBench(id=0, text=text, place=name, profiles=profiles, rate=self.rate)
        self._change(request, opened, refused)

    def try_one(
        self,
        request: messages.Try,
        then: Callable[[dict[str, object]], None],
        refused: Callable[[BenchlogError], None],
    ) -> None:
        """Have one instrument tried by itself; the open bench lets go first and must be opened again."""
        if not self.may_be_on:
            self._begin_anew(self.view.bench)
        self._change(request, then, refused)

    def know_bench(self, bench: benches.Bench) -> None:
        """The bench file as it was parsed elsewhere (its profiles lie in files), about to be opened."""
        if not self.may_be_on:
            self._begin_anew(bench)

    def _begin_anew(self, bench: benches.Bench | None) -> None:
        """Neither an open bench nor a plan or a proof holds from here on."""
        self._benches += 1
        self.view = RunView(bench=bench)
        self._to(Phase.NOTHING)

    def load_plan(
        self,
        text: str,
        name: str,
        refused: Callable[[BenchlogError], None] | None = None,
        reference: Reference | None = None,
        idle_set: Iterable[str] = (),
        cold: Iterable[ColdReading] = (),
        *,
        same_unit: bool = True,
    ) -> None:
        """Have a plan checked against the open bench; its sentences come into the view.

        `reference` is the good run of the unit that it is for, `idle_set` the idles set in earlier runs of its visit.
        `cold` is what was read in that visit, `same_unit` whether the plan before was for it as well: what was said
        of its cold checks then holds on. `refused` hears what is wrong with it; left out, the signal of that name
        carries it.
        """
        try:
            plan = textfile.parse(text, name, Plan)
        except BadInput as error:
            (refused or self.refused.emit)(error)
            return

        benches_so_far = self._benches

        def checked(data: dict[str, object]) -> None:
            if benches_so_far != self._benches:
                return  # Checked against a bench that is about to go.
            sentences = data["sentences"]
            old = self.view
            self.view = RunView(
                bench=old.bench, plan=plan, plan_text=text, reference=reference, live=old.live
            )
            # A clip that was off is off until somebody looks, whichever plan is at hand.
            self.view.left_doubts = old.left_doubts
            self.view.idle_set = set(idle_set)
            said = still_said(old) if same_unit else {}
            self.view.cold = Cold(plan, tuple(cold), said)
            self.view.sentences = list(sentences) if isinstance(sentences, list) else []
            self._to(Phase.CHECKED)

        self._change(messages.LoadPlan(id=0, text=text, place=name, reference=reference), checked, refused)

    def prove(self) -> None:
        """Prove every off-switch; prompts may come meanwhile."""
        if self._still_changing("prove"):
            return

        def proven(data: dict[str, object]) -> None:
            said = data["said"]
            self.view.proofs = list(said) if isinstance(said, list) else []
            self.view.prompt = None
            self._to(Phase.PROVEN)

        def failed(error: BenchlogError) -> None:
            self.view.prompt = None
            if self.view.phase is Phase.PROVING:
                self._to(Phase.CHECKED)
            self.refused.emit(error)

        self._to(Phase.PROVING)
        self._ask(messages.Prove(id=0), proven, failed)

    def arm(self, folder: str, *, unit: str = "", visit: str = "", title: str = "") -> None:
        """Open a session and go to the first stage."""
        if self._still_changing("begin"):
            return

        def armed(data: dict[str, object]) -> None:
            self._arming = False
            self.view.armed(str(data["session"]))
            self._to(self.view.phase)
            if self.view.phase is Phase.ARMED:
                # The cut came before there was a run it could end.
                self.act("close" if self._cut_meanwhile else "next")

        def failed(error: BenchlogError) -> None:
            self._arming = False
            self.refused.emit(error)

        self._arming, self._cut_meanwhile = True, False
        back = self.view.again
        request = messages.Arm(
            id=0,
            session=new_id(),
            folder=folder,
            unit=unit,
            visit=visit,
            title=title,
            to_discharge=True,
            again=back.file if back is not None else "",
            cause=back.cause if back is not None else "",
            idle_set=sorted(self.view.idle_set),
            cold=list(self.view.cold.answers) if self.view.cold is not None else [],
            alone=bool(self.view.cold is not None and self.view.cold.alone),
        )
        self._ask(request, armed, failed)

    # --- while it is live ----------------------------------------------------------------------------

    def act(self, what: str) -> None:
        """Ask for `next`, `hold`, `resume`, `back`, `off` or `close`, at the stage that is shown."""
        stage = self.view.stage.index if self.view.stage is not None and what in ("next", "back") else -1
        self._ask(messages.Act(id=0, what=what, stage=stage))

    def answer(self, *, yes: bool) -> None:
        """Answer what the person is asked just now."""
        prompt = self.view.prompt
        if prompt is None:
            return
        self.view.answered()
        self._link.send(messages.Answer(id=0, prompt=prompt.prompt, yes=yes))
        self.changed.emit()

    def dial_is_back(self) -> None:
        """A person says so after the run is closed; the recorder asks for itself before the next proof."""
        view = self.view
        view.dial_back = ""
        if view.closed is not None:
            ended = view.moments[-1].t if view.moments else 0.0
            self.said_late.emit(view.closed.path, ended, "The variable transformer is back at zero.")
        self.changed.emit()

    @property
    def may_be_on(self) -> bool:
        """Whether something may be live, or may come to be: there is something to cut."""
        return self.view.is_open or self._arming or self.view.phase is Phase.PROVING

    def cut(self, reason: str = "cut by the operator") -> None:
        """The operator's cut; sent whatever the window believes the run to be, and never without a word.

        What the recorder refuses is told; where none runs, `alone` says so, and the last network cut is sent again.
        """
        self._cut_meanwhile = True
        if self._link.running and not self.view.lost:
            self._ask(messages.Cut(id=0, reason=reason))
        else:
            self._cut_alone()

    def _cut_alone(self) -> None:
        where = self._link.cut_again()
        self._cuts_alone += bool(where)
        text = after_death(where, self._cuts_alone)
        if self.view.lost:
            self.view.alone = text
        self.alone.emit(text)
        self.changed.emit()

    def leave_lost(self) -> None:
        """The person goes on from a run whose recorder died; nothing is known of it any more."""
        if self.view.lost:
            session = self.view.session
            self._begin_anew(self.view.bench)
            self.abandoned.emit(session)

    def clip(self, trace: str) -> None:
        """The clip of a trace is taken in hand, or is on again."""
        self._ask(messages.Clip(id=0, trace=trace))

    def trimmer(self) -> None:
        """A trimmer is turned."""
        self._ask(messages.Trimmer(id=0))

    def idle_set(self, trace: str) -> None:
        """The idle of a trace is set, or is not set after all."""
        self._ask(messages.IdleSet(id=0, trace=trace))

    def set_limit(self, at: int, value: float, *, field: str, reason: str) -> None:
        """Set a figure of the limit at that place of the plan; looser only with a reason."""
        self._ask(messages.SetLimit(id=0, limit=at, value=value, field=field, reason=reason))

    def remark(self, text: str, *, ago: float = 0.0) -> None:
        """Keep a timed note in the run, on what was so many seconds ago."""
        self._ask(messages.Remark(id=0, remark=new_id(), text=text, ago=ago))

    def observe(self, what: str) -> None:
        """Tell what is seen, heard, smelt or felt now."""
        self._ask(messages.Observe(id=0, what=what))

    def spot(self, name: str, text: str) -> None:
        """Tell what was read at a spot of this stage; empty where it is skipped."""
        self._ask(messages.Spot(id=0, name=name, text=text))

    def take(self, request: messages.Take, refused: Callable[[BenchlogError], None]) -> None:
        """Take one settled reading with a walking meter; it comes by `taken`."""
        self._link.ask(request, None, refused)

    def ahead(self, request: messages.Ahead, refused: Callable[[BenchlogError], None]) -> None:
        """Have these parts taken hands-free, one after the other; what goes on comes by `hands`."""
        self._link.ask(request, None, refused)

    def press(self, request: messages.Press, refused: Callable[[BenchlogError], None]) -> None:
        """A key or a pedal, hands-free."""
        self._link.ask(request, None, refused)

    def null(
        self, request: messages.Null, then: Callable[[], None], refused: Callable[[BenchlogError], None]
    ) -> None:
        """Have a meter's leads taken off what it reads on ohms; `then` hears that they are."""
        self._link.ask(request, lambda _: then(), refused)

    def kept(self, reading: str) -> None:
        """The library has a taken reading."""
        self._link.send(messages.Kept(id=0, reading=reading))

    def stay_awake(self) -> None:
        """A part was read: the computer must not go to sleep while the next one is looked for."""
        self._link.send(messages.StayAwake(id=0))

    # --- what comes back -----------------------------------------------------------------------------

    def _ask(
        self,
        request: messages.Request,
        then: Callable[[dict[str, object]], None] | None = None,
        refused: Callable[[BenchlogError], None] | None = None,
    ) -> None:
        self._link.ask(request, then, refused or self.refused.emit)

    def _change(
        self,
        request: messages.Request,
        then: Callable[[dict[str, object]], None],
        refused: Callable[[BenchlogError], None] | None,
    ) -> None:
        """Ask for another bench or plan; never beside a run or a proof, which stand on the ones at hand."""
        refused = refused or self.refused.emit
        if self.may_be_on:
            refused(
                BadInput(
                    "bench and plan", "stay as they are while something may be on", "cut, or close the run"
                )
            )
            return

        def done(data: dict[str, object]) -> None:
            self._changing -= 1
            then(data)

        def failed(error: BenchlogError) -> None:
            self._changing -= 1
            refused(error)

        self._changing += 1
        self._link.ask(request, done, failed)

    def _still_changing(self, what: str) -> bool:
        """Whether another bench or plan is on its way, so that nobody has seen yet what this would be for."""
        if self._changing:
            problem = "another bench or plan is just being looked at"
            self.refused.emit(BadInput(what, problem, "see what comes of it, then ask again"))
        return bool(self._changing)

    def _to(self, phase: Phase) -> None:
        self.view.phase = phase
        self.phase_changed.emit(phase)
        self.changed.emit()

    def _hear(self, message: messages.Message) -> None:
        before = self.view.phase
        self.view.hear(message, self._clock())
        if isinstance(message, messages.Readings):
            self.read.emit(message)
            return
        if isinstance(message, messages.Taken):
            self.taken.emit(message)
            return
        if isinstance(message, messages.Hands):
            self.hands.emit(message)
            return
        if isinstance(message, messages.Meter):
            self.meter.emit(message)
        elif isinstance(message, messages.Pedal):
            self.pedal.emit(message)
        elif isinstance(message, messages.Notice):
            self.noticed.emit(message)
        elif isinstance(message, messages.Trip):
            self.tripped.emit(message)
        elif isinstance(message, messages.Closed):
            self.closed.emit(message)
        if self.view.phase is not before:
            self.phase_changed.emit(self.view.phase)
        if not isinstance(message, messages.Stored):
            self.changed.emit()

    def _lost(self, error: BenchlogError) -> None:
        """The recorder is gone: nothing that was known of a run holds any more."""
        self._was_away, self._cuts_alone = True, 0
        self.view.prompt = None
        if self.view.is_open:
            self.view.lost = True
            self.view.off_reason = str(Fault(WATCH, error.problem, error.fix))
            self.view.off_why = "cut"
            self._to(Phase.OFF)
        elif self.view.phase is not Phase.CLOSED:
            # Neither bench nor plan nor proof has outlived it.
            self._begin_anew(self.view.bench)
        self.gone.emit(error.problem)

    def _did_not_come(self, _error: BenchlogError) -> None:
        self._was_away = True

    def _came(self) -> None:
        if self._was_away:
            self._was_away = False
            self.again.emit()


def after_death(where: tuple[str, ...], times: int) -> str:
    """What is said of a cut that no recorder can carry out; `where` the last network cut goes once more."""
    if not where:
        return (
            f"This cut reached nothing, since {WATCH} does not run: "
            "switch off by hand now and pull the plug if anything may be on."
        )
    again = f"{times} times now" if times > 1 else "once more"
    return (
        f"{WATCH} is dead. Off is sent to {' and '.join(where)} without it, {again}: "
        "switch off by hand all the same and pull the plug."
    )
