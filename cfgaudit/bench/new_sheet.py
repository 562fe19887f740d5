"""Writes a new build sheet: every line with a short word on what to measure or look up."""

from collections.abc import Iterable

from cfgaudit.bench.proposal import Block, Line
from cfgaudit.craft.kinds import Between
from cfgaudit.craft.sheet_vocabulary import declared_in_sheet
from cfgaudit.craft.values import Value
from cfgaudit.units import number_text

TOLD = "the dump's"  # marks what was taken from there
_COLUMN = 28  # where the comments begin, if the line leaves room

_HEAD = """\
# Build sheet{of}: what was soldered and bolted, kept beside the dump.
# Lines marked "{told}" say what the dump takes for granted: look whether the craft agrees.
# All other lines are examples behind a mark (#): measure or look up, then take the mark away.
# Numbers are in the unit named behind them; "36 MHz" or "4.5..5.5 V", in quotes, bring their own.
# Propellers off at the bench.
"""


def new_sheet(blocks: Iterable[Block], craft: str = "") -> str:
    """The text of a new sheet; `craft` is the craft's name, where it is known."""
    of = f" of {one_line(craft)}" if craft.strip() else ""
    parts = [_HEAD.format(of=of, told=TOLD)]
    parts += ["\n".join(block_lines(block)) + "\n" for block in blocks]
    return "\n".join(parts)


def block_lines(block: Block) -> list[str]:
    """The lines of one table, head and all. A table without a told line has only its head."""
    head = "[" + ".".join(toml_key(word) for word in block.table) + "]"
    about = [f"# {block.about}"] if block.about else []
    return [*about, head, *(line_text(block, line) for line in block.lines)]


def line_text(block: Block, line: Line) -> str:
    """One setting with its comment; behind a mark where it is an example."""
    text = f"{line.key} = {toml_value(line.value, _is_range(block, line))}"
    text = text if line.told else f"#{text}"
    return f"{text.ljust(_COLUMN)}  # {comment(line)}"


def comment(line: Line) -> str:
    """What stands behind a setting: whether it is the dump's, and what to look at."""
    return f"{TOLD}; {line.says}" if line.told else line.says


def _is_range(block: Block, line: Line) -> bool:
    found = declared_in_sheet(f"{block.path}.{line.key}")
    return found is not None and isinstance(found.kind, Between)


def toml_key(word: str) -> str:
    """A word as a TOML key."""
    bare = word.isascii() and word.replace("_", "").replace("-", "").isalnum()
    return word if bare else toml_text(word)


def toml_value(value: Value, is_range: bool = False) -> str:
    """A value as TOML, numbers in the vocabulary's unit.

    >>> toml_value((4.5, 5.5), is_range=True), toml_value(57600.0), toml_value("a b")
    ('"4.5..5.5"', '57600', '"a b"')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return number_text(value)
    if isinstance(value, str):
        return toml_text(value)
    if is_range and isinstance(value, tuple):
        low, high = (toml_value(end) for end in value if isinstance(end, int | float))
        return toml_text(f"{low}..{high}")
    members = sorted(value) if isinstance(value, frozenset) else value
    return "[" + ", ".join(toml_value(m) for m in members if isinstance(m, str | float)) + "]"


def toml_text(text: str) -> str:
    """A text in TOML's double quotes; whatever could act on a screen is escaped."""
    return '"' + "".join(_escaped(letter) for letter in text) + '"'


def _escaped(letter: str) -> str:
    if letter in '"\\':
        return "\\" + letter
    if letter.isprintable():
        return letter
    return f"\\u{ord(letter):04X}" if ord(letter) < 0x10000 else f"\\U{ord(letter):08X}"


def one_line(text: str) -> str:
    """A text fit to stand in a comment."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
