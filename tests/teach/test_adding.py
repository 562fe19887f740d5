"""What was learnt is put into a dialect file, however that is written; all of it is kept."""

import tomllib

import pytest

from cfgaudit.dialects.checking import check_text
from cfgaudit.reading.text import read_text
from cfgaudit.reading.toml import CannotAdd, Page
from cfgaudit.teach.adding import added, look_of
from cfgaudit.teach.learn import Lesson, equals, learn
from cfgaudit.teach.write import put_lines
from tests.cli.calling import CORPUS

PACK = ("[pack]\nlow = 350\n", "[pack]\nlow = 345\n")
PORTS = ("[port b2]\njobs = 0\n[port b3]\njobs = 8\n", "[port b2]\njobs = 4\n[port b3]\njobs = 8\n")


def put(text: str, path: str, dumps: tuple[str, str], value: str, was: str = "") -> str:
    """The text with what one change teaches; a part of it may be new, and none of it is lost."""
    lesson = Lesson(read_text(dumps[0].encode()), read_text(dumps[1].encode()), value, was)
    [found] = equals(learn(path, [lesson], look_of(text)))
    made = added(text, found, path, [lesson])
    assert is_kept(text, made)
    return made


def is_kept(text: str, made: str) -> bool:
    """Whether every letter of a text stands in another one, in the same order."""
    letters = iter(made)
    return all(letter in letters for letter in text)


def low(text: str) -> str:
    return put(text, "battery.warn_cell", PACK, "3.45 V")


LINE = "low = {battery.warn_cell: 0.01 V}"
ITEM = f'{{ under = ["[pack]"], map = ["{LINE}"] }}'


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("lines = []\n", f"lines = [{ITEM}]\n"),
        ("lines = [ ] # none\n", f"lines = [{ITEM} ] # none\n"),
        ('lines = [{ map = ["a = {motors.poles}"] }]\n',
         f'lines = [{{ map = ["a = {{motors.poles}}"] }}, {ITEM}]\n'),
        ('lines = [{ known = ["a"] },]\n', f'lines = [{{ known = ["a"] }}, {ITEM}]\n'),
        ('lines = [\n    { known = ["a"] }  # , ] and }\n  # that is all\n]\n',
         f'lines = [\n    {{ known = ["a"] }},  # , ] and }}\n  # that is all\n    {ITEM},\n]\n'),
        ('lines = [\n  { known = ["a"] }, # x\n  ]\n[given]\n',
         f'lines = [\n  {{ known = ["a"] }}, # x\n  {ITEM},\n  ]\n[given]\n'),
        ('lines = [ { known = ["a"] }, # x\n { known = ["b"] } ]\n',
         f'lines = [ {{ known = ["a"] }}, # x\n {{ known = ["b"] }}, {ITEM} ]\n'),
        ('[[lines]]\nknown = ["a"]', f'[[lines]]\nknown = ["a"]\n\n[[lines]]\nunder = ["[pack]"]\n'
         f'map = ["{LINE}"]\n'),
    ],
)  # fmt: skip
def test_a_line_is_put_at_the_end_of_the_lines(before: str, after: str) -> None:
    top = 'name = "reed" # a "dialect"\n'
    assert low(top + before) == top + after


def test_the_ends_of_lines_are_those_of_the_file() -> None:
    made = low('name = "reed"\r\nlines = [\r\n  { known = ["a"] },\r\n]\r\n')
    assert made.count("\n") == made.count("\r\n") == 5


def test_a_dialect_that_reads_the_value_already_is_left_alone() -> None:
    once = low('name = "reed"\n')
    assert low(once) == once


def test_a_line_goes_under_the_context_that_the_dialect_has() -> None:
    """A second context for the same sections would never be looked at."""
    text = (
        'name = "reed"\n[words.ports]\nb2 = "uart2"\nb3 = "uart3"\n[flags.jobs]\nreceiver = 8\n'
        '[[lines]]\nunder = "[port {ID: words ports}]"\nmap = ["speed = {ports.ID.baud}"]\n'
    )
    made = put(text, "ports.uart2.roles", PORTS, "telemetry", "none")
    assert made == text + (
        "\n[flags.learnt_ports_roles]\ntelemetry = 4\n"
        '\n[[lines]]\nunder = ["[port {ID: words ports}]"]\n'
        'map = ["jobs = {ports.ID.roles: flags learnt_ports_roles}"]\n'
    )


@pytest.mark.parametrize(
    ("words", "after"),
    [
        (
            '[words.ports]\nb2 = "uart2" # two\n',
            '[words.ports]\nb2 = "uart2" # two\nb3 = "uart3"\n',
        ),
        ("[words.ports] # none\n", '[words.ports] # none\nb3 = "uart3"\n'),
        (
            '[words]\nports = { b2 = "uart2" }\n',
            '[words]\nports = { b2 = "uart2", b3 = "uart3" }\n',
        ),
        ("[words]\nports = {}\n", '[words]\nports = { b3 = "uart3" }\n'),
        ("[words]\nports = {b2='uart2'}\n", "[words]\nports = {b2='uart2', b3 = \"uart3\"}\n"),
    ],
)
def test_a_word_that_a_list_lacks_is_added_to_it(words: str, after: str) -> None:
    top = 'name = "reed"\n'
    lines = (
        '[[lines]]\nunder = "[port {ID: words ports}]"\nmap = ["speed = {ports.ID.baud: 100 Bd}"]\n'
    )
    dumps = tuple(f"[port b2]\nspeed = 96\n[port b3]\nspeed = {n}\n" for n in (96, 192))
    made = put(top + words + lines, "ports.uart3.baud", (dumps[0], dumps[1]), "19200 Bd")
    assert made == top + after + lines


def test_tables_that_stand_within_one_line_get_another_one_there() -> None:
    text = 'name = "reed"\nwords = { turn = { a = "cw" } }\nlines = []\n'
    made = put(text, "frame.rotation", ("way = in\n", "way = out\n"), "outward", "inward")
    assert tomllib.loads(made)["words"] == {
        "turn": {"a": "cw"},
        "learnt_frame_rotation": {"out": "outward", "in": "inward"},
    }


def test_what_can_not_be_added_is_said_with_its_line() -> None:
    text = (
        'name = "reed"\nwords = { ports = { b2 = "uart2" } }\n'
        '[[lines]]\nunder = "[port {ID: words ports}]"\nmap = ["speed = {ports.ID.baud: 100 Bd}"]\n'
    )
    page = Page(text)
    with pytest.raises(CannotAdd, match='put b3 = "uart3" into ports of words there') as caught:
        page.put_keys(("words", "ports"), ['b3 = "uart3"'])
    assert caught.value.line == 2


def test_a_setting_that_another_key_states_is_not_stated_twice() -> None:
    text = 'name = "reed"\n[[lines]]\nunder = "[pack]"\nmap = ["lo = {battery.warn_cell: V}"]\n'
    with pytest.raises(CannotAdd, match=r"battery\.warn_cell is stated by 'lo = "):
        low(text)


def test_the_index_words_of_a_path_are_told_by_their_likeness_whatever_their_order() -> None:
    dumps = (
        "[axis roll]\nbank 1 pull 40\nbank 2 pull 40\n[axis yaw]\nbank 1 pull 40\nbank 2 pull 40\n",
        "[axis roll]\nbank 1 pull 40\nbank 2 pull 45\n[axis yaw]\nbank 1 pull 40\nbank 2 pull 40\n",
    )
    made = put('name = "reed"\n', "banks.2.gains.roll.p", dumps, "45", "40")
    assert "[axis {AXIS}]" in made
    assert "learnt" not in made


@pytest.mark.parametrize("name", ["sedge", "osier", "marl", "alder"])
def test_nothing_is_lost_of_a_whole_dialect(name: str) -> None:
    """A value of a key that the dialect knows, with a meaning that it lacks: what is new is put."""
    text = (CORPUS / "dialects" / f"{name}.toml").read_text(encoding="utf-8")
    page = Page(text)
    put_lines(page, ("[odd]",), ("one = {motors.poles}",))
    page.put_keys(("words", "odd"), ['a = "b"'])
    made = page.text()
    assert is_kept(text, made)
    assert tomllib.loads(made)["words"]["odd"] == {"a": "b"}
    assert tomllib.loads(made)["lines"][:-1] == tomllib.loads(text)["lines"]
    assert not [p for p in check_text(made) if "odd" not in p.message and "poles" not in p.message]
