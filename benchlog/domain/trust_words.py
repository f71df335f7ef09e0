"""What trust says of a reading, in one sentence each."""


def fell(name: str, before: str, now: str, alone: str) -> str:
    """Something went to nothing by itself."""
    return f"{name} went from {before} to {now}{alone}: look whether its clip is off"


def one_side(name: str, stayed: str, other: str, to: str) -> str:
    """Of two sides one moved with the source."""
    return (
        f"{name} did not follow: {other} came to {to} with the source, and it stayed at {stayed};"
        " its meter stands still, its clip is off, or its trimmer is right down"
    )


def stays(name: str, stayed: str, source: float) -> str:
    """It has not moved although the source has."""
    return (
        f"{name} has stayed at {stayed} up to a source of {source:.4g} V: its meter stands still,"
        " its clip is off, or its trimmer is right down"
    )


def again_and_again(name: str) -> str:
    """A meter that repeats itself."""
    return f"{name} gives the very same reply again and again, and its replies differed before"


def by_a_thousand(name: str, before: str, now: str, alone: str) -> str:
    """Something went by a thousand by itself."""
    return (
        f"{name} went from {before} to {now}, a factor of 1000{alone and f',{alone}'}:"
        " look at the prefix its meter shows"
    )


def tell(count: int) -> bool:
    """The first time, the second, the fourth, the eighth: what goes on does not fill the list."""
    return count & (count - 1) == 0


def of_ranging(count: int) -> str:
    """What one reading far off is put down to, and how often it has been so."""
    return f"as a meter does while it changes range{often(count)}"


def often(count: int) -> str:
    """How often so far, where it is not the first time."""
    return "" if count == 1 else f", {count} times so far"
