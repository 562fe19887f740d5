from pathlib import Path

import pytest

from cfgaudit.dialects.checking import check_file, check_text
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
