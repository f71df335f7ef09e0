"""A number and its unit, kept in one line wherever a sentence is broken."""

import re

_APART = re.compile(r"(?<=\d) (?=(?:%|[munkM]?[VAWHF]|[kM]?Ω|µ[VAF]|°C|s|Hz)(?:\W|$))")
"""The blank between a number and its unit."""


def unbroken(text: str) -> str:
    """The same text with blanks there that break no line."""
    return _APART.sub("\N{NO-BREAK SPACE}", text)
