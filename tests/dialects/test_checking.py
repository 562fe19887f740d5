"""What `dialect check` tells, where, and that loading and reading refuse the same."""

import tomllib
from pathlib import Path

import pytest

from cfgaudit.dialects.checking import check_file, check_text
from cfgaudit.dialects.dialect import DialectError, build_dialect, load_dialect
from cfgaudit.dialects.opening import open_dump
from tests.cli.calling import CORPUS

TOP = 'name = "reed"\n[[lines]]\n'


@pytest.mark.parametrize("file", sorted((CORPUS / "dialects").glob("*.toml")), ids=lambda f: f.stem)
def test_nothing_is_wrong_with_the_dialects_of_the_corpus(file: Path) -> None:
    assert check_file(file) == ()


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ('map = ["low = {battery.warn_cel: V}"]', 3, "did you mean battery.warn_cell"),
        ('map = ["low = {battery.warn_cell: Hz}"]', 3, "battery.warn_cell is in V"),
        ('map = ["n = {receiver.channels: Hz}"]', 3, "receiver.channels has no unit"),
        ('map = ["s = {ports.ID.baud: Bd}"]', 3, "does not say which ID"),
        ('map = ["t = {motors.poles: words turn}"]', 3, "there is no table words.turn"),
        ('map = ["t = {motors.poles: flags turn}"]', 3, "there is no table flags.turn"),
        ('map = ["t = {motors.poles: not}"]', 3, "`not` is for on or off"),
        ('map = ["a = {motors.poles}", "b = {motors.poles}"]', 3, "is stated by 'a ="),
        ('map = ["led {finder.led = perhaps}"]', 3, "finder.led = perhaps"),
        ('map = ["greeting ..."]', 3, "list it as known"),
        ('map = ["a = {motors.poles: 0 V}"]', 3, "a scale and a unit"),
        ('map = ["a {b"]', 3, "a brace without its partner"),
        ('maps = ["a = {motors.poles}"]', 3, "did you mean map"),
    ],
)
def test_a_fault_in_a_line_is_told_with_its_line(text: str, line: int, said: str) -> None:
    found = check_text(TOP + text)
    assert any(one.line == line and said in one.message for one in found), found


def test_everything_is_told_at_once_in_the_order_of_the_file() -> None:
    found = check_text(
        'name = "reed"\nabout_it = "x"\n[given]\n"esc.idl" = "5 %"\n[flags.jobs]\n'
        'telemetry = 1\nreceiver = 3\n[[lines]]\nunder = "[p {ID}]"\n'
        'map = ["j = {ports.ID.roles: flags jobs}", "low = {battery.warn_cell: s}"]\n'
    )
    # the last line has two: the flags that overlap are read back as both, and V is not s
    assert [one.line for one in found] == [2, 4, 7, 10, 10]


AXES = '[words.axes]\nlean = "roll"\nnod = "pitch"\n'


@pytest.mark.parametrize(
    ("path", "is_one"),
    [
        ("board.rotation.AXIS", True),
        ("sensors.accelerometer.trim.AXIS", True),
        ("motors.front_left.mix.AXIS", True),
        ("sensors.accelerometer.AXIS", False),  # none of its settings is called so
        ("battery.AXIS", False),  # what one is set to is nothing for another
    ],
)
def test_an_index_stands_for_names_of_settings_of_one_kind(path: str, is_one: bool) -> None:
    text = f'{TOP}map = ["board {{AXIS: words axes}} {{{path}}}"]\n{AXES}'
    assert (not any("is no setting" in one.message for one in check_text(text))) is is_one
    of = build_dialect(tomllib.loads(text), "reed.toml")
    stated = open_dump("a.dump", b"board nod 1\n", [of], of).settings.stated
    assert (path.replace("AXIS", "pitch") in stated) is is_one


def test_one_key_may_be_worded_in_two_ways_and_no_other_key_may_say_the_same() -> None:
    lines = ["port {ID}: at {ports.ID.baud: Bd} baud", "port {ID}: at {ports.ID.baud: Bd} baud, on"]
    both = ", ".join(f'"{line}"' for line in lines)
    assert check_text(f"{TOP}map = [{both}]\n") == ()
    [found] = check_text(f'{TOP}map = [{both}, "plug {{ID}}: at {{ports.ID.baud: Bd}} baud"]\n')
    assert "already" in found.message


def test_a_word_that_no_setting_of_its_list_can_have_is_told() -> None:
    text = f'{TOP}map = ["t = {{frame.rotation: words way}}"]\n[words.way]\nin = "inwards"\n'
    [found] = check_text(text)
    assert (found.line, "in = inwards" in found.message) == (5, True)


def test_a_value_that_is_read_back_as_another_is_told() -> None:
    """Telemetry is written 2; a dump with 2 then says receiver too, whose bits are 2 alone."""
    text = f'{TOP}map = ["j = {{ports.ID.roles: flags j}}"]\nunder = "[p {{ID}}]"\n[flags.j]\n'
    found = check_text(text + "telemetry = 2\nreceiver = 2\n")
    assert [one.line for one in found] == [3, 7]
    assert "read back as" in found[0].message


def test_two_words_that_differ_by_their_capitals_alone_are_no_fault() -> None:
    text = f'{TOP}map = ["t = {{position.enabled: words way}}"]\n[words.way]\nY = "on"\ny = "off"\n'
    assert check_text(text) == ()


def test_a_file_that_is_no_toml_is_told_with_its_line() -> None:
    [found] = check_text('name = "reed"\nlook = [\n')
    assert found.line >= 2


def test_a_dialect_without_a_name_is_told() -> None:
    assert any("name" in one.message for one in check_text("[look]\n"))


def test_every_part_of_the_wrong_sort_is_told_with_its_line() -> None:
    parts = ("look", "words", "flags", "lines", "versions", "factory", "given", "volatile")
    found = check_text("".join([*(f"{part} = 3\n" for part in parts), 'name = "reed"\n']))
    assert [one.line for one in found] == list(range(1, len(parts) + 1)), found
    assert all("is expected" in one.message for one in found)


def test_a_file_that_lies_too_deep_is_a_fault_of_the_file() -> None:
    [found] = check_text(f'name = "reed"\nlines = {"[" * 5000}{"]" * 5000}\n')
    assert "too deep" in found.message


def test_a_fault_in_a_line_has_its_column_too() -> None:
    # the text of the first line begins in column 9, that of the other in column 3
    text = f'{TOP}map = ["low = {{battery.warn_cel: V}}",\n "a = {{motors.poles: 0 V}}"]\n'
    assert [(one.line, one.column, one.key) for one in check_text(text)] == [
        (3, 15, ("lines", 0, "map", 0)),
        (4, 22, ("lines", 0, "map", 1)),
    ]


def test_a_fault_in_an_inline_table_has_its_line_and_column() -> None:
    text = 'name = "reed"\nlines = [\n  { under = "[p]", map = [\n    "a = {b.c}",\n  ] },\n]\n'
    [found] = check_text(text)
    assert (found.line, found.column) == (4, 10)
    assert str(found) == "4:10: b.c is no setting of the vocabulary"


def test_a_text_with_escapes_is_told_by_where_it_begins() -> None:
    [found] = check_text(f'{TOP}map = ["\\u0061 = {{b.c}}"]\n')
    assert (found.line, found.column) == (3, 8)


MALFORMED = {
    "an unknown key": 'name = "reed"\nlook.promt = []\n',
    "no name": "[look]\n",
    "a table of another sort": 'name = "reed"\n[words]\nturn = 3\n',
    "a flag that is no number": 'name = "reed"\n[flags.jobs]\nhorn = "loud"\n',
    "a version without a number": 'name = "reed"\n[[versions]]\nbefore = "the flood"\n',
    "a head line": 'name = "reed"\n[look]\nhead = ["reed {firmware.version: furlong}"]\n',
    "a mapping line": f'{TOP}map = ["a {{battery.cells}}", "low = {{battery.warn_cell: 0 V}}"]\n',
    "a known line": f'{TOP}known = ["low = {{x"]\n',
    "a context": f'{TOP}under = ["[port {{ID]"]\n',
    "the end of a block": f'{TOP}map = ["end {{battery.cells}}"]\n',
    "a head among the lines": f'{TOP}map = ["[pack {{battery.cells}}]"]\n',
    "two in the order of the file": f'{TOP}known = ["a {{"]\nmap = ["b {{"]\n',
    "no TOML": 'name = "reed"\nlook = [\n',
}


@pytest.mark.parametrize("sort", MALFORMED)
def test_loading_raises_the_first_fault_that_checking_tells(sort: str, tmp_path: Path) -> None:
    file = tmp_path / "reed.toml"
    file.write_text(MALFORMED[sort], encoding="utf-8")
    first = check_file(file)[0]
    with pytest.raises(DialectError) as caught:
        assert load_dialect(file).root  # the lines are read when they are first asked for
    assert str(caught.value) == f"{file}:{first}"


REFUSED = (
    "battery.warn_cell.low",  # below a setting
    "battery.low",
    "banks.0.gains.roll.p",  # banks count from 1
    "banks.1.gains.sideways.p",
    "ports.a/b.baud",
    "filters.gyro[first].sharpness",  # no part of a filter
    "battery.cells[first]",
    "battery.cells[first].cutoff",
)


@pytest.mark.parametrize("path", REFUSED)
def test_a_path_that_the_reader_refuses_is_refused_in_checking(path: str) -> None:
    text = f'{TOP}map = ["value = {{{path}}}"]\n'
    if "/" in path:
        assert "a setting's path" in check_text(text)[0].message
        return
    [found] = check_text(text)
    assert found.message.startswith(f"{path} is no setting of the vocabulary")
    of = build_dialect(tomllib.loads(text), "reed.toml")
    settings = open_dump("a.dump", b"value = 3\n", [of], of).settings
    assert [trouble.message for trouble in settings.troubles] == [
        f"{path} is no setting of the vocabulary"
    ]
    assert not settings.stated


def test_a_slot_itself_takes_no_text() -> None:
    [found] = check_text(f'{TOP}map = ["value = {{filters.gyro[first]}}"]\n')
    assert "filters.gyro[first] = none, is expected" in found.message


@pytest.mark.parametrize(
    "path", ["banks.1.gains.roll.p", "filters.gyro[first].cutoff", "receiver.map.roll"]
)
def test_a_path_that_the_reader_takes_is_taken_in_checking(path: str) -> None:
    assert check_text(f'{TOP}map = ["value = {{{path}}}"]\n') == ()
    of = build_dialect({"name": "reed", "lines": [{"map": [f"value = {{{path}}}"]}]}, "reed.toml")
    assert not open_dump("a.dump", b"value = 3\n", [of], of).settings.troubles
