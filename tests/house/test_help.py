"""What the help pages say is what the grammars say."""

import grammar_help
import pytest


@pytest.mark.parametrize("name", sorted(grammar_help.pages()))
def test_the_page_is_up_to_date(name: str) -> None:
    said = (grammar_help.HELP / name).read_text(encoding="utf-8")
    assert said == grammar_help.pages()[name], "run: python3 scripts/grammar_help.py"
