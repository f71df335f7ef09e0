"""Finding lists without opening anything, asks only where it was told to, and says which profile fits."""

import json
import re
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.far_end import FarEnd, far_end
from helpers.far_port import FarPort, far_port

from benchlog.errors import BadInput
from benchlog.instruments import finding, link_apart
from benchlog.instruments.finding import Found, ask, fitting, known_profiles, serial_ports, visa_resources
from benchlog.instruments.link_serial import Port

PROFILES = known_profiles([])


def silent(_doing: str) -> None:
    """Where nobody wants to hear what is done."""


@pytest.fixture(autouse=True)
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    """Short waits where nothing comes."""
    monkeypatch.setattr(finding, "LISTEN_SECONDS", 0.1)
    monkeypatch.setattr(finding, "ANSWER_SECONDS", 0.1)


@pytest.fixture
def far() -> Iterator[FarEnd]:
    with far_end({"*IDN?": b"MAKER,METER,0,1\n"}.get) as made:
        yield made


@pytest.fixture
def port() -> Iterator[FarPort]:
    with far_port() as made:
        yield made


def test_ports_are_listed_by_what_their_adapters_are() -> None:
    listed = serial_ports(lambda: [Port("COM3"), Port("COM4", "Adapter", 0x403, 0x6001, "A")])
    assert listed == [Found("COM3", "COM3"), Found("usb:0403:6001:A", "COM4", "Adapter")]


def test_what_answers_is_told_with_the_profiles_that_fit(
    far: FarEnd, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding, "ANSWER_SECONDS", 30.0)
    doing: list[str] = []
    found = ask(far.address, PROFILES, doing.append)
    assert (found.address, found.identity, found.wrong) == (far.address, "MAKER,METER,0,1", "")
    assert "scpi-multimeter" in found.profiles
    assert doing == ["asking *IDN?"]
    assert set(far.heard) == {"*IDN?"}


def test_an_answer_that_fits_nothing_says_so(far: FarEnd, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(finding, "ANSWER_SECONDS", 30.0)
    far.answer = lambda _: b"hello\n"
    found = ask(far.address, PROFILES, silent)
    assert (found.identity, found.profiles) == ("hello", ())
    assert found.wrong.startswith("no profile fits what it answers (asked: *IDN?")


def test_one_that_knows_another_question_is_asked_that_too(
    far: FarEnd, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(finding, "ANSWER_SECONDS", 30.0)
    text = PROFILES["scpi-multimeter"].text
    known = 'question = "ID"\nanswer = "BENCH METER *"'
    own = re.sub(r"\[identity\][^\[]*", f"[identity]\n{known}\n\n", text)
    (tmp_path / "mine.toml").write_text(own, encoding="utf-8")
    far.answer = lambda line: b"BENCH METER 4\n" if line == "ID" else b"what?\n"
    profiles = {
        name: one for name, one in known_profiles([tmp_path]).items() if name in ("mine", "scpi-multimeter")
    }
    found = ask(far.address, profiles, silent)
    assert (found.identity, found.profiles, found.wrong) == ("BENCH METER 4", ("mine",), "")
    assert list(dict.fromkeys(far.heard)) == ["*IDN?", "ID"]
    far.answer = lambda _: b"what?\n"
    found = ask(far.address, profiles, silent)
    assert (found.identity, found.profiles) == ("what?", ())
    assert found.wrong == "no profile fits what it answers (asked: *IDN?, ID)"


def test_silence_and_nobody_there_are_told(far: FarEnd) -> None:
    far.answer = lambda _: None
    assert ask(far.address, PROFILES, silent).wrong.startswith(
        "opens, but nothing that comes fits a profile (asked: *IDN?"
    )
    far.close()
    assert "nobody listens" in ask(far.address, PROFILES, silent).wrong
    with pytest.raises(BadInput):
        ask("nowhere", PROFILES, silent)


def test_a_meter_that_writes_unasked_is_heard_and_not_asked(
    port: FarPort, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding, "LISTEN_SECONDS", 30.0)
    # An opening port drops what waits in it, so the meter writes until it was heard.
    heard = threading.Event()

    def write() -> None:
        while not heard.wait(0.01):
            port.say(b"+023.41 V AC\r\n")

    writing = threading.Thread(target=write)
    writing.start()
    only = {"ascii-handheld": PROFILES["ascii-handheld"]}
    found = ask(port.device, only, silent)
    heard.set()
    writing.join()
    assert (found.identity, found.profiles) == ("+023.41 V AC", ("ascii-handheld",))


def test_a_port_that_says_nothing_is_asked_at_every_setting(port: FarPort) -> None:
    doing: list[str] = []
    assert ask(port.device, PROFILES, doing.append).wrong
    assert doing.count("asking *IDN?") >= 1
    assert b"*IDN?" in port.hear()


def test_the_profile_that_says_most_comes_first(tmp_path: Path) -> None:
    text = PROFILES["scpi-multimeter"].text.replace('answer = "*,*,*,*"', 'answer = "MAKER,METER*"')
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    (tmp_path / "broken.toml").write_text("x", encoding="utf-8")
    profiles = known_profiles([tmp_path, tmp_path / "nowhere"])
    assert "broken" not in profiles
    assert fitting("MAKER,METER,0,1", "*IDN?", profiles)[0] == "mine"
    assert "mine" not in fitting("ANOTHER,METER,0,1", "*IDN?", profiles)


@pytest.mark.parametrize(
    ("program", "found"),
    [
        ("print('[\"GPIB0::7::INSTR\"]')", Found("GPIB0::7::INSTR", about="VISA")),
        ("import sys; sys.exit('no library')", Found("", wrong="VISA could not search: no library")),
        ("import time; time.sleep(1000)", Found("", wrong="VISA did not end its search within 1 s")),
    ],
)
def test_visa_is_searched_in_its_own_time(
    monkeypatch: pytest.MonkeyPatch, program: str, found: Found
) -> None:
    monkeypatch.setattr(link_apart, "COMMAND", (sys.executable, "-c", program))
    if "sleep" in program:
        monkeypatch.setattr(finding, "VISA_SECONDS", 1.0)
    assert visa_resources() == [found]


def test_a_visa_program_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link_apart, "COMMAND", ("/nowhere/python",))
    assert "could not be started" in visa_resources()[0].wrong


def test_the_process_prints_steps_and_finds(
    far: FarEnd, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(finding, "ANSWER_SECONDS", 30.0)
    monkeypatch.setattr(sys, "argv", ["finding", far.address])
    finding.main()
    first, *_, last = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert first == {"step": far.address}
    assert last["found"]["identity"] == "MAKER,METER,0,1"
    monkeypatch.setattr(sys, "argv", ["finding"])
    monkeypatch.setattr(finding, "serial_ports", lambda: [Found("COM3", "COM3")])
    monkeypatch.setattr(finding, "visa_resources", list)
    finding.main()
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [one.get("step") for one in told] == ["serial ports", None, "VISA"]
