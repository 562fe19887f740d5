"""A dump whose lines a terminal, a page or a mail broke states what the dump states."""

import textwrap
import tomllib
from collections.abc import Callable, Iterable

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.dialect import Dialect, build_dialect
from cfgaudit.dialects.opening import GENERIC, Opened, open_dump
from cfgaudit.reading.pasted import Rest, rests_moved
from cfgaudit.rules.rule import Level
from cfgaudit.settings import TroubleKind

HEAD = "This is reedling 1.2.0 speaking, built on 2026-04-02, for the board that is called Weir-4"
REEDLING = """
name = "reedling"
[look]
head = ["This is reedling {firmware.version} speaking, built on {firmware.built}, for the board that is called {board.name}"]
off = ["-"]
[[lines]]
map = [
  "Motor {ARM: words arm} turns:{motors.ARM.spin: words turn} lift:{motors.ARM.mix.thrust} lean:{motors.ARM.mix.roll} nod:{motors.ARM.mix.pitch} twist:{motors.ARM.mix.yaw}",
  "Stick {AXIS: words axis} comes on channel:{receiver.map.AXIS} of the sixteen that the handset sends it",
  "The pack has cells:{battery.cells} and a cell warns:{battery.warn_cell: 0.01 V} and empty:{battery.empty_cell: 0.01 V}",
  "Called {craft.name}",
]
[words.arm]
hind_right = "rear_right"
fore_right = "front_right"
hind_left = "rear_left"
fore_left = "front_left"
[words.turn]
sunward = "cw"
against = "ccw"
[words.axis]
lean = "roll"
nod = "pitch"
lift = "throttle"
twist = "yaw"
"""  # noqa: E501
SOUND = (
    HEAD,
    "",
    "Called Grebe",
    "Motor hind_right turns:sunward lift:1.00 lean:-1.00 nod:-1.00 twist:-1.00",
    "Motor fore_right turns:against lift:1.00 lean:-1.00 nod:1.00 twist:1.00",
    "Motor hind_left turns:against lift:1.00 lean:1.00 nod:-1.00 twist:1.00",
    "Motor fore_left turns:sunward lift:1.00 lean:1.00 nod:1.00 twist:-1.00",
    "",
    "Stick lean comes on channel:1 of the sixteen that the handset sends it",
    "Stick nod comes on channel:2 of the sixteen that the handset sends it",
    "Stick lift comes on channel:3 of the sixteen that the handset sends it",
    "Stick twist comes on channel:4 of the sixteen that the handset sends it",
    "The pack has cells:4 and a cell warns:350 and empty:330",
)


def dialect() -> Dialect:
    return build_dialect(tomllib.loads(REEDLING), "reedling.toml")


def read(lines: Iterable[str], by: Dialect | None = None) -> Opened:
    data = "\n".join([*lines, ""]).encode()
    found = open_dump("a.dump", data, [dialect()], by)
    assert found.document.to_bytes() == data
    return found


def values(found: Opened) -> dict[str, object]:
    return {path: stated.value for path, stated in found.settings.stated.items()}


def cut(width: int) -> list[str]:
    """As a terminal shows them: in mid-word, where the width is reached."""
    return [
        line[at : at + width] for line in SOUND for at in range(0, max(1, len(line)), width)
    ]  # fmt: skip


def worded(width: int) -> list[str]:
    """As a mail does it: between words, where the next one has no room."""
    return [piece for line in SOUND for piece in textwrap.wrap(line, width) or [""]]


def blanks_kept(width: int) -> list[str]:
    """As a page does it: between words, the blank left at the line's end and counted."""
    return [
        piece if piece is pieces[-1] else f"{piece} "
        for line in SOUND
        for pieces in [textwrap.wrap(line, width - 1) or [""]]
        for piece in pieces
    ]


@pytest.mark.parametrize("width", [40, 46, 60, 66, 70])
@pytest.mark.parametrize("way", [cut, worded, blanks_kept])
def test_a_wrapped_dump_states_what_the_dump_states(
    way: Callable[[int], list[str]], width: int
) -> None:
    found = read(way(width))
    assert values(found) == values(read(SOUND))
    assert not found.settings.troubles
    assert "put together" in found.document.notes[-1]


def test_a_number_that_a_wrap_cut_behind_its_sign_is_read_whole() -> None:
    # the longest line ends behind the minus, which alone would mean that nothing is set
    start, minus, rest = SOUND[3].rpartition("-")
    pieces = [start + minus, rest, *(line for line in SOUND if len(line) < len(start))]
    found = read(pieces, dialect()).settings
    assert found["motors.rear_right.mix.yaw"].value == -1.0


def test_a_word_that_is_longer_than_the_width_does_not_hide_where_lines_were_broken() -> None:
    lines = [*worded(46), "=" * 70]
    assert values(read(lines)) == values(read(SOUND))


_TITLED = """
name = "titled"
[[lines]]
under = ["plans:"]
map = ["band {B}: {video.plan.B: list MHz}"]
"""


def test_a_rest_closes_nothing_that_is_open_around_its_line() -> None:
    titled = build_dialect(tomllib.loads(_TITLED), "titled.toml")
    bands = [f"  band {name}: 5679, 5714, 5757, 5794, 5833, 5871, 5889 MHz" for name in "vwx"]
    lines = ["plans:", *bands, "lamps:", "  hue: red"]
    cut_up = [line[at : at + 48] for line in lines for at in range(0, len(line), 48)]
    assert cut_up[2] == "5889 MHz"[-len(cut_up[2]) :]  # at the very left, where titles stand
    found = read(cut_up, titled)
    assert values(found) == values(read(lines, titled))
    assert len(values(found)) == 3


def test_rows_that_alternate_with_a_word_or_two_are_told_as_wrapped() -> None:
    rows = [f"{n}      pitch   55    69    26    74    80             40{n}" for n in range(3)]
    lines = [part for row in rows for part in (row, "28")]
    assert "wrapped near column" in read(lines, GENERIC).document.notes[-1]
    assert read(rows, GENERIC).document.notes == ()


def test_a_wrapped_dump_that_was_quoted_and_numbered_is_read() -> None:
    found = read(f"{n:>3} > {line}" for n, line in enumerate(worded(60), 1))
    assert values(found) == values(read(SOUND))


def test_what_could_not_be_put_together_is_told_and_stays_unread() -> None:
    lines = worded(60)
    at = next(n for n, line in enumerate(lines) if line.startswith("Motor hind_left"))
    lines[at] = lines[at].replace("Motor", "Rotor")  # which no mapping knows
    found = read(lines)
    assert "motors.rear_left.spin" not in found.settings
    (trouble,) = found.settings.troubles
    assert trouble.kind is TroubleKind.WRAPPED
    assert trouble.place is not None
    assert trouble.place.line == at + 1
    (told,) = [f for f in audit(found.settings).findings if f.rule.id == "dump/unread"]
    assert told.level is Level.ERROR
    assert "paste it again without wrapping" in found.document.notes[-1]


def test_a_wrapped_dump_that_nobody_knows_is_told_as_one() -> None:
    assert "wrapped near column 40" in read(cut(40), GENERIC).document.notes[-1]
    assert "wrapped near column 40" in read(worded(40), GENERIC).document.notes[-1]
    assert read(SOUND, GENERIC).document.notes == ()


def test_lines_that_a_dialect_does_not_know_are_no_rests_of_others() -> None:
    new = ["Lamp shows colour:rust", "1.00", "Lamp blinks", *("Lamp counts birds:4",) * 3]
    lines = [piece for line in SOUND for piece in (line, *new)]
    found = read(lines)
    assert found.document.notes == ()
    assert values(found) == values(read(SOUND))


def test_an_edit_of_a_wrapped_dump_leaves_the_other_rests_where_they_are() -> None:
    rests = (Rest(1, 0, ""), Rest(4, 3, " "))
    assert rests_moved(rests, "abcde", "abcde") == rests
    assert rests_moved(rests, "abcde", "xbcde") == rests
    assert rests_moved(rests, "abcde", "abxcde") == (rests[0], Rest(5, 4, " "))
    assert rests_moved(rests, "abcde", "acde") == (Rest(3, 2, " "),)
