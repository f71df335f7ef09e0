"""What a good run has shown is told for a source like that one's, and for no other."""

import pytest
from helpers.watched import HALL, LAMP, MAINS, MINUS, PLUS, plan_of

from benchlog.domain.reference import (
    LAMP_MOST,
    Reference,
    Stood,
    most_on_lamp,
    of_run,
    same_source,
    table_share,
)

AMPS = "name='mains current', role='mains_amps'"
RUN = Reference(
    "2026-03-12",
    (Stood(92.0, 100.0, 5.0, 0.05, {"+B": 16.0}), Stood(230.0, 100.0, 20.0, 0.2, {"+B": 40.0})),
)


def test_it_is_named_by_its_day() -> None:
    assert RUN.called == "the run of 12 March 2026"


class TestRails:
    """By what is left to the unit where that is known, else by what is applied."""

    def test_at_a_stage_it_is_what_was_read(self) -> None:
        assert RUN.rail("+B", 230.0, 20.0, 100.0) == pytest.approx(40.0)

    def test_between_two_stages_it_is_the_line(self) -> None:
        assert RUN.rail("+B", 168.5, 20.0, 100.0) == pytest.approx(28.0)

    def test_near_the_end_it_goes_in_proportion(self) -> None:
        assert RUN.rail("+B", 241.0, 20.0, 100.0) == pytest.approx(40.0 * 221.0 / 210.0)

    def test_where_the_lamp_takes_more_the_rail_is_expected_lower(self) -> None:
        rail = RUN.rail("+B", 230.0, 60.0, 100.0)
        assert rail is not None
        assert rail < 35.0

    def test_with_the_lamp_unmetered_it_goes_by_what_is_applied(self) -> None:
        assert RUN.rail("+B", 230.0, None, 100.0) == pytest.approx(40.0)

    @pytest.mark.parametrize(
        ("name", "applied", "watts"),
        [("+B", 40.0, 100.0), ("+B", 300.0, 100.0), ("-B", 230.0, 100.0), ("+B", 230.0, 60.0)],
    )
    def test_far_from_any_stage_or_behind_another_lamp_it_tells_nothing(
        self, name: str, applied: float, watts: float
    ) -> None:
        assert RUN.rail(name, applied, 0.0, watts) is None


class TestLamp:
    """The healthy share comes from the run, else from the lamp's watts with twice the room."""

    def test_from_the_run(self) -> None:
        assert most_on_lamp(RUN, 230.0, 100.0, 0.12) == pytest.approx(20.0 / 230.0 + 0.12)

    def test_near_a_stage_the_share_is_that_stages(self) -> None:
        assert RUN.lamp_share(240.0, 100.0) == pytest.approx(20.0 / 230.0)

    @pytest.mark.parametrize("reference", [None, Reference("2026-03-12", ())])
    def test_else_from_the_watts(self, reference: Reference | None) -> None:
        assert most_on_lamp(reference, 230.0, 100.0, 0.12) == pytest.approx(0.35)
        assert most_on_lamp(reference, 230.0, 60.0, 0.12) == pytest.approx(0.46)

    @pytest.mark.parametrize("watts", [25.0, 40.0])
    def test_never_above_three_fifths(self, watts: float) -> None:
        assert most_on_lamp(None, 230.0, watts, 0.12) == LAMP_MOST

    def test_a_larger_lamp_than_the_table_has_goes_by_its_last_row(self) -> None:
        assert table_share(200.0) == 0.06


class TestOfRun:
    """From what each trace read at the end of each stage."""

    def test_every_stage_with_what_was_metered(self) -> None:
        plan = plan_of(MAINS, LAMP, PLUS, MINUS, AMPS)
        read = {"mains": 231.0, "lamp": 20.0, "+B": 40.0, "-B": -39.5, "mains current": 0.2}
        found = of_run(plan, "2026-03-12", {1: read, 0: {"+B": 15.9}})
        assert found == Reference(
            "2026-03-12",
            (
                Stood(92.0, 100.0, None, None, {"+B": 15.9}),
                Stood(231.0, 100.0, 20.0, 0.2, {"+B": 40.0, "-B": 39.5}),
            ),
        )

    @pytest.mark.parametrize("stages", [{}, {0: {}}, {0: {"mains": 230.0}}])
    def test_a_run_that_read_nothing_of_it_tells_nothing(self, stages: dict[int, dict[str, float]]) -> None:
        assert of_run(plan_of(MAINS, LAMP, PLUS), "2026-03-12", stages) is None

    def test_amps_behind_a_lamp(self) -> None:
        assert RUN.amps(230.0, 100.0) == pytest.approx(0.2)
        assert RUN.amps(230.0, 0.0) is None


@pytest.mark.parametrize(
    ("other", "same"),
    [
        (HALL, True),
        (HALL.replace("230.0", "240.0"), True),
        (HALL.replace("230.0", "115.0"), False),
        (HALL.replace("100.0", "60.0"), False),
        (HALL.replace("'wall', 'lamp'", "'wall', 'isolation', 'lamp'"), False),
    ],
)
def test_one_chain_one_lamp_one_mains(other: str, same: bool) -> None:
    assert same_source(plan_of(PLUS), plan_of(PLUS, source=other)) is same
