"""Runs `benchlog` with every Python that it starts overheard: what its recorder is told goes to a file.

`python -m helpers.overheard FILE ARGUMENTS...` runs the program with a Python in which a recorder's command
line, environment and every line sent to it are written down first.
"""

import os
import sys
from pathlib import Path

from benchlog.__main__ import main

_PYTHON = """#!{python}
import os, subprocess, sys

command = [{python!r}, *sys.argv[1:]]
if "benchlog.recorder" not in command:
    os.execv(command[0], command)
with open({file!r}, "ab", buffering=0) as heard:
    for said in (*sys.argv, *(f"{{name}}={{value}}" for name, value in os.environ.items())):
        heard.write(said.encode() + b"\\n")
    recorder = subprocess.Popen(command, stdin=subprocess.PIPE, bufsize=0)
    while some := os.read(0, 65536):
        heard.write(some)
        recorder.stdin.write(some)
    recorder.stdin.close()
    sys.exit(recorder.wait())
"""


def overhear(file: Path) -> None:
    """Put a Python that listens in the place of this one, for what is started from now on."""
    listening = file.with_suffix(".python")
    listening.write_text(_PYTHON.format(python=sys.executable, file=str(file)), encoding="utf-8")
    listening.chmod(0o755)
    sys.executable = os.fspath(listening)


if __name__ == "__main__":
    overhear(Path(sys.argv[1]).absolute())
    sys.exit(main(sys.argv[2:]))
