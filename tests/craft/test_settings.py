"""A set of settings: what is not stated is said, and two dumps of one craft are joined."""

from dataclasses import replace

import pytest

from cfgaudit.craft.craft import Craft
from cfgaudit.settings import DumpFacts, Origin, Raw, Settings, Stated, Trouble, TroubleKind
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.kinds import SwitchRange, Value


def dump(name: str, origin: Origin = Origin.DUMP, **values: Value) -> Settings:
    """Settings of one dump; a double underscore stands for the full stop of a path."""
    paths = {key.replace("__", "."): value for key, value in values.items()}
    stated = {path: Stated(path, value, origin=origin) for path, value in paths.items()}
    return Settings(stated, dumps=(DumpFacts(name),))


def test_a_stated_setting_is_read_through_the_craft() -> None:
    craft = Craft(dump("a.dump", battery__warn_cell=3.5, ports__uart2__baud=57600.0))
    assert craft.battery.warn_cell == 3.5
    assert craft.ports["uart2"].baud == 57600.0


@pytest.mark.parametrize("doubt", ["", "beyond its limits"])
def test_what_is_not_stated_or_in_doubt_raises_with_its_path(doubt: str) -> None:
    entry = {"battery.warn_cell": Stated("battery.warn_cell", 350.0, doubt=doubt)} if doubt else {}
    craft = Craft(Settings(entry))
    with pytest.raises(NotStated) as absent:
        _ = craft.battery.warn_cell
    assert absent.value.path == "battery.warn_cell"
    assert not craft.battery.states("warn_cell")


def test_a_group_that_is_not_stated_raises_with_its_pattern() -> None:
    craft = Craft(Settings())
    with pytest.raises(NotStated, match=r"ports\.ID"):
        list(craft.ports)
    with pytest.raises(NotStated, match=r"switches\.FUNCTION"):
        craft.switches.of("arm")


def test_the_members_of_a_group_come_in_the_dumps_order_without_its_fixed_names() -> None:
    craft = Craft(
        dump("a.dump", motors__poles=14, motors__rear_left__output=2, motors__front_left__output=4)
    )
    assert craft.motors.path("poles") == "motors.poles"
    ports = Craft(dump("a.dump", ports__uart9__baud=9600.0, ports__uart1__baud=300.0)).ports
    assert ports.names() == ["uart9", "uart1"]
    assert [port.name for port in ports] == ["uart9", "uart1"]


def test_a_function_without_ranges_has_none_once_others_have_some() -> None:
    arm = (SwitchRange(5, 1700.0, 2100.0),)
    craft = Craft(dump("a.dump", switches__arm=arm))
    assert craft.switches.of("arm") == arm
    assert craft.switches.of("buzzer") == ()


def test_settings_are_a_mapping_in_the_order_stated() -> None:
    settings = dump("a.dump", b__y=1, a__x=2)
    assert list(settings) == ["b.y", "a.x"]
    assert len(settings) == 2
    assert "a.x" in settings
    assert settings["a.x"].value == 2
    assert settings.below("a") == {"x": ["a.x"]}


def test_joining_two_dumps_keeps_what_each_alone_states() -> None:
    joined = dump("a.dump", a__x=1).joined(dump("b.dump", b__y=2))
    assert {path: joined[path].value for path in joined} == {"a.x": 1, "b.y": 2}
    assert joined.repeats == ()
    assert [facts.file for facts in joined.dumps] == ["a.dump", "b.dump"]


def test_joining_lets_the_first_dump_hold_and_reports_the_other() -> None:
    joined = dump("a.dump", a__x=1).joined(dump("b.dump", a__x=2))
    assert joined["a.x"].value == 1
    assert [(ours.value, theirs.value) for ours, theirs in joined.repeats] == [(1, 2)]


@pytest.mark.parametrize("origin", [Origin.FACTORY, Origin.GIVEN])
def test_joining_lets_a_dumps_own_word_go_before_a_default(origin: Origin) -> None:
    default, own = dump("a.dump", origin, a__x=1), dump("b.dump", a__x=2)
    for joined in (default.joined(own), own.joined(default)):
        assert joined["a.x"].value == 2
        assert joined.repeats == ()


def test_joining_two_defaults_keeps_the_first() -> None:
    first = dump("a.dump", Origin.FACTORY, a__x=1)
    joined = first.joined(dump("b.dump", Origin.FACTORY, a__x=2))
    assert joined["a.x"].value == 1
    assert joined.repeats == ()


@pytest.mark.parametrize("path", ["firmware.version", "board.name", "board.revision"])
def test_each_dump_of_one_craft_may_name_its_own_firmware_and_board(path: str) -> None:
    one = Settings({path: Stated(path, "one")})
    other = Settings({path: Stated(path, "other")})
    assert one.joined(other).repeats == ()
    assert one.joined(other)[path].value == "one"


def test_joining_keeps_raw_lines_troubles_and_earlier_repeats() -> None:
    trouble = Trouble(TroubleKind.UNREAD, "no")
    other = Settings(
        raw={"chime": Raw("chime", "2")}, troubles=(trouble,), dumps=(DumpFacts("b.dump"),)
    )
    first = dump("a.dump", a__x=1).joined(dump("c.dump", a__x=3))
    joined = Settings(first.stated, first.repeats, {"chime": Raw("chime", "1")}).joined(other)
    assert {key: raw.value for key, raw in joined.raw.items()} == {
        "chime": "1",
        "other: chime": "2",
    }
    assert joined.troubles == (trouble,)
    assert len(joined.repeats) == 1


def test_joining_leaves_both_sides_as_they_were() -> None:
    one, other = dump("a.dump", a__x=1), dump("b.dump", b__y=2)
    one.joined(other)
    assert (list(one), list(other)) == (["a.x"], ["b.y"])


def test_a_factory_value_is_had_whether_the_dump_states_the_setting_or_not() -> None:
    settings = replace(dump("a.dump", esc__idle=7.0), factory={"esc.idle": 5.5})
    assert settings.need_factory("esc.idle") == 5.5
    assert settings.need("esc.idle") == 7.0
    with pytest.raises(NotStated) as absent:
        replace(settings, stated={}).need("esc.idle")
    assert absent.value.path == "esc.idle"


def test_a_factory_value_may_be_taken_from_the_first_path_that_has_one() -> None:
    settings = Settings(factory={"banks.1.gains.yaw.d": 0.0, "banks.2.gains.yaw.d": 3.0})
    assert settings.need_factory("banks.3.gains.yaw.d", "banks.1.gains.yaw.d") == 0.0
    with pytest.raises(NotStated) as absent:
        settings.need_factory("banks.3.gains.yaw.p", "banks.1.gains.yaw.p")
    assert absent.value.path == "factory.banks.1.gains.yaw.p"


def test_joined_dumps_have_the_factory_values_of_both_the_first_before_the_second() -> None:
    first = Settings(factory={"esc.idle": 5.5})
    second = Settings(factory={"esc.idle": 4.0, "loop.rate": 4000.0})
    joined = first.joined(second)
    assert (joined.need_factory("esc.idle"), joined.need_factory("loop.rate")) == (5.5, 4000.0)
