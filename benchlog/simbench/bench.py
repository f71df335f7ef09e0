"""One simulated bench: the model, its instruments on their wires, the hand, all on one loop."""

import random
import time
from collections.abc import Callable, Iterator
from typing import Any, Protocol

from benchlog.simbench import truth as far_truth
from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.board import Board
from benchlog.simbench.control import Answer, Control
from benchlog.simbench.failing_off import FailingOff
from benchlog.simbench.hand import Hand
from benchlog.simbench.handheld import Handheld
from benchlog.simbench.lamp import SIZES
from benchlog.simbench.loop import Loop
from benchlog.simbench.multimeter import Multimeter, Pace
from benchlog.simbench.person import Person
from benchlog.simbench.plugging import Table, plug_in
from benchlog.simbench.probes import CHATTER, Probes
from benchlog.simbench.relay import Relay
from benchlog.simbench.session import Instrument
from benchlog.simbench.tampered import ACTS, Tampered
from benchlog.simbench.technician import Technician
from benchlog.simbench.truth import Truth

TICK = 0.005
"""Real seconds between two looks at the clock."""
STEP = 0.005
"""Plan seconds of one step of the model, up to ten times life; coarser above."""
LONGEST_TICK = 0.02
"""Real seconds of one look at the clock: wires are answered in between, however slow the machine."""
EVENLY = 50
"""Steps in which a model that is behind would make up for it, were none of them too coarse."""
COARSEST = 0.03
"""Plan seconds of one step, at most, by which a model that is behind makes up for it."""
MOST_BEHIND = 2.0
"""Real seconds that the model makes up for later; a bench that was frozen for longer lets the rest go."""
REACHES = (0.4, 0.9)
"""Plan seconds the hand takes to put both probes on a part."""


class Seen(Protocol):
    """Where a bench says what it sees."""

    def tell(self, saw: str, *, t: int | None = None, **about: Any) -> None:
        """Note that something was seen."""


class Bench:
    """A bench that lives on `loop` at `speed` times life; `addresses` are what a near end opens, by job.

    `delay` is what a reading of a network meter takes in real seconds, where it shall not be as in life;
    `played` says that a person plays, at the control port, and nobody else goes to the switch.
    """

    def __init__(
        self,
        loop: Loop,
        truth: Truth,
        witness: Seen,
        *,
        speed: float = 1.0,
        seed: int = 1,
        delay: float | None = None,
        sockets: bool = False,
        played: bool = False,
    ) -> None:
        self.loop = loop
        self.truth = truth
        self.speed = speed
        self._tell = witness.tell
        self._chance = random.Random(seed)
        self._started = time.monotonic()
        self._lived = 0.0
        self._was_on = False
        self._silent_since: float | None = None
        self.model = _build_model(truth, self._chance, self._tell)
        self.probes = Probes(truth.parts, self.plan_now, random.Random(seed + 1))
        table = Table(
            loop=loop,
            model=self.model,
            probes=self.probes,
            pace=Pace(speed, delay),
            chance=self._chance,
            tell=self._tell,
            relay_moved=self._relay_moved,
            sockets=sockets,
        )
        self._plugged = {wanted.job: plug_in(table, wanted) for wanted in truth.instruments}
        self.addresses = {job: plugged.address for job, plugged in self._plugged.items()}
        things = [plugged.thing for plugged in self._plugged.values()]
        self.relay = next((thing for thing in things if isinstance(thing, Relay)), None)
        amplifier = self.model if isinstance(self.model, Amplifier) else None
        self._meters = dict(self._tampered())
        self.person = Person(
            loop, model=amplifier, tell=self._tell, switched=self._contacts, meters=self._meters
        )
        self.hand = Hand(
            loop,
            speed=speed,
            model=amplifier,
            relay=self.relay,
            chance=random.Random(seed + 2),
            tell=self._tell,
            switched=self._contacts,
            played=played,
        )
        self.technician = self._technician(random.Random(seed + 3))
        self._failing = FailingOff(truth.off, things, self.hand, self._tell)
        self.control = self._answering()
        self._next_tick = time.monotonic() + TICK
        loop.at(self._next_tick, self._tick)

    def plan_now(self) -> float:
        """Plan seconds since the bench began to live."""
        return (time.monotonic() - self._started) * self.speed

    def names(self) -> dict[str, Any]:
        """What there is on this bench to lay a hand on, and what can play; the fault that plays among it."""
        dial = ["dial"] if isinstance(self.model, Amplifier) and self.model.unit.dial else []
        switched = isinstance(self.model, Amplifier)
        return {
            "example": self.truth.example,
            "parts": list(self.truth.parts),
            "faults": list(far_truth.faults(self.truth.example)),
            "fault": self.truth.fault,
            "controls": [*dial, "switch", "lamp"] if switched else [],
            "lamps": list(SIZES) if switched else [],
            "meters": list(self._meters),
            "acts": ACTS,
            "speed": self.speed,
        }

    def state(self) -> dict[str, Any]:
        """What an onlooker sees and hears; not which fault plays."""
        seen: dict[str, Any] = {
            "live": self.model.energised,
            "probing": self.probes.designator,
            "turned_round": self.probes.turned_round,
            "alarms": self.hand.alarms,
            "since_alarm": self.hand.since_alarm(),
        }
        if self.relay is not None:
            seen |= {"relay": self.relay.closed, "clicks": self.relay.clicks}
        if isinstance(self.model, Board):
            outputs = self.model.outputs
            return seen | {
                "outputs": [output.on for output in outputs],
                "volts": [output.volts for output in outputs],
                "amps": [output.amps for output in outputs],
            }
        lamp = self.model.lamp
        return seen | {
            "dial": self.model.dial,
            "switch": self.model.switched_on,
            "lamp_watts": lamp.watts if lamp else 0.0,
            "lamp": lamp.glow if lamp else "none",
            "bright": lamp.bright if lamp else 0.0,
            "presets": {
                f"{what} {side}": getattr(channel, f"{what}_preset")
                for side, channel in (("left", self.model.left), ("right", self.model.right))
                for what in ("idle", "offset")
            },
            "speaker": self.model.protection.closed,
            "speaker_clicks": self.model.protection.clicks,
        }

    def close(self) -> None:
        """Take everything off its wires."""
        self.control.close()
        for plugged in self._plugged.values():
            plugged.close()

    def _tampered(self) -> Iterator[tuple[str, Tampered]]:
        """The meters with a clip and a dial of their own that a person can reach."""
        for wanted in self.truth.instruments:
            thing = self._plugged[wanted.job].thing
            if isinstance(thing, Handheld):
                yield wanted.job, thing.tampered
            elif wanted.kind == "multimeter" and isinstance(thing, Instrument):
                device = thing.device
                if isinstance(device, Multimeter):
                    yield wanted.job, device.tampered

    def _technician(self, chance: random.Random) -> Technician:
        parts, meter = list(self.truth.parts), self._parts_meter()
        return Technician(
            self.loop, self.probes, parts, speed=self.speed, chance=chance, tell=self._tell, meter=meter
        )

    def _parts_meter(self) -> Multimeter | None:
        """The meter at the other end of the probes, where it is one with a dial."""
        for wanted in self.truth.instruments:
            thing = self._plugged[wanted.job].thing
            if wanted.kind == "parts" and isinstance(thing, Instrument):
                return thing.device if isinstance(thing.device, Multimeter) else None
        return None

    # --- living ----------------------------------------------------------------------------------

    def _tick(self) -> None:
        """Let the model catch up with plan time."""
        step = STEP * max(1.0, self.speed / 10.0)
        until = time.monotonic() + LONGEST_TICK
        self._lived = max(self._lived, self.plan_now() - MOST_BEHIND * self.speed)
        while (owed := self.plan_now() - self._lived) >= step and time.monotonic() < until:
            stride = min(max(step, owed / EVENLY), max(step, COARSEST))
            self.model.step(stride)
            self._lived += stride
        self._contacts()
        self._fall_silent()
        self._failing.look(self.model.level)
        self._next_tick = max(self._next_tick + TICK, time.monotonic())
        self.loop.at(self._next_tick, self._tick)

    def _relay_moved(self, closed: bool) -> None:
        if isinstance(self.model, Amplifier):
            self.model.relay_in = closed
        self._contacts()

    def _contacts(self) -> None:
        """Note when the unit went on or off."""
        on = self.model.energised
        if on == self._was_on:
            return
        self._was_on = on
        if isinstance(self.model, Amplifier):
            self._tell("mains", on=on, dial=self.model.dial)
        else:
            self._tell("power", on=on)

    def _fall_silent(self) -> None:
        """Let the instrument that the fault names stop answering, once its moment has come."""
        silent = self.truth.silent
        if silent is None:
            return
        meter = self._plugged[silent.job].thing
        if isinstance(meter, Relay) or meter.silent:
            return
        if self._silent_since is None:
            if self.model.level >= silent.level:
                self._silent_since = self._lived
        elif self._lived >= self._silent_since + silent.after:
            meter.silent = True
            self._tell("silent", job=silent.job)

    # --- the control port ------------------------------------------------------------------------

    def _answering(self) -> Control:
        """Open the control port."""
        return Control(
            self.loop,
            {
                "prompt": lambda request, answer: self.hand.prompt(str(request["kind"]), request, answer),
                "turn": self._turn,
                "switch": self._switch,
                "lamp": self._lamp,
                "probe": self._probe,
                "hands": self._hands,
                "trim": self._trim,
                "meter": self._meter,
                "alarm": self._alarm,
                "fault": self._fault,
                "names": lambda _, answer: answer(self.names()),
                "state": lambda _, answer: answer(self.state()),
            },
        )

    def _turn(self, request: dict[str, Any], answer: Answer) -> None:
        self.person.turn(float(request["fraction"]))
        answer({})

    def _switch(self, request: dict[str, Any], answer: Answer) -> None:
        self.person.switch(bool(request["on"]))
        answer({})

    def _lamp(self, request: dict[str, Any], answer: Answer) -> None:
        self.person.fit_lamp(float(request["watts"]))
        answer({})

    def _trim(self, request: dict[str, Any], answer: Answer) -> None:
        self.person.trim(str(request["preset"]), float(request["to"]))
        answer({})

    def _meter(self, request: dict[str, Any], answer: Answer) -> None:
        self.person.tamper(str(request["job"]), str(request["act"]))
        answer({})

    def _alarm(self, _request: dict[str, Any], answer: Answer) -> None:
        self.hand.hear_alarm()
        answer({})

    def _probe(self, request: dict[str, Any], answer: Answer) -> None:
        """Take the probes off what they are on, and put them on a part; answers once they have bitten."""
        part, side = str(request["part"]), str(request.get("side", ""))
        if part and not self.probes.knows(part):
            raise ValueError(f"there is no {part} on this unit")
        self.probes.lift()
        if not part:
            self._tell("probe", part="")
            answer({})
            return

        def touch() -> None:
            self.probes.touch(part, side)
            self._tell("probe", part=part, side=side)
            self.loop.after(CHATTER / self.speed, lambda: answer({}))

        self.loop.after(self._chance.uniform(*REACHES) / self.speed, touch)

    def _hands(self, request: dict[str, Any], answer: Answer) -> None:
        """Let the technician's hands go to a part, or lift where none is named; answers once they are there."""
        if "leaves" in request:
            self.technician.leave_on(str(request["leaves"]))
        self.technician.go(
            str(request["part"]),
            str(request.get("side", "")),
            slips=float(request.get("slips", 0.0)),
            bounces=float(request.get("bounces", 0.0)),
            there=answer,
        )

    def _fault(self, request: dict[str, Any], answer: Answer) -> None:
        """Let another fault play from now on."""
        name = str(request["name"])
        self.truth = truth = far_truth.load(self.truth.example, name)
        self._silent_since = None
        self._failing.play(truth.off)
        for plugged in self._plugged.values():
            if isinstance(plugged.thing, Instrument | Handheld):
                plugged.thing.silent = False
        if isinstance(self.model, Board):
            self.model.plus.truth, self.model.minus.truth = truth.plus, truth.minus
        else:
            self.model.unit = truth.unit
            self.model.reservoir.truth, self.model.contact.truth = truth.reservoir, truth.contact
            self.model.left.truth, self.model.right.truth = truth.left, truth.right
        self._tell("fault", name=name)
        answer({})


def _build_model(truth: Truth, chance: random.Random, tell: Callable[..., None]) -> Amplifier | Board:
    """Build what stands on the bench; all off, the dial at zero.

    Beside a relay the hand's switch is closed from the start; without one that switch is the off-switch.
    """
    if truth.model == "board":
        return Board(truth.plus, truth.minus, tell)
    amplifier = Amplifier(
        truth.unit,
        truth.left,
        truth.right,
        chance,
        tell,
        reservoir=truth.reservoir,
        contact=truth.contact,
    )
    has_relay = any(instrument.kind == "relay" for instrument in truth.instruments)
    amplifier.relay_in = not has_relay
    amplifier.switched_on = has_relay
    return amplifier
