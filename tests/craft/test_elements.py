import pytest

from cfgaudit.physics.video import Box, fits, grid
from cfgaudit.vocabulary.dump import element_kinds
from tests.audit.seeding import GOLDEN, settings_of

SOURCES = {"", "voltage", "current", "position", "height", "heading", "level"}


def test_an_element_is_as_wide_as_its_example() -> None:
    """Hand calculation: `4.20 V` is six characters; the horizon is nine wide and five high."""
    kinds = element_kinds()
    assert (kinds["cell_voltage"].width, kinds["cell_voltage"].height) == (6, 1)
    assert (kinds["horizon"].width, kinds["horizon"].height) == (9, 5)


@pytest.mark.parametrize("name", element_kinds())
def test_an_element_fits_the_smaller_picture_and_says_known_words(name: str) -> None:
    kind = element_kinds()[name]
    assert fits(Box(1, 1, kind.width, kind.height), grid("ntsc"))
    assert kind.tells in {"", "voltage", "time", "warning"}
    assert kind.reads in SOURCES


@pytest.mark.parametrize("dump", GOLDEN)
def test_the_catalogue_has_every_element_of_the_demo_craft(dump: str) -> None:
    stated = set(settings_of(dump).below("overlay.elements"))
    assert len(stated) >= 10
    assert stated <= set(element_kinds())
