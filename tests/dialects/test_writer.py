"""What is written in a dialect reads back the same, or is refused with a reason."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfgaudit.dialects.dialect import Dialect, build_dialect
from cfgaudit.dialects.lines import mapped_paths
from cfgaudit.dialects.plain import PLAIN
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.kinds import Filter, SwitchRange, Value
from cfgaudit.vocabulary.paths import vocabulary
from tests.dialects.demo import (
    DUMPS,
    FACTORY,
    all_dialects,
    dialect,
    dumped,
    opened,
    read,
    version_of,
    write_settings,
    written_anew,
)
from tests.strategies import stated as drawn_stated

LOOK = {"off": ["naught"], "head": ["small {firmware.version}"]}


def small(*lines: object, **more: object) -> Dialect:
    """A dialect of a few lines, with the words that these tests use."""
    tables = {
        "words": {"arms": {"bow": "front_left"}, "turn": {"sun": "cw", "moon": "ccw"}},
        "flags": {"jobs": {"telemetry": 4, "receiver": 1}},
    }
    return build_dialect(
        {"name": "small", "look": LOOK, "lines": list(lines), **tables, **more}, "small.toml"
    )


def known(**values: Value) -> Settings:
    """Settings by path; a double underscore stands for a dot."""
    paths = {path.replace("__", "."): value for path, value in values.items()}
    return Settings({path: Stated(path, value) for path, value in paths.items()})


@pytest.mark.parametrize("path", [*DUMPS, *FACTORY], ids=lambda path: path.stem)
def test_every_single_setting_of_a_dump_is_written_and_reads_back(path: Path) -> None:
    found = opened(path)
    version = version_of(found.settings)
    refused: dict[str, str] = {}
    stated = of_lines(dumped(found.settings))
    for name, value in stated.items():
        try:
            text = write_settings(found.dialect, {name: value}, version, found.settings)
        except CannotWrite as error:
            refused[name] = str(error)
            continue
        back = dumped(read(text, found.dialect, version))
        assert back[name] == value, text
        assert all(found.settings[other].value == back[other] for other in back), text
    assert set(refused.values()) <= {FIELDS_UNKNOWN}


def of_lines(stated: dict[str, Value]) -> dict[str, Value]:
    """What lines state, and not the head line."""
    head = ("firmware.", "board.name", "board.revision")
    return {path: value for path, value in stated.items() if not path.startswith(head)}


FIELDS_UNKNOWN = (
    "its line has more fields than its mapping names, and this dump has no such line to take "
    "them from"
)


@pytest.mark.parametrize("path", DUMPS, ids=lambda path: path.stem)
def test_all_settings_of_a_dump_are_written_at_once(path: Path) -> None:
    found = opened(path)
    version = version_of(found.settings)
    stated = of_lines(dumped(found.settings))
    text, refused = written_anew(found.dialect, stated, version)
    assert set(refused.values()) <= {FIELDS_UNKNOWN}
    # some of marl's rows have fields without a meaning of ours
    assert bool(refused) == (found.dialect.name == "marl")
    wanted = {name: value for name, value in stated.items() if name not in refused}
    assert dumped(read(text, found.dialect, version)) == wanted


def written(
    of: Dialect,
    values: dict[str, Value],
    version: tuple[int, ...] = (),
    known: Settings | None = None,
) -> tuple[str, str]:
    """The lines, or else the reason why there are none."""
    try:
        return write_settings(of, values, version, known), ""
    except CannotWrite as error:
        return "", str(error)


@settings(max_examples=150)
@given(of=st.sampled_from(all_dialects()), entry=drawn_stated())
def test_any_value_reads_back_or_is_refused_with_a_reason(of: Dialect, entry: Stated) -> None:
    text, why = written(of, {entry.path: entry.value})
    assert bool(text) is not bool(why)
    if text:
        assert dumped(read(text, of)) == {entry.path: entry.value}


@settings(max_examples=100)
@given(data=st.data())
def test_any_change_of_a_golden_dump_reads_back_or_is_refused(data: st.DataObject) -> None:
    found = opened(data.draw(st.sampled_from(DUMPS)))
    version = version_of(found.settings)
    declared = {entry.pattern: entry for entry in vocabulary()}
    name = data.draw(st.sampled_from(sorted(mapped_paths(found.dialect))))
    entry = data.draw(drawn_stated(declared[name]))
    text, why = written(found.dialect, {entry.path: entry.value}, version, found.settings)
    assert bool(text) is not bool(why)
    if text:
        back = dumped(read(text, found.dialect, version))
        assert back.pop(entry.path) == entry.value
        assert all(found.settings[other].value == back[other] for other in back)


@settings(max_examples=60)
@given(entries=st.lists(drawn_stated(), max_size=8))
def test_the_plain_form_can_say_nearly_everything(entries: list[Stated]) -> None:
    wanted = {entry.path: entry.value for entry in entries}
    wanted = {
        path: value
        for path, value in wanted.items()
        if not isinstance(value, tuple) or len(set(value)) == len(value)
    }
    assert dumped(read(write_settings(PLAIN, wanted), PLAIN)) == wanted


def test_a_section_head_stands_once_above_its_lines() -> None:
    of = small({"under": "[pack]", "map": ["low = {battery.warn_cell: 0.01 V}",
                                           "dry = {battery.empty_cell: 0.01 V}"]})  # fmt: skip
    text = write_settings(of, {"battery.warn_cell": 3.5, "battery.empty_cell": 3.3})
    assert text == "[pack]\nlow = 350\ndry = 330\n"


def test_blocks_are_closed_from_the_inside() -> None:
    of = small(
        {"under": ["begin bank {N}", "begin gains"], "map": ["{AXIS},{banks.N.gains.AXIS.p}"]}
    )
    text = write_settings(of, {"banks.2.gains.roll.p": 45.0})
    assert text == "begin bank 2\nbegin gains\nroll,45\nend gains\nend bank 2\n"


def test_a_dialects_own_block_words_are_used() -> None:
    of = small(
        {"under": "open pack", "map": ["low = {battery.warn_cell: V}"]},
        look={"opens": ["open"], "closes": ["shut"]},
    )
    assert write_settings(of, {"battery.warn_cell": 3.5}) == "open pack\nlow = 3.5\nshut\n"


def test_the_lead_word_stands_before_an_assignment() -> None:
    of = small({"map": ["low = {battery.warn_cell: V}"]}, look={"lead": "put"})
    assert write_settings(of, {"battery.warn_cell": 3.5}) == "put low = 3.5\n"


def test_the_rest_of_a_line_comes_from_what_is_known() -> None:
    of = small({"map": ["link {ID} {ports.ID.roles: flags jobs} {ports.ID.baud: Bd}"]})
    before = known(ports__uart2__roles=frozenset({"receiver"}))
    wanted: dict[str, Value] = {"ports.uart2.baud": 57600.0}
    assert write_settings(of, wanted, known=before) == "link uart2 1 57600\n"
    with pytest.raises(CannotWrite, match=r"needs ports\.uart2\.roles too"):
        write_settings(of, wanted)


def test_a_line_that_says_more_than_is_known_is_refused() -> None:
    of = small({"map": ["voice {telemetry.rate: Hz} {telemetry.enabled = on}"]})
    wanted: dict[str, Value] = {"telemetry.rate": 5.0}
    with pytest.raises(CannotWrite, match=r"also state telemetry\.enabled"):
        write_settings(of, wanted)
    with pytest.raises(CannotWrite, match=r"also say telemetry\.enabled = on"):
        write_settings(of, wanted, known=known(telemetry__enabled=False))
    assert write_settings(of, wanted, known=known(telemetry__enabled=True)) == "voice 5\n"


def test_an_optional_word_is_left_out_where_it_is_not_known() -> None:
    of = small(
        {"map": ["pack {battery.cells} [{battery.capacity: mAh} calm={battery.warn_cell: V}]"]}
    )
    assert write_settings(of, {"battery.cells": 4}) == "pack 4\n"
    assert write_settings(of, {"battery.cells": 4, "battery.warn_cell": 3.5}) == "pack 4 calm=3.5\n"


def test_a_value_between_two_steps_is_refused() -> None:
    of = small({"map": ["low = {battery.warn_cell: 0.05 V}"]})
    with pytest.raises(CannotWrite, match=r"3\.52 V is not a whole number of steps of 0\.05 V"):
        write_settings(of, {"battery.warn_cell": 3.52})


def test_what_has_no_line_no_word_or_no_flag_is_refused() -> None:
    of = small({"map": ["turn {ARM: words arms} {motors.ARM.spin: words turn}",
                        "jobs {ID} {ports.ID.roles: flags jobs}"]})  # fmt: skip
    with pytest.raises(CannotWrite, match=r"no line for home\.altitude"):
        write_settings(of, {"home.altitude": 40.0})
    with pytest.raises(CannotWrite, match="no word for rear_left in arms"):
        write_settings(of, {"motors.rear_left.spin": "cw"})
    with pytest.raises(CannotWrite, match="no flag for console"):
        write_settings(of, {"ports.usb.roles": frozenset({"console"})})


def test_a_text_that_would_begin_a_line_of_its_own_is_refused() -> None:
    of = small({"map": ["name = {craft.name}", "poles = {motors.poles}"]})
    with pytest.raises(CannotWrite, match="line end"):
        write_settings(of, {"craft.name": "dipper\npoles = 2"})


def test_ranges_are_written_one_line_each() -> None:
    of = small({"map": ["when {FUNCTION} ch{switches.FUNCTION.channel} "
                        "{switches.FUNCTION.low: 25 us + 900 us}-{switches.FUNCTION.high: us}",
                        "no when {FUNCTION} {switches.FUNCTION = none}"]})  # fmt: skip
    ranges = (SwitchRange(5, 1700.0, 2100.0), SwitchRange(8, 1900.0, 2100.0))
    # by hand: (1700 - 900) / 25 = 32, (1900 - 900) / 25 = 40
    assert (
        write_settings(of, {"switches.arm": ranges})
        == "when arm ch5 32-2100\nwhen arm ch8 40-2100\n"
    )
    assert write_settings(of, {"switches.arm": ()}) == "no when arm\n"


def test_an_empty_list_is_written_with_a_word_for_nothing() -> None:
    of = small({"under": "[lever {FUNCTION}]", "map": [
        "works = ch{switches.FUNCTION.channel} "
        "{switches.FUNCTION.low: us}-{switches.FUNCTION.high: us}"
    ]})  # fmt: skip
    assert write_settings(of, {"switches.arm": ()}) == "[lever arm]\nworks = naught\n"


def test_a_stage_goes_into_the_slot_of_its_kind_and_the_others_are_off() -> None:
    of = dialect("sedge")
    text = write_settings(of, {"filters.gyro": (Filter("notch", 210.0, 3.5), Filter("pt1", 150.0))})
    assert "hollow_at = 210\nhollow_q = 350\ngyro_1 = gentle 150\ngyro_2 = gentle 0\n" in text
    with pytest.raises(CannotWrite):
        write_settings(of, {"filters.gyro": (Filter("notch", 90.0), Filter("notch", 95.0))})


def test_slots_that_fall_free_are_switched_off() -> None:
    of = small({"map": ["sieve {SLOT} {filters.gyro[SLOT].kind} {filters.gyro[SLOT].cutoff: Hz}"]})
    before = known(filters__gyro=(Filter("pt1", 90.0), Filter("pt1", 120.0)))
    wanted: dict[str, Value] = {"filters.gyro": (Filter("pt2", 100.0),)}
    assert write_settings(of, wanted, known=before) == "sieve 1 pt2 100\nsieve 2 pt1 0\n"


def test_slots_are_named_as_the_dialect_names_them() -> None:
    of = small(
        {
            "map": [
                "sieve {SLOT: words places} {filters.gyro[SLOT].kind} "
                "{filters.gyro[SLOT].cutoff: Hz}"
            ]
        },
        words={"places": {"fore": "first", "aft": "second"}},
    )
    text = write_settings(of, {"filters.gyro": (Filter("pt1", 90.0),)})
    assert text == "sieve fore pt1 90\nsieve aft pt1 0\n"


def test_a_constant_is_preferred_to_a_word_of_ours() -> None:
    of = small({"map": ["lost {N} {failsafe.channels.N: us}",
                        "no lost {N} {failsafe.channels.N = hold}"]})  # fmt: skip
    assert write_settings(of, {"failsafe.channels.3": "hold"}) == "no lost 3\n"
    assert write_settings(of, {"failsafe.channels.3": 900.0}) == "lost 3 900\n"


def test_an_older_version_gets_its_own_keys_and_words() -> None:
    older = {"before": "2.4", "renames": {"low": "pk_lo"}, "words": {"turn": {"0": "cw"}}}
    of = small(
        {"map": ["low = {battery.warn_cell: V}", "turn {ARM} {motors.ARM.spin: words turn}"]},
        versions=[older],
    )
    wanted: dict[str, Value] = {"battery.warn_cell": 3.5, "motors.front_left.spin": "cw"}
    assert write_settings(of, wanted, (2, 3)) == "pk_lo = 3.5\nturn front_left 0\n"
    assert write_settings(of, wanted, (2, 4)) == "low = 3.5\nturn front_left sun\n"


def test_the_oldest_of_two_names_is_the_one_of_the_oldest_version() -> None:
    versions = [
        {"before": "2.0", "renames": {"low": "l"}},
        {"before": "3.0", "renames": {"low": "lo"}},
    ]
    of = small({"map": ["low = {battery.warn_cell: V}"]}, versions=versions)
    texts = [write_settings(of, {"battery.warn_cell": 3.5}, (n, 0)) for n in (1, 2, 3)]
    assert texts == ["l = 3.5\n", "lo = 3.5\n", "low = 3.5\n"]


def test_the_mapped_paths_are_patterns_of_the_vocabulary() -> None:
    patterns = {entry.pattern for entry in vocabulary()}
    for of in all_dialects():
        assert mapped_paths(of) <= patterns
    assert mapped_paths(PLAIN) == patterns
    assert mapped_paths(dialect("alder")) == {
        "motors.poles", "esc.protocol", "esc.ARM.direction", "esc.ARM.protocol"
    }  # fmt: skip
    assert {"filters.gyro", "receiver.map.CONTROL", "video.plan.powers"} <= mapped_paths(
        dialect("sedge")
    )
