"""`benchlog read`: one line a reading, one plain sentence where there is nothing to read."""

import json
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.far_end import FarEnd, far_end, multimeter
from helpers.far_port import far_port

from benchlog.__main__ import main


@pytest.fixture
def far() -> Iterator[FarEnd]:
    with far_end(multimeter()) as made:
        yield made


def read(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, list[str], str]:
    status = main(["read", *arguments])
    printed = capsys.readouterr()
    return status, printed.out.splitlines(), printed.err


def test_readings_as_json_lines(far: FarEnd, capsys: pytest.CaptureFixture[str]) -> None:
    status, lines, err = read(capsys, far.address, "--function", "ohms", "--count", "3", "--json")
    assert (status, len(lines), err) == (0, 3, "")
    document = json.loads(lines[0])
    moment = document.pop("time")
    assert moment.endswith("Z")
    assert document == {
        "value": 1.25,
        "unit": "ohm",
        "error": None,
        "overload": False,
        "outcome": "ok",
        "function": "ohms",
        "raw": "+1.25000000E+00",
    }


def test_readings_for_a_person(far: FarEnd, capsys: pytest.CaptureFixture[str]) -> None:
    status, lines, _ = read(capsys, far.address, "--count", "1")
    assert status == 0
    assert lines[0].endswith("  1.25 V  volts_dc")


def test_an_overload_is_no_number(far: FarEnd, capsys: pytest.CaptureFixture[str]) -> None:
    far.answer = multimeter(b"-9.90000000E+37\n")
    _, lines, _ = read(capsys, far.address, "--count", "1", "--json")
    document = json.loads(lines[0])
    assert (document["value"], document["overload"], document["outcome"]) == (None, True, "overload")
    _, lines, _ = read(capsys, far.address, "--count", "1")
    assert "  -OL  " in lines[0]


def test_what_cannot_be_read_is_shown_as_it_came(far: FarEnd, capsys: pytest.CaptureFixture[str]) -> None:
    far.answer = multimeter(b"abc\n")
    status, lines, err = read(capsys, far.address, "--count", "2")
    assert 'malformed "abc"' in lines[0]
    assert status == 2, "nothing could be read"
    assert err == (
        'scpi-multimeter.toml: reply: "abc" holds no number; if it means overload, add it to overload; '
        "if it means no value, to not_a_number.\n"
    )
    far.answer = multimeter(b"\n")
    _, lines, _ = read(capsys, far.address, "--count", "1")
    assert "  malformed  " in lines[0]


def test_it_ends_after_its_time(far: FarEnd, capsys: pytest.CaptureFixture[str]) -> None:
    status, lines, _ = read(capsys, far.address, "--for", "0.2")
    assert status == 0
    assert lines


def test_a_handheld_is_the_usual_profile_of_a_port(capsys: pytest.CaptureFixture[str]) -> None:
    with far_port() as port:
        port.say(b"x")  # so that what follows is not what the opening throws away
        process = subprocess.Popen(
            [sys.executable, "-m", "benchlog", "read", port.device, "--count", "1", "--json"],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdout is not None
        while process.poll() is None:
            port.say(b"+023.41 V AC HOLD\r\n")
            try:
                process.wait(0.05)
            except subprocess.TimeoutExpired:
                continue
        document = json.loads(process.stdout.read())
        process.stdout.close()
    assert (document["value"], document["function"], document["flags"]) == (23.41, "volts_ac", ["hold"])


def test_a_supply_is_read_output_by_output(far: FarEnd, capsys: pytest.CaptureFixture[str]) -> None:
    far.answer = lambda line: b"M,S,0,1\n" if line == "*IDN?" else b"1\n"
    status, lines, _ = read(capsys, far.address, "--profile", "scpi-supply", "--count", "6")
    assert status == 0
    assert lines[0].endswith("  1  1 V  volts_dc")
    assert lines[2].endswith("  1  limiting  state")
    _, lines, _ = read(capsys, far.address, "--profile", "scpi-supply", "--count", "1", "--json")
    assert json.loads(lines[0])["channel"] == "1"


def test_a_persons_own_profile(far: FarEnd, capsys: pytest.CaptureFixture[str], own_folders: Path) -> None:
    folder = own_folders / "library" / "profiles"
    folder.mkdir(parents=True)
    text = 'file = "benchlog profile 1"\nname = "mine"\nkind = "meter"\n[function.temperature]\nquestion = "READ?"\n'
    (folder / "mine.toml").write_text(text, encoding="utf-8")
    _, lines, _ = read(capsys, far.address, "--profile", "mine", "--count", "1")
    assert lines[0].endswith("  1.25 °C  temperature")


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["nowhere"], 'address: "nowhere" is not an address'),
        (["FAR", "--profile", "scpi-multimetre"], '--profile: there is no profile "scpi-multimetre"'),
        (
            ["FAR", "--function", "ohm"],
            '--function: SCPI multimeter does not measure ohm; did you mean "ohms"?',
        ),
        (["FAR", "--function", "zzz"], "it measures volts_dc, "),
        (
            ["FAR", "--profile", "scpi-supply", "--function", "ohms"],
            "--function: SCPI supply, two outputs tells volts",
        ),
        (["FAR", "--profile", "own/mine.toml"], "put it into the folder profiles of your library ("),
        (["FAR", "--profile", "own\\mine.toml"], ") and write --profile mine"),
        (["FAR", "--count", "0"], "--count: 0 is no number of readings"),
        (["FAR", "--for", "-1"], "--for: -1 s is no time to read for"),
        (["FAR", "--for", "nan"], "--for: nan s is no time to read for"),
        (["/dev/ttyNOBODY"], "/dev/ttyNOBODY cannot be opened"),
    ],
)
def test_bad_input_is_one_sentence(
    far: FarEnd, capsys: pytest.CaptureFixture[str], arguments: list[str], sentence: str
) -> None:
    status, lines, err = read(
        capsys, *(far.address if argument == "FAR" else argument for argument in arguments)
    )
    assert (status, lines) == (2, [])
    assert sentence in err
    assert err.count("\n") == 1


def test_a_broken_profile_names_its_own_file(
    far: FarEnd, capsys: pytest.CaptureFixture[str], own_folders: Path
) -> None:
    folder = own_folders / "library" / "profiles"
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text('file = "benchlog profile 1"\n', encoding="utf-8")
    status, _, err = read(capsys, far.address, "--profile", "mine")
    assert status == 2
    assert "mine.toml: name: is missing" in err
    assert "mine.toml: kind: is missing" in err


def test_nobody_answers_there(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    status, _, err = read(capsys, f"tcp://127.0.0.1:{port}")
    assert status == 2
    assert err.startswith(f"tcp://127.0.0.1:{port}: nobody listens at 127.0.0.1 port {port}; ")


def test_an_instrument_that_never_reads_is_said(
    far: FarEnd, capsys: pytest.CaptureFixture[str], own_folders: Path
) -> None:
    folder = own_folders / "library" / "profiles"
    folder.mkdir(parents=True)
    text = 'file = "benchlog profile 1"\nname = "mine"\nkind = "meter"\n[link]\ndeadline = 0.05\n'
    (folder / "mine.toml").write_text(text + '[function.ohms]\nquestion = "R?"\n', encoding="utf-8")
    status, lines, err = read(capsys, far.address, "--profile", "mine")
    assert (status, lines) == (2, [])
    assert "opened, but no reading came" in err


def test_one_that_hangs_up_ends_it_with_what_was_read(
    far: FarEnd, capsys: pytest.CaptureFixture[str]
) -> None:
    count = 0

    def three(line: str) -> bytes | None:
        nonlocal count
        count += line == "READ?"
        if count > 3:
            far.hang_up()
            return None
        return multimeter()(line)

    far.answer = three
    status, lines, err = read(capsys, far.address)
    assert (status, len(lines)) == (2, 3)
    assert "the far end closed the connection; look at its cable and its power, then read again" in err


def test_a_line_without_its_end_is_told_with_the_key_to_look_at(
    far: FarEnd, capsys: pytest.CaptureFixture[str], own_folders: Path
) -> None:
    far.answer = lambda _: b"+012.34 V\r"
    folder = own_folders / "library" / "profiles"
    folder.mkdir(parents=True)
    text = 'file = "benchlog profile 1"\nname = "mine"\nkind = "meter"\n[link]\ndeadline = 0.05\n'
    (folder / "mine.toml").write_text(text + '[function.volts_dc]\nquestion = "R?"\n', encoding="utf-8")
    (folder / "named.toml").write_text(
        text + '[identity]\nquestion = "ID"\n[function.volts_dc]\nquestion = "R?"\n', encoding="utf-8"
    )
    for name in ("mine", "named"):
        status, _, err = read(capsys, far.address, "--profile", name)
        assert status == 2
        assert 'answered "+012.34 V"' in err
        assert "without the line end that its profile expects; look at reply_end in [link]" in err
    far.answer = lambda _: b"A,B,C,D\r\n"
    own = text + 'reply_end = "\\r"\n[identity]\n[function.volts_dc]\nquestion = "R?"\n'
    (folder / "named.toml").write_text(own, encoding="utf-8")
    status, _, err = read(capsys, far.address, "--profile", "named")
    assert status == 2
    assert "opened anew" not in err


def test_ctrl_c_ends_it_with_what_was_read(far: FarEnd) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "benchlog", "read", far.address, "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert json.loads(process.stdout.readline())["value"] == 1.25
    process.send_signal(signal.SIGINT)
    # Not `communicate`: it would pass over what the first line's reading took in ahead.
    out = process.stdout.read()
    _, err = process.communicate(timeout=60)
    assert process.returncode == 4
    assert "Traceback" not in err
    assert all(json.loads(line)["outcome"] == "ok" for line in out.splitlines())
