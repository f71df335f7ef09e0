"""Profiles are data: every shipped one is sound, every fault of a broken one is told at once."""

from pathlib import Path

import pytest

from benchlog import resources
from benchlog.domain.reading import Function
from benchlog.errors import BadInput
from benchlog.instruments.profile import Profile, find_profile, parse_profile

HEAD = 'file = "benchlog profile 1"\nname = "x"\n'
METER = HEAD + 'kind = "meter"\n[function.volts_dc]\nquestion = "READ?"\n'
SUPPLY = (
    HEAD
    + """
kind = "supply"
[supply]
outputs = ["1"]
set_volts = "VOLT {value}"
ask_volts = "VOLT?"
set_limit = "CURR {value}"
ask_limit = "CURR?"
on = "OUTP ON"
off = "OUTP OFF"
ask_on = "OUTP?"
measure_volts = "MEAS:VOLT?"
measure_amps = "MEAS:CURR?"
"""
)
SHIPPED = sorted(path.stem for path in resources.path("profiles").glob("*.toml"))


def faults(text: str) -> dict[str, str]:
    with pytest.raises(BadInput) as caught:
        parse_profile(text, "p.toml")
    return {fault.place.removeprefix("p.toml: "): fault.problem for fault in caught.value.faults}


@pytest.mark.parametrize("name", SHIPPED)
def test_every_shipped_profile_is_sound(name: str) -> None:
    profile = find_profile(name)
    assert profile.functions
    assert profile.text.startswith('file = "benchlog profile 1"\n')


def test_a_profile_keeps_its_text_and_tells_its_functions() -> None:
    profile = parse_profile(METER, "p.toml")
    assert profile.text == METER
    assert profile.functions == (Function.VOLTS_DC,)
    assert (profile.outputs, profile.off_line(), profile.off_recipe()) == ((), "", ("", "", "", []))
    assert Function.OHMS in find_profile("ascii-handheld").functions


def test_a_supply_tells_how_it_is_cut_by_others() -> None:
    shipped = find_profile("scpi-supply")
    assert shipped.outputs == ("1", "2")
    volts = ["MEAS:VOLT? (@1)\n", "MEAS:VOLT? (@2)\n"]
    assert shipped.off_recipe() == ("OUTP OFF,(@1,2)\n", "OUTP? (@1,2)\n", "0,0|0,OFF|OFF,0|OFF,OFF", volts)
    *asks, volts = parse_profile(SUPPLY, "p.toml").off_recipe()
    assert asks == ["OUTP OFF\n", "OUTP?\n", "0|OFF"]
    assert len(volts) == 1
    assert shipped.functions == (Function.VOLTS_DC, Function.AMPS_DC, Function.STATE)


def test_all_faults_are_told_at_once() -> None:
    text = (
        HEAD
        + """
kind = "metre"
[link]
deadline = "soon"
reply_end = ""
[link.serial]
stop = 1.2
[function.volts_dc]
question = "READ? {channel}"
set_up = ["", "CONF\\n"]
"""
    )
    assert set(faults(text)) == {
        "kind",
        "link.deadline",
        "link.serial.stop",
        "function.volts_dc.question",
        "function.volts_dc.set_up[1]",
        "function.volts_dc.set_up[2]",
    }


@pytest.mark.parametrize(
    ("text", "place", "word"),
    [
        (HEAD + 'kind = "meter"', "function", "is missing"),
        (METER.replace("READ?", ""), "function.volts_dc.question", "is missing"),
        (METER + "scale = 0", "function.volts_dc.scale", "would make every reading zero"),
        (METER.replace("volts_dc", "volt_dc"), "function.volt_dc", "is not a function"),
        (METER.replace("volts_dc", "zzz"), "function.zzz", "is not a function"),
        (METER + "[supply]", "supply.outputs", "is missing"),
        (SUPPLY.replace('"supply"', '"stream"'), "supply", "has no place"),
        (HEAD + 'kind = "supply"', "supply", "is missing"),
        (HEAD + 'kind = "stream"', "function", "is not told by the lines"),
        (METER + '[reply]\nform = "decorated"', "reply.units", "is missing"),
        (METER + '[reply]\nform = "regex"', "reply.form", "is not a choice"),
        (METER + '[reply]\noverload = ["O L"]', "reply.overload", "is not one ASCII word"),
        (METER + '[reply]\nprefix = "µ"', "reply.prefix", "printable ASCII"),
        (METER + '[reply]\nflags = { HOLD = "held" }', "reply.flags.HOLD", "is not a choice"),
        (
            METER + '[reply.units]\n"mV" = { scale = 0 }',
            "reply.units.mV.scale",
            "would make every reading zero",
        ),
        (
            METER + '[reply.units]\n"mV" = { function = "volts" }',
            "reply.units.mV.function",
            "is not a choice",
        ),
        (METER + '[link]\nsend_end = "µ"', "link.send_end", "is not one to four ASCII"),
        (METER + "[errors]\nnone = []", "errors.none", "is empty"),
        (METER + '[errors]\nnone = ["\\t"]', "errors.none[1]", "printable ASCII"),
        (METER + '[errors]\nclear = "{x}"', "errors.clear", "placeholder"),
        (METER + '[identity]\nanswer = "µ"', "identity.answer", "printable ASCII"),
        (SUPPLY.replace("VOLT {value}", "VOLT 5"), "supply.set_volts", "does not say where the number goes"),
        (SUPPLY.replace("VOLT {value}", "VOLT {volts}{value}"), "supply.set_volts", "placeholder"),
        (SUPPLY.replace('"VOLT?"', '""'), "supply.ask_volts", "is empty"),
        (SUPPLY.replace('["1"]', "[]"), "supply.outputs", "does not name each output once"),
        (SUPPLY.replace('["1"]', '["1", "1"]'), "supply.outputs", "does not name each output once"),
        (SUPPLY.replace('["1"]', '[""]'), "supply.outputs[1]", "is empty"),
        (SUPPLY.replace('["1"]', '["1", "2"]'), "supply.ask_all", "is missing"),
        (SUPPLY.replace('["1"]', '["1", "2"]'), "supply.set_volts", "does not say which output"),
        (SUPPLY + 'set_protection = "P {value}"', "supply.set_protection", "belong together"),
        (SUPPLY + 'ask_condition = "C?"', "supply.ask_condition", "is asked for nothing"),
        (SUPPLY + "limiting_bits = [0]", "supply.ask_condition", "is missing"),
        (SUPPLY + "protected_bits = [32]", "supply.protected_bits[1]", "out of bounds"),
        (SUPPLY + 'is_on = ["0"]', "supply.is_on", "do not tell on from off"),
        (SUPPLY + "is_off = []", "supply.is_on", "do not tell on from off"),
        (METER + 'accuracy = "good"', "function.volts_dc.accuracy", "is not a meter's error"),
        (METER + 'accuracy = "5 mA"', "function.volts_dc.accuracy", "is in A, and volts_dc is in V"),
        (METER + "range = [{ top = 0 }]", "function.volts_dc.range[1].top", "out of bounds"),
        (METER + "range = [{ top = 1 }, { top = 1 }]", "function.volts_dc.range", "names one top twice"),
        (
            METER + 'range = [{ top = 1, accuracy = "1 ohm" }]',
            "function.volts_dc.range[1].accuracy",
            "and volts_dc is in V",
        ),
        (METER + 'set_range = "R 1"', "function.volts_dc.set_range", "does not say which range"),
        (METER + 'set_range = "R {top}{range}"', "function.volts_dc.set_range", "placeholder"),
        (METER + 'set_up = ["F {frequency}"]', "function.volts_dc.set_up[1]", "placeholder"),
        (METER + "[reply]\nbeside = { dissipation = 2 }", "reply.beside", "are entries of a list"),
        (METER + "[reply]\nbeside = { D = 2 }", "reply.beside.D", "is nothing that comes beside"),
        (METER + '[reply]\nform = "list"\nbeside = { phase = 1 }', "reply.item", "is read from too"),
        (METER + '[reply]\nform = "list"\nstatus = { item = 2, good = [] }', "reply.status.good", "is empty"),
        (METER + '[reply]\nform = "frame"', "reply.frame", "is missing"),
        (
            METER + '[function.volts_dc.reply]\nform = "list"\nbeside = { dissipation = 2 }',
            "function.volts_dc.frequency",
            "is missing",
        ),
        (METER.replace("profile 1", "profile 2"), "file", "newer benchlog"),
    ],
)
def test_each_fault_names_its_key(text: str, place: str, word: str) -> None:
    found = faults(text)
    assert place in found
    assert word in found[place]


def test_a_persons_own_folder_comes_first(tmp_path: Path) -> None:
    (tmp_path / "scpi-multimeter.toml").write_text(METER.replace('"x"', '"mine"'), encoding="utf-8")
    assert find_profile("scpi-multimeter", [tmp_path / "absent", tmp_path]).name == "mine"
    assert find_profile("scpi-supply", [tmp_path]).name == "SCPI supply, two outputs"


@pytest.mark.parametrize(
    ("name", "fix"),
    [
        ("scpi-multimetre", 'did you mean "scpi-multimeter"?'),
        ("../../etc/passwd", "there are: "),
        ("zzz", "there are: "),
        ("", "there are: "),
    ],
)
def test_an_unknown_profile_is_said_with_the_nearest_one(name: str, fix: str) -> None:
    with pytest.raises(BadInput) as caught:
        find_profile(name)
    assert caught.value.fix.startswith(fix)
    assert caught.value.place == "profile"


def test_a_broken_profile_names_its_own_file(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("kind = ", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        find_profile("mine", [tmp_path])
    assert caught.value.place.startswith("mine.toml: line 1")


def test_profiles_can_be_compared() -> None:
    assert parse_profile(METER, "a.toml") == parse_profile(METER, "b.toml")
    assert isinstance(parse_profile(METER, "a.toml"), Profile)


COUNTS = """file = "benchlog profile 1"
name = "mine"
kind = "meter"
[function.volts_dc]
question = "READ?"
accuracy = "0.5%+2"
"""
RANGE = "[[function.volts_dc.range]]\ntop = 10\n"


def test_counts_of_a_last_digit_that_nobody_tells_are_refused() -> None:
    problem = '"0.5%+2" counts a last digit, which a reply of form "scpi" does not tell'
    assert faults(COUNTS) == {"function.volts_dc.accuracy": problem}
    assert faults(COUNTS + RANGE) == {"function.volts_dc.accuracy": problem}
    own = RANGE + 'accuracy = "0.5%+2"\n'
    assert "function.volts_dc.range[1].accuracy" in faults(COUNTS + own)


@pytest.mark.parametrize(
    "text",
    [
        COUNTS + RANGE + "resolution = 0.001\n",
        COUNTS.replace("+2", "+2@0.001"),
        COUNTS + '[reply]\nform = "decorated"\nunits = { "V DC" = { function = "volts_dc" } }\n',
    ],
)
def test_counts_of_a_last_digit_that_is_told_are_taken(text: str) -> None:
    assert parse_profile(text, "p.toml").functions[0] == "volts_dc"
