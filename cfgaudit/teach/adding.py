"""Adds what was learnt to a dialect file: every byte that stands there stays.

What would be added is tried first: the dialect with it must read the value that was set out of the
dump in which it was set, and must have no fault that it has not without.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from cfgaudit.changes.diff import meaning
from cfgaudit.dialects.checking import check_text
from cfgaudit.dialects.dialect import Dialect, DialectError, build_dialect
from cfgaudit.dialects.reader import read_settings
from cfgaudit.dialects.spec import Holder, SpecError, SpecForm
from cfgaudit.dialects.template import match_text, text_pieces
from cfgaudit.reading.document import Document
from cfgaudit.reading.shapes import Look
from cfgaudit.reading.toml import CannotAdd, Page, TomlError, key_text, parsed, quoted
from cfgaudit.settings import Origin
from cfgaudit.teach.learn import LearntKey, Lesson
from cfgaudit.teach.write import put_lines
from cfgaudit.vocabulary.paths import declared


class _Addition(NamedTuple):
    """One way to say what was learnt in a dialect that is there already."""

    under: tuple[str, ...]
    lines: tuple[str, ...]
    tables: tuple[tuple[str, str, Mapping[str, str | int]], ...]  # words or flags, name, entries


def look_of(text: str) -> Look | None:
    """How a dialect's text says that a dump looks, heads passed over; None where it doesn't.

    Raises DialectError where the text is no dialect as it stands.
    """
    data = _parsed(text)
    look = _built(data).look
    heads = data.get("look", {}).get("head", ())
    return None if look == Look() else look._replace(ignore=(*look.ignore, *heads))


def added(text: str, one: LearntKey, path: str, lessons: Sequence[Lesson]) -> str:
    """The dialect's text with one way in it; the text itself where it reads the value already.

    Raises CannotAdd, with the line (from 1) where that can be told, where it can't be added, and
    DialectError where the text is no dialect as it stands.
    """
    data = _parsed(text)
    if _reads(_built(data), path, lessons):
        return text
    first: CannotAdd | None = None
    for plan in _plans(data, one):
        try:
            return _tried(text, data, plan, path, lessons)
        except CannotAdd as error:
            first = first or error
    assert first is not None  # there is always the plan of what was learnt
    raise first


def _parsed(text: str) -> dict[str, Any]:
    try:
        return parsed(text)
    except TomlError as error:
        raise DialectError(str(error)) from None


def _built(data: Mapping[str, Any]) -> Dialect:
    """The dialect, its lines compiled. Raises DialectError."""
    try:
        dialect = build_dialect(data, "")
        dialect.root  # noqa: B018 (the mapping lines are compiled when they are first wanted)
    except DialectError as error:
        raise DialectError(str(error).removeprefix(": ")) from None
    return dialect


def _reads(dialect: Dialect, path: str, lessons: Sequence[Lesson]) -> bool:
    """Whether a dialect reads from each dump what was set in it."""
    known = declared(path)
    assert known is not None  # nothing else is learnt
    for lesson in lessons:
        found = read_settings(Document("", lesson.after, dialect.look), dialect).stated.get(path)
        if found is None or found.doubt or found.origin is not Origin.DUMP:
            return False
        if meaning(found.value) != meaning(known.kind.read(lesson.value)):
            return False
    return True


def _tried(
    text: str, data: Mapping[str, Any], plan: _Addition, path: str, lessons: Sequence[Lesson]
) -> str:
    """The text with a plan carried out. Raises CannotAdd where that does not do."""
    page = Page(text)
    for sort, name, entries in plan.tables:
        page.put_keys(
            (sort, name), [f"{key_text(key)} = {_quoted(v)}" for key, v in entries.items()]
        )
    if not _stands(data, plan):
        put_lines(page, plan.under, plan.lines)
    made = page.text()
    try:
        dialect = _built(parsed(made))
    except (DialectError, TomlError) as error:
        raise CannotAdd(0, str(error)) from None
    if not _reads(dialect, path, lessons):
        raise CannotAdd(
            0, f"with it, {path} is still not read as it was set; does another line take it first?"
        )
    before = {problem.message for problem in check_text(text)}
    for problem in check_text(made):
        if problem.message not in before:
            raise CannotAdd(0, problem.message)
    return made


def _quoted(value: str | int) -> str:
    """A word or a bit as TOML writes it."""
    return quoted(value) if isinstance(value, str) else str(value)


def _stands(data: Mapping[str, Any], plan: _Addition) -> bool:
    """Whether the lines stand there already, and only lack a word or a bit."""
    return any(
        under == plan.under and set(plan.lines) <= set(entry.get("map", ()))
        for under, entry in _entries(data)
    )


def _entries(data: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], Mapping[str, Any]]]:
    for entry in data.get("lines", ()):
        under = entry.get("under", ())
        yield (under,) if isinstance(under, str) else tuple(under), entry


def _plans(data: Mapping[str, Any], one: LearntKey) -> Iterator[_Addition]:
    """Ways to say it: under context lines that the dialect has, else under lines of its own."""
    unders = dict.fromkeys(under for under, _ in _entries(data) if len(under) == len(one.contexts))
    for under in unders:
        lacking = _lacking(data, under, one)
        if under and lacking is not None:
            above = {f"learnt_{name.lower()}" for name in _indices_above(one)}
            named = _named(
                data, one._replace(words=tuple(w for w in one.words if w[0] not in above))
            )
            yield _Addition(under, named.lines, (*lacking, *named.tables))
    yield _named(data, one)


def _indices_above(one: LearntKey) -> list[str]:
    """The names of the indices that the contexts bind."""
    above = " ".join(one.under)
    return [name for name, _, _ in one.indices if f"{{{name}}}" in above or f"{{{name}:" in above]


def _lacking(
    data: Mapping[str, Any], under: Sequence[str], one: LearntKey
) -> list[tuple[str, str, Mapping[str, str | int]]] | None:
    """The words that context lines lack to stand for the dump's own; None where they can't."""
    wanted = {name: (theirs, ours) for name, theirs, ours in one.indices}
    left = set(_indices_above(one))
    lacking: list[tuple[str, str, Mapping[str, str | int]]] = []
    for line, there in zip(under, one.contexts, strict=True):
        try:
            bound = match_text(text_pieces(line), there)
        except SpecError:  # it states a constant, too: no head to add to
            bound = None
        if bound is None:
            return None
        for holder, span in bound:
            theirs, ours = wanted.get(holder.target, ("", ""))
            if not holder.is_index or span.text != theirs:
                return None
            left.discard(holder.target)
            word = _word_for(data, holder, theirs, ours)
            if word is None:
                return None
            lacking += [("words", holder.spec.table, {theirs: ours})] if word else []
    return None if left else lacking


def _word_for(data: Mapping[str, Any], holder: Holder, theirs: str, ours: str) -> bool | None:
    """Whether an index's list lacks a word; None where the index can't give our word for it."""
    if holder.spec.form is SpecForm.WORDS:
        words = data.get("words", {}).get(holder.spec.table, {})
        return None if words.get(theirs, ours) != ours else theirs not in words
    if theirs.isdigit() and ours.isdigit():
        shift = int(ours) - int(theirs)
        return False if shift == int(holder.spec.form is SpecForm.FROM) else None
    return False if theirs == ours else None


def _named(data: Mapping[str, Any], one: LearntKey) -> _Addition:
    """What was learnt, with names for its tables that agree with those that are there."""
    under, lines = one.under, one.lines
    tables: list[tuple[str, str, Mapping[str, str | int]]] = []
    flags_of = one.lines[0].partition(": flags ")[2].partition("}")[0]
    needed: list[tuple[str, str, Mapping[str, str | int]]] = []
    needed += [("words", name, dict(words)) for name, words in one.words]
    needed += [("flags", flags_of, dict(one.flags))] if one.flags else []
    for sort, name, entries in needed:
        free = _free_name(data.get(sort, {}), name, entries)
        old, new = f" {name}}}", f" {free}}}"
        under = tuple(line.replace(old, new) for line in under)
        lines = tuple(line.replace(old, new) for line in lines)
        there = data.get(sort, {}).get(free, {})
        tables.append((sort, free, {k: v for k, v in entries.items() if k not in there}))
    return _Addition(under, lines, tuple(table for table in tables if table[2]))


def _free_name(tables: Mapping[str, Any], name: str, entries: Mapping[str, str | int]) -> str:
    """The name, or with a number, under which there is no table that says otherwise."""
    number, free = 1, name
    while not _agree(tables.get(free, {}), entries):
        number += 1
        free = f"{name}_{number}"
    return free


def _agree(table: object, entries: Mapping[str, str | int]) -> bool:
    if not isinstance(table, Mapping):
        return False
    return all(table.get(key, value) == value for key, value in entries.items())
