"""How rules word numbers and lists in their messages."""

from cfgaudit.units import number_text


def grouped(value: float) -> str:
    """A number that is not negative, to two decimals, its thousands set apart: 57,600.

    >>> grouped(57600.0), grouped(256.25)
    ('57,600', '256.25')
    """
    whole, point, decimals = number_text(round(value, 2)).partition(".")
    return f"{int(whole):,}{point}{decimals}"


def listed(names: list[str]) -> str:
    """Names in a row: `a`, `a and b`, `a, b and c`."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
