"""The catalogue of the overlay's elements: elements.toml, read once."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import NamedTuple


class ElementKind(NamedTuple):
    """One element that can be written over the picture.

    `example` is as wide as the element gets; `height` counts rows. `tells` is what it tells the
    pilot of that is vital (voltage, time, warning), `reads` what it is read from (voltage,
    current, position, height, heading, level); both are empty where there is nothing to say.
    """

    name: str
    example: str
    height: int = 1
    tells: str = ""
    reads: str = ""

    @property
    def width(self) -> int:
        """How many characters it takes."""
        return len(self.example)


@cache
def element_kinds() -> Mapping[str, ElementKind]:
    """Every element of the catalogue by its name, in the file's order.

    >>> element_kinds()["cell_voltage"].width
    6
    """
    text = Path(__file__).with_name("elements.toml").read_text(encoding="utf-8")
    return {name: ElementKind(name, **entry) for name, entry in tomllib.loads(text).items()}
