"""Text from a dump is data: what could act on a terminal is shown escaped, never sent."""

from cfgaudit.reading.safe import safe

__all__ = ["safe", "safe_lines"]


def safe_lines(text: str) -> str:
    """As `safe`, keeping the line ends of a text that is ours."""
    return "\n".join(safe(line) for line in text.split("\n"))
