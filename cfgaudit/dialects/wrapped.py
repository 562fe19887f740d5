"""Puts lines together that a page, a mail or a terminal broke, where a dialect reads them so.

A line that fills the text's width, above one that the dialect does not understand, is tried with
it: what the dialect reads then, and did not read before, was one line.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from enum import IntEnum
from typing import NamedTuple

from cfgaudit.dialects.line_reader import Context, Role, StatementReading, line_reader
from cfgaudit.dialects.reader import HEAD_LINES, Reading, read
from cfgaudit.reading.document import Document, Statement, front, parted
from cfgaudit.reading.pasted import MOST_RESTS, Rest
from cfgaudit.reading.shapes import Comment, Opener, Section, Unread
from cfgaudit.reading.statements import parser_of
from cfgaudit.reading.wrapping import (
    beginnings,
    begins_as,
    fills,
    seems_wrapped,
    widths_of,
    wrapped_note,
)
from cfgaudit.vocabulary.kinds import Text
from cfgaudit.vocabulary.paths import declared

_ROUNDS = 4


class _Proof(IntEnum):
    """What a dialect makes of lines that are put together."""

    NOTHING = 0
    LIKELY = 1  # it is read, as its first piece may be by itself: a remark, a longer text
    VALUE = 2  # the last number or word of what its first piece states is a longer one
    SURE = 3  # no piece is understood by itself, and all of it is


class _Joined(NamedTuple):
    """Lines that may be one: the index of the first, how many rests, what stands between."""

    upper: int
    many: int
    between: str
    proof: _Proof

    @property
    def rests(self) -> Iterator[Rest]:
        """The lines that go on."""
        for line in range(self.upper + 1, self.upper + 1 + self.many):
            yield Rest(line, self.upper, self.between)


def put_together(reading: Reading) -> Document:
    """The document with its broken lines put together, as far as its dialect tells which they are.

    Of others that seem to be broken it says so. The same document where none does.
    """
    document = reading.document
    if document.rests is not None:
        return document
    broken = _Broken(reading)
    for width in widths_of(broken.lines) if reading.dialect.name else ():
        whole = _with_rests(document, broken, width)
        if whole is not None:
            return whole
    return document if document.wrapped else _told_by_looks(document, broken.lines)


def _with_rests(document: Document, pieces: "_Broken", width: int) -> Document | None:
    """The document with the lines put together that were broken at a width; None where none was."""
    pieces.width = width
    found: list[_Joined] = []
    for _ in range(_ROUNDS):  # a rest may have closed what the lines behind it stand in
        more = list(pieces.joined())
        if more == found:
            break
        found = more
        pieces.go_on_from({rest.line: rest for one in found for rest in one.rests})
    proofs = [one.proof for one in found]
    by_looks = document.wrapped
    if max(proofs, default=_Proof.NOTHING) < _Proof.VALUE:
        return None
    certain = bool(by_looks) or _Proof.SURE in proofs
    taken = [one for one in found if certain or one.proof is _Proof.VALUE]
    rests = {rest.line: rest for one in taken for rest in one.rests}
    broken: list[int] = []
    for index in pieces.undecided(rests) if certain else ():
        broken.append(index)
        if len(pieces.lines[index]) == pieces.width and index not in rests:
            rests[index + 1] = Rest(index + 1, index, "")
    for rest in by_looks:
        rests.setdefault(rest.line, rest)
    if not broken and set(rests.values()) == set(by_looks):
        return document
    ordered = tuple(_to_the_first(rests, pieces.lines))
    remarks = document.remarks
    if broken:
        remarks = (*remarks, wrapped_note(len(broken), pieces.width))
    return replace(document, rests=ordered, broken=tuple(broken), remarks=remarks)


def _to_the_first(rests: dict[int, Rest], lines: Sequence[str]) -> Iterator[Rest]:
    """The rests in order, each put to the line that the whole begins on; no blank is doubled."""
    for line in sorted(rests):
        rest = rests[line]
        if lines[line - 1].endswith(" "):
            rest = rest._replace(between="")
        while rest.upper in rests:
            rest = rest._replace(upper=rests[rest.upper].upper)
        yield rest


def _told_by_looks(document: Document, lines: Sequence[str]) -> Document:
    """The document as it is, but for what is said of lines that seem to be broken."""
    broken = seems_wrapped(lines)
    if not broken:
        return document
    remarks = (*document.remarks, wrapped_note(len(broken), widths_of(lines)[-1]))
    return replace(document, broken=broken, remarks=remarks)


class _Broken:
    """A text's lines, none put together, as the dialect reads each; and tries to join them."""

    def __init__(self, reading: Reading) -> None:
        document, dialect = reading.document, reading.dialect
        self._document = replace(document, rests=()) if document.wrapped else document
        self._reading = read(self._document, dialect) if document.wrapped else reading
        self._reader = line_reader(dialect, self._reading.version)
        self._dialect, self._look = dialect, document.look
        self._parse = parser_of(document.look)
        plain = self._look._replace(blanks="", edges="", fillers=(), remarks=(), cells="")
        own = self._document if plain == self._look else replace(self._document, look=plain)
        self.lines = own.lines
        self.width = 0
        self._in_words: dict[int, bool] = {}  # by width, whether most were broken within a word
        self._at = {e.statement.first: n for n, e in enumerate(self._reading.statements)}
        self._now, self._taken = self._at, self._reading.statements

    def go_on_from(self, rests: dict[int, Rest]) -> None:
        """Take lines for what they are where these rests are put to theirs."""
        whole = replace(self._document, rests=tuple(_to_the_first(rests, self.lines)))
        taken = read(whole, self._dialect).statements
        self._now = {entry.statement.first: n for n, entry in enumerate(taken)}
        self._taken = taken

    def _entry(self, index: int) -> StatementReading | None:
        """What a line came to by itself, under what is open where the rests are with theirs."""
        if index in self._now:
            return self._taken[self._now[index]]
        return self._reading.statements[self._at[index]] if index in self._at else None

    def joined(self) -> Iterator[_Joined]:
        """The lines that the dialect understands together better than apart."""
        behind = 0
        for entry in self._reading.statements:
            upper = entry.statement.first
            if upper < behind or len(entry.statement.joints) > 1:
                continue
            one = self._best(upper, entry)
            if one is not None:
                behind = upper + one.many + 1
                yield one

    def undecided(self, rests: dict[int, Rest]) -> Iterator[int]:
        """The lines that seem to go on in the next one, and were not put together with it."""
        begins = beginnings(self.lines)
        for entry in self._reading.statements:
            upper = entry.statement.first
            if upper + 1 in rests or not self._may_go_on(upper):
                continue
            if upper + 2 in rests and rests[upper + 2].upper == upper + 1:
                continue  # the next one begins a line
            if begins_as(self.lines[upper + 1], begins):
                continue
            full = len(self.lines[upper]) == self.width
            if full or upper in rests or not _is_understood(entry):
                yield upper

    def _may_go_on(self, index: int) -> bool:
        """Whether a line fills the width, and nobody understands the one below."""
        below = self._entry(index + 1)
        if below is None or not fills(self.lines[index], self.lines[index + 1], self.width):
            return False
        loose = below.template is not None and not below.template.head  # it takes any line
        if loose and len(self.lines[index]) == self.width:
            return not isinstance(self._parse(self.lines[index]), Comment)
        return not _is_understood(below)

    def _best(self, upper: int, entry: StatementReading) -> _Joined | None:
        count = 0
        while count < MOST_RESTS and self._may_go_on(upper + count):
            count += 1
        for many in range(count, 0, -1):
            for between in self._joints() if self._is_full(upper, many) else (" ",):
                proof = self._proof(upper, entry, many, between)
                if proof is not _Proof.NOTHING:
                    return _Joined(upper, many, between, proof)
        return None

    def _joints(self) -> tuple[str, str]:
        """What may stand between a line of just the width and its rest, what is likelier first."""
        if self.width not in self._in_words:
            pairs = [index for index in self._at if self._may_go_on(index)]
            full = sum(len(self.lines[index]) == self.width for index in pairs)
            self._in_words[self.width] = 2 * full > len(pairs)
        return ("", " ") if self._in_words[self.width] else (" ", "")

    def _is_full(self, upper: int, many: int) -> bool:
        """Whether each of some lines but the last is as long as the width."""
        return all(len(line) == self.width for line in self.lines[upper : upper + many])

    def _proof(self, upper: int, entry: StatementReading, many: int, between: str) -> _Proof:
        text = self.lines[upper]
        for line in self.lines[upper + 1 : upper + many + 1]:
            text += ("" if text.endswith(" ") else between) + line
        bare = text[front(text, self._look) :]
        if upper < HEAD_LINES and self._dialect.head_in(text.strip()) is not None:
            if entry.role is not Role.HEAD:
                return _Proof.SURE
            lone = many == 1 and not between and len(self.lines[upper + 1].split()) == 1
            return _Proof.VALUE if lone else _Proof.NOTHING
        if self._reader.noise_of(bare.strip()) >= 0:
            return _Proof.LIKELY
        shape = self._parse(parted(bare, self._look))
        if isinstance(shape, Comment):
            return _Proof.LIKELY
        if isinstance(shape, Unread):
            return _Proof.NOTHING
        statement = Statement(shape, upper)
        made = self._reader.read(self._context(upper), statement, self._document)
        if made.role is not Role.STATES:
            return _Proof.LIKELY if _is_understood(made) else _Proof.NOTHING
        if len(made.troubles) > len(entry.troubles):
            return _Proof.NOTHING
        if not _is_understood(entry):
            return _Proof.SURE
        return _Proof.VALUE if _is_longer(entry, made) else _Proof.LIKELY

    def _context(self, index: int) -> Context:
        """What is open above a line."""
        number = self._now.get(index, 0)
        if number:
            return self._taken[number - 1].context
        return self._reader.root(self._document.name)


def _is_longer(before: StatementReading, made: StatementReading) -> bool:
    """Whether of what a line states by itself only numbers and words are others, and no text."""
    old = {(mention.path, mention.text) for mention in before.mentions}
    others = [m for m in made.mentions if (m.path, m.text) not in old]
    return bool(before.mentions) and bool(others) and all(
        m.stated is not None
        and not m.stated.doubt
        and (known := declared(m.target.path)) is not None
        and not isinstance(known.kind, Text)
        for m in others
    )  # fmt: skip


def _is_understood(entry: StatementReading) -> bool:
    """Whether a line can stand by itself: the dialect knows what it means, or it is a head."""
    if entry.role is Role.UNREAD:
        return False
    if entry.role is Role.OPENS and isinstance(entry.statement.shape, Section | Opener):
        return True
    return all(leftover.known for leftover in entry.leftovers)
