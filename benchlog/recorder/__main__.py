"""The recorder's entry: `python -m benchlog.recorder [--log-dir DIR] [--no-alarm] [-- PLAYER ...]`."""

import sys

from benchlog.recorder.starting import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
