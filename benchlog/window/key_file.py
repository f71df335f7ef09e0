"""A person's own keys as a file in the library's folder."""

import json
from collections.abc import Mapping
from pathlib import Path

from benchlog import textfile
from benchlog.errors import Full
from benchlog.window.keys import KeyFile, Keys

NAME = "keys.toml"


def read(folder: Path) -> Keys:
    """The keys a person has bound; the usual ones where there is no file. BadInput with every fault of it."""
    path = folder / NAME
    if not path.exists():
        return Keys()
    return Keys(dict(textfile.read(path, KeyFile).binding))


def write(folder: Path, own: Mapping[str, str]) -> None:
    """Keep them; `Full` where the file cannot be written."""
    lines = [f'file = "{KeyFile.FILE} {KeyFile.VERSION}"', "", "[binding]"]
    lines += [f"{json.dumps(key)} = {json.dumps(action)}" for key, action in own.items()]
    path = folder / NAME
    try:
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    except OSError as error:
        raise Full(
            str(path), f"cannot be written ({error.strerror})", "make room, or look at its rights"
        ) from None
