"""Whether a window could open here; asked before anything of Qt is loaded, which ends the process where it cannot."""

import os
import sys

_SAID_BY = ("WAYLAND_DISPLAY", "DISPLAY", "QT_QPA_PLATFORM")


def there() -> bool:
    """Tell whether there is a display, or something named in its place."""
    if sys.platform in ("win32", "darwin"):
        return True
    return any(os.environ.get(name) for name in _SAID_BY)
