"""Names the columns of rows as a remark above them does: `# axis, P, I, D`, `! gain: axis, p`."""

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from cfgaudit.reading.shapes import Assignment, Directive, Row
from cfgaudit.teach.measures import measures_in
from cfgaudit.teach.scoped import Scope, ScopedLine
from cfgaudit.teach.words import chunks, is_closed_list, root
from cfgaudit.vocabulary.units import number_text

_LEAST = 2  # rows that a first column tells apart
_NAME = re.compile(r"[A-Za-z][\w '-]*")
_ASIDE = re.compile(r"\s*[(\[][^()\[\]]*[)\]]")
_LISTED_ASIDE = re.compile(r" *\([^()]*,[^()]*\)")  # `job (0 none, 1 all)` is one name
_UNIT_WORDS = re.compile(r"\s+(?:in|as|at)\s+.*$", re.IGNORECASE)


class Legend(NamedTuple):
    """What a remark says of columns: the word that its rows begin with, if any, and their names."""

    verb: str
    names: tuple[str, ...]


def legends_in(remark: str) -> Iterator[Legend]:
    """Every legend of a remark, whose parts semicolons and points end.

    >>> list(legends_in("gain: axis, p, i.  rate: axis, centre and maximum in deg/s"))
    [Legend(verb='gain', names=('axis', 'p', 'i')), \
Legend(verb='rate', names=('axis', 'centre and maximum in deg/s'))]
    """
    bare = _LISTED_ASIDE.sub("", remark)
    for clause in re.split(r";|\.(?:\s|$)", bare):
        verb, colon, rest = clause.rpartition(":")
        names = tuple(name.strip() for name in (rest if colon else clause).split(","))
        if len(names) >= 2 and all(_NAME.match(name) for name in names):
            yield Legend(verb.strip().casefold(), names)


def titles_of(names: Sequence[str], count: int) -> tuple[str, ...]:
    """The names of so many columns, each with its unit in brackets; empty where they are others.

    >>> titles_of(("axis", "centre and maximum in deg/s", "expo in percent"), 4)
    ('axis', 'centre (deg/s)', 'maximum (deg/s)', 'expo (%)')
    """
    apart = [name for name in names for name in _parted(name)]
    for told in (tuple(_with_unit(name) for name in names), tuple(apart)):
        if len(told) == count:
            return told
    return ()


def _parted(name: str) -> Iterator[str]:
    """The names of one that `and` joins; a unit behind the last is each one's."""
    bare, unit = _cut_unit(name)
    for part in re.split(r"\s+and\s+", bare):
        yield f"{part}{unit}"


def _with_unit(name: str) -> str:
    return "".join(_cut_unit(name))


def _cut_unit(name: str) -> tuple[str, str]:
    """A name without the words of its unit, and the unit in brackets; as it was without one."""
    measure = next(measures_in(name), None)
    if measure is None or not measure.unit:
        return name, ""
    bare = _UNIT_WORDS.sub("", _ASIDE.sub("", name)).strip()
    if bare == name:  # `from us`: the last word is the unit
        bare = name.rpartition(" ")[0].strip() or name
    scale = "" if measure.scale == 1 else f"{number_text(float(measure.scale))} "
    return bare, f" ({scale}{measure.unit})"


def cut_legends(scope: Scope) -> None:
    """Name the columns of a scope's rows that stand below a legend."""
    sorts: dict[tuple[str, type, str], list[int]] = {}
    for number, entry in enumerate(scope.entries):
        if isinstance(entry.shape, Assignment) or entry.is_cut or entry.negated:
            continue
        above = entry.remark.removesuffix(entry.behind).rstrip("; ")
        verb = entry.head if isinstance(entry.shape, Directive) else ""
        if "," in above:
            sorts.setdefault((above, type(entry.shape), verb), []).append(number)
    begun = {root(entry.head.partition(" ")[0].casefold()) for entry in scope.entries}
    for (above, form, verb), places in sorts.items():
        rows = [scope.entries[at] for at in places]
        for legend in legends_in(above):
            if form is Row:
                groups = _by_length(rows)
            elif form is Directive and _is_of(legend, verb.casefold(), begun):
                groups = [rows]
            else:
                continue
            for group in groups:
                count = max(len(row.parts) for row in group)
                titles = titles_of(legend.names, count)
                fresh = _titled(group, titles) if titles else {}
                for at in places:
                    scope.entries[at] = fresh.get(id(scope.entries[at]), scope.entries[at])


def _is_of(legend: Legend, verb: str, begun: Collection[str]) -> bool:
    """Whether a legend is of the lines that a word begins, and does not just say what the lines
    below are about: `# gyro, loop and filters`.
    """
    names = [part for name in legend.names[1:] for part in _parted(name)]
    others = {root(name.strip().casefold()) for name in names}
    return (legend.verb or legend.names[0]) == verb and others.isdisjoint(begun)


def _by_length(rows: Sequence[ScopedLine]) -> list[list[ScopedLine]]:
    found: dict[int, list[ScopedLine]] = {}
    for row in rows:
        found.setdefault(len(row.parts), []).append(row)
    return list(found.values())


def _titled(rows: Sequence[ScopedLine], titles: tuple[str, ...]) -> dict[int, ScopedLine]:
    """The rows with their columns named, by identity; none where the first one tells no two apart.

    A column that tells the rows apart is their index, and has no name of its own.
    """
    if min(len(row.parts) for row in rows) < 2:
        return {}
    firsts, seconds = ([row.parts[at].text.casefold() for row in rows] for at in (0, 1))
    several = len(rows) >= _LEAST
    apart = several and len(set(firsts)) == len(rows) and not _VALUE.fullmatch(firsts[0])
    if isinstance(rows[0].shape, Row):
        apart = apart and not _are_settings(firsts, seconds)
        return {id(row): replace(row, titles=titles) for row in rows} if apart else {}
    if not apart:
        return {id(row): replace(row, titles=titles) for row in rows}
    named = all(map(str.isdigit, firsts)) and is_closed_list(seconds)
    if named and len(set(seconds)) == len(rows):  # the number only counts what the name tells
        return {
            id(row): replace(
                row, head=f"{row.head} *", parts=row.parts[1:], titles=titles[2:], indexed=True
            )
            for row in rows
        }
    return {id(row): replace(row, titles=titles[1:], indexed=True) for row in rows}


def _are_settings(keys: Sequence[str], values: Sequence[str]) -> bool:
    """Whether rows are a setting each: keys of several words, and figures beside other values."""
    several = sum(len(chunks(key)) > 1 for key in keys)
    figures = sum(value[:1].isdigit() for value in values)
    return 2 * several > len(keys) and 0 < figures < len(values)


_VALUE = re.compile(r"-?\d*\.\d+")  # no row is called so
