"""The merge that git asks for: by setting; and on any fault of ours as git merges text itself."""

import tempfile
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from cfgaudit.changes.diff import other_craft
from cfgaudit.dialects.comments import tail_of
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.opening import Opened, parts_of
from cfgaudit.dialects.patch import usual_end
from cfgaudit.dialects.reader import read
from cfgaudit.git.pieces import MergeUnit, common_depths, units_of
from cfgaudit.git.repository import GitError, ask
from cfgaudit.git.weave import Clash, MergedLines, MergedPiece, Weave
from cfgaudit.reading.document import Document, read_document
from cfgaudit.reading.safe import fault_of
from cfgaudit.reading.shapes import Comment
from cfgaudit.reading.text import FileText
from cfgaudit.settings import TroubleKind


class Marks(NamedTuple):
    """How a conflict is marked: how many signs, the sides' names, whether the base is shown."""

    size: int = 7
    ours: str = "ours"
    base: str = "base"
    theirs: str = "theirs"
    show_base: bool = False

    def line(self, sign: str, name: str = "") -> str:
        """One mark."""
        return f"{sign * max(1, self.size)} {name}".rstrip() if name else sign * max(1, self.size)


Line = tuple[str, str | None]  # None: ended as the file ends its lines


class ConflictWriter:
    """Writes pieces with our line ends; `pick` takes one side instead of marking a conflict."""

    def __init__(self, ours: FileText, theirs: FileText, marks: Marks, pick: str = "") -> None:
        self._ends, self._marks, self._pick = ours.ends, marks, pick
        self._newline = usual_end(ours) or usual_end(theirs) or "\n"

    def text(self, pieces: list[MergedPiece]) -> str:
        """The whole text."""
        lines = [line for piece in pieces for line in self._lines(piece)]
        parts: list[str] = []
        for number, (text, end) in enumerate(lines, 1):
            missing = end is None or (not end and number < len(lines))
            parts += (text, self._newline if missing or end is None else end)
        return "".join(parts)

    def _lines(self, piece: MergedPiece) -> Iterator[Line]:
        unit, choice = piece.unit, piece.choice
        yield from self._said(piece.lead, unit.first - len(unit.lead))
        if isinstance(choice, MergedLines):
            yield from self._said(choice, unit.first)
        elif isinstance(choice, Clash) and self._pick:
            side = choice.ours if self._pick == "ours" else choice.theirs
            yield from self._said(side, unit.first)
        elif isinstance(choice, Clash):
            yield from self._marked(choice, unit.first)

    def _said(self, said: MergedLines, first: int) -> Iterator[Line]:
        for number, line in enumerate(said.lines, first):
            yield line, self._ends[number] if said.ours else None

    def _marked(self, clash: Clash, first: int) -> Iterator[Line]:
        marks = self._marks
        yield marks.line("<", marks.ours), None
        yield from self._said(clash.ours, first)
        if marks.show_base:
            yield marks.line("|", marks.base), None
            yield from self._said(clash.base, first)
        yield marks.line("="), None
        yield from self._said(clash.theirs, first)
        yield marks.line(">", marks.theirs), None


Sets = dict[str, list[Hashable]]


class CannotMerge(ValueError):  # noqa: N818 (it is an answer: another way must be taken)
    """The dumps can't be merged by setting; the message says why."""


class SidesApart(CannotMerge):
    """No mixture of the sides can be right, as text neither; the message says why."""


class MergeResult(NamedTuple):
    """What the merge came to.

    `data` is what to write, None where only the conflict can be told. `clashes` are the settings
    said differently; `why_text` is why it was merged as text, empty where it was by setting;
    `why_apart` why both sides stand there whole.
    """

    data: bytes | None
    conflicts: int
    clashes: tuple[str, ...] = ()
    why_text: str = ""
    picks: tuple[bytes, ...] = ()  # by setting: the merged dump, with either side of each conflict
    why_apart: str = ""


def merge_by_setting(
    base: Opened | None, ours: Opened, theirs: Opened, marks: Marks
) -> MergeResult:
    """Merge; without a base both sides added the file. Raises CannotMerge.

    What comes out was read again, with either side of each conflict: it sets what it should.
    """
    sides = [side for side in (base, ours, theirs) if side is not None]
    _check(sides)
    lone = _lone_change(base, ours, theirs)
    if lone is not None:
        return MergeResult(lone.document.to_bytes(), 0)
    if apart := other_craft(ours.settings, theirs.settings):
        raise SidesApart(f"the sides are of different craft, by {' and '.join(apart)}")
    readings = [read(side.document, side.dialect) for side in sides]
    depths = common_depths(readings)
    units = units_of(readings, depths)
    lists = units if base is not None else [[], *units]
    _check_unread(*lists)
    _check_whole(*lists)
    pieces = Weave(*lists).pieces
    text, other = ours.document.text, theirs.document.text
    like = _like(text, other)
    made = _encoded(like, ConflictWriter(text, other, marks).text(pieces))
    strays = tuple(note.line for note in _lost_notes(made, base, ours, theirs) if note.whole)
    if strays:  # what they stood above is gone, or stands elsewhere
        pieces.append(MergedPiece(pieces[-1].unit, MergedLines(strays), None))
    clashes = [piece for piece in pieces if isinstance(piece.choice, Clash)]
    picks: list[bytes] = []
    for pick in ("ours", "theirs") if clashes else ("ours",):
        picks.append(data := _encoded(like, ConflictWriter(text, other, marks, pick).text(pieces)))
        _check_outcome(data, _expected(pieces, pick), ours.dialect, depths)
    data = _encoded(like, ConflictWriter(text, other, marks).text(pieces))
    for note in _lost_notes(data, base, ours, theirs):
        raise CannotMerge(f"put together, it would lose a comment: {note.words}")
    named = tuple(dict.fromkeys(_named(clashes)))
    return MergeResult(data, len(clashes), named, picks=tuple(picks))


def _lone_change(base: Opened | None, ours: Opened, theirs: Opened) -> Opened | None:
    """The side whose text comes out where it alone changed anything, or both did so alike."""
    was = base.document.to_bytes() if base is not None else None
    mine, others = ours.document.to_bytes(), theirs.document.to_bytes()
    if others in (was, mine):
        return ours
    return theirs if mine == was else None


def _check(sides: Sequence[Opened]) -> None:
    names = {side.dialect.name for side in sides}
    if len(names) > 1:
        listed = " and ".join(sorted(name or "no dialect" for name in names))
        raise CannotMerge(f"the sides are in different dialects: {listed}")
    for side in sides:
        text = side.document.text
        if any("\0" in line for line in text.lines):
            raise CannotMerge("it is no text")
        document = side.document
        if document.part is not None or document.lines != text.lines:
            raise CannotMerge("one side is pasted text or holds several dumps")
        kinds = {trouble.kind for trouble in side.settings.troubles}
        if TroubleKind.CONFLICT_MARKER in kinds:
            raise CannotMerge("one side has the marks of an unfinished merge")


def _check_unread(base: list[MergeUnit], ours: list[MergeUnit], theirs: list[MergeUnit]) -> None:
    """Lines that nobody understands are merged as text, where both sides changed them."""
    was, mine, others = (
        sorted(repr(unit.key) for unit in side if unit.key[0] == "unread")
        for side in (base, ours, theirs)
    )
    if mine != was and others not in (was, mine):
        raise CannotMerge("both sides changed lines that can't be read")


_MUCH = 20  # settings: a dump without so many of its last ones may well be whole


def _check_whole(base: list[MergeUnit], ours: list[MergeUnit], theirs: list[MergeUnit]) -> None:
    """A side that ends too early took nothing out on purpose."""
    for side, other, name in ((ours, theirs, "ours"), (theirs, ours, "theirs")):
        if not _has_end(side) and _has_end(base) and _has_end(other):
            raise SidesApart(f"{name} lacks the mark at the end of the dump, so it may be cut off")
        was = [unit.key for unit in base if unit.is_setting]
        there = {unit.key for unit in side}
        last = max((n for n, key in enumerate(was, 1) if key in there), default=0)
        lost = len({*was[last:]} & {unit.key for unit in other})
        if lost >= _MUCH and 4 * lost >= len({*was}):
            raise SidesApart(f"{name} lacks the last {lost} settings, so it may be cut off")


def _has_end(side: list[MergeUnit]) -> bool:
    return any(unit.key[0] == "end" for unit in side)


def _like(ours: FileText, theirs: FileText) -> FileText:
    """Whose encoding the merged text has: ours, unless only theirs shows one."""
    plain = not ours.bom and all(line.isascii() for line in ours.lines)
    return theirs if plain and not theirs.bom else ours


def _encoded(like: FileText, text: str) -> bytes:
    try:
        return like.bom + text.encode(like.encoding)
    except UnicodeEncodeError:
        raise CannotMerge(f"theirs has letters that {like.encoding} can't write") from None


def _expected(pieces: Iterable[MergedPiece], pick: str) -> Sets:
    """What the merged text should set, what is said several times in the order decided on."""
    found: Sets = {}
    for piece in sorted(pieces, key=lambda piece: piece.number):
        choice = piece.choice
        if isinstance(choice, Clash):
            choice = choice.ours if pick == "ours" else choice.theirs
        if isinstance(choice, MergedLines):
            for key, means in choice.sets:
                found.setdefault(key, []).append(means)
    return found


def _check_outcome(data: bytes, wanted: Sets, dialect: Dialect, depths: dict[str, int]) -> None:
    document = read_document("merged", data)
    if dialect.look != document.look:
        document = Document(document.name, document.text, dialect.look)
    found: Sets = {}
    for unit in units_of([read(document, dialect)], depths)[0]:
        for item in unit.items:
            found.setdefault(item.key, []).append(item.means)
    if found != wanted:
        wrong = sorted(k for k in {*found, *wanted} if found.get(k) != wanted.get(k))
        raise CannotMerge(f"put together, it would not say what it should of {wrong[0]}")


class _Note(NamedTuple):
    """A comment: what it says, the line that holds it, whether that line says nothing else."""

    words: str
    line: str
    whole: bool


def _lost_notes(data: bytes, base: Opened | None, ours: Opened, theirs: Opened) -> Iterator[_Note]:
    """The comments that a side has more often than the base, and more often than the merge."""
    look = ours.document.look
    made = Counter(n.words for n in _notes(Document("", read_document("", data).text, look)))
    was = Counter(n.words for n in _notes(base.document)) if base is not None else Counter[str]()
    for side in (ours, theirs):
        notes = list(_notes(side.document))
        for words, count in Counter(note.words for note in notes).items():
            short = count - made[words] if count > was[words] else 0
            if short > 0:
                yield from [note for note in notes if note.words == words][-short:]
                made[words] = count


def _notes(document: Document) -> Iterator[_Note]:
    """Every comment of a dump, in its order."""
    for statement in document.statements:
        shape, line = statement.shape, document.lines[statement.first]
        whole = isinstance(shape, Comment)
        text = shape.body.text if isinstance(shape, Comment) else tail_of(document, statement)
        words = " ".join(text.split()).lstrip("#;/-% ")
        if words and line.strip() != document.look.end:
            yield _Note(words, line, whole)


def _named(clashes: Iterable[MergedPiece]) -> Iterable[str]:
    """The settings that clash, as people call them."""
    for piece in clashes:
        assert isinstance(piece.choice, Clash)
        mine, others = piece.choice.ours.sets, piece.choice.theirs.sets
        if not (mine or others):  # the comment behind a head
            yield piece.unit.opens[-1][1] if piece.unit.opens else "a comment"
        apart = [pair for pair in mine if pair not in others]
        apart += [pair for pair in others if pair not in mine]
        # where only the order or a comment differs, what the lines are about
        yield from (key.removeprefix("raw ") for key, _ in apart or (*mine, *others))


Open = Callable[[bytes, str | None], Opened]  # bytes, and the dialect where it is settled
_MOST = 127  # git merge-file tells up to so many conflicts; more than that is an error


def merge_dumps(
    base: bytes, ours: bytes, theirs: bytes, marks: Marks, reading: Open
) -> MergeResult:
    """Merge three wordings of one dump. Never raises: a conflict never goes without its marks."""
    try:
        sides = [reading(data, None) for data in ((base, ours, theirs) if base else (ours, theirs))]
        sides = _in_one_dialect(sides, reading)
        parts = [_parts(side) for side in sides]
        if len(parts[0]) > 1 and len({len(side) for side in parts}) == 1 and base:
            threes = zip(*parts, strict=True)
            return _joined([merge_dumps(was, a, b, marks, reading) for was, a, b in threes])
        first = sides[0] if base else None
        return merge_by_setting(first, sides[-2], sides[-1], marks)
    except SidesApart as reason:
        return _whole(ours, theirs, marks)._replace(why_apart=str(reason))
    except CannotMerge as reason:
        why = str(reason)
    except Exception as error:  # whatever it is, the text must be merged all the same
        why = f"internal fault ({fault_of(error)}); please report it"
    return merge_text(base, ours, theirs, marks)._replace(why_text=why)


def _parts(side: Opened) -> list[bytes]:
    """The bytes of each dump in a file; the whole file where there is one."""
    document, text = side.document, side.document.text
    if document.part is None:
        return [document.to_bytes()]
    ranges = parts_of(replace(document, part=None), side.dialect)
    wholes = ("".join(text.lines[n] + text.ends[n] for n in part) for part in ranges)
    made = [whole.encode(text.encoding) for whole in wholes]
    made[0] = text.bom + made[0]
    if b"".join(made) != document.to_bytes():
        raise CannotMerge("one side holds several dumps that can't be told apart")
    return made


def _joined(results: Sequence[MergeResult]) -> MergeResult:
    """The dumps of a file, each merged by itself, one after the other again."""
    datas = [result.data for result in results if result.data is not None]
    if len(datas) < len(results):
        raise CannotMerge("it is no text")
    return MergeResult(
        b"".join(datas),
        sum(result.conflicts for result in results),
        tuple(clash for result in results for clash in result.clashes),
        next((result.why_text for result in results if result.why_text), ""),
        why_apart=next((result.why_apart for result in results if result.why_apart), ""),
    )


def _in_one_dialect(sides: Sequence[Opened], reading: Open) -> list[Opened]:
    """The sides, those that show no dialect read in the one that the others show."""
    names = {side.dialect.name for side in sides}
    shown = names - {""}
    if len(shown) != 1 or len(names) == 1:
        return list(sides)
    (name,) = shown
    return [
        side if side.dialect.name else reading(side.document.to_bytes(), name) for side in sides
    ]


def merge_text(base: bytes, ours: bytes, theirs: bytes, marks: Marks) -> MergeResult:
    """Merge as git merges text; where git can't either, both sides whole between marks."""
    try:
        with tempfile.TemporaryDirectory(prefix="cfgaudit-") as held:
            folder = Path(held)
            for name, data in (("ours", ours), ("base", base), ("theirs", theirs)):
                (folder / name).write_bytes(data)
            answer = ask(_merge_file(marks), folder)
    except (OSError, GitError):
        return _whole(ours, theirs, marks)
    if answer.status <= _MOST:
        return MergeResult(answer.out, answer.status)
    binary = any(b"\0" in data for data in (base, ours, theirs))
    return MergeResult(None, 1) if binary else _whole(ours, theirs, marks)


def _merge_file(marks: Marks) -> list[str]:
    names = [word for name in (marks.ours, marks.base, marks.theirs) for word in ("-L", name)]
    style = ["--diff3"] if marks.show_base else []
    size = f"--marker-size={max(1, marks.size)}"
    return ["merge-file", "-p", "-q", size, *style, *names, "ours", "base", "theirs"]


def _whole(ours: bytes, theirs: bytes, marks: Marks) -> MergeResult:
    """Both sides from top to bottom, as one conflict; nothing to mark where they are the same."""
    if ours == theirs:
        return MergeResult(ours, 0)
    head, between, foot = (
        line.encode("utf-8", "replace")
        for line in (marks.line("<", marks.ours), marks.line("="), marks.line(">", marks.theirs))
    )
    parts = (head, ours.removesuffix(b"\n"), between, theirs.removesuffix(b"\n"), foot, b"")
    return MergeResult(b"\n".join(parts), 1)
