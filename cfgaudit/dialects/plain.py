"""The plain form: read without a file, written sorted, and put into its one form."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from cfgaudit.dialects.collect import plain_value
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import read_document
from cfgaudit.reading.shapes import Assignment, Blank, Closer, Comment, Section, Unread
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import read_text
from cfgaudit.settings import Origin, Settings, Stated
from cfgaudit.vocabulary.kinds import BadValue, Value
from cfgaudit.vocabulary.paths import declared, declared_anywhere, vocabulary

_CHUNKS = re.compile(r"\d+|\D+")
PLAIN = Dialect(name="plain", about="neutral paths", keys_are_paths=True)


def read_plain(text: str, name: str = "plain.cfg") -> Settings:
    """The settings of a text in the plain form. Never raises."""
    return read_settings(read_document(name, text.encode("utf-8", "surrogatepass")), PLAIN)


def stated_text(stated: Stated) -> str:
    """A setting's value in the plain form's spelling."""
    return value_shown(stated.path, stated.value)


def value_shown(path: str, value: Value) -> str:
    """A value that a setting could have, in the plain form's spelling."""
    found = declared_anywhere(path)
    return found.kind.spell(value) if found else str(value)


def path_order(path: str) -> tuple[int, tuple[tuple[int, str], ...]]:
    """The order of paths everywhere: the vocabulary's, then natural order of names."""
    found = declared_anywhere(path)
    rank = _ranks().get(found.pattern.partition(".")[0], 10_000) if found else 10_000
    steps: list[tuple[int, str]] = []
    for word in path.split("."):
        steps += [_natural(chunk) for chunk in _CHUNKS.findall(word)]
        steps.append((-2, ""))  # a word ends before any that goes on
    return rank, tuple(steps)


def _natural(chunk: str) -> tuple[int, str]:
    """Digits in the order of their number, however many there are; before them what is none."""
    if not chunk.isdecimal():
        return -1, chunk
    digits = chunk.lstrip("0")
    return len(digits), digits


@cache
def _ranks() -> dict[str, int]:
    ranks: dict[str, int] = {}
    for entry in vocabulary():
        ranks.setdefault(entry.pattern.partition(".")[0], len(ranks))
    return ranks


def write_plain(settings: Settings) -> str:
    """The plain form of everything that the dump states: sorted, under section heads, with units.

    Factory values that only stand in are left out: the dump does not state them.
    """
    lines: list[str] = []
    section = ""
    paths = [path for path in settings if settings[path].origin is not Origin.FACTORY]
    for path in sorted(paths, key=written_order):
        head, leaf = cut_path(path)
        if head != section:
            if lines:
                lines.append("")
            lines.append(f"[{head}]")
            section = head
        lines.append(f"{leaf} = {stated_text(settings[path])}")
    return "\n".join([*lines, "end", ""])


def written_order(path: str) -> tuple[object, ...]:
    """The order in the plain form: paths of one word first, then each section's lines as one."""
    rank, steps = path_order(path)
    head, _ = cut_path(path)
    return bool(head), rank, path_order(head)[1], steps


def cut_path(path: str) -> tuple[str, str]:
    """The section that a path is written under, and the rest of it."""
    head, _, leaf = path.rpartition(".")
    found = declared(path)
    if found is not None and found.pattern.count(".") > 1:
        words = path.split(".")
        return ".".join(words[:2]), ".".join(words[2:])
    return head, leaf


class CannotFormat(ValueError):  # noqa: N818 (it is an answer, not a fault)
    """The file can't be put into its one form; the message says where and why."""


class _SettingLine(NamedTuple):
    """A setting's line: where it goes, and the comments that go with it."""

    head: str  # the section that it is written under
    path: str
    text: str
    above: tuple[str, ...]
    above_head: tuple[str, ...]  # what stood above the head of the section that it was found in


@dataclass
class _PlainFile:
    """What was found in a file so far."""

    name: str
    lines: list[_SettingLine] = field(default_factory=list)
    top: list[str] = field(default_factory=list)
    section: str = ""
    waiting: list[str] = field(default_factory=list)  # comments above whatever comes next
    waiting_head: list[str] = field(default_factory=list)

    def take(self, number: int, line: str) -> None:
        """Take one line. Raises CannotFormat."""
        shape = parse_line(line)
        if isinstance(shape, Blank):
            if self.waiting and not (self.lines or self.section or self.waiting_head):
                self.top += [*self.waiting, ""]
                self.waiting = []
        elif isinstance(shape, Comment):
            self.waiting.append(line.strip())
        elif isinstance(shape, Section):
            self.section = shape.name.text
            behind = line[shape.name.end :].lstrip("]>= \t").rstrip()
            self.waiting_head += [*self.waiting, *([behind] if behind else [])]
            self.waiting = []
        elif isinstance(shape, Assignment):
            self._take_setting(shape, line)
        elif isinstance(shape, Closer) and not shape.name.text:
            behind = line.strip().removeprefix(line.split()[0]).strip()
            self.waiting += [behind] if behind else []
        else:
            wanted = shape.expected if isinstance(shape, Unread) else "a setting, head or comment"
            raise CannotFormat(f"{self.name}:{number}: expected {wanted}")

    def _take_setting(self, shape: Assignment, line: str) -> None:
        key = shape.key.text
        path = f"{self.section}.{key}" if self.section else key
        known = declared(path) is not None
        head, leaf = cut_path(path) if known else (self.section, key)
        value = _spelled(path, shape.value.text) if known else shape.value.text
        behind = line[shape.value.end :].strip()
        text = f"{leaf} = {value}".rstrip() + (f"  {behind}" if behind else "")
        above, above_head = tuple(self.waiting), tuple(self.waiting_head)
        if head != self.section:  # the head goes, and what stood above it goes with the setting
            above, above_head = (*above_head, *above), ()
        self.lines.append(_SettingLine(head, path, text, above, above_head))
        self.waiting, self.waiting_head = [], []

    def written(self) -> Iterator[str]:
        """The lines of the one form."""
        yield from self.top
        section, begun = "", False
        for line in sorted(self.lines, key=_order):
            if line.head != section:
                if begun:
                    yield ""
                yield from self._above_head(line.head)
                yield f"[{line.head}]"
                section = line.head
            yield from line.above
            yield line.text
            begun = True
        last = [*self.waiting_head, *self.waiting]
        if last and begun:
            yield ""
        yield from last
        yield "end"

    def _above_head(self, head: str) -> Iterator[str]:
        """What stood above the heads of this name; told once."""
        for number, line in enumerate(self.lines):
            if line.head == head and line.above_head:
                yield from line.above_head
                self.lines[number] = line._replace(above_head=())


def formatted(name: str, data: bytes) -> bytes:
    """The file in its one form, in its own encoding and line ends. Raises CannotFormat.

    It says the same: the same settings, repeats and unknown keys, with the same values.
    """
    text = read_text(data)
    found = _PlainFile(name)
    for number, line in enumerate(text.lines, 1):
        found.take(number, line)
    end = next((end for end in text.ends if end), "\n")
    whole = "".join(line + end for line in found.written())
    made = text.bom + whole.encode(text.encoding)
    if _meant(name, data) != _meant(name, made):
        raise CannotFormat(f"{name}: sorted, it would not say the same")
    return made


def first_difference(before: bytes, after: bytes) -> int:
    """The number of the first line of a file that its one form has otherwise, from 1."""
    olds, news = read_text(before), read_text(after)
    pairs = (zip(text.lines, text.ends, strict=True) for text in (olds, news))
    found = (n for n, (old, new) in enumerate(zip(*pairs, strict=False), 1) if old != new)
    return min(next(found, len(olds.lines)), len(olds.lines))


def _spelled(path: str, text: str) -> str:
    """A value as the plain form writes it; as it stands where that would not be the same."""
    found = declared(path)
    try:
        value = plain_value(path, text)
        if found is None or found.kind.beyond(value):
            return text
        spelled = found.kind.spell(value)
        return spelled if plain_value(path, spelled) == value else text
    except BadValue:
        return text


def _order(line: _SettingLine) -> tuple[object, ...]:
    """As write_plain has it; a key under no head can only come first, one not known last."""
    if declared(line.path) is not None:
        return written_order(line.path)
    rank, steps = path_order(line.path)
    return line.head != "", rank, path_order(line.head)[1], steps


def _meant(name: str, data: bytes) -> object:
    """What a file says, apart from the order and the places."""
    read = read_settings(read_document(name, data), PLAIN)
    return (
        {path: (entry.value, entry.doubt) for path, entry in read.stated.items()},
        {key: raw.value for key, raw in read.raw.items()},
        sorted((one.path, repr(one.value), repr(other.value)) for one, other in read.repeats),
        sorted((trouble.kind, trouble.path) for trouble in read.troubles),
    )
