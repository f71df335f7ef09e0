"""Tool tips of texts that stand in files or were typed. No Qt."""

import html


def tip(text: str) -> str:
    """A text as a tool tip: Qt takes what looks like markup for markup, and this shows it as it is."""
    return f"<p>{html.escape(text)}</p>" if "<" in text or "&lt;" in text else text
