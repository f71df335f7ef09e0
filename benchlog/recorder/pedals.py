"""Pedals and mushroom switches on the lines of serial ports: read here, so that no window needs to be looked at.

A pedal that cuts does so on its own thread, by the same way as the operator's cut and before anybody is told.
"""

import logging
import threading
from collections.abc import Callable, Sequence

from benchlog.domain.pedal import Contact
from benchlog.errors import BadInput, Fault, Gone, LinkError
from benchlog.instruments.bench import PedalEntry
from benchlog.instruments.line_port import LinePort
from benchlog.recorder import messages
from benchlog.recorder.clock import SECOND, wire_now
from benchlog.recorder.outlet import Outlet
from benchlog.recorder.run import Run

log = logging.getLogger(__name__)

LOOK = 0.01
"""Seconds between two looks."""
AGAIN = 1.0
"""Seconds between two attempts at a port that is gone."""
UNTOLD = 2.0
"""Seconds after which a port that tells nothing of its lines counts as gone."""
KNOWN = 2.0
"""Longest wait, in s, until a pedal is known well enough to go live."""

OnPress = Callable[[PedalEntry], None]
OnLost = Callable[[PedalEntry, str], None]
"""Hears of a pedal that can be read no longer, and why."""
OnState = Callable[[str, str, str], None]


class Pedal:
    """One of them, on a thread of its own."""

    def __init__(
        self, entry: PedalEntry, port: LinePort, on_press: OnPress, on_lost: OnLost, on_state: OnState
    ) -> None:
        self.entry = entry
        self._port = port
        self._on_press = on_press
        self._on_lost = on_lost
        self._on_state = on_state
        self._contact = Contact()
        self._opening = -1
        self._pause = LOOK
        self._heard = wire_now()
        self._state = ""
        self._why = "nothing was heard of it yet"
        self._known = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"pedal {entry.job}", daemon=True)
        self._thread.start()

    def fault(self, wait: float) -> Fault | None:
        """What keeps anything from going live with it; waits so many real seconds until it is known."""
        known, entry = self._known.wait(wait), self.entry
        if not known:
            fix = "mend that, or take it off the bench"
            return Fault(entry.job, f"cannot be read ({self._why})", fix)
        if entry.does == "cut" and self._contact.pressed:
            other = "open" if entry.pressed == "closed" else "closed"
            return Fault(entry.job, "is pressed", f'let it go; if nobody presses it, set pressed = "{other}"')
        return None

    def stop(self) -> None:
        """Look no more."""
        self._stop.set()
        self._thread.join(AGAIN)

    def _run(self) -> None:
        while not self._stop.wait(self._pause):
            try:
                lines = self._port.lines()
                self._pause = LOOK
                if lines is None:
                    self._untold()
                else:
                    self._look(self.entry.line in lines)
            except LinkError as error:
                self._is_gone(error)

    def _look(self, high: bool) -> None:
        self._heard = wire_now()
        if self._opening != self._port.opened:
            self._forget()
            self._opening = self._port.opened
        before = self._contact.pressed
        self._contact = self._contact.look(high is (self.entry.pressed == "closed"))
        now = self._contact.pressed
        # One that is found pressed cuts, for want of knowing better; but it takes nothing.
        if now and (before is False or (before is None and self.entry.does == "cut")):
            self._on_press(self.entry)
        if now is not None:
            self._known.set()
            self._say("open", "")

    def _untold(self) -> None:
        """Nothing is known of its line; nothing is wrong while its port is closed on purpose."""
        self._forget()
        if self._port.shut:
            self._heard = wire_now()
        elif wire_now() - self._heard > UNTOLD * SECOND:
            self._port.close()
            raise Gone(self.entry.job, "its port tells nothing of its lines", "use another adapter")

    def _is_gone(self, error: LinkError) -> None:
        self._forget()
        self._pause = AGAIN
        self._why = error.problem
        if self._state != "gone":
            log.warning("%s", error)
            self._on_lost(self.entry, error.problem)
        self._say("gone", str(error))
        self._heard = wire_now()

    def _forget(self) -> None:
        self._contact = Contact()
        self._known.clear()

    def _say(self, state: str, text: str) -> None:
        if state != self._state:
            self._state = state
            self._on_state(self.entry.job, state, text)


class Pedals:
    """All pedals of a bench; `port_of` gives the port of one, `run` the run there is.

    `on_state(job, state, text)` hears how each of them is doing.
    """

    def __init__(
        self,
        entries: Sequence[PedalEntry],
        port_of: Callable[[PedalEntry], LinePort],
        run: Callable[[], Run | None],
        outlet: Outlet,
        on_state: OnState,
    ) -> None:
        self._run = run
        self._outlet = outlet
        self._pedals = [
            Pedal(entry, port_of(entry), self._pressed, self._lost, on_state) for entry in entries
        ]

    def check(self) -> None:
        """BadInput where one of them cannot be read, or is pressed and would cut at once."""
        self._check(self._pedals, KNOWN)

    def may_rise(self) -> None:
        """The same of those that cut, here and now: one that was latched before a run is not pressed anew in it."""
        self._check([pedal for pedal in self._pedals if pedal.entry.does == "cut"], 0.0)

    @staticmethod
    def _check(pedals: Sequence[Pedal], wait: float) -> None:
        faults = [fault for pedal in pedals if (fault := pedal.fault(wait)) is not None]
        if faults:
            raise BadInput.of(faults)

    def stop(self) -> None:
        """Look no more."""
        for pedal in self._pedals:
            pedal.stop()

    def _pressed(self, entry: PedalEntry) -> None:
        run = self._run()
        if entry.does == "cut" and run is not None:
            run.cut(f"cut by {entry.job}")
        self._outlet.send(messages.Pedal(job=entry.job, does=entry.does))

    def _lost(self, entry: PedalEntry, why: str) -> None:
        run = self._run()
        if run is None or run.session is None or run.ended or entry.does != "cut":
            return
        if entry.fails_to_cut:
            run.trip(entry.job, f"{entry.job} cannot be read ({why}), which counts as pressed")
            return
        problem, fix = f"cannot be read ({why}): it cuts no more", "use Esc or F12, and your hand switch"
        run.warn(f"{entry.job} {problem}; {fix}")
        self._outlet.send(messages.Notice(place=entry.job, problem=problem, fix=fix, grave=True))
