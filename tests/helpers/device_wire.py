"""A simulated SCPI instrument on a wire on which waiting costs nothing."""

from helpers.fake_wire import FakeWire

from benchlog.simbench.scpi import ScpiDevice


def wire_to(device: ScpiDevice) -> FakeWire:
    """The wire of a device that answers each line after the time it says it takes."""

    def answer(line: str) -> list[tuple[float, bytes]]:
        seconds = 0.0
        work = device.execute(line)
        try:
            while True:
                seconds += next(work)
        except StopIteration as ended:
            reply = ended.value
        return [] if reply is None else [(seconds, f"{reply}\n".encode("ascii"))]

    return FakeWire(answer)
