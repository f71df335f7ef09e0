"""Why a reply is no reading, in one sentence: which key of the profile it does not fit, and what to write there."""

import re

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.errors import Fault
from benchlog.instruments.profile import Profile
from benchlog.instruments.profile_reply import Reply

_NUMBER = re.compile(r"[+-]? {0,8}(?:\d{1,64}(?:\.\d{0,64})?|\.\d{1,64})(?:[eE][+-]?\d{1,3})?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_LONGEST = 60


def why(reading: Reading, profile: Profile, name: str) -> Fault | None:
    """What a malformed reading does not fit in the profile of that name; None for any other reading."""
    if reading.outcome is not Outcome.MALFORMED:
        return None
    settings = profile.function.get(reading.function)
    table, reply = "reply", profile.reply
    if settings is not None and settings.reply is not None:
        table, reply = f"function.{reading.function}.reply", settings.reply
    if reading.function is Function.STATE:
        fix = "look at is_on, is_off and ask_condition in [supply]"
        return Fault(f"{name}.toml: supply", f'"{_short(reading.raw)}" tells no state', fix)
    problem, fix = _of_text(reading.raw, reply)
    return Fault(f"{name}.toml: {table}", problem, fix)


def _of_text(text: str, reply: Reply) -> tuple[str, str]:
    """(problem, fix) of a reply that this form cannot read."""
    shown = f'"{_short(text)}"'
    if not text:
        return "an empty line is no reading", "look at its question and at reply_end in [link]"
    if reply.form == "frame":
        return f"{shown} is no display that can be read", "look at the segments in [reply.frame]"
    found = _NUMBER.search(text)
    if found is None:
        fix = "if it means overload, add it to overload; if it means no value, to not_a_number"
        return f"{shown} holds no number", fix
    before, behind = text[: found.start()].strip(), text[found.end() :].strip()
    if not text.startswith(reply.prefix):
        return f'{shown} does not begin with "{reply.prefix}"', _write("prefix", before)
    if reply.form != "decorated" and not text.endswith(reply.suffix):
        return f'{shown} does not end in "{reply.suffix}"', _write("suffix", behind)
    if reply.form == "scpi":
        return _of_plain(text, shown, before, behind, reply)
    if reply.form == "list":
        count = text.count(",") + 1
        return f"{shown} has {count} entries, not all of them as described", "look at item, beside and status"
    words = behind.removesuffix(reply.suffix).strip()
    named = f'"{_short(words)}"' if words else "nothing behind the number"
    return (
        f"{shown}: {named} is none of its units",
        f'add it to units, as in "{words or "V"}" = {{ scale = 1 }}',
    )


def _of_plain(text: str, shown: str, before: str, behind: str, reply: Reply) -> tuple[str, str]:
    """The same for a single number."""
    if _DECIMAL_COMMA.fullmatch(text):
        return f"{shown} has a comma where a point is expected", "set the instrument to a decimal point"
    if before and before != reply.prefix.strip():
        return f'{shown} begins with "{_short(before)}", which the profile does not name', _write(
            "prefix", before
        )
    if behind.startswith(","):
        return f"{shown} is a list", 'write form = "list" and, in item, which entry is the reading'
    if behind and behind != reply.suffix.strip():
        return f'{shown} ends in "{_short(behind)}", which the profile does not name', _write(
            "suffix", behind
        )
    return f"{shown} is no number in this form", "look at form, prefix and suffix"


def _write(key: str, text: str) -> str:
    if not text:
        return f"leave {key} out"
    quoted = _short(text).replace("\\", "\\\\").replace('"', '\\"')
    return f'write {key} = "{quoted}"'


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else text[:_LONGEST] + "..."
