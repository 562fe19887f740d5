"""Pictures in text."""

import re

import pytest

from cfgaudit.cli.show import PICTURES as NAMES
from cfgaudit.craft.craft import Craft
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.text_pictures import PICTURES, draw_picture
from tests.cli.calling import call
from tests.pictures.crafts import corpus_craft, corpus_sheet, craft
from tests.pictures.test_switches_overlay_video import OVERLAY, SWITCHES


def drawn(name: str, of: Craft, width: int = 80) -> str:
    screen = Screen(width)
    draw_picture(screen, name, of, None)
    return screen.plain()


def test_the_command_offers_what_there_is() -> None:
    assert tuple(PICTURES) == NAMES


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [60, 80, 100])
def test_a_picture_fits_the_screen(name: str, width: int) -> None:
    screen = Screen(width)
    draw_picture(screen, name, corpus_craft("dipper"), corpus_sheet("dipper"))
    rows = screen.plain().splitlines()
    assert len(rows) > 8
    assert max(map(len, rows)) <= max(width, 62)


@pytest.mark.parametrize("name", NAMES)
def test_colour_adds_nothing_but_colour(name: str) -> None:
    screen = Screen(80)
    draw_picture(screen, name, corpus_craft("wagtail"), corpus_sheet("wagtail"))
    bare = re.sub(r"\x1b\[[0-9;]*m", "", screen.coloured())
    assert bare == screen.plain()
    assert bare != screen.coloured()


def test_the_craft_from_above_has_the_nose_s_arms_above_the_others() -> None:
    text = drawn("frame", corpus_craft("dipper"))
    assert text.index("front left") < text.index("rear left")
    row = next(line for line in text.splitlines() if "front left" in line)
    assert row.index("front left") < row.index("front right")
    assert "how the motors really turn is not known" in text


def test_the_arm_switch_is_drawn_with_a_sign_of_its_own() -> None:
    text = drawn("switches", craft(SWITCHES))
    arm = next(line for line in text.splitlines() if line.lstrip().startswith("arm "))
    # on from 1700 of 1000..2000 us: the last three tenths of the row
    bar = arm.split()[-1]
    assert set(bar) == {".", "#"}
    assert bar.count("#") == pytest.approx(0.3 * len(bar), abs=1)
    assert bar.endswith("#")


def test_an_overlay_fault_is_told_in_words() -> None:
    text = drawn("overlay", craft(OVERLAY))
    assert "warnings: cut off." in text
    assert "flight_timer: writes over battery_voltage." in text
    grid = [line for line in text.splitlines() if line.startswith(("|", "+"))]
    assert len(grid) == 15  # 13 rows of NTSC (published: Maxim MAX7456) and the frame
    assert {len(line) for line in grid} == {32}


def test_the_craft_s_name_stands_for_itself_in_the_overlay() -> None:
    text = drawn("overlay", corpus_craft("goosander"))
    assert "Goosander" in text
    assert "sixteen" not in text


def test_an_overlay_that_is_off_or_lacks_a_place_is_said_to() -> None:
    off = drawn("overlay", craft(OVERLAY + "[overlay]\nenabled = off\n"))
    assert "The overlay is switched off." in off
    unplaced = drawn("overlay", craft(OVERLAY + "[overlay.elements.speed]\nshown = on\n"))
    assert "Not drawn, for these are not stated: overlay.elements.speed" in unplaced


@pytest.mark.parametrize("width", [40, 50, 56, 80])
def test_nothing_of_the_craft_from_above_is_cut_off_on_a_narrow_screen(width: int) -> None:
    screen = Screen(width)
    draw_picture(screen, "frame", corpus_craft("dipper"), corpus_sheet("dipper"))
    rows = screen.plain().splitlines()
    assert max(map(len, rows)) <= width
    text = screen.plain()
    for arm, output in (("front left", 2), ("front right", 4), ("rear left", 1), ("rear right", 3)):
        assert arm in text
        assert f"output {output}" in text
    assert text.count("turns as set") == 4


def test_a_craft_built_otherwise_than_set_is_warned_of_in_text_too() -> None:
    screen = Screen(80)
    repaired = corpus_craft("faulty/dipper-after-repair")
    draw_picture(screen, "frame", repaired, corpus_sheet("dipper"))
    assert "Propellers off until they agree." in screen.plain()


def test_an_arm_switch_that_is_on_at_rest_or_on_link_loss_is_said_to_be() -> None:
    high = drawn("switches", craft(SWITCHES))
    low = drawn("switches", craft(SWITCHES.replace("1700..2100", "900..1300")))
    assert "rest 1000 us, link loss 1850 us (arm is on)" in high
    assert "rest 1000 us (arm is on), link loss 1850 us\n" in low


def test_a_curve_has_its_unit() -> None:
    assert "bank 1 (in use), deg/s" in drawn("rates", corpus_craft("dipper"))


def test_a_picture_that_lacks_a_setting_says_which() -> None:
    text = drawn("rates", craft("[battery]\ncells = 4\n"))
    assert "It can't be drawn: banks.N is not stated." in text


def test_show_draws_it_and_takes_no_path_beside(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["show", "dipper.dump", "--picture", "frame"])
    assert answer.status == 0
    assert "turns as set" in answer.out
    assert call(monkeypatch, ["show", "dipper.dump", "battery", "--picture", "frame"]).status == 2
