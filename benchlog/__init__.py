"""benchlog: a bench-measurement logger for restoring old audio power electronics."""

__version__ = "0.1.0"
