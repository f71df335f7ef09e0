"""A recorder that speaks the channel and owns nothing; `Act.what` tells it how to behave."""

import os
import sys
import threading
import time

from benchlog.recorder import messages
from benchlog.recorder.channel import Channel, own_pipes
from benchlog.recorder.framing import complaint, decode_incoming, encode
from benchlog.recorder.messages import Act, Beat, Message, Quit


class Stub:
    """The stub's process: answers what it is asked, dies as it is told."""

    def __init__(self, argv: list[str]) -> None:
        self.argv = argv
        self.reading, self.writing = own_pipes()
        self.hushed = False
        self.stubborn = False
        self.beats = 0
        self.heard: list[str] = []
        self.end = threading.Event()

    def run(self) -> int:
        """Greet, beat and obey until told to end."""
        self.misbehave_at_once()
        self.channel = Channel(self.reading, self.writing, decode_incoming, peer="client")
        self.channel.greet("stub")
        self.channel.listen(self.take, lambda e, r: self.channel.send(complaint(e, r)), self.end.set)
        number = 0
        while not self.end.wait(0.1):
            if not self.hushed:
                number += 1
                self.channel.send(Beat(n=number))
        self.channel.close()
        return 0

    def misbehave_at_once(self) -> None:
        """What the command line asks for before the hello."""
        if "--die" in self.argv:
            sys.stderr.write("a first line\nValueError: no luck\n")
            sys.stderr.flush()
            os._exit(3)
        if "--mute" in self.argv:
            time.sleep(60)
        if "--newer" in self.argv:
            os.write(self.writing, encode(messages.Hello(version=99, program="9.9")))
            time.sleep(60)

    def take(self, message: Message) -> None:
        """Obey one message."""
        self.heard.append(str(message.__struct_config__.tag))
        if isinstance(message, Beat):
            self.beats += 1
        elif isinstance(message, Quit):
            if not self.stubborn:
                self.end.set()
        elif isinstance(message, Act):
            word, *arguments = message.what.split()
            data = getattr(self, f"do_{word}")(message, *arguments)
            if data is not None:
                self.channel.send(messages.Done(id=message.id, data=data))
        elif isinstance(message, messages.Request):
            self.channel.send(messages.Done(id=message.id))

    def do_know(self, _message: Act) -> dict[str, object]:
        """Tell what it knows."""
        return {"argv": self.argv, "beats": self.beats, "pid": os.getpid(), "heard": self.heard}

    def do_refuse(self, message: Act) -> None:
        """Refuse with two faults."""
        faults = [("plan.toml: stage[1]", "is wrong", "mend it"), ("plan.toml: stage[2]", "is too", "")]
        self.channel.send(messages.Refused(id=message.id, faults=faults))

    def do_ignore(self, _message: Act) -> None:
        """Give no answer."""

    def do_recipe(self, _message: Act, *ports: str) -> dict[str, object]:
        """Arm, with a supply at each of the ports."""
        lines = [("127.0.0.1", int(port), "OUTP OFF", "OUTP?", "0", ["MEAS:VOLT?"]) for port in ports]
        self.channel.send(messages.Recipe(lines=lines))
        return {}

    def do_closed(self, _message: Act) -> dict[str, object]:
        """Close the session."""
        self.channel.send(messages.Closed(path="x", outcome="ended", reason="told", folded=True))
        return {}

    def do_event(self, _message: Act, at: str) -> dict[str, object]:
        """Tell of an event."""
        self.channel.send(messages.Event(t=int(at), kind="note", text="something"))
        return {}

    def do_readings(self, _message: Act, count: str) -> dict[str, object]:
        """Send readings one by one."""
        for number in range(int(count)):
            rows: list[tuple[int, int, float | None, str]] = [(number, number * 1000, 1.5, "ok")]
            self.channel.send(messages.Readings(batches=[messages.Batch(trace="lamp", rows=rows)]))
        return {}

    def do_hush(self, _message: Act) -> dict[str, object]:
        """Stop beating."""
        self.hushed = True
        return {}

    def do_stubborn(self, _message: Act) -> dict[str, object]:
        """Do not end when told to quit."""
        self.stubborn = True
        return {}

    def do_garble(self, message: Act, what: str) -> None:
        """Send a line that cannot be read."""
        lines = {
            "json": b"{nonsense\n",
            "kind": b'{"is":"horoscope","id":%d}\n' % message.id,
            "long": b"x" * (messages.LINE_LIMIT + 10) + b"\n",
        }
        rest = lines[what]
        while rest:
            rest = rest[os.write(self.writing, rest) :]

    def do_print(self, _message: Act) -> dict[str, object]:
        """Print, as a careless library would."""
        sys.stdout.write("stray words\n")
        sys.stdout.flush()
        return {"stdin": os.read(0, 10).decode()}

    def do_hang_up(self, _message: Act) -> None:
        """Close the pipe and stay alive."""
        os.close(self.writing)
        time.sleep(60)

    def do_exit(self, _message: Act, status: str) -> None:
        """Die."""
        os._exit(int(status))


if __name__ == "__main__":
    sys.exit(Stub(sys.argv[1:]).run())
