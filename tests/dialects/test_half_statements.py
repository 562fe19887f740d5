"""A mapping acts on its own whole line: never on half a statement, never on another line's."""

import pytest

from cfgaudit.dialects.checking import check_text
from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.lines import idle_lines
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.reader import read
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.kinds import SwitchRange

ARM = "{FUNCTION} = {switches.FUNCTION.channel}/{switches.FUNCTION.low: us}/" + (
    "{switches.FUNCTION.high: us}"
)


def settings(dump: str, *lines: str, **more: object) -> Settings:
    data = {"name": "reed", "look": {"off": ["off"]}, "lines": [{"map": list(lines)}], **more}
    return open_dump("a.dump", dump.encode(), (), build_dialect(data, "reed.toml")).settings


def faults(*lines: str, words: str = "") -> list[str]:
    mapped = ", ".join(f"'{line}'" for line in lines)
    text = f'name = "reed"\n{words}\n[[lines]]\nmap = [{mapped}]\n'
    return [fault.message for fault in check_text(text)]


def test_an_off_word_on_another_line_states_nothing() -> None:
    found = settings("knob.2: off\nmotto: off\n", "pace.{ID} = {ports.ID.baud: Bd}", ARM)
    assert dict(found.stated) == {}
    assert [raw.value for raw in found.raw.values()] == ["off", "off"]


def test_an_off_word_on_the_lines_own_key_states_the_empty_list() -> None:
    found = settings("arm = off\n", ARM)
    assert {path: stated.value for path, stated in found.stated.items()} == {"switches.arm": ()}


def test_an_off_word_in_place_of_two_settings_of_their_own_states_neither() -> None:
    found = settings("ends = off\n", "ends = {battery.warn_cell: V}/{battery.empty_cell: V}")
    assert dict(found.stated) == {}


def test_brackets_that_would_vanish_as_optional_are_refused() -> None:
    assert "a value is one text" in faults("at = [{board.rotation.yaw: deg}]")[0]
    assert "hold no placeholder" in faults("pack {battery.warn_cell: V} [V]")[0]


def test_two_indices_side_by_side_are_refused() -> None:
    assert "nothing tells where {ID} ends" in faults("p{ID}{N} = {ports.ID.baud: Bd}")[0]


def test_a_comma_inside_a_console_line_is_read() -> None:
    line = "rate {AXIS} {banks.1.rates.AXIS.centre: deg/s},{banks.1.rates.AXIS.max: deg/s}"
    found = settings("rate roll 120,640\n", line)
    assert found.need("banks.1.rates.roll.centre") == 120
    assert found.need("banks.1.rates.roll.max") == 640


def test_a_line_that_shows_and_one_that_hides_state_a_row_each_without_fault() -> None:
    shown, hidden = (
        f"{verb} {{NAME}} {{overlay.elements.NAME.row}} {{overlay.elements.NAME.shown = {way}}}"
        for verb, way in (("show", "on"), ("hide", "off"))
    )
    assert faults(shown, hidden) == []
    assert "stated by" in faults(shown, hidden.replace("off", "on"))[0]


@pytest.mark.parametrize("known", ["channel", "low", "high"])
def test_a_switch_of_which_a_part_is_known_is_not_stated(known: str) -> None:
    found = settings("arm = 1700\n", f"{{FUNCTION}} = {{switches.FUNCTION[a].{known}}}")
    assert "switches.arm" not in found


def test_a_list_of_which_one_element_lacks_a_part_is_not_stated() -> None:
    lines = ("on {X} {switches.arm[X].channel} {switches.arm[X].low: us}",
             "to {X} {switches.arm[X].high: us}")  # fmt: skip
    found = settings("on 1 5 1700\nto 1 2100\non 2 6 1700\n", *lines)
    assert "switches.arm" not in found
    whole = settings("on 1 5 1700\nto 1 2100\non 2 0 1700\n", *lines)
    assert whole.need("switches.arm") == (SwitchRange(5, 1700.0, 2100.0),)


def test_of_two_mappings_that_fit_one_line_the_first_alone_acts_and_the_other_is_told() -> None:
    lines = ("low {battery.warn_cell: V}", "low {battery.empty_cell: V}")
    assert set(settings("low 3.5\n", *lines).stated) == {"battery.warn_cell"}
    assert "is never reached" in faults(*lines)[0]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("f {N: words few} {failsafe.channels.N: us}", "f {N} {failsafe.channels.N: us}"),
        ("f {N} {failsafe.channels.N: us} 1", "f {N} {failsafe.channels.N: us} *"),
        ("led on {finder.led = on}", "led {finder.led}"),
    ],
)
def test_a_mapping_that_an_earlier_one_leaves_lines_to_is_reached(first: str, second: str) -> None:
    assert faults(first, second, words='[words]\nfew = { "1" = "1" }') == []


def test_a_mapping_that_reads_nothing_in_any_given_dump_is_told() -> None:
    lines = ["low = {battery.warn_cell: V}", "led {finder.led = on}", "noled {finder.led = off}",
             "dry = {battery.empty_cell: V}"]  # fmt: skip
    of = build_dialect({"name": "reed", "lines": [{"map": lines}]}, "reed.toml")
    one, other = (
        read(open_dump("a", text, (), of).document, of) for text in (b"low = 3.5\n", b"led\n")
    )
    assert idle_lines(of, [one]) == lines[1:]
    assert idle_lines(of, [one, other]) == [lines[3]]  # the led's other word waits for its turn


@pytest.mark.parametrize(
    ("words", "line", "said"),
    [
        ('i = { a = "front_lft" }', "s{ARM: words i} = {motors.ARM.spin}", "a = front_lft"),
        ('i = { a = "rol" }', "p{AXIS: words i} = {banks.1.gains.AXIS.p}", "a = rol"),
        ('i = { a = "nine" }', "f{N: words i} = {failsafe.channels.N: us}", "a = nine"),
        ('i = { a = "armm" }', "w{FUNCTION: words i} = {switches.FUNCTION}", "a = armm"),
    ],
)
def test_an_index_word_that_the_vocabulary_lacks_is_a_fault(
    words: str, line: str, said: str
) -> None:
    (message,) = faults(line, words=f"[words]\n{words}")
    assert said in message


def titled(dump: str, *titles: str) -> Settings:
    """A dump with lines under titles, of which a dialect names these and maps their offset."""
    lines = [
        {"under": [title], "map": [f"offset: {{{path}}} mV"]}
        for title, path in zip(titles, ("battery.current_offset: mV", "esc.idle: %"), strict=False)
    ]
    dialect = build_dialect({"name": "reed", "lines": lines}, "reed.toml")
    return open_dump("a.dump", dump.encode(), (), dialect).settings


@pytest.mark.parametrize(
    "dump",
    [
        "current sensor:\n  offset: 3 mV\nkettle:\n  offset: 55 mV\n",
        "current sensor:\n  offset: 3 mV\nkettle\n  offset: 55 mV\n",
        "current sensor:\n  offset: 3 mV\n  kettle:\n    offset: 55 mV\n",
        "kettle:\n  offset: 55 mV\ncurrent sensor:\n  offset: 3 mV\n",
        "current sensor:\noffset: 3 mV\nkettle:\noffset: 55 mV\n",
    ],
)
def test_a_line_under_a_title_that_the_dialect_does_not_name_is_not_the_named_ones(
    dump: str,
) -> None:
    found = titled(dump, "current sensor:")
    assert found.need("battery.current_offset") == 3
    assert [raw.value for key, raw in found.raw.items() if "offset" in key] == ["55 mV"]


def test_a_line_that_is_indented_less_than_its_group_is_none_of_it() -> None:
    found = titled("current sensor:\n  gain: 1\noffset: 55 mV\n", "current sensor:")
    assert "battery.current_offset" not in found


def test_a_line_that_differs_in_its_indentation_alone_is_read_anew() -> None:
    """What a dump with as many lines as one before came to is not taken over for such a line."""
    for indent, read_as in (("  ", 3.0), ("", None), ("  ", 3.0)):
        dump = f"current sensor:\n  gain: 1\n{indent}offset: 3 mV\n"
        stated = titled(dump, "current sensor:").stated.get("battery.current_offset")
        assert (stated and stated.value) == read_as


def test_a_line_that_does_not_say_which_arm_states_nothing_and_says_so() -> None:
    found = settings(
        "turns cw\ncell 3.3\n", "turns {motors.ARM.spin}", "cell {battery.empty_cell: V}"
    )
    assert list(found.stated) == ["battery.empty_cell"]
    (trouble,) = found.troubles
    assert "does not say which ARM" in trouble.message
    assert trouble.place is not None
    assert trouble.place.line == 1
