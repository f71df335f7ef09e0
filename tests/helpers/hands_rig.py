"""The Parts page hands-free, on a recorder that takes what is ahead as a test says."""

from helpers.parts_rig import FakeRig

from benchlog.domain.handsfree import Tips
from benchlog.recorder.client import messages


class HandsRig(FakeRig):
    """The page with a recorder that takes what is ahead as a test says."""

    def ahead(self) -> list[str]:
        """The designators that were sent ahead last."""
        request = self.link.of(messages.Ahead)[-1]
        assert isinstance(request, messages.Ahead)
        return [part.designator for part in request.parts]

    def part(self, designator: str) -> messages.Part:
        """A part as it was sent ahead last."""
        found = [
            part
            for request in self.link.of(messages.Ahead)
            if isinstance(request, messages.Ahead)
            for part in request.parts
            if part.designator == designator
        ]
        return found[-1]

    def reading_of(self, designator: str, value: float | None, **more: object) -> messages.Taken:
        part = self.part(designator)
        return messages.Taken(
            reading=part.reading,
            designator=designator,
            part=part.part,
            job="parts meter",
            function=part.function,
            outcome="ok" if value is not None else "overload",
            value=value,
            unit={"ohms": "ohm", "diode": "V"}.get(part.function, "F"),
            raw=str(value),
            utc="2026-01-01T10:00:00.000Z",
            **more,  # type: ignore[arg-type]
        )

    def take(self, designator: str, value: float | None, **more: object) -> messages.Taken:
        """Let the recorder take a part, and wait until the library has it."""
        taken = self.reading_of(designator, value, **more)
        self.link.say(taken)
        self.until(lambda: taken.reading in self.kept())
        return taken

    def tips(self, tips: Tips, designator: str, why: str = "", held: messages.Taken | None = None) -> None:
        """Let the recorder tell what the tips do."""
        self.link.say(
            messages.Hands(
                job="parts meter",
                tips=tips.value,
                reading=self.part(designator).reading,
                designator=designator,
                why=why,
                held=held,
            )
        )

    @property
    def word(self) -> str:
        """The large word."""
        return self.page.tips.said.word

    @property
    def last(self) -> tuple[str, str]:
        """What stands of the part that was taken last."""
        result = self.page.current.result
        return result._word.accessibleName(), result._sentence.text()

    def presses(self) -> list[tuple[str, str]]:
        return [
            (request.reading, request.what)
            for request in self.link.of(messages.Press)
            if isinstance(request, messages.Press)
        ]
