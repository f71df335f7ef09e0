"""Six instruments on as many kinds of wire, the last of which misbehaves all the time, as a program.

    python -m helpers.faulty_bench SEED

It prints {"wires": {job: address}}, and at the end of its standard input {"asked": {job: readings asked}}.
"""

import json
import random
import sys
from contextlib import ExitStack
from typing import Any

from helpers.far_hislip import far_hislip
from helpers.faulty import FAULTS, Faulty
from helpers.faulty_wires import faulty_wire

MISBEHAVES = "misbehaves"
WELL = 20
"""So many questions are answered as they should be for each that is not."""
AHEAD = 200_000


def main() -> None:
    """Be they, until told to end."""
    chance = random.Random(int(sys.argv[1]))
    kinds = ["tcp", "socket", "rfc2217", "hislip", *([] if sys.platform == "win32" else ["pty"])]
    minds = {kind: Faulty([]) for kind in kinds}
    minds[MISBEHAVES] = Faulty(chance.choices([*FAULTS, *[""] * WELL * len(FAULTS)], k=AHEAD))
    with ExitStack() as open_wires:
        wires: dict[str, str] = {}
        for job, mind in minds.items():
            if job == "hislip":
                wires[job] = open_wires.enter_context(far_hislip(mind.play)).address
                continue
            far: Any = open_wires.enter_context(faulty_wire("tcp" if job == MISBEHAVES else job, mind))
            wires[job] = far.ports()[0].device if job == "pty" else far.address
        _say(wires=wires)
        sys.stdin.read()
        _say(asked={job: mind.asked for job, mind in minds.items()})


def _say(**what: object) -> None:
    print(json.dumps(what), flush=True)


if __name__ == "__main__":
    main()
