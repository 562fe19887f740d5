"""Merges three wordings of a dump by what they set, in the text of ours."""

from collections.abc import Hashable, Iterable, Sequence
from typing import NamedTuple

from cfgaudit.craft.settings import TroubleKind
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.opening import Opened
from cfgaudit.reading.document import Document, read_document
from cfgaudit.reading.lines import Text
from cfgaudit.vcs.decide import Clash, Said
from cfgaudit.vcs.marks import Marks, Writer
from cfgaudit.vcs.stating import Witness
from cfgaudit.vcs.units import Unit, common_depths, units_of
from cfgaudit.vcs.weave import Piece, Weave

Sets = dict[str, list[Hashable]]


class CannotMerge(ValueError):  # noqa: N818 (it is an answer: another way must be taken)
    """The dumps can't be merged by setting; the message says why."""


class Merged(NamedTuple):
    """The merged bytes, how many conflicts are marked, and the settings that they are about."""

    data: bytes
    conflicts: int
    clashes: tuple[str, ...]


def merge_by_setting(base: Opened | None, ours: Opened, theirs: Opened, marks: Marks) -> Merged:
    """Merge; without a base both sides added the file. Raises CannotMerge.

    What comes out was read again, with either side of each conflict: it sets what it should.
    """
    sides = [side for side in (base, ours, theirs) if side is not None]
    _check(sides)
    lone = _lone_change(base, ours, theirs)
    if lone is not None:
        return Merged(lone.document.to_bytes(), 0, ())
    witnesses = [Witness(side.document, side.dialect) for side in sides]
    depths = common_depths(witnesses)
    units = units_of(witnesses, depths)
    lists = units if base is not None else [[], *units]
    _check_unread(*lists)
    pieces = Weave(*lists).pieces
    text, other = ours.document.text, theirs.document.text
    like = _like(text, other)
    clashes = [piece for piece in pieces if isinstance(piece.choice, Clash)]
    for pick in ("ours", "theirs") if clashes else ("ours",):
        data = _encoded(like, Writer(text, other, marks, pick).text(pieces))
        _check_outcome(data, _expected(pieces, pick), ours.dialect, depths)
    data = _encoded(like, Writer(text, other, marks).text(pieces))
    return Merged(data, len(clashes), tuple(dict.fromkeys(_named(clashes))))


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


def _check_unread(base: list[Unit], ours: list[Unit], theirs: list[Unit]) -> None:
    """Lines that nobody understands are merged as text, where both sides changed them."""
    was, mine, others = (
        sorted(repr(unit.key) for unit in side if unit.key[0] == "unread")
        for side in (base, ours, theirs)
    )
    if mine != was and others not in (was, mine):
        raise CannotMerge("both sides changed lines that can't be read")


def _like(ours: Text, theirs: Text) -> Text:
    """Whose encoding the merged text has: ours, unless only theirs shows one."""
    plain = not ours.bom and all(line.isascii() for line in ours.lines)
    return theirs if plain and not theirs.bom else ours


def _encoded(like: Text, text: str) -> bytes:
    try:
        return like.bom + text.encode(like.encoding)
    except UnicodeEncodeError:
        raise CannotMerge(f"theirs has letters that {like.encoding} can't write") from None


def _expected(pieces: Iterable[Piece], pick: str) -> Sets:
    """What the merged text should set, what is said several times in the order decided on."""
    found: Sets = {}
    for piece in sorted(pieces, key=lambda piece: piece.number):
        choice = piece.choice
        if isinstance(choice, Clash):
            choice = choice.ours if pick == "ours" else choice.theirs
        if isinstance(choice, Said):
            for key, means in choice.sets:
                found.setdefault(key, []).append(means)
    return found


def _check_outcome(data: bytes, wanted: Sets, dialect: Dialect, depths: dict[str, int]) -> None:
    document = read_document("merged", data)
    if dialect.look != document.look:
        document = Document(document.name, document.text, dialect.look)
    witness = Witness(document, dialect)
    found: Sets = {}
    for unit in units_of([witness], depths)[0]:
        for item in unit.items:
            found.setdefault(item.key, []).append(item.means)
    if found != wanted:
        wrong = sorted(k for k in {*found, *wanted} if found.get(k) != wanted.get(k))
        raise CannotMerge(f"put together, it would not say what it should of {wrong[0]}")


def _named(clashes: Iterable[Piece]) -> Iterable[str]:
    """The settings that clash, as people call them."""
    for piece in clashes:
        assert isinstance(piece.choice, Clash)
        mine, others = piece.choice.ours.sets, piece.choice.theirs.sets
        apart = [pair for pair in mine if pair not in others]
        apart += [pair for pair in others if pair not in mine]
        # where only the order or a comment differs, what the lines are about
        yield from (key.removeprefix("raw ") for key, _ in apart or (*mine, *others))
