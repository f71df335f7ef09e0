"""A supply of two outputs at the far end of a cut's own connection, and the switch that cuts it."""

from collections.abc import Callable
from pathlib import Path

from helpers.far_end import FarEnd
from helpers.stand_ins import UNKNOWN, says
from helpers.until import until

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.instruments.bench import SupplyEntry
from benchlog.instruments.opening import open_control
from benchlog.instruments.profile import find_profile
from benchlog.instruments.supply import SupplyControl
from benchlog.recorder.cut import Done
from benchlog.recorder.off_supply import SupplySwitch

OFF = "OUTP OFF,(@1,2)"
IDENTITY = "MAKER,SUPPLY,1,0"


class Outputs:
    """A supply of two outputs at the far end of the cut's own connection."""

    def __init__(self) -> None:
        self.on = {"1": True, "2": True}
        self.volts = {"1": 20.0, "2": 14.2}
        self.left = 0.0
        """Share of its volts that an output which was switched off shows at the next question."""
        self.protected: set[str] = set()
        self.deaf = False
        self.mute = False
        self.refuses: list[str] = []
        self.far = FarEnd(self._answer)

    @property
    def offs(self) -> int:
        """How often it was told to switch off."""
        return self.far.heard.count(OFF)

    def _answer(self, line: str) -> bytes | None:
        reply = self._obey(line)
        return None if reply is None or self.mute else f"{reply}\n".encode()

    def _obey(self, line: str) -> str | None:
        if line == OFF:
            if not self.deaf:
                self.on = dict.fromkeys(self.on, False)
            return None
        if line == "SYST:ERR?":
            return self.refuses.pop(0) if self.refuses else '+0,"No error"'
        if line == "*IDN?":
            return IDENTITY
        outputs = line[line.find("@") + 1 : -1].split(",")
        if line.startswith("OUTP?"):
            return ",".join(str(int(self.on[output])) for output in outputs)
        if line.startswith("STAT"):
            return "512" if line[len("STAT:QUES:INST:ISUM")] in self.protected else "0"
        if not self.on[outputs[0]]:
            self.volts[outputs[0]] *= self.left
        return f"{self.volts[outputs[0]]:+.4E}"


class Cutting:
    """The switch, and who switches its outputs on."""

    def __init__(self, folder: Path) -> None:
        text = find_profile("scpi-supply", []).text.replace("deadline = 1.0", "deadline = 0.15")
        (folder / "scpi-supply.toml").write_text(text)
        profile = find_profile("scpi-supply", [folder])
        self.outputs = Outputs()
        entry = SupplyEntry(job="bench supply", profile="scpi-supply", address=self.outputs.far.address)
        self.opened: list[SupplyControl] = []

        def opener() -> SupplyControl:
            self.opened.append(open_control(entry, profile))
            return self.opened[-1]

        self.asked_on: list[tuple[Callable[[], bool], Done]] = []
        self.opener, self.profile = opener, profile
        self.switch = self.made()

    def made(self, *, at_once: bool = True) -> SupplySwitch:
        """A switch on a connection of its own."""
        return SupplySwitch(
            "bench supply",
            self.opener,
            lambda *asked: self.asked_on.append(asked),
            self.profile.outputs,
            at_once=at_once,
        )

    def confirm(self) -> Finding:
        return self.switch.confirm(says(UNKNOWN))

    def until_verified(self) -> Finding:
        return self.until_found(lambda finding: finding.outcome is CutOutcome.VERIFIED)

    def until_found(self, holds: Callable[[Finding], bool]) -> Finding:
        return until(lambda: [one for one in [self.confirm()] if holds(one)], "what is read back")[0]

    def close(self) -> None:
        self.switch.close()
        self.outputs.far.close()
