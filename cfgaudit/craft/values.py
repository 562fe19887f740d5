"""What a setting's value can be, once it is understood: frozen, comparable, in stated units."""

from typing import NamedTuple


class SwitchRange(NamedTuple):
    """A function is on while this channel (from 1) lies within low..high, in microseconds."""

    channel: int
    low: float
    high: float

    def meets(self, other: "SwitchRange") -> bool:
        """Whether some position of one channel lies in both."""
        return self.channel == other.channel and self.low <= other.high and other.low <= self.high


class Filter(NamedTuple):
    """One filter stage: its kind, its cutoff or centre in Hz, and its quality for a notch."""

    kind: str
    cutoff: float
    q: float = 0.0


Value = (
    bool
    | int
    | float
    | str
    | frozenset[str]
    | tuple[SwitchRange, ...]
    | tuple[Filter, ...]
    | tuple[float, ...]
)
