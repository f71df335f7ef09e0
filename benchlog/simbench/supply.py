"""The two-output supply's command set; what its outputs do stands in `output`."""

import random
from collections.abc import Callable, Sequence

from benchlog.simbench.output import HIGHEST_AMPS, HIGHEST_VOLTS, Output
from benchlog.simbench.scpi import (
    MISSING,
    NOT_ALLOWED,
    SUFFIX_OUT_OF_RANGE,
    Call,
    Handler,
    ScpiDevice,
    ScpiError,
    Wait,
)

CONSTANT_CURRENT = 1
PROTECTED = 512
"""Bits of the questionable condition of one output."""
MEASURING = 0.010
"""Plan seconds one measurement takes."""
LATE = 3.0
"""Real seconds a supply that is late takes for an off and for what is asked of it."""
REFUSED = (-221, "Settings conflict")
VOLTS_NOISE, AMPS_NOISE = 0.0015, 0.0001


class Supply(ScpiDevice):
    """A supply of several outputs, each named in a channel list, a header's suffix, or selected before.

    `off_fails` says what becomes of an off: "refuses", "late", "lies" or "vanishes"; empty for one that works.
    `vanish` takes the supply off its net.
    """

    def __init__(self, outputs: Sequence[Output], measuring: float, chance: random.Random) -> None:
        self._outputs = {output.number: output for output in outputs}
        self._measuring = measuring
        self._chance = chance
        self._selected = 1
        self.off_fails = ""
        self.vanish: Callable[[], None] = lambda: None
        self._said_off: set[int] = set()
        super().__init__("BENCHLOG-SIM,SUPPLY,0,1", self._vocabulary())

    def reset(self) -> None:
        """Everything off and at its least; where the off fails it stays as it is."""
        if self.off_fails:
            self._fail_off(list(self._outputs.values()))
            return
        for output in self._outputs.values():
            output.switch(False)
            output.reset()

    def _vocabulary(self) -> dict[str, Handler]:
        volts = "[SOURce:]VOLTage[:LEVel][:IMMediate][:AMPLitude]"
        amps = "[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude]"
        guard = "[SOURce:]VOLTage:PROTection[:LEVel]"
        return {
            volts: self._setting("set_volts", HIGHEST_VOLTS),
            f"{volts}?": self._asking(lambda output: _nr3(output.set_volts)),
            amps: self._setting("limit", HIGHEST_AMPS),
            f"{amps}?": self._asking(lambda output: _nr3(output.limit)),
            guard: self._setting("protection", HIGHEST_VOLTS * 1.1),
            f"{guard}?": self._asking(lambda output: _nr3(output.protection)),
            "[SOURce:]VOLTage:PROTection:TRIPped?": self._asking(lambda output: str(int(output.protected))),
            "[SOURce:]VOLTage:PROTection:STATe": lambda _: None,
            "OUTPut[:STATe]": self._switch,
            "OUTPut[:STATe]?": self._ask_state,
            "OUTPut:PROTection:CLEar": self._clear_protection,
            "MEASure[:SCALar][:VOLTage][:DC]?": self._measuring_of("volts", VOLTS_NOISE),
            "MEASure[:SCALar]:CURRent[:DC]?": self._measuring_of("amps", AMPS_NOISE),
            "STATus:QUEStionable:INSTrument:ISUMmary:CONDition?": self._asking(_condition),
            "STATus:QUEStionable:CONDition?": lambda _: str(self._summary()),
            "INSTrument:NSELect": self._select,
            "INSTrument:NSELect?": lambda _: str(self._selected),
            "INSTrument:COUPle[:TRIGger]": lambda _: None,
        }

    def _of(self, call: Call) -> list[Output]:
        numbers = call.channels() or call.suffixes or (self._selected,)
        if any(number not in self._outputs for number in numbers):
            raise ScpiError(SUFFIX_OUT_OF_RANGE)
        return [self._outputs[number] for number in numbers]

    def _setting(self, what: str, highest: float) -> Handler:
        def handle(call: Call) -> None:
            value = call.number(0.0, highest)
            for output in self._of(call):
                setattr(output, what, value)

        return handle

    def _asking(self, answer: Callable[[Output], str]) -> Handler:
        return lambda call: ",".join(answer(output) for output in self._of(call))

    def _measuring_of(self, what: str, noise: float) -> Handler:
        def handle(call: Call) -> Wait:
            outputs = self._of(call)
            return Wait(self._measuring, lambda: ",".join(self._noisy(one, what, noise) for one in outputs))

        return handle

    def _noisy(self, output: Output, what: str, noise: float) -> str:
        return _nr3(getattr(output, what) + self._chance.gauss(0.0, noise))

    def _switch(self, call: Call) -> Wait | None:
        if not call.arguments:
            raise ScpiError(MISSING)
        word = call.arguments[0].upper()
        if word not in {"ON", "OFF", "1", "0"}:
            raise ScpiError(NOT_ALLOWED)
        outputs = self._of(call)
        on = word in {"ON", "1"}
        if not on and self.off_fails == "late":
            return Wait(LATE, lambda: self._set(outputs, on))
        if not on and self.off_fails:
            self._fail_off(outputs)
            return None
        self._set(outputs, on)
        return None

    def _set(self, outputs: Sequence[Output], on: bool) -> None:
        for output in outputs:
            output.switch(on)
            self._said_off.discard(output.number)

    def _fail_off(self, outputs: Sequence[Output]) -> None:
        """Leave the outputs on, each kind of failing in its own manner."""
        if self.off_fails == "lies":
            self._said_off |= {output.number for output in outputs}
        elif self.off_fails == "vanishes":
            self.vanish()
        else:
            raise ScpiError(REFUSED)

    def _ask_state(self, call: Call) -> str | Wait:
        outputs = self._of(call)

        def answer() -> str:
            lies = self._said_off if self.off_fails == "lies" else set()
            return ",".join(str(int(output.on and output.number not in lies)) for output in outputs)

        return Wait(LATE, answer) if self.off_fails == "late" else answer()

    def _clear_protection(self, call: Call) -> None:
        for output in self._of(call):
            output.protected = False

    def _select(self, call: Call) -> None:
        number = int(call.number(1, 9))
        if number not in self._outputs:
            raise ScpiError(SUFFIX_OUT_OF_RANGE)
        self._selected = number

    def _summary(self) -> int:
        """Bit 13 where any output's condition is not 0."""
        return 8192 if any(_condition(output) != "0" for output in self._outputs.values()) else 0


def _condition(output: Output) -> str:
    limiting = CONSTANT_CURRENT if output.on and output.limiting else 0
    return str(limiting | (PROTECTED if output.protected else 0))


def _nr3(value: float) -> str:
    return f"{value:+.8E}"
