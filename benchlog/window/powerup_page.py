"""The power-up: plan and check, proof of the off-switch, the ladder with what is awaited, the run, and its tail."""

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QHideEvent, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchlog.domain.plan import Mover
from benchlog.domain.stages import State
from benchlog.domain.trace import SECOND
from benchlog.errors import BenchlogError
from benchlog.recorder.client import messages
from benchlog.window import keys, words
from benchlog.window.adjusting import Adjusting
from benchlog.window.call import Call, Do, call_of
from benchlog.window.climb import Climb, standing_of
from benchlog.window.cold_keys import ColdKeys
from benchlog.window.elided import Elided
from benchlog.window.forms import Views
from benchlog.window.graph_scale import moment
from benchlog.window.key_row import CHOOSES, SHOWN, KeyRow, closes, does_of
from benchlog.window.keys import Action
from benchlog.window.ladder import Ladder
from benchlog.window.no_bench import NoBench
from benchlog.window.note_line import observed_by
from benchlog.window.numerals import numerals_of
from benchlog.window.page import Page, label
from benchlog.window.plan_check import PlanCheck
from benchlog.window.plan_choice import PlanChoice
from benchlog.window.plan_files import PlanFile
from benchlog.window.plan_load import PlanLoad
from benchlog.window.prompt_card import PromptCard
from benchlog.window.run_desk import RunDesk
from benchlog.window.run_ear import RunEar
from benchlog.window.run_lines import RunLines
from benchlog.window.run_view import GoingBack, Phase
from benchlog.window.spot_take import SpotTake
from benchlog.window.still_open import StillOpen
from benchlog.window.waits import lines_of
from benchlog.window.work import Work

EVERY = 200
"""Milliseconds between two looks at how old everything is."""
NARROW = 860
"""Pixels of width below which the ladder is a rail and the graph stands below the numerals."""
SETTLE = 0.5
"""Seconds in which a new call takes no Enter: the one meant for the call before it may still be on its way."""

_SCROLLS = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_PageUp: -6, Qt.Key.Key_PageDown: 6}


class PowerUpPage(Page):
    """From the choice of a plan to the account of the run."""

    title = words.POWER_UP
    place = keys.POWER_UP

    def __init__(self, work: Work) -> None:
        super().__init__(work)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._climb = Climb()
        self._meters: dict[str, messages.Meter] = {}
        self._choosing = False
        self._offered = False
        self._begun = False
        self._going: GoingBack | None = None
        """What the plan that is being checked goes on from."""
        self._plans = PlanLoad(work, self._refuse_plan)
        self._cold = ColdKeys(work, self._plans)
        self._ear = RunEar(work)
        self._spots = SpotTake(work)
        self._call_since = 0.0
        self._build()
        runner = work.runner
        runner.changed.connect(self.refresh)
        runner.phase_changed.connect(self._phase)
        runner.meter.connect(self._meter)
        runner.bench_opened.connect(self._bench_opened)
        runner.refused.connect(self._refused)
        work.keys_changed.connect(self._name_keys)
        self._timer = QTimer(self)
        self._timer.setInterval(EVERY)
        self._timer.timeout.connect(self.refresh)
        self.refresh()

    # --- what it is made of --------------------------------------------------------------------------

    def _build(self) -> None:
        work, look = self.work, self.work.look
        self.nothing = NoBench(work)
        self.choice = PlanChoice(work)
        self.choice.chosen.connect(self._take_plan)
        self.choice.back.connect(self.setFocus)
        self.choice.turned.connect(self.refresh)
        self.check = PlanCheck(look, StillOpen(work))
        self.desk = RunDesk(work)
        self.adjusting = Adjusting(work, self.desk.adjust)
        self.views = Views()
        for view in (self.nothing, self.choice, self.check, self.desk):
            self.views.add(view)
        self.name = Elided(look, 20, bold=True)
        self.running = label(rank="soft")
        self.ladder = Ladder(look)
        self.card = PromptCard(look)
        self.card.yes.connect(self._go)
        self.card.no.connect(self._deny)
        self.lines = RunLines(work)
        self.lines.opened.connect(self._line_opened)
        self.lines.left.connect(self._line_left)
        self.lines.again_from.connect(self._again_from)
        self.note, self.touch, self.again = self.lines.note, self.lines.touch, self.lines.again
        self.row = KeyRow(work)
        self.row.pressed.connect(self.act)
        self._name_keys()
        top = QHBoxLayout()
        top.addWidget(self.name, 1)
        top.addWidget(self.running)
        right = QVBoxLayout()
        right.setSpacing(10)
        right.addWidget(self.card)
        right.addWidget(self.views, 1)
        right.addWidget(self.lines)
        right.addWidget(self.row)
        middle = QHBoxLayout()
        middle.setSpacing(14)
        middle.addWidget(self.ladder)
        middle.addLayout(right, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 14, 10)
        column.setSpacing(8)
        column.addLayout(top)
        column.addLayout(middle, 1)

    def _name_keys(self) -> None:
        own = self.work.keys
        self.card.name_keys(own.name(Action.GO, self.place), own.name(Action.NO, self.place))
        self.nothing.name_keys()

    # --- coming and going ----------------------------------------------------------------------------

    def came(self) -> None:
        """The page is shown from now on."""
        if self._at_choice():
            self.choice.refresh()
        self._plans.look_again()
        self.refresh()

    def left(self) -> None:
        """Another page is shown from now on."""
        self.lines.leave()

    def open_offer(self) -> None:
        """Load what the window was opened on, as soon as the bench is open."""
        self._offered = bool(self.work.offer.plan_text)
        if self._offered and self.work.runner.view.phase is Phase.BENCH:
            self._bench_opened()

    def showEvent(self, event: QShowEvent) -> None:
        """Ages are looked at while somebody can see them."""
        super().showEvent(event)
        self._timer.start()
        self.refresh()

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self._timer.stop()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Ladder and graph give way where there is little room."""
        super().resizeEvent(event)
        slim = self.width() < NARROW
        self.ladder.be_slim(slim=slim)
        self.desk.be_narrow(narrow=slim)
        self.card.be_low(low=slim)

    # --- what happens --------------------------------------------------------------------------------

    def _phase(self, phase: Phase) -> None:
        self._begun = False
        if phase in (Phase.NOTHING, Phase.BENCH):
            self._choosing = False
            self.choice.refresh()
        if phase is Phase.CHECKED:
            self._choosing = False
            if self._going is not None:
                self.work.runner.view.again, self._going = self._going, None
        if phase is Phase.CLOSED:
            self.note.leave()
            self._page()
        else:
            self.desk.be_paged(paged=False)
        if phase in (Phase.OFF, Phase.CLOSED):
            self.lines.leave_touch()

    def _bench_opened(self) -> None:
        if self._offered:
            self._offered = False
            offer = self.work.offer
            self._load(offer.plan_text, offer.plan_name or "plan")

    def _meter(self, meter: messages.Meter) -> None:
        self._meters[meter.job] = meter

    def _refused(self, error: BenchlogError) -> None:
        del error
        self._begun = False
        self.refresh()

    def _take_plan(self, one: PlanFile) -> None:
        self._load(one.text, one.name)

    def _load(self, text: str, name: str) -> None:
        self._going = None
        self._plans.load(text, name)

    def _again_from(self, back: GoingBack) -> None:
        """The cause of a trip is named: its plan is checked once more, and goes on from there."""
        self._load(self.work.runner.view.plan_text, self._plans.name)
        self._going = back

    def _refuse_plan(self, error: BenchlogError) -> None:
        self._choosing = True
        self.choice.tell(error)
        self.refresh()

    # --- what is shown -------------------------------------------------------------------------------

    def _at_choice(self) -> bool:
        phase = self.work.runner.view.phase
        return phase is Phase.BENCH or (self._choosing and phase in CHOOSES)

    def refresh(self) -> None:
        """Show how everything stands."""
        view, now = self.work.runner.view, self.work.now()
        self.work.stand(words.POWER_UP, *standing_of(view))
        self._ear.look()
        self._climb.look(view, now)
        self.desk.feed.look()
        self.adjusting.look(shown=self.isVisible())
        if not self.isVisible():
            return
        phase = view.phase
        choosing = self._at_choice()
        shown: QWidget = self.desk
        if phase is Phase.NOTHING:
            shown = self.nothing
        elif choosing:
            shown = self.choice
        elif phase in (Phase.CHECKED, Phase.PROVING, Phase.PROVEN):
            shown = self.check
        if self.views.shown is not shown:
            self.views.show_only(shown)
        planned = shown in (self.check, self.desk)
        self.ladder.setVisible(planned)
        self.card.setVisible(planned)
        self._show_head()
        asks = self.lines.asks
        self.row.setVisible(not asks and not (choosing and self.choice.fills_in))
        self.row.refresh(choosing=choosing)
        if not planned:
            return
        self.ladder.show_rungs(self._climb.rungs(view))
        self._show_call(call_of(view, now, self._climb.seen))
        if shown is self.check:
            self.check.show_view(view)
        else:
            self.desk.be_adjusting(adjusts=self.adjusting.on)
            self.desk.show_run(
                self.adjusting.beside(numerals_of(view, now, self._meters)), lines_of(view, now, self._meters)
            )

    def _show_call(self, call: Call) -> None:
        if call.key != self.card.call.key:
            self._call_since = self.work.now()
        self.card.show_call(call)

    def _show_head(self) -> None:
        view = self.work.runner.view
        plan = view.plan if view.phase is not Phase.NOTHING and not self._at_choice() else None
        self.name.say(plan.name if plan is not None else "Power-up")
        said = []
        if plan is not None:
            said.append("source by hand" if plan.source.moved_by is Mover.HAND else "source by the program")
        if plan is not None and view.is_open and view.stage is not None:
            said.append(
                f"running {moment(view.stage.t / SECOND)}" if view.is_live else words.RUN_STATE[view.state]
            )
        self.running.setText(", ".join(said))

    # --- keys ----------------------------------------------------------------------------------------

    def typed(self, event: QKeyEvent) -> bool:
        """A key that is held down acts once; where a plan is chosen digits and arrows choose."""
        if event.isAutoRepeat() and self.work.keys.action(event, self.place) is not None:
            return True
        if self._at_choice():
            return self.choice.typed(event)
        if self.work.runner.view.is_live and (what := observed_by(event.text())):
            self.work.runner.observe(what)
            return True
        if self.views.shown is self.check and self._cold.digit(event.text()):
            return True
        step = _SCROLLS.get(Qt.Key(event.key()), 0)
        if step and self.views.shown is self.check:
            self.check.move_by(step)
        elif step and self.views.shown is self.desk:
            self.desk.move_by(step)
        return bool(step)

    def act(self, action: Action) -> bool:
        """Do what a key asks for."""
        does = {
            Action.GO: self._go,
            Action.NO: self._deny,
            Action.HOLD: self._hold,
            Action.BACK: self._back,
            Action.OFF: self._off,
            Action.NOTE: self._note,
            Action.CLIP: lambda: self.lines.begin(self.touch.begin_clip),
            Action.TRIMMER: self.work.runner.trimmer,
            Action.IDLE_SET: lambda: self.lines.begin(self.touch.begin_idle),
            Action.LIMIT: lambda: self.lines.begin(self.touch.begin_limit),
            Action.AGAIN: lambda: self.lines.begin(self.again.begin),
            Action.OVERRIDE: self._cold.override,
            Action.HOMING: self.adjusting.home,
            Action.SIDE: self.adjusting.side,
            Action.ACCOUNT: self._page,
            Action.COPY: self.desk.page.copy_all,
            Action.EARLIER: self.desk.graph.layer.hide,
            Action.TO_PAST_RUNS: self._to_past,
        }.get(action)
        if does is None:
            return False
        offered = does_of(self.work.runner.view, choosing=self._at_choice())
        if action not in SHOWN or action in offered:
            does()
        return True

    def _go(self) -> None:
        """Enter: what the card offers, or the plan that is marked."""
        runner = self.work.runner
        if runner.view.phase is Phase.NOTHING:
            self.work.go_to.emit(words.BENCH)
            return
        if self._at_choice():
            self.choice.take()
            return
        call = call_of(runner.view, self.work.now(), self._climb.seen)
        self._show_call(call)
        if not self._settled():
            return
        if call.do is Do.ANSWER:
            runner.answer(yes=True)
        elif call.do is Do.COLD:
            self._cold.answer(yes=True)
        elif call.do is Do.PROVE:
            runner.prove()
        elif call.do is Do.BEGIN:
            self._begin()
        elif call.do is Do.NEXT:
            runner.act("next")
        elif call.do is Do.DIAL_BACK:
            runner.dial_is_back()
        elif call.do is Do.AGAIN:
            self._again()
        elif call.do is Do.SPOT and not self._spots.take():
            self.lines.write(runner.view.spot)

    def _settled(self) -> bool:
        """Whether the call has stood long enough to be meant; what is done begins the time anew."""
        now = self.work.now()
        if now - self._call_since < SETTLE:
            return False
        self._call_since = now
        return True

    def _again(self) -> None:
        view = self.work.runner.view
        if view.phase is Phase.CLOSED:
            self._load(view.plan_text, self._plans.name)
        else:
            self.work.runner.act("next")

    def _begin(self) -> None:
        if self._begun:
            return
        self._begun = True
        shelf = self.work.shelf
        unit = shelf.unit.id if shelf.unit is not None else ""
        visit = shelf.visit.id if shelf.visit is not None else ""
        title = shelf.unit.name if shelf.unit is not None else ""
        self.work.runner.arm(shelf.sessions, unit=unit, visit=visit, title=title)

    def tread(self, does: str) -> None:
        """The pedal that takes: the spot that is asked for, with the walking meter."""
        if does == "take" and self.card.call.do is Do.SPOT and self.note.isHidden() and self._settled():
            self._spots.take()

    def _deny(self) -> None:
        if self.card.call.do is Do.SPOT and self.card.call.no:
            self.lines.write(self.work.runner.view.spot)
        elif self.card.call.do is Do.COLD and self.card.call.no and self._settled():
            self._cold.answer(yes=False)
        elif self.work.runner.view.prompt is not None and self._settled():
            self.work.runner.answer(yes=False)

    def _hold(self) -> None:
        view = self.work.runner.view
        if view.is_live:
            self.work.runner.act("resume" if view.state is State.HELD else "hold")

    def _back(self) -> None:
        view = self.work.runner.view
        if view.is_live:
            self.work.runner.act("back")
        elif view.phase in CHOOSES:
            self._choosing = not self._choosing
            self.choice.refresh()
            self.refresh()

    def _off(self) -> None:
        view = self.work.runner.view
        if closes(view):
            self.work.runner.act("close")
        elif view.is_live:
            self.work.runner.act("off")

    def _page(self) -> None:
        """The run on one page, once it is closed; again: its graph."""
        closed = self.work.runner.view.closed
        self.desk.turn_page(closed.path if closed is not None else "")

    def _to_past(self) -> None:
        self.work.go_to.emit(words.PAST_RUNS)

    def _note(self) -> None:
        if self.work.runner.view.is_open:
            self.lines.write()

    def _line_opened(self) -> None:
        self.desk.give_way(True)
        self.refresh()

    def _line_left(self) -> None:
        self.desk.give_way(False)
        self.setFocus()
        self.refresh()
