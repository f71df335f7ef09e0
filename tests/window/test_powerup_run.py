"""One whole power-up from the window: a real recorder, a simulated board, nothing but keys."""

from collections.abc import Callable
from pathlib import Path

from helpers.live_bench import live_bench
from helpers.near import bench_text
from helpers.plans import short_plan
from helpers.powerup_rig import window_of
from pytestqt.qtbot import QtBot

from benchlog.instruments import bench as benches
from benchlog.store import query
from benchlog.window.keys import Action
from benchlog.window.powerup_page import PowerUpPage
from benchlog.window.run_view import Phase
from benchlog.window.work import Work

SPEED = 10.0
HANG = 60_000


def test_a_board_is_proven_armed_and_taken_up_to_the_end_by_keys(
    make_work: Callable[..., Work], qtbot: QtBot
) -> None:
    work = make_work(recorder=True)
    runner = work.runner
    runner.rate = SPEED
    page = PowerUpPage(work)
    window = window_of(page)
    qtbot.addWidget(window)
    window.resize(1240, 750)
    window.show()
    refused: list[str] = []
    runner.refused.connect(lambda error: refused.append(str(error)))
    with live_bench("board", speed=SPEED) as far:
        text = bench_text(far, "board")
        runner.know_bench(benches.parse(text, "bench.toml"))
        with qtbot.waitSignal(runner.bench_opened, timeout=HANG):
            runner.open_bench(text, "bench.toml", [])
        page._load(short_plan("board", stages=2, dwell=3.0, tail=3.0), "plan.toml")
        qtbot.waitUntil(lambda: runner.view.phase is Phase.CHECKED, timeout=HANG)
        keep_going(page, qtbot, lambda: runner.view.phase is Phase.OFF)
        assert runner.view.off_reason == "all stages done"
        qtbot.waitUntil(lambda: _told(page, "bench supply: "), timeout=HANG)
        qtbot.waitUntil(lambda: runner.view.phase is Phase.CLOSED, timeout=HANG)
        page.refresh()
        # What its supply reads is no old news after the close.
        read = runner.view.live["raw + volts"].seq
        qtbot.waitUntil(lambda: runner.view.live["raw + volts"].seq > read + 10, timeout=HANG)
    assert page.card.call.text == "The run went through: 2 of 2 stages."
    assert [rung.known.split()[0] for rung in page.ladder.rungs] == ["seen", "seen"]
    assert refused == []
    whole_graph(page, Path(runner.view.session))


def keep_going(page: PowerUpPage, qtbot: QtBot, over: Callable[[], bool]) -> None:
    """Press Enter whenever the card offers something to do; an act asked for waits for what comes of it.

    Pressed again before the recorder has answered, Enter would ask for the same stage twice, and rightly be refused.
    """
    runner = page.work.runner
    asked: list[object] = []
    act = runner.act

    def stands() -> object:
        stage = runner.view.stage
        return runner.view.phase, stage and (stage.index, stage.state)

    def ask(what: str) -> None:
        asked[:] = [stands()]
        act(what)

    runner.act = ask  # type: ignore[method-assign]

    def pressed() -> bool:
        enter = page.card.call.enter
        if enter and not enter.startswith("early") and stands() not in asked:
            page.act(Action.GO)
        return over()

    qtbot.waitUntil(pressed, timeout=HANG)


def whole_graph(page: PowerUpPage, session: Path) -> None:
    """Whatever the graph shows of the run is in its file."""
    numbers = {row.name: row.id for row in query.traces(session)}
    for line in page.desk.graph.scene.lines:
        drawn = len(page.desk.graph.series(line.name))
        assert 0 < drawn <= len(query.readings(session, numbers[line.name]))


def _told(page: PowerUpPage, begins: str) -> bool:
    return any(line.text.startswith(begins) for line in page.desk.waits.lines)
