import pytest

from cfgaudit.reading.text import FileText, read_text
from cfgaudit.teach.learn import CannotLearn, Lesson, equals, learn


def text(body: str) -> FileText:
    return read_text(body.encode())


def lesson(before: str, after: str, value: str, was: str = "") -> Lesson:
    return Lesson(text(before), text(after), value, was)


def test_the_one_key_that_changed_is_found_with_its_scale() -> None:
    [found] = learn(
        "battery.warn_cell", [lesson("low = 350\nx = 1\n", "low = 345\nx = 1\n", "3.45 V")]
    )
    assert found.lines == ("low = {battery.warn_cell: 0.01 V}",)


def test_two_values_tell_a_step_and_an_offset() -> None:
    """1700 us is 32 and 1300 us is 16: 900 + 25 n, by hand: 900 + 800 and 900 + 400."""
    lessons = [lesson("p = 20\n", "p = 32\n", "1700 us"), lesson("p = 20\n", "p = 16\n", "1300 us")]
    assert learn("receiver.low", lessons)[0].lines == ("p = {receiver.low: 25 us + 900 us}",)


def test_a_word_is_learnt_with_its_list() -> None:
    before, after = "turns = sunwise\n", "turns = widdershins\n"
    found = learn("frame.rotation", [lesson(before, after, "outward", "inward")])
    assert dict(found[0].words[0][1]) == {"widdershins": "outward", "sunwise": "inward"}


def test_a_bit_in_a_number_is_told_by_what_was_added() -> None:
    before, after = (
        "[port b2]\njobs = 4\n[port b3]\njobs = 0\n",
        "[port b2]\njobs = 12\n[port b3]\njobs = 0\n",
    )
    found = learn("ports.uart2.roles", [lesson(before, after, "telemetry, receiver", "telemetry")])
    assert dict(found[0].flags) == {"telemetry": 4, "receiver": 8}
    assert found[0].under == ("[port {ID: words learnt_id}]",)


def test_a_negated_word_is_learnt_with_both_its_lines() -> None:
    [found] = learn("notches.tracking.enabled", [lesson("no hunt\n", "hunt\n", "on")])
    assert found.lines == (
        "hunt {notches.tracking.enabled = on}",
        "no hunt {notches.tracking.enabled = off}",
    )


def test_two_keys_that_explain_the_change_equally_are_both_told() -> None:
    found = learn("receiver.channels", [lesson("a = 16\nb = 16\n", "a = 17\nb = 17\n", "17")])
    assert [one.key for one in equals(found)] == ["a", "b"]


def test_a_second_pair_tells_two_keys_apart() -> None:
    lessons = [
        lesson("a = 16\nb = 16\n", "a = 17\nb = 17\n", "17"),
        lesson("a = 16\nb = 16\n", "a = 18\nb = 19\n", "18"),
    ]
    assert [one.key for one in equals(learn("receiver.channels", lessons))] == ["a"]


def test_an_index_inside_a_key_is_cut_out_of_it() -> None:
    [found] = learn("ports.uart3.baud", [lesson("g3_bd 57600\n", "g3_bd 9600\n", "9600 Bd")])
    assert found.lines == ("g{ID: words learnt_id}_bd {ports.ID.baud: Bd}",)
    assert found.key == "g3_bd"


def test_where_one_pair_cannot_tell_a_code_goes_before_a_step_that_nobody_takes() -> None:
    found = learn("ports.uart3.baud", [lesson("g3_bd 6\n", "g3_bd 8\n", "420000 Bd")])
    assert dict(dict(found[0].words)["learnt_ports_baud"]) == {"8": "420000 Bd"}
    assert found[0].was == ""  # what 6 means, the pair does not tell


def test_what_the_rule_makes_of_the_dump_before_is_told() -> None:
    [found] = learn("battery.warn_cell", [lesson("low = 350\n", "low = 345\n", "3.45 V")])
    assert found.was == "3.5 V"


def test_a_rule_that_makes_what_cannot_be_of_the_dump_before_is_none() -> None:
    """3.4 V is 34 tenths; 9000 tenths would be 900 V a cell."""
    with pytest.raises(CannotLearn):
        learn("battery.warn_cell", [lesson("low = 9000\n", "low = 34\n", "3.4 V")])


def test_a_bit_of_a_number_is_learnt_with_its_line() -> None:
    [found] = learn("finder.led", [lesson("bits 5\n", "bits 7\n", "on")])
    assert (found.lines, found.was) == (("bits {finder.led: bit 2}",), "off")


def test_a_name_in_quotes_is_learnt_as_it_stands() -> None:
    [found] = learn("craft.name", [lesson('name "Tern"\n', 'name "Black Swan"\n', "Black Swan")])
    assert (found.lines, found.was) == (("name {craft.name}",), '"Tern"')


def test_one_number_of_a_list_does_not_tell_the_list() -> None:
    with pytest.raises(CannotLearn):
        learn("video.plan.1", [lesson("plan 5728 5752\n", "plan 5728 5800\n", "5728, 5800 MHz")])


def test_a_change_that_is_not_in_the_dumps_is_said() -> None:
    with pytest.raises(CannotLearn, match="no key changed"):
        learn("receiver.channels", [lesson("a = 1\n", "a = 1\n", "17")])


def test_a_change_that_no_rule_explains_is_said_with_its_keys() -> None:
    with pytest.raises(CannotLearn, match=r"no plain rule.*\(a\)"):
        learn("receiver.channels", [lesson("a = 1\n", "a = 5\n", "17")])


def test_an_unknown_path_is_refused_with_a_near_miss() -> None:
    with pytest.raises(CannotLearn, match=r"battery\.warn_cell"):
        learn("battery.warn_cel", [lesson("a = 1\n", "a = 2\n", "3.5 V")])


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("craft.name", "dipper"),
        ("filters.gyro", "pt1 100 Hz"),
        ("switches.arm", "5: 1700..2100 us"),
    ],
)
def test_a_number_is_no_word_for_a_name_or_for_a_list(path: str, value: str) -> None:
    with pytest.raises(CannotLearn, match="no plain rule"):
        learn(path, [lesson("a = 1\n", "a = 2\n", value)])


def test_a_name_is_learnt_as_it_stands() -> None:
    [found] = learn("craft.name", [lesson("a = eddy\n", "a = dipper\n", "dipper", "eddy")])
    assert (found.lines, found.says) == (("a = {craft.name}",), "as it stands")


def test_a_value_of_a_sentence_is_learnt_in_the_wording_of_its_line() -> None:
    rows = ["port 1: console at 115200 baud", "port 2: telemetry at 57600 baud, shared"]
    before = "\n".join(["Ports", "-----", *rows, ""])
    after = before.replace("57600", "38400")
    found = learn("ports.2.baud", [lesson(before, after, "38400 Bd", "57600 Bd")])[0]
    assert found.lines == ("port {ID}: telemetry at {ports.ID.baud: Bd} baud, shared",)
    assert found.under == ("Ports",)


_LEVERS = "[levers]\nARM 4 1750 2100\nHOMING 6 1750 2100\n"


@pytest.mark.parametrize(
    ("after", "path", "value", "line"),
    [
        ("ARM 4 1600 2100", "switches.arm.low", "1600us", "ARM * {switches.arm.low: us} ..."),
        ("ARM 4 1750 2000", "switches.arm.high", "2000 us", "ARM * * {switches.arm.high: us}"),
        ("ARM 8 1750 2100", "switches.arm.channel", "9", "ARM {switches.arm.channel: from 0} ..."),
    ],
)
def test_a_part_of_a_switch_is_learnt_as_the_dialects_have_it(
    after: str, path: str, value: str, line: str
) -> None:
    changed = _LEVERS.replace("ARM 4 1750 2100", after)
    assert learn(path, [lesson(_LEVERS, changed, value)])[0].lines == (line,)


def test_a_whole_switch_is_learnt_of_a_line_of_which_one_number_changed() -> None:
    changed = _LEVERS.replace("ARM 4 1750", "ARM 4 1600")
    [found] = learn("switches.arm", [lesson(_LEVERS, changed, "5: 1600..2100 us")])
    ends = "{switches.arm.low: us} {switches.arm.high: us}"
    assert found.lines == (f"ARM {{switches.arm.channel: from 0}} {ends}",)
    assert found.was == "5: 1750..2100 us"


def test_a_switch_whose_ends_are_counted_in_steps_is_learnt_by_both_ends() -> None:
    """Hand calculation: 30 is 1650 us and 48 is 2100 us, so 25 us a step from 900 us."""
    before, after = "[levers]\narm = ch5 32-48\n", "[levers]\narm = ch5 30-48\n"
    [found] = learn("switches.arm", [lesson(before, after, "5: 1650..2100 us")])
    step = "25 us + 900 us"
    ends = f"{{switches.arm.low: {step}}}-{{switches.arm.high: {step}}}"
    assert found.lines == (f"arm = ch{{switches.arm.channel}} {ends}",)


def test_a_switch_of_which_the_changed_line_does_not_show_all_is_not_learnt() -> None:
    with pytest.raises(CannotLearn, match="no line that changed shows all of 5: 1500"):
        learn("switches.arm", [lesson("from = 1700\n", "from = 1500\n", "5: 1500..2100 us")])


def test_a_part_that_no_setting_has_is_refused() -> None:
    with pytest.raises(CannotLearn, match="no setting"):
        learn("switches.arm.lowest", [lesson(_LEVERS, _LEVERS, "1600")])


def test_dumps_of_two_firmwares_teach_nothing() -> None:
    reed = "".join(f"reed{n} = {n}\n" for n in range(12))
    sedge = "".join(f"set sedge{n} {n}\n" for n in range(12))
    with pytest.raises(CannotLearn, match="not of one firmware"):
        learn("battery.cells", [lesson(reed, sedge, "6")])
    # of one firmware with a line more, and hardly any line at all: as before
    assert learn("battery.cells", [lesson(reed, f"{reed}cells = 6\n", "6")])
