"""Lets no row pass without naming its source; how many there were is counted in `tests/conftest.py`."""

from collections.abc import Callable

import pytest
from helpers.outside import MARK, PROPERTY, Source


def pytest_configure(config: pytest.Config) -> None:
    """Make the mark known."""
    config.addinivalue_line("markers", f"{MARK}(source): a check value and the source it was taken from")


@pytest.fixture(autouse=True)
def _source_named(request: pytest.FixtureRequest, record_property: Callable[[str, object], None]) -> None:
    mark = request.node.get_closest_marker(MARK)
    if mark is None:
        pytest.fail("every check in tests/outside names its source: use helpers.outside.row", pytrace=False)
    source: Source = mark.args[0]
    record_property(PROPERTY, source.name)
