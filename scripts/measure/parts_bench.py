"""The bench and the unit with which the taking of parts is measured."""

_BENCH = """file = "benchlog bench 1"
name = "parts"
[[meter]]
job = "parts meter"
profile = "scpi-multimeter"
address = "{address}"
"""

_PART = """
[[board.part]]
designator = "R{n}"
kind = "resistor"
marking = "1 5%"
should_read = "1 5%"
from = "sheet"
function = "ohms"
"""


def bench_text(address: str) -> str:
    """A walking meter and nothing else."""
    return _BENCH.format(address=address)


def unit_text(count: int) -> str:
    """Resistors that all read what the far end's meter gives."""
    parts = "".join(_PART.format(n=n) for n in range(1, count + 1))
    return f'file = "benchlog unit 1"\nname = "bare"\n[[board]]\nname = "one"\n{parts}'
