"""A sounder that is not there: keeps what it was asked for, and is heard or not as a test wants."""

from benchlog.window.sounder_link import SounderLink


class SilentLink(SounderLink):
    """Stands in for a sounder's process; `asked` holds what it was told."""

    def __init__(self, what: str, *, heard: bool = True) -> None:
        super().__init__(what, ["false"])
        self.asked: list[str] = []
        self.hear("yes" if heard else "no no voice is installed")

    def hear(self, line: str) -> None:
        """Take a line as if the process had sent it."""
        self._hear(line)

    def open(self) -> None:
        """Start nothing."""
        self.asked.append("open")

    def close(self) -> None:
        """End nothing."""
        self.asked.append("close")

    def tell(self, what: str, text: str = "") -> bool:
        """Keep it, where it could be heard."""
        if self.available:
            self.asked.append(f"{what} {text}".strip())
        return self.available
