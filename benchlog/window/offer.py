"""What a window is opened on, such as the simulated bench's own files."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Offer:
    """Files offered first on each page, as texts and the names they are shown by, and a sentence to begin with.

    `beside` is how many pixels at the right of the screen another window needs.
    """

    bench_text: str = ""
    bench_name: str = ""
    plan_text: str = ""
    plan_name: str = ""
    unit_text: str = ""
    unit_name: str = ""
    note: str = ""
    beside: int = 0
