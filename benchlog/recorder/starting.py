"""How the recorder process comes up: its arguments, its pipes, its signals, and the greeting."""

import argparse
import logging
import os
import signal
import sys
import threading
from pathlib import Path

from benchlog import __version__, logs
from benchlog.errors import LinkError
from benchlog.recorder.channel import Channel, own_pipes
from benchlog.recorder.failing import Failing
from benchlog.recorder.framing import WINDOW, decode_incoming
from benchlog.recorder.process import Recorder

log = logging.getLogger("benchlog.recorder")


def main(arguments: list[str]) -> int:
    """Run the recorder on standard input and output; 0 when it ended in good order."""
    own, _, player = _split(arguments)
    parser = argparse.ArgumentParser(prog="benchlog.recorder")
    parser.add_argument("--log-dir", type=Path, default=None)
    parser.add_argument("--no-alarm", action="store_true")
    options = parser.parse_args(own)
    reading, writing = own_pipes()
    if options.log_dir is not None:
        os.environ["BENCHLOG_LOG_DIR"] = str(options.log_dir)
    logs.start("recorder")
    for name in ("SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    channel = Channel(reading, writing, decode_incoming, peer=WINDOW)
    try:
        channel.greet(program=__version__)
    except LinkError as error:
        log.error("%s", error)
        channel.close()  # Our own hello goes out before: the client may say better what does not fit.
        return 2
    recorder = Recorder(channel, player or None, alarm=not options.no_alarm)
    failing = Failing(recorder.abandon)
    threading.excepthook, sys.excepthook = failing.fail, failing.fail_here
    signal.signal(signal.SIGTERM, recorder.terminate)
    channel.listen(recorder.on_message, recorder.on_fault, recorder.on_end)
    recorder.watch()
    recorder.close()
    return 0


def _split(arguments: list[str]) -> tuple[list[str], str, list[str]]:
    if "--" not in arguments:
        return arguments, "", []
    at = arguments.index("--")
    return arguments[:at], "--", arguments[at + 1 :]
