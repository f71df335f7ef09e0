"""The hand as an off-switch: an alarm, a person, and the traces as the only proof."""

from typing import Protocol

from benchlog.domain.offproof import Finding
from benchlog.errors import BadInput
from benchlog.recorder.cut import Ask, Done, Evidence

LEAST_PATIENCE = 1.0


class Sound(Protocol):
    """What a hand needs of the alarm; neither call blocks."""

    def sound(self) -> None:
        """Begin."""

    def quiet(self) -> None:
        """End."""


class HandSwitch:
    """A person switches off when the alarm sounds; the run drills it at its lowest stage."""

    kind = "hand"
    automatic = False

    def __init__(self, name: str, *, player: str, sound: Sound) -> None:
        self.name = name
        self._player = player
        self._sound = sound

    def prove(self, ask: Ask) -> str:
        """Play the alarm and ask whether it was heard; the drill follows when the unit is on."""
        if self._player == "none":
            raise BadInput(
                self.name,
                "no player for the alarm was found, so that a hand alone is not proven",
                "install one (on Linux: pipewire, pulseaudio-utils or alsa-utils)",
            )
        self._sound.sound()
        try:
            heard = ask("heard_alarm", "The alarm plays now. Did you hear it?", {})
        finally:
            self._sound.quiet()
        if not heard:
            raise BadInput(self.name, "the alarm was not heard", "turn the loudspeaker up and prove again")
        return f"{self.name}: the alarm was heard; the hand is drilled at the lowest stage"

    def switch_on(self, done: Done) -> None:
        """The person does it, and is asked to by the stage machine."""
        done("")

    def fire(self) -> None:
        """Sound the alarm."""
        self._sound.sound()

    def confirm(self, evidence: Evidence) -> Finding:
        """Only the traces tell."""
        return evidence()

    def patience(self, rate: float) -> float:
        """A hand takes one to two seconds, and the rails two more to show it; then it is the plug."""
        return max(5.0 / rate, LEAST_PATIENCE)

    def close(self) -> None:
        """Nothing to let go of."""
