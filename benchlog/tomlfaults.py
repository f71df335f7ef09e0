"""What to do about a fault in the syntax of a TOML file, as the reader words it."""

_TWICE = "the key is written twice: leave one of them out"
_REMEDIES = (
    ("Invalid value", 'put text in "quotes", or write a number'),
    ("Illegal character '\\n'", 'close the "quotes" on the same line'),
    ("Illegal character", "take that character out, or write it as \\u and four digits"),
    ("Unterminated string", 'close the "quotes"'),
    ('Expected "\'"', "close the 'quotes'"),
    ("Cannot overwrite a value", _TWICE),
    ("Duplicate inline table key", _TWICE),
    ("Cannot declare", "the table is written twice: put its keys together"),
    ("Expected '='", 'write key = value, with text in "quotes"'),
    ("Expected ']'", "close the [brackets] on the same line"),
    ("Expected newline", 'write one key a line, text in "quotes", numbers with a point and without a unit'),
    ("Unescaped", "write \\\\ for one backslash"),
    ("Unclosed array", "close the [brackets], with a comma between the entries"),
    ("Unclosed inline table", "close the {braces} on the same line, with a comma between the entries"),
    ("Invalid statement", "begin the line with a key or a [table]"),
)
"""How the usual faults of TOML begin, and what to do about each; the first that fits counts."""


def remedy(problem: str) -> str:
    """The fix for a fault that begins so; empty where none is known."""
    return next((fix for begin, fix in _REMEDIES if problem.startswith(begin)), "")
