"""Check values from outside the project: each row of a table carries the source it was taken from.

A table is a list of `row(SOURCE, ...)` given to `pytest.mark.parametrize`. `tests/outside/conftest.py`
demands a source of every test there, `tests/conftest.py` prints how many distinct sources and values were checked.
"""

from dataclasses import dataclass
from typing import Any

import pytest
from _pytest.mark.structures import ParameterSet

MARK = "outside"
PROPERTY = "outside source"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a value was published; `follows` says that it is arithmetic on what was published there."""

    name: str
    follows: bool = False


COMMON_PRACTICE = Source("common practice, no source")
"""For defaults that nobody published: counted apart, since they check nothing from outside."""


def row(source: Source, *values: Any) -> ParameterSet:
    """One row of a table: the values of the test's parameters, and where they come from."""
    name = "-".join(str(value) for value in values)
    return pytest.param(*values, marks=getattr(pytest.mark, MARK)(source), id=name)
