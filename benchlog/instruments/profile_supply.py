"""How to set, switch and read back a supply: the grammar of a profile's `[supply]` table."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from benchlog.instruments import template
from benchlog.textfile import key

_ONE = ("output",)
_ONE_VALUE = ("output", "value")
_ALL = ("outputs", "output")
_PLACEHOLDERS = {
    "set_volts": _ONE_VALUE,
    "ask_volts": _ONE,
    "set_limit": _ONE_VALUE,
    "ask_limit": _ONE,
    "set_protection": _ONE_VALUE,
    "ask_protection": _ONE,
    "clear_protection": _ONE,
    "on": _ALL,
    "off": _ALL,
    "ask_on": _ONE,
    "ask_all": _ALL,
    "measure_volts": _ONE,
    "measure_amps": _ONE,
    "ask_condition": _ONE,
}
_OPTIONAL = frozenset({"set_protection", "ask_protection", "clear_protection", "ask_all", "ask_condition"})


@dataclass(frozen=True, slots=True)
class Supply:
    """Commands of a supply; `{output}` is one output's name, `{outputs}` all named, `{value}` a number.

    Where a command for several outputs names `{output}`, it stands in the line once for each.
    """

    outputs: tuple[str, ...] = key("names of its outputs, as commands write them")
    between: str = key("what stands between outputs in a list", default=",")
    repeat: str = key("what stands between commands where one is repeated for each output", default=";:")
    set_volts: str = key("sets the voltage")
    ask_volts: str = key("reads the set voltage back")
    set_limit: str = key("sets the current limit")
    ask_limit: str = key("reads the current limit back")
    set_protection: str = key("sets the over-voltage protection", default="")
    ask_protection: str = key("reads the over-voltage protection back", default="")
    clear_protection: str = key("clears a protection that fired", default="")
    on: str = key("switches outputs on")
    off: str = key("one line that switches every output off")
    ask_on: str = key("asks whether one output is on")
    ask_all: str = key("asks in one line whether outputs are on", default="")
    ask_all_between: str = key("what stands between the answers to ask_all", default=",")
    is_on: tuple[str, ...] = key("answers that mean on", default=("1", "ON"))
    is_off: tuple[str, ...] = key("answers that mean off", default=("0", "OFF"))
    measure_volts: str = key("measures an output's voltage")
    measure_amps: str = key("measures an output's current")
    ask_condition: str = key("asks for the bits that tell limiting and protection", default="")
    limiting_bits: tuple[int, ...] = key("bits that mean current limiting", default=(), low=0, high=31)
    protected_bits: tuple[int, ...] = key("bits that mean a protection fired", default=(), low=0, high=31)
    step_volts: float = key("how far a voltage read back may differ", default=0.01, unit="V", low=0.0)
    step_amps: float = key("how far a current read back may differ", default=0.002, unit="A", low=0.0)

    def faults(self) -> Iterator[tuple[str, str, str]]:
        """Placeholders fit their commands; settings that are read back come in pairs."""
        for name, allowed in _PLACEHOLDERS.items():
            command = getattr(self, name)
            yield from template.faults(name, command, allowed)
            if not command and name not in _OPTIONAL:
                yield name, "is empty", "write the command"
            if command and "value" in allowed and "{value}" not in command:
                yield name, f'"{command}" does not say where the number goes', "put {value} there"
        yield from self._output_faults()
        if len(self.outputs) > 1 and not self.ask_all:
            yield "ask_all", "is missing", "a cut is proven by one question about every output"
        if bool(self.set_protection) != bool(self.ask_protection):
            yield "set_protection", "and ask_protection belong together", "write both or neither"
        if self.ask_condition and not (self.limiting_bits or self.protected_bits):
            yield "ask_condition", "is asked for nothing", "name limiting_bits or protected_bits"
        if not self.ask_condition and (self.limiting_bits or self.protected_bits):
            yield "ask_condition", "is missing", "the bits are read from its answer"
        both = set(self.is_on) & set(self.is_off)
        if any("|" in word for word in self.is_off):
            yield "is_off", 'contains "|", which stands between answers elsewhere', "leave it out"
        if both or not (self.is_on and self.is_off):
            yield "is_on", "and is_off do not tell on from off", 'as in is_on = ["1"], is_off = ["0"]'

    def _output_faults(self) -> Iterator[tuple[str, str, str]]:
        """Every output has a name of its own and is reached by each command."""
        if not self.outputs or len(set(self.outputs)) < len(self.outputs):
            yield "outputs", "does not name each output once", 'as in ["1", "2"]'
        for n, output in enumerate(self.outputs, 1):
            yield from template.faults(f"outputs[{n}]", output)
            if not output:
                yield f"outputs[{n}]", "is empty", "write its name"
        if len(self.outputs) > 1:
            for name, allowed in _PLACEHOLDERS.items():
                command = getattr(self, name)
                named = [place for place in allowed if place != "value" and "{" + place + "}" in command]
                if command and name != "off" and not named:
                    where = f"put {{{allowed[0]}}} there"
                    yield name, f'"{command}" does not say which output', where

    def off_line(self) -> str:
        """The one line that switches every output off, without its end."""
        return self.for_all(self.off)

    def off_question(self) -> tuple[str, str]:
        """What asks whether every output is on, without its end, and every answer that means all is off.

        Answers stand with `|` between them, since a supply may say off in several words.
        """
        if not self.ask_all:
            return self.for_one(self.ask_on, self.outputs[0]), "|".join(self.is_off)
        said = product(self.is_off, repeat=len(self.outputs))
        return self.for_all(self.ask_all), "|".join(self.ask_all_between.join(words) for words in said)

    def for_one(self, command: str, output: str, value: float | None = None) -> str:
        """A command for one output, with its number where it sets one."""
        filling = {"output": output}
        if value is not None:
            filling["value"] = template.number(value)
        return template.fill(command, filling)

    def for_all(self, command: str, outputs: tuple[str, ...] = ()) -> str:
        """A command for several outputs, or for every one, in one line."""
        if "{output}" in command:
            return self.repeat.join(self.for_one(command, output) for output in outputs or self.outputs)
        return template.fill(command, {"outputs": self.between.join(outputs or self.outputs)})
