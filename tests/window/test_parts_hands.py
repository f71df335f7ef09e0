"""Hands-free on the Parts page: what is sent ahead, what is shown and said, what the keys do meanwhile."""

import math
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.hands_rig import HandsRig
from helpers.live_bench import LiveBench, live_bench
from helpers.near import bench_text
from helpers.parts_rig import PartsRig, open_real_bench, unit_file
from helpers.technician import Landing, take_part
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog import resources, textfile
from benchlog.domain.handsfree import Tips
from benchlog.domain.unit import UnitFile
from benchlog.errors import BadInput
from benchlog.recorder.client import messages
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.parts_in_hand import VOLTS_ONLY
from benchlog.window.parts_numeral import Mood
from benchlog.window.run_view import Phase
from benchlog.window.shapes import Shape
from benchlog.window.work import Work

Make = Callable[..., Work]


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[HandsRig]:
    made = HandsRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.open_bench()
    yield made
    made.close()


@pytest.fixture
def free(rig: HandsRig) -> HandsRig:
    rig.go("R106")
    rig.press("~")
    return rig


def test_a_key_and_the_pad_begin_and_end_it_and_the_parts_to_do_are_sent_ahead(rig: HandsRig) -> None:
    rig.go("R106")
    assert rig.page.tips.isHidden()
    rig.press(".\n")
    assert rig.ahead() == ["R106", "R107", "C204", "D201", "R201", "R206", "R207", "C104", "D101", "R101"]
    assert not rig.page.tips.isHidden()
    assert rig.word == "lift"
    part = rig.part("R106")
    assert (part.function, part.over, part.by_key) == ("ohms", False, False)
    assert part.near is not None
    assert part.near[0] == (pytest.approx(4700 / 3), pytest.approx(4700 * 3))
    rig.press("~")
    assert rig.ahead() == []
    assert rig.page.tips.isHidden()
    assert rig.page.hand.sentence == "Hands-free is off."
    rig.qtbot.mouseClick(rig.page._free, Qt.MouseButton.LeftButton)
    assert rig.page.hand.hands_free


def test_what_the_tips_do_stands_large_and_a_contact_cuts_speech_off(free: HandsRig) -> None:
    free.tips(Tips.AIR, "R106")
    assert (free.word, free.page.tips.said.what) == ("in the air", "touch R106; if it is open, Enter")
    hushed = free.ear.pointed.count("")
    free.tips(Tips.CONTACT, "R106")
    assert free.word == "contact"
    assert free.ear.pointed.count("") == hushed + 1
    free.tips(Tips.SETTLING, "R106")
    assert free.word == "settling"
    free.tips(Tips.LIFT, "R107")
    free.take("R106", 4683.0)
    assert (free.word, free.page.tips.said.what) == ("taken", "lift, then R107")
    assert free.page.tips.said.shape is Shape.GOOD
    assert free.last == ("R106 within", "4.683 kΩ.")
    free.tips(Tips.AIR, "R107")
    assert free.word == "in the air"
    free.tips(Tips.LIFT, "R107")
    assert free.word == "lift"
    assert free.page.tips.accessibleName() == "hands-free: lift, then touch R107"


def test_while_a_contact_comes_to_rest_the_numeral_follows_the_meter(free: HandsRig) -> None:
    def reads(value: float) -> str:
        batch = messages.Batch("parts meter", [(1, 0, value, "ok")])
        free.link.say(messages.Readings(batches=[batch]))
        return free.page.current.numeral.face.number

    free.tips(Tips.AIR, "R106")
    assert reads(9e37) == "— — —"
    free.tips(Tips.SETTLING, "R106")
    assert reads(4655.0) == "4.655"
    assert free.page.current.numeral.face.mood is Mood.WAITING


def test_what_was_skipped_comes_last(free: HandsRig) -> None:
    free.press("/")
    assert free.ahead()[0] == "R107"
    assert free.ahead()[-1] == "R106"


def test_a_part_taken_goes_on_to_the_next_with_one_tone_and_its_name_said_once(free: HandsRig) -> None:
    free.take("R106", 4683.0)
    assert free.here == "R107"
    assert free.ear.heard == [("result", "within", "4.683 kΩ", "", "R107")]
    assert "R107" not in free.ear.pointed
    assert free.ahead()[:2] == ["R107", "C204"]
    assert "R106" not in free.ahead()
    (kept,) = free.stored()
    assert (kept.reading.value, kept.reading.conditions.circuit) == (4683.0, "in circuit")


def test_readings_that_come_while_the_window_was_busy_all_go_to_their_parts(free: HandsRig) -> None:
    for one in (free.reading_of("R106", 4683.0), free.reading_of("R107", 10.1)):
        free.link.say(one)
    free.until(lambda: free.reads("R106") == free.reads("R107") == "within")
    free.until(lambda: free.here == "C204")
    assert free.ahead()[0] == "C204"


def test_the_other_side_explains_a_reading_far_off_before_it_is_held(free: HandsRig) -> None:
    free.take("R106", 900.0, looked=True)
    near = free.part("R206").near
    assert near is not None
    assert any(low is not None and high is not None and low <= 905.0 <= high for low, high in near)


def test_a_held_reading_is_shown_and_a_key_keeps_or_drops_it(free: HandsRig) -> None:
    free.tips(Tips.LIFT, "R106", held=free.reading_of("R106", 12.0))
    assert free.word == "look?"
    assert free.page.tips.said.what == "touch it again, or Enter keeps it"
    assert free.page.current.result._sentence.text() == "12 Ω where 4k7 5% is wanted."
    assert free.page.tips.said.shape is Shape.DOUBT
    assert free.page.current.numeral.face.number == "12"
    assert free.page.current.caps.caps[Action.GO].accessibleName() == "keep it (Enter)"
    assert free.ear.heard == [("look",)]
    free.press("\n")
    free.press("-")
    id_ = free.part("R106").reading
    assert free.presses() == [(id_, "take"), (id_, "drop")]
    free.link.refuse(messages.Press, BadInput("hands-free", "another part is at hand by now", "look"))
    assert free.page.hand.sentence == "hands-free: another part is at hand by now; look."
    free.tips(Tips.CONTACT, "R106", held=free.reading_of("R106", 12.0))
    assert free.word == "contact"
    assert free.ear.heard.count(("look",)) == 1
    free.tips(Tips.AIR, "R106")
    assert free.page.hand.hands_held is None
    free.take("R106", 12.0, looked=True)
    assert free.reads("R106") == "lift a leg"
    assert free.page.hand.held is None


def test_what_the_recorder_let_pass_and_is_far_off_all_the_same_is_held_here(free: HandsRig) -> None:
    free.link.say(free.reading_of("R106", 12.0))
    assert free.page.hand.held is not None
    assert free.ahead() == []
    assert free.reads("R106") == "to do"


def test_a_pedal_takes_skips_and_takes_back(free: HandsRig) -> None:
    free.page.tread("take")
    assert free.presses() == [(free.part("R106").reading, "take")]
    free.page.tread("skip")
    assert free.here == "R107"
    assert free.ahead()[0] == "R107"
    free.take("R107", 10.0)
    free.page.tread("undo")
    free.until(lambda: free.reads("R107") == "to do")
    assert free.here == "R107"
    assert free.ahead()[0] == "R107"


def test_the_last_few_are_taken_back_by_the_same_key_and_come_again(free: HandsRig) -> None:
    for part, value in (("R106", 4700.0), ("R107", 10.0), ("C204", 1e-7)):
        free.take(part, value)
    first = free.part("R107").reading
    free.press("--")
    free.until(lambda: free.here == "R107" and free.reads("R107") == "to do")
    assert free.ahead()[:2] == ["R107", "C204"]
    assert free.part("R107").reading != first
    free.take("R107", 10.1)
    assert free.here == "C204"


def test_a_resistor_high_on_a_dead_board_is_wanted_turned_round_before_the_next(free: HandsRig) -> None:
    free.qtbot.mouseClick(free.page._boards, Qt.MouseButton.LeftButton)
    free.until(lambda: free.page.hand.dead_board)
    forward = free.take("R106", 6000.0)
    assert free.here == "R106"
    assert free.ahead()[:2] == ["R106", "R107"]
    assert free.ear.heard[-1][-1] == "R106 turned round"
    assert free.part("R106").reading != forward.reading
    assert free.page.hands.said.what == "then touch R106, leads turned round"
    free.take("R106", 6010.0)
    assert free.reads("R106") == "high"
    assert free.here == "R107"


def test_a_creeping_reading_is_shown_with_where_it_is_heading(free: HandsRig) -> None:
    free.tips(Tips.LIFT, "R107")
    free.take("R106", 4100.0, settled=False, beside={"heading": 4683.0})
    assert free.last == ("R106 will not settle", "4.1 kΩ, rising, heading for 4.68 kΩ.")
    (kept,) = free.stored()
    assert dict(kept.reading.beside) == {"heading": 4683.0}
    assert free.ear.heard[-1][2:] == ("4.1 kΩ, rising, heading for 4.68 kΩ", "", "R107")
    free.press("^")
    assert free.page.current.result._sentence.text() == (
        "It had not come to rest: rising, heading for 4.68 kΩ."
    )
    free.press("v")
    free.take("R107", 11.0, settled=False)
    assert free.last[1] == "11 Ω: it does not stand still, and nothing tells where it is heading."


def test_what_ails_the_meter_is_said_and_shown(free: HandsRig) -> None:
    free.tips(Tips.WRONG, "R106", why="volts_dc")
    assert free.word == "wrong function"
    assert free.page.tips.said.what == "the meter is on volts DC, R106 wants ohms"
    free.tips(Tips.SILENT, "R106")
    assert free.word == "meter silent"
    assert free.ear.heard == [("refused", "wrong function"), ("refused", "meter silent")]
    free.tips(Tips.KEY, "R106")
    assert free.word == "Enter takes"


def test_a_typed_reading_goes_on_as_well_and_the_next_is_ahead(free: HandsRig) -> None:
    free.press("4.68\n")
    free.until(lambda: free.here == "R107")
    assert free.ahead()[0] == "R107"
    assert free.reads("R106") == "within"


def test_a_part_gone_to_again_is_read_once_more_and_then_it_goes_on(free: HandsRig) -> None:
    free.take("R106", 4700.0)
    free.press("^")
    assert free.here == "R106"
    assert free.ahead()[:2] == ["R106", "R107"]
    free.take("R106", 4710.0)
    assert free.here == "R107"


def test_it_ends_where_the_recorder_refuses_or_tells_so_and_where_the_unit_goes_live(free: HandsRig) -> None:
    free.link.refuse(messages.Ahead, BadInput("hands-free", "is not possible", "try again"))
    assert not free.page.hand.hands_free
    assert free.page.hand.sentence == "hands-free: is not possible; try again."
    free.press("~")
    free.link.say(messages.Hands(job="parts meter", tips="nothing ahead", why="take: a run is open."))
    assert not free.page.hand.hands_free
    assert free.page.hand.sentence == "take: a run is open."
    free.press("~")
    free.work.runner._to(Phase.LIVE)
    assert not free.page.hand.hands_free
    assert free.ahead() == []
    assert free.page.hand.sentence == VOLTS_ONLY
    free.press("~")
    assert not free.page.hand.hands_free
    assert free.page.hand.sentence == "The unit is live: only volts are read now, and R106 wants ohms."


def test_another_meter_or_unit_in_hand_ends_it(free: HandsRig) -> None:
    free.qtbot.mouseClick(free.page.current.meter, Qt.MouseButton.LeftButton)
    assert not free.page.hand.hands_free
    free.press("~")
    assert free.page.hand.hands_free
    free.work.shelf.choose(None, None)
    free.until(lambda: not free.page.hand.hands_free)
    assert free.ahead() == []


def test_without_a_meter_it_does_not_begin(qtbot: QtBot, look: Look, tmp_path: Path) -> None:
    made = HandsRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.press(".\n")
    assert not made.page.hand.hands_free
    assert made.page.hand.sentence.startswith("No walking meter is on the bench")
    made.close()


def test_what_wants_more_than_two_probes_is_left_to_the_hand_and_nothing_is_taken_for_others(
    qtbot: QtBot, look: Look, tmp_path: Path
) -> None:
    made = HandsRig(qtbot, look, tmp_path / "library")
    made.bring(unit_file((("Only", ("R1 4k7 5%", "C5 10u 20%", "R9 10k 5%")),)))
    made.open_bench()
    made.line("C5 esr")
    made.until(lambda: made.here == "C5 esr")
    made.press("~")
    assert not made.link.of(messages.Ahead)
    assert made.word == "by hand"
    made.press("/")
    assert made.ahead()[0] == "R1"
    assert "C5 esr" not in made.ahead()
    made.close()


def test_a_page_that_is_left_takes_nothing_any_more(free: HandsRig) -> None:
    free.page.left()
    assert not free.page.hand.hands_free
    assert free.ahead() == []


def test_on_a_low_page_the_tips_take_the_room_of_the_overview(free: HandsRig) -> None:
    free.resize(600, 600)
    assert free.page.strip.isHidden()
    assert free.page.tally.isHidden()
    free.press("~")
    assert not free.page.strip.isHidden()
    assert not free.page.tally.isHidden()


def test_after_the_last_part_nothing_is_ahead(qtbot: QtBot, look: Look, tmp_path: Path) -> None:
    made = HandsRig(qtbot, look, tmp_path / "library")
    made.bring(unit_file((("Only", ("R1 4k7 5%",)),)))
    made.open_bench()
    made.press(".\n")
    made.take("R1", 4700.0)
    assert made.ahead() == []
    assert made.word == "done"
    assert made.page.hand.sentence == "Every part of this round is read."
    made.close()


# --- the whole way ---------------------------------------------------------------------------------


SIX = 6


def test_a_board_is_taken_by_hands_alone_on_a_real_recorder(qtbot: QtBot, make_work: Make) -> None:
    work = make_work(recorder=True)
    rig = PartsRig(qtbot, work)
    rig.bring(textfile.read(resources.path("examples", "board", "unit.toml"), UnitFile))
    with live_bench("board", speed=20.0, seed=2) as bench:
        work.runner.rate = 20.0
        open_real_bench(rig, bench_text(bench, "board"))
        rig.page.hand.go(0)
        rig.press("~")
        book, on = rig.page.hand.book, dict[str, str]()
        slipped = False
        while book.done < SIX or rig.page.hand.turn is not None:
            at = book.rows[rig.page.hand.at]
            landing = _take(rig, bench, at.at)
            slipped = slipped or landing.slipped
            on.setdefault(at.designator, landing.on[-1])
        assert slipped
        for row in book.rows:
            if row.kept is None:
                continue
            assert row.kept.reading.job == "parts meter"
            # A neighbour of much the same value cannot be told from it: that is mended by hand.
            part = bench.bench.truth.parts[on[row.designator]]
            true = max(part.ohms, part.farads, part.forward)
            assert row.kept.reading.value == pytest.approx(true, rel=0.02, abs=0.13 if true > 1 else 0.0)


def _take(rig: PartsRig, bench: LiveBench, at: int) -> Landing:
    """Let the technician take the part at hand, turned round where that is asked for; where he landed."""
    row, turned = rig.page.hand.book.rows[at], rig.page.hand.turn == at
    look = {"ohms": "RES", "ohms_4w": "FRES", "diode": "DIOD"}.get(row.line.part.measured_with.value, "CAP")

    def taken() -> bool:
        rig.qtbot.wait(1)
        return (row.turned if turned else row.kept) is not None

    landing = take_part(
        bench,
        row.designator,
        taken=taken,
        held=lambda: rig.page.hand.hands_held is not None,
        reads_air=lambda: math.isinf(bench.bench.probes.look(look)),
        key=lambda: rig.press("\n"),
        side="reverse" if turned else "",
        slips=0.3,
        bounces=0.4,
    )
    hand = rig.page.hand
    rig.until(lambda: hand.at != at or hand.turn == at)
    return landing
