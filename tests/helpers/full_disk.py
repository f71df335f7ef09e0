"""A disk without room, for the length of a block: the system itself refuses to let any file grow."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

if sys.platform != "win32":
    import resource

needs_limits = pytest.mark.skipif(sys.platform == "win32", reason="file size limits are POSIX")


@contextmanager
def disk_full() -> Iterator[None]:
    """No file of this process can grow; what is there can be read."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
