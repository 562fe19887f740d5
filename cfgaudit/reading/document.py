"""A dump as a document: its text, its statements with their places, and its way back to bytes."""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from itertools import count
from typing import NamedTuple

from cfgaudit.reading.pasted import (
    Joints,
    PastedLine,
    Repaired,
    Rest,
    looks_pasted,
    shows_echoes,
)
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Comment,
    Directive,
    Look,
    Row,
    Shape,
    Span,
    Unread,
    celled,
)
from cfgaudit.reading.statements import parse_line, parse_long_line, parser_of
from cfgaudit.reading.text import BOUNDS, Bounds, FileText, Place, read_text

_BLANK = Blank()


class Statement(NamedTuple):
    """One statement: its shape, and where its text came from.

    `first` is its first line's, from 0. `joints` is empty where the statement is that whole
    line; else it lists (index in the joined text, line index, column index) for each stretch of
    the file that the statement is made of.
    """

    shape: Shape
    first: int
    joints: Joints = ()

    @property
    def line(self) -> int:
        """The number of its first line, from 1."""
        return self.first + 1

    @property
    def column(self) -> int:
        """How many characters of prompt and lead word stand before it."""
        return self.joints[0][2] if self.joints else 0

    def place(self, file: str, span: Span | None = None) -> Place:
        """Where a span of this statement stands; without a span, its first line."""
        if span is None:
            return Place(file, self.line)
        if not self.joints:  # the line as it stands, as most are
            return Place(file, self.line, span.start + 1, span.start + len(span.text) + 1)
        line, column = self.at(span.start)
        end = column + len(span.text)
        if span.text and len(self.joints) > 1:  # marks may have been taken out of its midst
            last, behind = self.at(span.end - 1)
            end = behind + 1 if last == line else end
        return Place(file, line + 1, column + 1, end + 1)

    def at(self, index: int) -> tuple[int, int]:
        """The line and the column, both from 0, of an index in the statement's text."""
        start, line, column = 0, self.first, 0
        for joint in self.joints:
            if joint[0] <= index or joint is self.joints[0]:
                start, line, column = joint
        return line, index - start + column


@dataclass(frozen=True, eq=False)  # one is the same as another only if it is that one
class Document:
    """A dump that was read with one look. `to_bytes` gives the file back, byte for byte.

    Of a pasted text a repaired copy is read; every place names the file's own lines and columns.
    """

    name: str
    text: FileText
    look: Look = field(default_factory=Look)
    bounds: Bounds = BOUNDS
    part: range | None = None  # the indices of the lines to read, where the text has several dumps
    remarks: tuple[str, ...] = ()  # what else is to be said of how it was read
    # the lines that are rests of broken ones; where nobody tells, the text's looks do
    rests: tuple[Rest, ...] | None = None
    broken: tuple[int, ...] = ()  # the indices of lines that seem to be, and stay in pieces

    @cached_property
    def statements(self) -> tuple[Statement, ...]:
        """Every statement, blank lines and comments included, in the order of the file.

        What stands on the lines of a remark that goes on to a closing mark is none.
        """
        found = self._parsed()
        if not self.remarked:
            return found
        return tuple(
            _as_remark(s, self.text.lines) if s.first in self.remarked else s for s in found
        )

    @cached_property
    def remarked(self) -> frozenset[int]:
        """The lines, from 0, of remarks that go on from an upper line."""
        return (
            _remarked(self.text.lines) if any("/*" in line for line in self.text.lines) else _NONE
        )

    def _parsed(self) -> tuple[Statement, ...]:
        longest = self.bounds.line
        own = parse_line if longest == BOUNDS.line else parse_long_line(longest)
        parse = parser_of(self.look, own)
        if self._repaired is None and self.part is None and not self.look.parts:
            if not self._dressed:
                return tuple(map(Statement, map(parse, self.text.lines), count()))
            if longest == BOUNDS.line and not self.look.starts:
                return tuple(_undressed_all(self.text.lines, self.look))
        return tuple([Statement(parse(text), at, joints) for text, at, joints in self._texts()])

    @cached_property
    def lines(self) -> tuple[str, ...]:
        """The lines as they are read, one a line of the file; what went up a line leaves ""."""
        if self._repaired is None and self.part is None and not self.look.parts:
            return self.text.lines
        found = [""] * len(self.text.lines)
        for line in self._sources():
            found[line.first] = line.text
        return tuple(found)

    @cached_property
    def texts(self) -> tuple[str, ...]:
        """The text of each statement: without prompt and lead word, continued lines joined."""
        return tuple(line.text for line in self._texts())

    def statement_of(self, index: int) -> Statement | None:
        """The statement that one line of the file is, by itself; None where it may be more.

        Only of a text that is read whole and as it stands.
        """
        line = parted(self.text.lines[index], self.look)
        parse = parser_of(self.look)
        if not self._dressed:
            return Statement(parse(line), index)
        if self.look.starts or _goes_on(line, self.look):
            return None
        ((text, at, joints),) = _joined([PastedLine(line, index)], self.look)
        return Statement(parse(text), at, joints)

    def top(self, most: int) -> list[tuple[int, str]]:
        """The first lines as they are read, numbered from 1 in the file."""
        start = self.part.start if self.part else 0
        return list(enumerate(self.lines[start : start + most], start + 1))

    def place(self, index: int, span: Span) -> Place:
        """Where a span of a line as it is read stands in the file."""
        return Statement(_BLANK, index, self._joints.get(index, ())).place(self.name, span)

    @property
    def last_line(self) -> int:
        """The number of the last line that is read; 1 for an empty file."""
        return max(1, self.part.stop if self.part else len(self.text.lines))

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What had to be guessed or repaired, in plain words."""
        return (*self.text.notes, *self.repairs, *self.remarks)

    @property
    def repairs(self) -> tuple[str, ...]:
        """What was repaired of a pasted text, counted, in plain words."""
        return self._repaired.notes if self._repaired else ()

    @cached_property
    def _repaired(self) -> Repaired | None:
        return _repaired(self.text.lines, self.look.prompts, self.rests)

    @property
    def wrapped(self) -> tuple[Rest, ...]:
        """The lines that are read as rests of lines that were broken at one width."""
        return self._repaired.rests if self._repaired else ()

    @cached_property
    def _joints(self) -> dict[int, Joints]:
        made = self._repaired
        return {line.first: line.joints for line in made.lines if line.joints} if made else {}

    @property
    def _dressed(self) -> bool:
        look = self.look
        return bool(look.prompts or look.lead or look.continues or look.starts)

    @property
    def unread(self) -> tuple[tuple[Statement, Unread], ...]:
        """The statements that the grammar could not read."""
        return tuple((s, s.shape) for s in self.statements if isinstance(s.shape, Unread))

    def to_bytes(self) -> bytes:
        """The file's bytes, exactly as read."""
        return self.text.to_bytes()

    def _sources(self) -> Iterator[PastedLine]:
        """The lines to read: repaired, if need be, and of the part that is wanted."""
        return self._parted(self._undone())

    def _undone(self) -> Iterator[PastedLine]:
        made, part = self._repaired, self.part
        every: Iterable[PastedLine] = (
            made.lines if made else map(PastedLine, self.text.lines, count())
        )
        return (line for line in every if part is None or line.first in part)

    def _parted(self, lines: Iterator[PastedLine]) -> Iterator[PastedLine]:
        if not self.look.parts:
            return lines
        return (one._replace(text=parted(one.text, self.look)) for one in lines)

    def _texts(self) -> Iterable[PastedLine]:
        if self.look.starts:  # with all their signs, which tell where they begin
            return self._parted(_joined(self._undone(), self.look))
        return _joined(self._sources(), self.look) if self._dressed else self._sources()


_NONE: frozenset[int] = frozenset()
_OPENED = re.compile(r"(?:^|[ \t])/\*(?!.*\*/)")


def _remarked(lines: Sequence[str]) -> frozenset[int]:
    """The lines, from 0, on which a remark goes on that `/*` began and `*/` ends further down.

    One without an end is a remark on its own line alone.
    """
    found: list[int] = []
    start = -1
    for number, line in enumerate(lines):
        if start >= 0 and "*/" in line:
            found += range(start + 1, number + 1)
            start = -1
        elif _OPENED.search(line):
            start = number
    return frozenset(found)


def _as_remark(statement: Statement, lines: Sequence[str]) -> Statement:
    """A statement as part of a remark; what stands behind its closing mark can't be read."""
    line = lines[statement.first]
    said, closed, behind = line.partition("*/")
    if closed and behind.strip():
        column = len(said) + len(closed) + 1
        shape: Shape = Unread(column, "nothing behind the end of a remark")
    else:
        body = said.strip()
        shape = Comment("/*", Span(body, len(said) - len(said.lstrip())))
    return Statement(shape, statement.first)


def read_document(
    name: str, data: bytes, look: Look | None = None, bounds: Bounds = BOUNDS
) -> Document:
    """Read a dump's bytes. Never raises, whatever the bytes.

    >>> read_document("a.dump", b"[pack]\\r\\nlow = 3.5").to_bytes()
    b'[pack]\\r\\nlow = 3.5'
    """
    return Document(name, read_text(data), look or Look(), bounds)


@lru_cache(maxsize=1)  # a text is looked at in no look first, and then in its dialect's
def _repaired(
    lines: tuple[str, ...], prompts: tuple[str, ...], rests: tuple[Rest, ...] | None
) -> Repaired | None:
    return repaired(lines, prompts, rests)


def _joined(lines: Iterable[PastedLine], look: Look) -> Iterator[PastedLine]:
    """Each statement's text without prompt and lead word, continued lines joined."""
    going: list[PastedLine] = []
    for line in lines:
        if going and not (_goes_on(going[-1].text, look) or _goes_up(line, going[0], look)):
            yield _as_one(going, look)
            going = []
        going.append(line)
    if going:
        yield _as_one(going, look)


def _as_one(lines: Sequence[PastedLine], look: Look) -> PastedLine:
    """The lines of one statement as a line."""
    first, goes_on = lines[0], _goes_on(lines[0].text, look)
    column = front(first.text, look)
    if len(lines) == 1 and not column and not goes_on:
        return first  # as it stands, which most lines do
    text, joints = "", [*_moved(first, column, 0)]
    for line in lines:
        if text:  # a continued line's own indentation is no part of the value
            column = min(len(line.text) - len(line.text.lstrip()), len(line.text))
            joints += _moved(line, column, len(text))
        part = line.text[column:]
        if _goes_on(part, look):
            part = part.rstrip()[: -len(look.continues)].rstrip() + " "
        elif line is not lines[-1]:
            part = part.rstrip() + " "
        text += part
    return PastedLine(text, joints[0][1], tuple(joints))


def joined_lines(lines: Sequence[str], look: Look) -> tuple[str, ...]:
    """The lines of a text, each statement's as one.

    >>> joined_lines(["port 1", "  use gps", "port 2", "  use none"], Look(starts=("*",)))
    ('port 1 use gps', 'port 2 use none')
    """
    return tuple(line.text for line in _joined(map(PastedLine, lines, count()), look))


def _goes_up(line: PastedLine, first: PastedLine, look: Look) -> bool:
    """Whether a line goes on with the statement that one above it begins."""
    if not look.starts or not line.text.strip() or _begins(line.text, look):
        return False
    shape = parse_line(line.text)
    return _begins(first.text, look) and isinstance(shape, (*_STATING, Unread))


def _begins(text: str, look: Look) -> bool:
    """Whether a line begins a statement that may go on in the next ones."""
    text = text[front(text, look) :] or text
    if any(text.startswith(start) for start in look.starts if start != "*"):
        return True
    apart = "*" in look.starts and not text[:1].isspace()
    return apart and isinstance(parse_line(text), _STATING)


_STATING = (Assignment, Directive, Row)


def parted(line: str, look: Look) -> str:
    """A line with blanks in place of the signs that part words as blanks do; as long as it was.

    With tabs in place of a sign between blanks that parts cells, and none at its ends.

    Braces do so where they open and close on the line, and the colons behind names that go with
    them, or of which a line has several; a full stop where it ends the line.

    >>> parted('"o1": { "use": "motor" },', Look(blanks='",{}')).split()
    ['o1', 'use', 'motor']
    >>> parted("Idle is 5.5 %.", Look(blanks=".")).split()
    ['Idle', 'is', '5.5', '%']
    >>> parted("+- yaw: --low=-0.5", Look(edges="+-")).split()
    ['yaw:', 'low=-0.5']
    >>> parted("key a_b value 4", Look(fillers=("key", "value"))).split()
    ['a_b', '4']
    >>> parted("cells 4 REM in series", Look(remarks=("REM",)))
    'cells 4 #   in series'
    >>> parted('craft "a % b" % flown', Look(remarks=("%",)))
    'craft "a % b" # flown'
    """
    behind = ""
    found = _remark(look.remarks).finditer(line) if look.remarks else ()
    mark = next((one for one in found if one[0][0] != '"'), None)  # in quotes is none
    if mark is not None:
        behind = f"#{' ' * (len(mark[0]) - 1)}{line[mark.end() :]}"
        line = line[: mark.start()]
    return _parted(line, look) + behind


@cache
def _remark(marks: tuple[str, ...]) -> re.Pattern[str]:
    """Where a remark begins: at a mark by itself, or at one that begins the line."""
    some = "|".join(rf"(?:{re.escape(mark)})+" for mark in marks if mark) or r"(?!)"
    return re.compile(rf'"[^"]*"|^(?:{some})|(?<=\s)(?:{some})(?=\s|$)')


def _parted(line: str, look: Look) -> str:
    if look.cells:
        line = celled(line, look.cells)
    if look.blanks:
        line = _blanked(line, look)
    for pattern in _as_blanks(look.edges, look.fillers):
        line = pattern.sub(lambda found: " " * len(found[0]), line)
    return line


@cache
def _as_blanks(edges: str, fillers: tuple[str, ...]) -> tuple[re.Pattern[str], ...]:
    """What is read as blanks: signs at the ends of words, but for a number's own; whole words."""
    made = []
    if edges:
        some, number = f"[{re.escape(edges)}]", r"(?![+-]?\.?\d)"
        made.append(rf"(?<!\S)(?:{number}{some})+|{some}+(?!\S)")
    if any(fillers):
        made.append(rf"(?<!\S)(?:{'|'.join(map(re.escape, filter(None, fillers)))})(?!\S)")
    return tuple(map(re.compile, made))


def _blanked(line: str, look: Look) -> str:
    braces = "{}" in look.blanks
    signs = look.blanks.replace("{}", "") if braces else look.blanks
    if "." in signs:
        bare, signs = line.rstrip(), signs.replace(".", "")
        line = f"{bare[:-1]} {line[len(bare) :]}" if bare.endswith(".") else line
    if '"' in line and '"' not in signs and signs:  # what is quoted is one word
        either = re.compile(rf'"[^"]*"|[{re.escape(signs)}]')
        line = either.sub(lambda found: found[0] if found[0][0] == '"' else " ", line)
    else:
        line = line.translate(dict.fromkeys(map(ord, signs), " "))
    if braces and len(_BEHIND_NAME.findall(line)) > 1:
        line = _BEHIND_NAME.sub(" ", line)
    while braces and (found := _OBJECT.search(line)):
        inside = _BEHIND_NAME.sub(" ", found.group()[:-1].replace("{", " "))
        line = f"{line[: found.start()]}{inside} {line[found.end() :]}"
    return line


_OBJECT = re.compile(r"(?:(?<= ): *)?\{[^{}]*\}")
_BEHIND_NAME = re.compile(r"(?<= ):(?= )")


def _goes_on(text: str, look: Look) -> bool:
    return bool(look.continues) and text.rstrip().endswith(look.continues)


def _moved(line: PastedLine, column: int, to: int) -> list[tuple[int, int, int]]:
    """The joints of a line from a column on, for a text in which that column comes `to` stand."""
    if not line.joints:
        return [(to, line.first, column)]
    behind = [joint for joint in line.joints if joint[0] > column]
    start, index, first = line.joints[len(line.joints) - len(behind) - 1]
    moved = [(at - column + to, index, place) for at, index, place in behind]
    return [(to, index, first + column - start), *moved]


def _undressed_all(lines: Sequence[str], look: Look) -> Iterator[Statement]:
    """The statements of lines that have prompts, lead words or a mark that a line goes on."""
    alone, parse = _undressed(look), parser_of(look)
    going_on: list[PastedLine] = []
    for number, line in enumerate(lines):
        statement = alone(line, number)
        if statement is not None and not going_on:
            yield statement
            continue
        going_on.append(PastedLine(line, number))
        if statement is not None or number == len(lines) - 1:
            for joined in _joined(going_on, look):
                yield Statement(parse(joined.text), joined.first, joined.joints)
            going_on = []


@cache
def _undressed(look: Look) -> Callable[[str, int], Statement | None]:
    """The statement of a line of that number, by itself; None where it goes on in the next one."""
    parse = parser_of(look)

    @lru_cache(maxsize=20_000)  # versions of one dump have nearly all lines in common
    def alone(line: str, number: int) -> Statement | None:
        if look.continues and line.rstrip().endswith(look.continues):
            return None
        column = front(line, look)
        if not column:
            return Statement(parse(line), number)
        return Statement(parse(line[column:]), number, ((0, number, column),))

    return alone


def front(line: str, look: Look) -> int:
    """How many characters of prompt and lead word stand before the statement.

    >>> front("[12/90] set low = 3", Look(prompts=("[*]",), lead="set"))
    12
    """
    found = _fronts(look.prompts, look.lead).match(line)
    return found.end() if found else 0


@cache
def _fronts(prompts: tuple[str, ...], lead: str) -> re.Pattern[str]:
    some = "|".join(
        f"[ \t]*{re.escape(prompt)}".replace(r"\*", COUNT) if "*" in prompt else re.escape(prompt)
        for prompt in prompts
    )
    before = rf"(?:(?:{some})[ \t]*)?" if some else ""
    return re.compile(f"{before}(?:{re.escape(lead)} )?" if lead else before)


COUNT = r"\d(?:[\w.:/]*\w)?"  # `12`, `12/240`, `0x1A03`, `00:00:01.200`


def repaired(
    lines: Sequence[str], prompts: Sequence[str] = (), rests: tuple[Rest, ...] | None = None
) -> Repaired | None:
    """What to read in place of these lines; None where they show no trace of pasting.

    `prompts` are those that the dialect itself takes off; `rests` the lines that are rests of
    broken ones, where something else than the looks of the text tells that.
    """
    whole = "\n".join(lines)
    pasted, echoes = looks_pasted(lines, whole), shows_echoes(whole, prompts)
    if not (pasted or echoes or rests):
        return None
    from cfgaudit.reading.repair import mended

    sheet, joined = mended(lines, prompts, all_of_it=pasted, rests=rests)
    if not sheet.notes:
        return None
    made = tuple(PastedLine(text, first, joints) for text, first, joints in sheet.read())
    return Repaired(made, tuple(sheet.notes), joined)
