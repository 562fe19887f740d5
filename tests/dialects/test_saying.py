"""A change as lines to type in: as the firmware writes them, whatever became of the file."""

import pytest

from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.editor import LineChange, edit, line_change
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.plain import read_plain
from tests.dialects.demo import CORPUS, opened


def change(before: Opened, plain: str) -> LineChange:
    wanted = {path: stated.value for path, stated in read_plain(plain).stated.items()}
    done = edit(before, wanted)
    assert done.refused == {}
    made = line_change(before, done.opened)
    assert made is not None
    return made


PASTED = [
    ("forum-quote.dump", "ports.usb.baud = 230400 Bd", ("[port lid]", "speed = 2304")),
    ("terminal-colours.dump", "ports.usb.baud = 230400 Bd", ("[port lid]", "speed = 2304")),
    ("typographic.dump", "ports.usb.baud = 230400 Bd", ("[port lid]", "speed = 2304")),
    (
        "line-numbers.dump",
        "banks.2.gains.pitch.p = 40",
        ("begin bank 2", "begin gains", "tip,400,740,310,740", "end gains", "end bank 2"),
    ),
    (
        "indented-in-a-fence.dump",
        "banks.1.gains.pitch.d = 30",
        ("bank 1", "gain dip 49 86 30 96"),
    ),
]


@pytest.mark.parametrize(("name", "plain", "lines"), PASTED, ids=[case[0] for case in PASTED])
def test_nothing_of_a_forum_or_a_terminal_is_typed_in(
    name: str, plain: str, lines: tuple[str, ...]
) -> None:
    made = change(opened(CORPUS / "pasted" / name), plain)
    assert made.forth.lines == lines
    assert not any(mark in line for line in made.back.lines for mark in "\x1b\xa0>")
    assert len(made.back.lines) == len(lines)


def test_a_row_that_goes_and_has_none_in_its_place_is_told() -> None:
    before = opened(CORPUS / "goosander.dump")  # its buzzer has the rows hoot,7 and hoot,11
    made = change(before, "switches.buzzer = 8: 1700..2100 us")
    assert made.forth == ((), ("line 156 goes: hoot,11,40,48",))
    assert made.back == (("begin levers", "hoot,11,40,48", "end levers"), ())


def test_a_row_that_came_must_go_on_the_way_back() -> None:
    made = change(
        opened(CORPUS / "goosander.dump"),
        "switches.buzzer = 8: 1700..2100 us, 12: 1900..2100 us, 13: 1900..2100 us",
    )
    assert made.forth == (("begin levers", "hoot,12,40,48", "end levers"), ())
    assert made.back == ((), ("line 157 goes: hoot,12,40,48",))


def test_a_line_that_says_none_clears_every_row() -> None:
    made = change(opened(CORPUS / "goosander.dump"), "switches.buzzer = none")
    assert made.forth == (("begin levers", "hoot,~", "end levers"), ())


def test_a_continued_line_stays_in_its_parts_without_prompt_and_comment() -> None:
    of = build_dialect(
        {
            "name": "small",
            "lines": [{"map": ["tunes = {video.plan.powers: list mW}"]}],
            "look": {"prompts": ["river>"], "continues": "\\"},
        },
        "small.toml",
    )
    text = b"river> tunes = 25 100 \\\n   200 400  # four\n"
    made = change(open_dump("a", text, (), of), "video.plan.powers = 25, 100, 200, 500 mW")
    assert made.forth.lines == ("tunes = 25 100 \\\n   200 500",)
    assert made.back.lines == ("tunes = 25 100 \\\n   200 400",)
