"""The mouth: which engine speaks, in which language, and what is told where none can."""

from PySide6.QtCore import QLocale

from benchlog.window.sounder import BRISK, Mouth


class State:
    """An engine's state, as Qt names it."""

    def __init__(self, name: str) -> None:
        self.name = name


class Engine:
    """A speech engine that is as a test wants it."""

    def __init__(self, name: str, state: str, *languages: QLocale.Language) -> None:
        self.name, self.now, self.error = name, state, f"{name} is\nbroken"
        self.languages = [QLocale(language) for language in languages or (QLocale.Language.English,)]
        self.spoken = self.languages[0]
        self.rate = 0.0
        self.did: list[str] = []

    def state(self) -> State:
        return State(self.now)

    def errorString(self) -> str:  # noqa: N802
        return self.error

    def locale(self) -> QLocale:
        return self.spoken

    def availableLocales(self) -> list[QLocale]:  # noqa: N802
        return self.languages

    def setLocale(self, locale: QLocale) -> None:  # noqa: N802
        self.spoken = locale

    def setRate(self, rate: float) -> None:  # noqa: N802
        self.rate = rate

    def say(self, text: str) -> None:
        self.did.append(text)

    def stop(self) -> None:
        self.did.append("stop")


def mouth_of(*engines: Engine) -> tuple[Mouth, list[str]]:
    told: list[str] = []
    there = {engine.name: engine for engine in engines}
    mouth = Mouth(told.append, list(there), there.__getitem__)
    mouth.look()
    return mouth, told


def test_the_first_engine_that_works_speaks_briskly() -> None:
    bad, good = Engine("bad", "Error"), Engine("good", "Ready")
    mouth, told = mouth_of(bad, good)
    mouth.obey("say", "R 107.")
    mouth.obey("stop", "")
    mouth.obey("dance", "")
    assert told == ["yes"]
    assert (bad.did, good.did) == ([], ["stop", "R 107.", "stop"])
    assert good.rate == BRISK


def test_where_every_engine_fails_the_first_says_why_and_nothing_is_raised() -> None:
    first = Engine("first", "Error")
    mouth, told = mouth_of(first, Engine("second", "Error"))
    mouth.obey("say", "R 107.")
    mouth.look()
    assert told == ["no first is broken"]
    assert not first.did


def test_an_engine_that_fails_without_a_word_is_told_too() -> None:
    engine = Engine("first", "Error")
    engine.error = ""
    assert mouth_of(engine)[1] == ["no the voice failed"]


def test_no_engine_at_all_is_told() -> None:
    mouth, told = mouth_of()
    mouth.obey("say", "R 107.")
    assert told == ["no no voice is installed"]


def test_an_engine_may_need_a_while_and_may_fail_later() -> None:
    engine = Engine("slow", "Error")
    mouth, told = mouth_of(engine)
    for state in ("Ready", "Speaking", "Synthesizing", "Ready", "Error"):
        engine.now = state
        mouth.look()
    assert told == ["no slow is broken", "yes", "speaking", "yes", "no slow is broken"]


def test_english_is_spoken_where_the_system_speaks_something_else() -> None:
    languages = QLocale.Language
    engine = Engine("many", "Ready", languages.German, languages.French, languages.English)
    mouth_of(engine)
    assert engine.spoken.language() == languages.English
    only = Engine("one", "Ready", languages.German)
    mouth_of(only)
    assert only.spoken.language() == languages.German
