"""The row of keys below a power-up, each with what it does just now; one that does nothing is grey."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QWidget

from benchlog.domain.stages import LIVE, State
from benchlog.window import keys
from benchlog.window.adjust_view import adjusts
from benchlog.window.again import from_stage
from benchlog.window.keycap import KeyCap
from benchlog.window.keys import Action
from benchlog.window.run_view import Phase, RunView
from benchlog.window.touching import idles_of, in_hand, touchable
from benchlog.window.work import Work

CHOOSES = (Phase.CHECKED, Phase.PROVEN, Phase.CLOSED)
"""Phases in which another plan may be taken."""
_HOLDS = (State.READY, State.DWELLING, State.MOVING)
_GOES_BACK = (*_HOLDS, State.HELD)
SHOWN = (
    Action.HOLD,
    Action.BACK,
    Action.OFF,
    Action.NOTE,
    Action.CLIP,
    Action.TRIMMER,
    Action.IDLE_SET,
    Action.LIMIT,
    Action.HOMING,
    Action.SIDE,
    Action.AGAIN,
    Action.OVERRIDE,
    Action.ACCOUNT,
    Action.COPY,
    Action.TO_PAST_RUNS,
)

_COMES = (
    Action.TO_PAST_RUNS,
    Action.IDLE_SET,
    Action.HOMING,
    Action.SIDE,
    Action.AGAIN,
    Action.OVERRIDE,
    Action.ACCOUNT,
    Action.COPY,
)
"""Keys that stand only where there is something for them to do."""
_BY_HOMING = (Action.TRIMMER, Action.LIMIT)
"""Keys that are not drawn while something is adjusted, where homing tells of the trimmer; they act all the same."""


def does_of(view: RunView, *, choosing: bool) -> dict[Action, str]:
    """What each key does just now; one that is missing does nothing."""
    state, does = view.state, {}
    if view.is_live and state is State.HELD:
        does[Action.HOLD] = "go on"
    elif view.is_live and state in _HOLDS:
        does[Action.HOLD] = "hold"
    if view.phase in CHOOSES:
        does[Action.BACK] = "back to this plan" if choosing else "other plan"
    elif view.is_live and state in _GOES_BACK and view.stage is not None and view.stage.index > 0:
        does[Action.BACK] = "back"
    if view.phase is Phase.CHECKED and view.cold is not None and view.cold.may_override:
        does[Action.OVERRIDE] = "go without"
    if closes(view):
        does[Action.OFF] = "close now"
    elif view.is_live and state in LIVE:
        does[Action.OFF] = "off"
    if view.is_open:
        does[Action.NOTE] = "note"
    does |= _touches(view)
    return does if choosing else does | _after(view)


def _touches(view: RunView) -> dict[Action, str]:
    """What can be touched at the bench."""
    does: dict[Action, str] = {}
    if touchable(view):
        does[Action.CLIP] = "clip is on" if in_hand(view) else "clip"
        does[Action.TRIMMER] = "trimmer"
        if idles := idles_of(view):
            does[Action.IDLE_SET] = "idle not set" if view.idle_set.issuperset(idles) else "idle is set"
        does[Action.LIMIT] = "limits"
    if view.is_live and adjusts(view):
        does[Action.HOMING] = "homing"
        does[Action.SIDE] = "next one"
    return does


def _after(view: RunView) -> dict[Action, str]:
    """What there is to do about a run that has ended."""
    does = {}
    if view.phase is Phase.CLOSED:
        does = {Action.TO_PAST_RUNS: "past runs", Action.ACCOUNT: "one page", Action.COPY: "copy"}
    if view.again is not None and view.phase in CHOOSES:
        does[Action.AGAIN] = "full dwells"
    elif stage := from_stage(view):
        does[Action.AGAIN] = f"again from {stage}"
    return does


def closes(view: RunView) -> bool:
    """Whether the key for off closes the run: it stands off, was seen off, or a person said so."""
    if view.phase in (Phase.ARMED, Phase.LIVE):
        return view.state is State.STANDING
    return view.phase is Phase.OFF and (view.seen_off or view.told_off)


class KeyRow(QWidget):
    """The keys of a run, and past runs after the close; `pressed` carries the action."""

    pressed = Signal(object)

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._usual = (
            "hold",
            "back",
            "off",
            "note",
            "clip",
            "trimmer",
            "idle is set",
            "limits",
            "homing",
            "next one",
            "again",
            "go without",
            "one page",
            "copy",
            "past runs",
        )
        self.caps: dict[Action, KeyCap] = {}
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        for action, usual in zip(SHOWN, self._usual, strict=True):
            cap = KeyCap(work.look, "", usual)
            cap.setMaximumWidth(280)
            cap.clicked.connect(lambda _=False, action=action: self.pressed.emit(action))
            self.caps[action] = cap
            row.addWidget(cap, 1000)
        row.addStretch(1)
        work.keys_changed.connect(self.name_keys)
        self.name_keys()

    def name_keys(self) -> None:
        """The keys are bound otherwise from now on."""
        for (action, cap), usual in zip(self.caps.items(), self._usual, strict=True):
            place = keys.EVERYWHERE if action is Action.TO_PAST_RUNS else keys.POWER_UP
            cap.say(usual, key=self._work.keys.name(action, place))

    def refresh(self, *, choosing: bool) -> None:
        """Show what each does just now."""
        view = self._work.runner.view
        does = does_of(view, choosing=choosing)
        for (action, cap), usual in zip(self.caps.items(), self._usual, strict=True):
            cap.say(does.get(action, usual))
            cap.setEnabled(action in does)
            # While it is live every key keeps its place; before and after only those that do something stand.
            away = (*_COMES, *_BY_HOMING) if adjusts(view) else _COMES
            stays = view.phase in (Phase.ARMED, Phase.LIVE) and action not in away
            cap.setVisible(stays or (action in does and not (adjusts(view) and action in _BY_HOMING)))
