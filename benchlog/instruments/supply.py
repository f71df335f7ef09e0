"""Setting, switching and reading back a supply; and the one line that switches it off."""

import time

from benchlog.domain.reading import Function, Outcome, SupplyState
from benchlog.errors import BadInput, Garbled, Refused
from benchlog.instruments.decode import decoder, scpi
from benchlog.instruments.link import Link
from benchlog.instruments.order import order, read_out
from benchlog.instruments.profile import Profile
from benchlog.instruments.profile_supply import Supply
from benchlog.instruments.talk import Clock, Talk

READ_BACK = 1e-3
"""How far a setting read back may differ besides one step of the supply, as a fraction."""


def supply_of(profile: Profile, place: str) -> Supply:
    """The commands of a supply's profile; BadInput where it is a meter's."""
    if profile.supply is None:
        raise BadInput(place, f"{profile.name} is no supply", "choose a profile of a supply")
    return profile.supply


def state_of(supply: Supply, on: str, condition: str) -> SupplyState | None:
    """What an output does, from its two answers; None where they cannot be read.

    `condition` is empty where the supply has no such question. A fired protection comes before
    off, which it causes.
    """
    bits = 0
    if supply.ask_condition:
        told = scpi(condition, Function.STATE, 0)
        if told.value is None or not told.value.is_integer() or not 0 <= told.value < 1 << 32:
            return None
        bits = int(told.value)
    if on not in supply.is_on and on not in supply.is_off:
        return None
    if any(bits >> bit & 1 for bit in supply.protected_bits):
        return SupplyState.PROTECTED
    if on in supply.is_off:
        return SupplyState.OFF
    if any(bits >> bit & 1 for bit in supply.limiting_bits):
        return SupplyState.LIMITING
    return SupplyState.REGULATING


class SupplyControl:
    """A supply's settings and switches, each read back, each with its deadline.

    Every call blocks until answered or TimedOut, so it belongs to the thread that owns the wire;
    `send_off` and `wake` may be called from any thread. TimedOut, Garbled, Refused and Gone name the job.
    """

    def __init__(
        self,
        link: Link,
        profile: Profile,
        place: str = "supply",
        *,
        clock: Clock = time.monotonic_ns,
        talk: Talk | None = None,
    ) -> None:
        """`talk` is given where a `SupplyMeter` reads over the same wire."""
        self.place = place
        self.outputs = supply_of(profile, place).outputs
        self._link = link
        self._profile = profile
        self._supply = supply_of(profile, place)
        self._talk = talk or Talk(link, profile, place, clock)
        self._number = decoder(profile.reply)
        self._off_line = profile.off_line().encode("ascii")

    @property
    def identity(self) -> str:
        """What it says it is; empty until `prove`, or where it never does."""
        return self._talk.dialogue.identity

    def prove(self, patience: float | None = None) -> None:
        """Block until it said what it is, at most `patience` s; Refused, TimedOut or Gone where it does not."""
        self._talk.settle(patience)

    def set_volts(self, output: str, volts: float) -> float:
        """Set an output's voltage; gives what was read back, Refused where that differs."""
        supply = self._supply
        return self._set(supply.set_volts, supply.ask_volts, output, volts, (supply.step_volts, "V"))

    def set_limit(self, output: str, amps: float) -> float:
        """Set an output's current limit; gives what was read back, Refused where that differs."""
        supply = self._supply
        return self._set(supply.set_limit, supply.ask_limit, output, amps, (supply.step_amps, "A"))

    def set_protection(self, output: str, volts: float) -> float:
        """Set an output's over-voltage protection; gives what was read back, Refused where that differs."""
        supply = self._supply
        if not supply.set_protection:
            raise BadInput(self.place, "has no over-voltage protection", "leave it out of the plan")
        step = (supply.step_volts, "V")
        return self._set(supply.set_protection, supply.ask_protection, output, volts, step)

    def clear_protection(self, output: str) -> None:
        """Clear a protection that fired; does nothing where the supply has no such command."""
        if self._supply.clear_protection:
            self._order(self._supply.for_one(self._supply.clear_protection, self._known(output)))

    def on(self, outputs: tuple[str, ...] = ()) -> None:
        """Switch outputs, or every one, on in one line; Refused where one does not say that it is on."""
        chosen = outputs or self.outputs
        for output in chosen:
            self._known(output)
        self._order(self._supply.for_all(self._supply.on, chosen))
        for output in chosen:
            state = self.ask_state(output)
            if state in (SupplyState.OFF, SupplyState.PROTECTED):
                fix = "look at the supply's own display"
                raise Refused(self.place, f"output {output} was switched on and is {state}", fix)

    def send_off(self) -> None:
        """Send the off line and wait for nothing; from any thread, also between question and answer."""
        self._link.send(self._off_line)

    def off_line(self) -> bytes:
        """The whole line that `send_off` sends."""
        return self._off_line

    def refusal(self) -> str:
        """What the supply's error queue says, read until empty; an empty text where it says nothing."""
        queue = self._profile.errors
        if queue is None:
            return ""
        found: list[str] = []
        self._talk.run(read_out(queue, found))
        return "; ".join(found)

    def all_off(self) -> bool:
        """Whether every output says that it is off."""
        supply = self._supply
        answer = self._talk.query(supply.off_question()[0])
        said = [word.strip() for word in answer.split(supply.ask_all_between)]
        known = all(word in supply.is_on or word in supply.is_off for word in said)
        if not known or len(said) != len(supply.outputs):
            raise self._garbled(answer, "whether its outputs are on")
        return all(word in supply.is_off for word in said)

    def ask_state(self, output: str) -> SupplyState:
        """What an output does; a fired protection counts as off but is named."""
        supply = self._supply
        on = self._talk.query(supply.for_one(supply.ask_on, self._known(output)))
        condition = ""
        if supply.ask_condition:
            condition = self._talk.query(supply.for_one(supply.ask_condition, output))
        state = state_of(supply, on, condition)
        if state is None:
            raise self._garbled(f"{on} {condition}".strip(), f"the state of output {output}")
        return state

    def ask_volts(self, output: str) -> float:
        """Measure an output's voltage, V."""
        return self._ask(self._supply.measure_volts, output)

    def ask_amps(self, output: str) -> float:
        """Measure an output's current, A."""
        return self._ask(self._supply.measure_amps, output)

    def wake(self) -> None:
        """End a wait under way; from any thread."""
        self._talk.wake()

    def close(self) -> None:
        """Close its wire."""
        self._talk.close()

    def _set(self, command: str, ask: str, output: str, value: float, step: tuple[float, str]) -> float:
        self._order(self._supply.for_one(command, self._known(output), value))
        back = self._ask(ask, output)
        least, unit = step
        if abs(back - value) > least + READ_BACK * abs(value):
            problem = f"output {output} was told {value:g} {unit} and holds {back:g} {unit}"
            raise Refused(self.place, problem, "check what the supply can do")
        return back

    def _order(self, command: str) -> None:
        self._talk.settle()
        self._talk.run(order(self._talk, self._profile.errors, (command,)))

    def _ask(self, question: str, output: str) -> float:
        """A number asked of one output; Garbled where the answer is none."""
        text = self._supply.for_one(question, self._known(output))
        reading = self._number(self._talk.query(text), Function.VOLTS_DC, 0)
        if reading.value is None:
            if reading.outcome is Outcome.MALFORMED:
                self._talk.doubt()
            raise self._garbled(reading.raw, text)
        return reading.value

    def _known(self, output: str) -> str:
        if output not in self.outputs:
            known = f"it has {', '.join(self.outputs)}"
            raise BadInput(self.place, f'has no output "{output}"', known)
        return output

    def _garbled(self, answer: str, question: str) -> Garbled:
        return Garbled(self.place, f'answers "{answer}" when asked {question}', "check its profile")
