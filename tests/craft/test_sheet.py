"""The build sheet as a typed view: what it states, what it does not, what kinds it takes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet, read_sheet
from cfgaudit.dialects.plain import path_order, read_plain
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import PAD_USES as USES
from cfgaudit.vocabulary.dump import ROLES
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Between,
    Kind,
    OneOf,
)
from cfgaudit.vocabulary.paths import (
    declared,
    declared_anywhere,
    declared_in_sheet,
    every_declared,
    nearest,
    sheet_vocabulary,
)
from cfgaudit.vocabulary.sheet import PAD_USES, PORT_ROLES
from cfgaudit.vocabulary.units import is_unit
from tests.strategies import values

TEXT = """
[rails.pack]
voltage = "13.2..16.8 V"
[rails.video]
choices = [5, 9, 12]
choice = 9
[rails.open]
choices = [5, 9]
[devices.gnss]
kind = "position"
port = "uart3"
[devices.strip]
kind = "led"
pad = "b1"
[devices.mystery]
current = "40 mA"
[motors.front_left]
output = 2
wires = "swapped"
"""


def sheet(text: str = TEXT) -> Sheet:
    return Sheet(read_sheet(text.encode(), "dipper.build.toml"))


def test_a_setting_that_is_stated_is_read_in_the_vocabulary_s_unit() -> None:
    assert sheet().motors["front_left"].output == 2
    assert sheet().motors["front_left"].wires == "swapped"
    assert sheet().devices["mystery"].current == 0.04


def test_a_setting_that_is_not_stated_raises_its_path() -> None:
    with pytest.raises(NotStated) as told:
        _ = sheet().motors["front_left"].poles
    assert told.value.path == "sheet.motors.front_left.poles"
    with pytest.raises(NotStated) as told:
        list(sheet("").devices)
    assert told.value.path == "sheet.devices.NAME"


def test_a_rail_gives_its_choice_its_range_or_nothing() -> None:
    rails = sheet().rails
    assert rails["pack"].volts() == (13.2, 16.8)
    assert rails["video"].volts() == (9.0, 9.0)
    assert rails["video"].volts_path() == "sheet.rails.video.choice"
    with pytest.raises(NotStated, match=r"sheet\.rails\.open\.choice"):
        rails["open"].volts()


def test_devices_are_found_by_kind_and_by_port() -> None:
    assert [device.name for device in sheet().devices_of("position")] == ["gnss"]
    assert [device.name for device in sheet().devices_on("uart3")] == ["gnss"]
    assert sheet().devices_on("uart1") == []


def test_a_device_says_which_role_and_which_use_serve_it() -> None:
    gnss, strip = sheet().devices["gnss"], sheet().devices["strip"]
    assert (gnss.role(), gnss.pad_use()) == ("position", "")
    assert (strip.role(), strip.pad_use()) == ("", "led_strip")


def test_every_role_but_the_console_has_a_kind_of_device() -> None:
    assert sorted(PORT_ROLES.values()) == sorted(set(ROLES) - {"console"})


def test_every_use_of_a_pad_but_motor_and_free_has_a_kind_of_device() -> None:
    assert set(PAD_USES.values()) == set(USES) - {"motor", "free"}


def test_every_setting_says_what_it_is_in_one_line_and_in_a_known_unit() -> None:
    for entry in sheet_vocabulary():
        assert entry.traits.says
        assert "\n" not in entry.traits.says
        assert entry.kind.unit == "" or is_unit(entry.kind.unit)


def test_every_pattern_of_the_sheet_is_found_by_a_path_below_it() -> None:
    for entry in sheet_vocabulary():
        name = {"N": "1"}
        words = entry.pattern.split(".")
        path = ".".join(name.get(word, "x1") if word.isupper() else word for word in words)
        assert declared_in_sheet(path) is entry
        assert declared_anywhere(path) is entry


def test_a_dump_can_t_state_what_belongs_to_the_sheet() -> None:
    settings = read_plain("sheet.battery.cells = 4\nbattery.cells = 4\n")
    assert list(settings) == ["battery.cells"]
    assert declared("sheet.battery.cells") is None
    with pytest.raises(NotStated):
        _ = Sheet(settings).battery.cells
    assert Craft(settings).battery.cells == 4


def test_near_misses_come_from_the_vocabulary_that_a_path_belongs_to() -> None:
    assert nearest("sheet.battery.cell")[0] == "sheet.battery.cells"
    assert not [path for path in nearest("battery.cell") if path.startswith("sheet.")]
    assert every_declared("sheet.x") == sheet_vocabulary()


def test_the_sheet_s_paths_come_behind_those_of_the_craft() -> None:
    paths = ["sheet.battery.cells", "flight_log.size", "sheet.ports.uart10.kind"]
    paths += ["sheet.ports.uart2.kind"]
    assert sorted(paths, key=path_order) == [
        "flight_log.size",
        "sheet.battery.cells",
        "sheet.ports.uart2.kind",
        "sheet.ports.uart10.kind",
    ]


@given(
    st.sampled_from(sheet_vocabulary()).flatmap(
        lambda d: st.tuples(st.just(d.kind), values(d.kind))
    )
)
def test_what_is_written_of_a_value_reads_back_as_the_same(drawn: tuple[Kind, object]) -> None:
    kind, value = drawn
    text = kind.spell(value)  # type: ignore[arg-type]
    assert kind.read(text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("4.5..5.5 V", (4.5, 5.5)),
        ("4500..5500 mV", (4.5, 5.5)),
        ("4500mV..5.5V", (4.5, 5.5)),
        ("4.5..5.5", (4.5, 5.5)),
        ("5 V", (5.0, 5.0)),
        ("5", (5.0, 5.0)),
    ],
)
def test_a_range_is_read_with_its_units(text: str, value: tuple[float, float]) -> None:
    assert Between("V", 0, 80).read(text) == value


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("5.5..4.5 V", "higher end comes first"),
        ("4.5..5.5 W", "W measures power"),
        ("4.5..5.5 V V", "a range such as"),
        ("4, 5", "a range such as"),
        ("low", "a range such as"),
    ],
)
def test_what_is_no_range_is_refused(text: str, told: str) -> None:
    with pytest.raises(BadValue, match=told):
        Between("V", 0, 80).read(text)


def test_limits_hold_at_both_ends_of_a_range_and_in_a_closed_list() -> None:
    assert Between("V", 0, 80).beyond((4.0, 81.0)).startswith("81 V is not")
    assert Between("V", 0, 80).beyond((4.0, 80.0)) == ""
    assert OneOf((16, 8)).beyond(12) == "12 is not one of 16, 8"
    assert OneOf((16, 8)).beyond(8) == ""


def test_an_empty_sheet_states_nothing() -> None:
    assert len(read_sheet(b"", "x.toml")) == 0
    assert Sheet(Settings()).motors.names() == []
