"""An edit puts a value where it stands, or a line where it belongs, and changes nothing else."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.editor import Edited, edit, line_change, misread
from cfgaudit.dialects.lines import mapped_paths
from cfgaudit.dialects.opening import GENERIC, Opened, open_dump
from cfgaudit.dialects.patch import hunks, patched
from cfgaudit.dialects.plain import PLAIN, read_plain
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.paths import vocabulary
from tests.dialects.demo import CORPUS, DUMPS, FACTORY, dialects, opened
from tests.strategies import stated as drawn_stated
from tests.strategies_text import undone

PLAIN_FORMS = tuple(sorted(CORPUS.glob("*.cfg")))
FILES = (*DUMPS, *FACTORY, *PLAIN_FORMS)


def edited(before: Opened, plain: str) -> Edited:
    """A dump with the values of a text in the plain form."""
    wanted = {path: stated.value for path, stated in read_plain(plain).stated.items()}
    assert wanted
    return edit(before, wanted)


def changed(before: Opened, plain: str) -> list[str]:
    """What an edit takes out (-) and puts in (+), a line each, where nothing is refused."""
    done = edited(before, plain)
    assert done.refused == {}
    found: list[str] = []
    for hunk in hunks(before.document.text, done.opened.document.text):
        found += [f"-{line.rstrip()}" for line in hunk.old]
        found += [f"+{line.rstrip()}" for line in hunk.new]
    return found


def corpus(name: str) -> Opened:
    return opened(CORPUS / name)


def small(text: str | bytes, *lines: object, **more: object) -> Opened:
    """A text in a dialect of a few lines."""
    of = build_dialect({"name": "small", "lines": list(lines), **more}, "small.toml")
    data = text.encode() if isinstance(text, str) else text
    return open_dump("small.dump", data, (), of)


PACK = {"under": "[pack]", "map": ["low = {battery.warn_cell: 0.01 V}", "n = {battery.cells}"]}


@settings(max_examples=120)
@given(data=st.data())
def test_any_edit_changes_what_is_wanted_alone_and_can_be_undone(data: st.DataObject) -> None:
    before = opened(data.draw(st.sampled_from(FILES)))
    declared = {entry.pattern: entry for entry in vocabulary()}
    names = st.sampled_from(sorted(mapped_paths(before.dialect)))
    drawn = [data.draw(drawn_stated(declared[data.draw(names)])) for _ in range(2)]
    wanted = {entry.path: entry.value for entry in drawn}
    done = edit(before, wanted)
    # what comes out is read by an opening of its own, which knows nothing of the edit
    bytes_before, bytes_after = before.document.to_bytes(), done.opened.document.to_bytes()
    after = open_dump("x", bytes_after, dialects(), before.dialect).settings
    for path, value in wanted.items():
        assert (path in done.refused) or after.stated[path].value == value
    for path in {*before.settings.stated, *after.stated} - set(wanted):
        assert before.settings.stated[path].value == after.stated[path].value, path
    assert all(done.refused.values())
    made = hunks(before.document.text, done.opened.document.text)
    assert patched(bytes_after, "utf-8", b"", undone(made)) == bytes_before


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_stating_what_is_stated_changes_no_byte(path: Path) -> None:
    before = opened(path)
    wanted = {name: stated.value for name, stated in before.settings.stated.items()}
    done = edit(before, wanted)
    assert done.opened.document.to_bytes() == before.document.to_bytes()
    assert done.written == ()


# The lines were worked out by hand from the dialects' files in corpus/dialects.
CASES = [
    ("dipper.dump", "battery.warn_cell = 3.45 V", ["-cell_low = 350", "+cell_low = 345"]),
    ("dipper.dump", "telemetry.enabled = off", ["-talks = yes", "+talks = no"]),
    ("dipper.dump", "receiver.smoothing = off", ["-glide = yes", "+glide = no"]),
    ("dipper.dump", "ports.uart5.roles = telemetry, receiver", ["-jobs = 0", "+jobs = 3"]),
    ("dipper.dump", "switches.arm = none", ["-works = ch5 60-80", "+works = never"]),
    ("dipper.dump", "failsafe.channels.4 = hold", ["-gives = 1500", "+freezes = yes"]),
    (  # (2100 - 500) / 20 = 80, (1300 - 500) / 20 = 40
        "dipper.dump",
        "switches.arm = 5: 1700..2100 us, 6: 1300..2100 us",
        ["+works = ch6 40-80"],
    ),
    (
        "dipper.dump",
        "filters.gyro = pt1 150 Hz, notch 200 Hz q 3.5",
        ["-hollow_at = 0", "-hollow_q = 300", "+hollow_at = 200", "+hollow_q = 350"],
    ),
    (
        "dipper.dump",
        "video.plan.meadow = 5733, 5752, 5771, 5790, 5809, 5828, 5847, 5860 MHz",
        ["-    5809 5828 5847 5866", "+    5809 5828 5847 5860"],
    ),
    (
        "dipper.dump",
        "video.plan.meadow = 5733, 5752 MHz",
        ["-tunes = 5733 5752 5771 5790 \\", "-    5809 5828 5847 5866", "+tunes = 5733 5752"],
    ),
    (
        "dipper.dump",
        "failsafe.channels.12 = 1000 us",
        ["+[lost channel 12]", "+gives = 1000", "+"],
    ),
    ("wagtail.dump", "switches.buzzer = none", ["-when horn ch8 32 48", "+no when horn"]),
    ("wagtail.dump", "receiver.smoothing = off", ["-glide on", "+no glide"]),
    (
        "wagtail.dump",
        "ports.uart4.baud = 9600 Bd",
        ["-link keel 0", "+link keel 0 9600"],
    ),
    (
        "goosander.dump",
        "ports.uart4.roles = telemetry",  # the comment behind the row stays
        [
            "-P4,~,1152,no,no,no,8   # spare, wires tinned",
            "+P4,32,1152,no,no,no,8   # spare, wires tinned",
        ],
    ),
    ("goosander.dump", "failsafe.channels.3 = 900 us", ["-2,keep,~", "+2,set,180"]),
    (  # the slots have names of the dump's own: first, second and hum, which is a notch
        "goosander.dump",
        "filters.gyro = pt1 180 Hz, notch 160 Hz q 3",
        ["-first,round,15", "+first,round,18", "-hum,slit,~,35", "+hum,slit,16,30"],
    ),
    ("goosander.dump", "filters.gyro = none", ["-first,round,15", "+first,round,0"]),
    (
        "goosander.dump",
        "filters.dterm = pt1 100 Hz",
        ["-first,round,9", "-second,round,12", "+first,round,10", "+second,round,0"],
    ),
    (
        "goosander.dump",
        "switches.buzzer = none",
        ["-hoot,7,32,48", "-hoot,11,40,48", "+hoot,~"],
    ),
]


@pytest.mark.parametrize(("name", "plain", "lines"), CASES, ids=[f"{c[0]}: {c[1]}" for c in CASES])
def test_an_edit_is_the_line_that_the_dialect_would_have(
    name: str, plain: str, lines: list[str]
) -> None:
    assert changed(corpus(name), plain) == lines


def test_a_new_line_in_the_plain_form_goes_below_the_nearest_head() -> None:
    before = open_dump("a.cfg", b"[battery]\ncells = 4\n\n[home]\nspeed = 5 m/s\nend\n", (), PLAIN)
    done = edited(before, "battery.warn_cell = 3.5 V\nloop.rate = 4 kHz")
    assert done.refused == {}
    assert done.opened.document.to_bytes().decode() == (
        "[battery]\ncells = 4\nwarn_cell = 3.5 V\n\n[home]\nspeed = 5 m/s\n\n"
        "[loop]\nrate = 4000 Hz\nend\n"
    )


@pytest.mark.parametrize(
    ("encoding", "bom"),
    [("utf-8", b""), ("utf-8", b"\xef\xbb\xbf"), ("utf-16-le", b"\xff\xfe"), ("latin-1", b"")],
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", [True, False])
def test_encoding_mark_line_ends_and_the_last_one_stay(
    encoding: str, bom: bytes, end: str, last: bool
) -> None:
    lines = ["# d\xe9but", "[pack]", "low = 350  # sag \xe9", "n = 4"]
    text = end.join(lines) + end * last
    before = small(bom + text.encode(encoding), PACK)
    done = edited(before, "battery.warn_cell = 3.45 V")
    assert done.refused == {}
    after = text.replace("350", "345")
    assert done.opened.document.to_bytes() == bom + after.encode(encoding)


def test_a_line_put_in_at_the_end_keeps_the_file_without_a_last_line_end() -> None:
    done = edited(small("[pack]\r\nlow = 350", PACK), "battery.cells = 4")
    assert done.opened.document.to_bytes() == b"[pack]\r\nlow = 350\r\nn = 4"


def test_prompt_lead_word_and_indent_stand_where_they_stood() -> None:
    before = small(
        "river> put low = 3.5  # cold\n   put n = 4\n",
        {"map": ["low = {battery.warn_cell: V}", "n = {battery.cells}"]},
        look={"lead": "put", "prompts": ["river>"]},
    )
    done = edited(before, "battery.warn_cell = 3.4 V")
    assert done.opened.document.to_bytes() == b"river> put low = 3.4  # cold\n   put n = 4\n"


def test_a_new_line_stands_in_the_block_and_before_its_end() -> None:
    of = {"under": ["begin bank {N}"], "map": ["{AXIS},{banks.N.gains.AXIS.p}"]}
    before = small("begin bank 1\n  roll,45\nend bank 1\nbegin bank 2\nend bank 2\n", of)
    done = edited(before, "banks.1.gains.pitch.p = 47\nbanks.2.gains.yaw.p = 40")
    assert done.refused == {}
    assert done.opened.document.to_bytes().decode() == (
        "begin bank 1\n  roll,45\n  pitch,47\nend bank 1\nbegin bank 2\nyaw,40\nend bank 2\n"
    )


def test_a_block_that_is_not_there_is_opened_and_closed() -> None:
    of = {"under": ["begin bank {N}"], "map": ["{AXIS},{banks.N.gains.AXIS.p}"]}
    before = small(
        "begin bank 1\nroll,45\nend bank 1\nso ends it\n", of, look={"end": "so ends it"}
    )
    done = edited(before, "banks.2.gains.roll.p = 47")
    assert done.opened.document.to_bytes().decode() == (
        "begin bank 1\nroll,45\nend bank 1\nbegin bank 2\nroll,47\nend bank 2\nso ends it\n"
    )


def test_several_new_lines_go_under_one_head_each_kind_where_it_belongs() -> None:
    ports = {"under": "[port {PORT}]", "map": ["speed = {ports.PORT.baud}"]}
    before = small("[pack]\nn = 4\n\n[port a]\nspeed = 9600\n", PACK, ports)
    assert changed(before, "ports.c.baud = 1200\nbattery.warn_cell = 3.5\nports.b.baud = 2400") == [
        "+low = 350",
        "+",
        "+[port c]",
        "+speed = 1200",
        "+",
        "+[port b]",
        "+speed = 2400",
    ]


def test_of_several_new_lines_the_one_that_can_t_be_leaves_the_others() -> None:
    full = {"map": ["full = {battery.full_cell: 0.01 V}"]}
    before = small("[pack]\nn = 4\n", PACK, full)
    values = {"battery.warn_cell": 3.5, "battery.full_cell": 9.9, "battery.empty_cell": 3.3}
    done = edit(before, values)
    assert done.written == ("battery.warn_cell",)
    assert set(done.refused) == {"battery.full_cell", "battery.empty_cell"}


def test_on_and_off_are_spelled_as_the_dump_spells_them() -> None:
    of = {"map": ["a = {telemetry.enabled}", "b = {finder.buzzer: not}", "c = {overlay.enabled}"]}
    before = small("a = no\nb = no\n", of)
    done = edited(before, "telemetry.enabled = on\nfinder.buzzer = off\noverlay.enabled = on")
    assert done.opened.document.to_bytes() == b"a = yes\nb = yes\nc = yes\n"


def test_a_value_that_was_never_possible_is_put_right() -> None:
    before = small("[pack]\nlow = often\n", PACK)
    assert "battery.warn_cell" not in before.settings
    done = edited(before, "battery.warn_cell = 3.5 V")
    assert done.opened.document.to_bytes() == b"[pack]\nlow = 350\n"


def test_of_a_setting_said_twice_the_one_that_holds_is_changed() -> None:
    done = edited(small("[pack]\nn = 3\nn = 4\n", PACK), "battery.cells = 6")
    assert done.opened.document.to_bytes() == b"[pack]\nn = 3\nn = 6\n"


REFUSED = [
    ("dipper.dump", "battery.warn_cell = 3.456 V", "not a whole number of steps"),
    ("dipper.dump", "firmware.version = 2.5", "the firmware writes of itself"),
    ("dipper.dump", "firmware.name = marl", "always so in this firmware"),
    ("goosander.dump", "ports.uart9.roles = telemetry", "uart9"),
    ("wagtail.dump", "overlay.enabled = off", "no room for overlay.standard"),
    ("goosander.dump", "filters.dterm = pt1 90 Hz, pt1 80 Hz, pt1 70 Hz", "more than 2 places"),
    ("broken/latin1.dump", 'craft.name = "\u0160torch"', "encoding, latin-1, can't hold it"),
]


@pytest.mark.parametrize(("name", "plain", "why"), REFUSED)
def test_what_can_t_be_said_is_refused_with_the_reason_and_no_byte_changes(
    name: str, plain: str, why: str
) -> None:
    before = corpus(name)
    done = edited(before, plain)
    (reason,) = done.refused.values()
    assert why in reason
    assert done.opened.document.to_bytes() == before.document.to_bytes()


def test_a_text_that_no_line_can_hold_is_refused_as_such() -> None:
    done = edit(corpus("dipper.dump"), {"craft.name": 'a"b'})
    assert done.refused == {
        "craft.name": "how its firmware writes a quotation mark in a text is not known"
    }


def test_what_can_be_said_is_written_though_another_can_t() -> None:
    done = edited(corpus("dipper.dump"), "battery.cells = 6\nbattery.warn_cell = 3.456 V")
    assert set(done.refused) == {"battery.warn_cell"}
    assert done.written == ("battery.cells",)
    assert done.opened.settings["battery.cells"].value == 6


def test_a_dump_without_a_dialect_and_a_path_of_nobody_are_refused() -> None:
    done = edit(open_dump("a", b"low = 3\n", (), GENERIC), {"battery.cells": 4})
    assert done.refused == {"battery.cells": "no dialect knows this dump"}
    done = edit(corpus("dipper.dump"), {"battery.colour": "red"})
    assert "no setting of the vocabulary" in done.refused["battery.colour"]


def test_an_edit_that_would_say_anything_else_is_told() -> None:
    def of(**values: float) -> Settings:
        return Settings({path: Stated(path, value) for path, value in values.items()})

    assert misread(of(a=1.0), of(a=2.0), {"a": 2.0}, ("a",)) == ""
    assert "reads back as" in misread(of(a=1.0), of(a=1.0), {"a": 2.0}, ("a",))
    assert "also say b" in misread(of(a=1.0, b=1.0), of(a=2.0, b=3.0), {"a": 2.0}, ("a",))
    assert "no room for b" in misread(of(a=1.0, b=1.0), of(a=2.0), {"a": 2.0}, ("a",))
    assert misread(of(a=1.0, b=1.0), of(a=2.0, b=3.0), {"a": 2.0, "b": 3.0}, ("a",)) == ""


def test_a_port_without_a_role_is_written_as_the_dump_writes_its_others() -> None:
    # by hand: marl has a tilde in the line of each free plug, sedge a nought
    assert changed(corpus("goosander.dump"), "ports.uart2.roles = none") == [
        "-P2,32,576,no,no,no,8",
        "+P2,~,576,no,no,no,8",
    ]
    assert changed(corpus("dipper.dump"), "ports.uart2.roles = none")[1] == "+jobs = 0"


LOSS = "channel {N} goes to: {failsafe.channels.N: us}"


def test_a_unit_goes_with_the_number_that_it_belongs_to() -> None:
    before = small(
        "channel 3 goes to: 1000 us\nchannel 4 goes to: hold\n", {"map": [f"{LOSS} ..."]}
    )
    assert changed(before, "failsafe.channels.3 = hold\n") == [
        "-channel 3 goes to: 1000 us",
        "+channel 3 goes to: hold",
    ]
    assert changed(before, "failsafe.channels.4 = 1500 us\n") == [
        "-channel 4 goes to: hold",
        "+channel 4 goes to: 1500 us",
    ]


def test_a_unit_that_lines_have_in_words_goes_too() -> None:
    row = "loss {N} {failsafe.channels.N: us} ..."
    before = small("loss 3 1000 us\nloss 4 hold\n", {"map": [row]})
    assert changed(before, "failsafe.channels.3 = hold\n") == ["-loss 3 1000 us", "+loss 3 hold"]


def test_a_word_is_not_put_before_a_unit_that_its_line_must_have() -> None:
    rows = [f"{LOSS} us", LOSS]
    before = small("channel 3 goes to: 1000 us\nchannel 4 goes to: hold\n", {"map": rows})
    assert changed(before, "failsafe.channels.3 = hold\n") == [
        "-channel 3 goes to: 1000 us",
        "+channel 3 goes to: hold",
    ]
    done = edited(
        small("channel 3 goes to: 1000 us\n", {"map": rows[:1]}), "failsafe.channels.3 = hold\n"
    )
    assert "no word for hold" in done.refused["failsafe.channels.3"]


def test_where_signs_part_words_a_value_is_changed_in_place_and_no_line_is_made_up() -> None:
    look = {"blanks": ";"}
    lines = {"map": ["pack warn {battery.warn_cell: V}", "pack cells {battery.cells}"]}
    before = small("pack;warn;3.5;V\n", lines, look=look)
    assert changed(before, "battery.warn_cell = 3.6 V") == ["-pack;warn;3.5;V", "+pack;warn;3.6;V"]
    assert set(edited(before, "battery.cells = 4").refused) == {"battery.cells"}


LOOKED_AT: tuple[tuple[dict[str, object], str, str, str], ...] = (
    ({"edges": "-="}, "--pack-warn=3.5V", "pack-warn=", "3.5"),
    ({"edges": "+-"}, "+- pack warn 3.5", "pack warn ", "3.5"),
    ({"prompts": ["[*]"]}, "[12/90] pack warn 3.5", "pack warn ", "3.5"),
    ({"prompts": ["* LET"]}, "120 LET pack warn 3.5", "pack warn ", "3.5"),
    ({"prompts": ["cfg(*):"]}, "cfg(00:01:02.5): pack warn 3.5", "pack warn ", "3.5"),
    ({"fillers": ["key", "value"]}, "key pack value 3.5", "pack ", "3.5"),
    ({"remarks": ["%", "REM"]}, "pack warn 3.5 REM as flown, %", "pack warn ", "3.5"),
    ({}, "pack warn 3.5 /* as flown */", "pack warn ", "3.5"),
)


@pytest.mark.parametrize(("look", "line", "key", "value"), LOOKED_AT)
def test_whatever_stands_around_a_line_is_passed_over_and_stays(
    look: dict[str, object], line: str, key: str, value: str
) -> None:
    unit = "V" if "V" in line else ""
    before = small(f"{line}\n", {"map": [f"{key}{{battery.warn_cell: V}}{unit}"]}, look=look)
    assert not before.settings.troubles
    stated = before.settings["battery.warn_cell"]
    assert (stated.value, stated.text) == (3.5, "3.5")
    place = stated.place
    assert place is not None
    assert line[place.column - 1 : place.end - 1] == value
    done = changed(before, "battery.warn_cell = 3.6 V")
    assert done == [f"-{line}", f"+{line.replace('3.5', '3.6')}"]


def test_a_number_at_the_edge_keeps_its_sign_and_its_point() -> None:
    before = small(
        "+tilt -.5\n", {"map": ["tilt {board.rotation.yaw: deg}"]}, look={"edges": "+-."}
    )
    assert before.settings["board.rotation.yaw"].value == -0.5


@pytest.mark.parametrize("look", [{"edges": "-"}, {"fillers": ["key"]}, {"remarks": ["%"]}])
def test_no_line_is_made_up_in_a_look_that_passes_something_over(look: dict[str, object]) -> None:
    lines = {"map": ["pack warn {battery.warn_cell: V}", "pack cells {battery.cells}"]}
    before = small("pack warn 3.5\n", lines, look=look)
    assert set(edited(before, "battery.cells = 4").refused) == {"battery.cells"}


def test_an_object_on_one_line_is_words_and_stays_an_object_where_it_is_changed() -> None:
    lines = {"map": ["{ID} use {pads.ID.use} timer {pads.ID.timer}", "cells: {battery.cells}"]}
    dump = '{\n  "o1": { "use": "buzzer", "timer": "t2" },\n  "cells": 4,\n}\n'
    before = small(dump, lines, look={"blanks": '",{}'})
    assert before.settings["pads.o1.timer"].value == "t2"
    assert before.settings["battery.cells"].value == 4
    assert changed(before, "pads.o1.use = led_strip") == [
        '-  "o1": { "use": "buzzer", "timer": "t2" },',
        '+  "o1": { "use": "led_strip", "timer": "t2" },',
    ]


@pytest.mark.parametrize("bars", ["{}", "| {} |"])
def test_a_row_of_cells_that_bars_part_is_changed_cell_by_cell(bars: str) -> None:
    rows = [bars.format(row) for row in ("s1 | video tx | 115200", "s2 | gps, rx    | 9600")]
    lines = {"map": ["{ID} | {ports.ID.roles: words jobs} | {ports.ID.baud: Bd}"]}
    jobs = {"video tx": "video_control", "gps": "position", "rx": "receiver"}
    before = small("\n".join(rows), lines, look={"cells": "|"}, words={"jobs": jobs})
    assert before.settings["ports.s1.roles"].value == frozenset({"video_control"})
    assert before.settings["ports.s2.roles"].value == frozenset({"position", "receiver"})
    assert changed(before, "ports.s1.roles = position") == [
        f"-{rows[0]}",
        f"+{rows[0].replace('video tx', 'gps')}",
    ]
    assert set(edited(before, "ports.s3.roles = position").refused) == {"ports.s3.roles"}
    told = line_change(before, edited(before, "ports.s1.roles = position").opened)
    assert told is not None
    assert told.forth.lines == (rows[0].replace("video tx", "gps"),)


@pytest.mark.parametrize(
    ("powers", "line"),
    [
        ("10 mW, 50 mW, 150 mW", "[10mW, 50mW, 150mW]"),
        ("10 mW, 25 mW", "[10mW, 25mW]"),
        ("10 mW, 25 mW, 150 mW, 300 mW", "[10mW, 25mW, 150mW, 300mW]"),
    ],
)
def test_a_list_in_brackets_keeps_them_and_the_unit_of_each_number(powers: str, line: str) -> None:
    lines = {"map": ['steps = [{video.plan.powers: list mW}{"]"}']}
    before = small("steps = [10mW, 25mW, 150mW]\n", lines)
    assert changed(before, f"video.plan.powers = {powers}") == [
        "-steps = [10mW, 25mW, 150mW]",
        f"+steps = {line}",
    ]


def test_a_star_within_a_cell_is_any_text_and_stays() -> None:
    lines = {
        "map": ["arm * {switches.arm.channel}, {switches.arm.low: us} to {switches.arm.high: us}"]
    }
    before = small("arm ...... 5, 1700 to 2100\n", lines)
    assert changed(before, "switches.arm = 6: 1700..2100 us") == [
        "-arm ...... 5, 1700 to 2100",
        "+arm ...... 6, 1700 to 2100",
    ]


def test_a_word_with_a_colon_may_be_a_line_s_first_word() -> None:
    lines = {"map": ["pack: warn {battery.warn_cell: V}", "pack: cells {battery.cells}"]}
    before = small("pack: warn 3.5\n", lines, look={"colons": True})
    assert changed(before, "battery.warn_cell = 3.6 V") == ["-pack: warn 3.5", "+pack: warn 3.6"]
    assert changed(before, "battery.cells = 4") == ["+pack: cells 4"]


def test_no_second_line_is_written_beside_one_whose_words_are_not_known() -> None:
    lines = {"map": ["lost then go home {failsafe.action = return_home}"]}
    done = edited(small("lost then land\n", lines), "failsafe.action = return_home")
    assert done.refused == {
        "failsafe.action": "line 1 says it in words that the dialect does not know: lost then land"
    }
    assert done.opened.document.to_bytes() == b"lost then land\n"


def test_a_line_that_is_not_understood_leaves_no_factory_value() -> None:
    lines = {"map": ["answers {esc.reports = on}"]}
    of = {
        "factory": {"1.0": {"esc.reports": "off"}},
        "look": {"head": ["bulrush {firmware.version}"]},
    }
    silent = small("bulrush 1.0\n", lines, **of)
    assert silent.settings.stated["esc.reports"].value is False
    assert "esc.reports" not in small("bulrush 1.0\nanswers seldom\n", lines, **of).settings


def test_values_are_put_in_place_in_statements_over_several_lines() -> None:
    look = {"starts": ["> get"]}
    lines = {"map": ["> get pack.low {battery.warn_cell: V}", "> get pack.n {battery.cells}"]}
    dump = "> get pack.low\\n  3.4\\n\\n> get pack.n\\n  4  # in series\\n".replace("\\n", "\n")
    before = small(dump, lines, look=look)
    stated = before.settings.stated
    assert stated["battery.cells"].value == 4
    place = stated["battery.warn_cell"].place
    assert place is not None
    assert (place.line, place.column) == (2, 3)
    assert changed(before, "battery.warn_cell = 3.5 V") == ["-  3.4", "+  3.5"]
    alone = edited(small(dump, lines, look=look), "battery.cells = 6")
    assert alone.opened.document.to_bytes() == dump.replace("4  #", "6  #").encode()
    refused = edited(small("> get pack.n\n  4\n", lines, look=look), "battery.warn_cell = 3.5 V")
    assert "typed by hand" in refused.refused["battery.warn_cell"]
