"""A two-output supply for a `FakeWire`: obeys, but for the answers a test puts in its place."""


class FakeSupply:
    """A two-output supply that obeys, but for the answers a test puts in `instead`."""

    def __init__(self) -> None:
        self.volts = {"1": 0.0, "2": 0.0}
        self.limits = {"1": 0.1, "2": 0.1}
        self.protections = {"1": 99.0, "2": 99.0}
        self.on = {"1": False, "2": False}
        self.bits = {"1": 0, "2": 0}
        self.instead: dict[str, str | None] = {}

    def __call__(self, line: str) -> list[tuple[float, bytes]]:
        answer = self.instead[line] if line in self.instead else self.answer(line)
        return [] if answer is None else [(0.005, answer.encode() + b"\n")]

    def answer(self, line: str) -> str | None:
        if line == "*IDN?":
            return "MAKER,SUPPLY,0,1"
        if line == "SYST:ERR?":
            return '+0,"No error"'
        if line.startswith("STAT:QUES:INST:ISUM"):
            return str(self.bits[line[19]])
        if line.startswith("OUTP O"):
            for output in line.split("@")[1].strip(")").split(","):
                self.on[output] = line.startswith("OUTP ON")
        elif line.startswith("OUTP? "):
            return ",".join(str(int(self.on[output])) for output in line.split("@")[1].strip(")").split(","))
        elif line.startswith("OUTP:PROT:CLE"):
            self.bits[line[-2]] = 0
        elif line.startswith("MEAS:VOLT"):
            return f"{self.volts[line[-2]] * self.on[line[-2]]:+.8E}"
        elif line.startswith("MEAS:CURR"):
            return "+1.00000000E-02"
        else:
            return self.setting(line)
        return None

    def setting(self, line: str) -> str | None:
        for command, values in (("VOLT:PROT", self.protections), ("VOLT", self.volts), ("CURR", self.limits)):
            if line.startswith(f"{command}?"):
                return f"{values[line[-2]]:+.8E}"
            if line.startswith(f"{command} "):
                number, _, output = line.removeprefix(f"{command} ").partition(",(@")
                values[output[0]] = float(number)
                return None
        return None
