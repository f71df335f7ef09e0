"""Command texts of a profile with their placeholders: `VOLT {value},(@{output})`."""

from collections.abc import Iterator, Mapping

LONGEST = 200
"""No command, glob or affix of a profile is longer, in characters."""


def fill(template: str, filling: Mapping[str, str]) -> str:
    """Put each `{name}` of `filling` in its place; one that is not there changes nothing."""
    for name, text in filling.items():
        template = template.replace("{" + name + "}", text)
    return template


def number(value: float) -> str:
    """A setting as an instrument reads it: plain decimal with nine digits, never locale's."""
    return f"{value:.9g}"


def faults(key_path: str, template: str, allowed: tuple[str, ...] = ()) -> Iterator[tuple[str, str, str]]:
    """What is wrong with a command text: (key path, problem, fix) for each thing."""
    if len(template) > LONGEST:
        yield key_path, f"is longer than {LONGEST} characters", "send one command"
    if not (template.isascii() and template.isprintable()):
        yield key_path, "holds a character that is not printable ASCII", "leave line ends to link.send_end"
    rest = template
    for name in allowed:
        rest = rest.replace("{" + name + "}", "")
    if "{" in rest or "}" in rest:
        known = ", ".join("{" + name + "}" for name in allowed)
        fix = f"known here: {known}" if known else "no placeholder is filled in here"
        yield key_path, f'"{template}" holds a placeholder that is not known', fix
