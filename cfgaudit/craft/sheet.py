"""The build sheet: TOML text to a typed sheet, or every fault of it with its line."""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cache
from math import isfinite
from pathlib import PurePath
from typing import Any, Final, NamedTuple, Union

from cfgaudit.craft.craft import there
from cfgaudit.physics.motors import no_load_rpm, tip_speed_m_per_s
from cfgaudit.physics.power import cell_limits
from cfgaudit.reading.text import Place
from cfgaudit.reading.toml import TomlError, line_of, parsed, places
from cfgaudit.settings import DumpFacts, Origin, Settings, Stated
from cfgaudit.vocabulary.declare import Part
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Kind,
    Text,
    Value,
)
from cfgaudit.vocabulary.paths import Declared, fits, matching, sheet_vocabulary
from cfgaudit.vocabulary.sheet import BEFORE, NO_RAIL, ROOT, BuildSheet, Device, SheetRail
from cfgaudit.vocabulary.units import number_text


def record_name(build: str) -> str:
    """The record's file for a build sheet: the sheet's name with bench in place of build.

    >>> record_name("craft/dipper.build.toml"), record_name("sheet.toml")
    ('craft/dipper.bench.toml', 'sheet.bench.toml')
    """
    path = PurePath(build)
    stem = path.name.removesuffix(".toml").removesuffix(".build")
    return str(path.with_name(f"{stem}.bench.toml"))


class Sheet(BuildSheet):
    """A typed build sheet. Reading what it does not state raises NotStated."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings, ROOT)
        self.settings = settings

    def devices_of(self, kind: str) -> list[Device]:
        """The devices of a kind, in the sheet's order. Raises NotStated without any device.

        A device whose kind is not stated is of none.
        """
        return [part for part in self.devices if part.states("kind") and part.kind == kind]

    def devices_on(self, port: str) -> list[Device]:
        """The devices wired to a port, in the sheet's order. Raises as `devices_of` does."""
        return [part for part in self.devices if part.states("port") and part.port == port]


def faults_between(
    stated: Mapping[str, Stated], named: Mapping[str, Collection[str]]
) -> Iterator[tuple[str, str]]:
    """The paths that do not fit what stands elsewhere in the sheet, each with what is wrong.

    `named` holds the names of each group's tables, the empty ones too. A group of which nothing
    is stated is not missed: perhaps it is still to be written.
    """
    sheet = Sheet(Settings(stated))
    devices, rails = there(sheet.devices), there(sheet.rails)
    if sheet.ports.names():
        yield from _pointing(sheet, devices, "port", named["ports"])
    if sheet.pads.names():
        yield from _pointing(sheet, (*devices, *there(sheet.motors)), "pad", named["pads"])
    if rails:
        yield from _pointing(sheet, devices, "rail", (*named["rails"], NO_RAIL))
    for rail in rails:
        yield from _rail(rail)


def _pointing(
    sheet: Sheet, parts: Iterable[Part], leaf: str, known: Collection[str]
) -> Iterator[tuple[str, str]]:
    """The parts that name a port, a pad or a rail which the sheet does not have."""
    for part in parts:
        if not part.states(leaf):
            continue
        wanted = str(sheet.settings.need(part.path(leaf)))
        if wanted not in known:
            folded = {other.casefold(): other for other in known}
            from difflib import get_close_matches

            near = get_close_matches(wanted.casefold(), folded, n=1)
            hint = f"did you mean {folded[near[0]]}?" if near else f"there are {', '.join(known)}"
            at = part.path(leaf).partition(".")[2]
            yield part.path(leaf), f"{at}: there is no [{leaf}s.{wanted}]; {hint}"


def _rail(rail: SheetRail) -> Iterator[tuple[str, str]]:
    chosen = rail.states("choices") or rail.states("choice")
    if rail.states("voltage") and chosen:
        yield (
            rail.path("voltage"),
            f"rails.{rail.name}: either voltage, or choices and choice; it has both",
        )
    elif rail.states("choice") and rail.states("choices") and rail.choice not in rail.choices:
        some = ", ".join(number_text(volts) for volts in rail.choices)
        wrong = f"{number_text(rail.choice)} V is none of the choices {some} V"
        yield rail.path("choice"), f"rails.{rail.name}.choice: {wrong}"


# What can stand below a table's name: the settings and tables by name, and one index in capitals
# where names are the builder's own.
SheetShape = dict[str, Union["SheetShape", Declared]]
Keys = tuple[str, ...]

_MAY_BE_EMPTY = (("pads",), ("ports",))  # that one is there is all that must be said of it


class SheetFault(NamedTuple):
    """One thing wrong with a build sheet, and where."""

    place: Place
    message: str

    def __str__(self) -> str:
        return f"{self.place}: {self.message}"


class SheetError(ValueError):
    """A build sheet that can't be taken as it is: all its faults, in the order of its lines."""

    def __init__(self, faults: Iterable[SheetFault]) -> None:
        self.faults = tuple(sorted(faults))
        super().__init__("\n".join(str(fault) for fault in self.faults))


def printed_names(settings: Settings) -> dict[str, str]:
    """What is printed on the board beside each port and pad, as far as the sheet tells."""
    sheet = Sheet(settings)
    printed = {port.name: port.printed for port in there(sheet.ports) if port.states("printed")}
    return printed | {pad.name: pad.printed for pad in there(sheet.pads) if pad.states("printed")}


def read_sheet(data: bytes, file: str) -> Settings:
    """What a build sheet states, by path below `sheet.`, in its order.

    A number is in the vocabulary's unit; a text may bring its own (`"36 MHz"`, `"4.5..5.5 V"`).
    Raises SheetError with every fault that it has.

    >>> sheet = read_sheet(b"[battery]\\ncells = 4", "dipper.build.toml")
    >>> sheet["sheet.battery.cells"].value, str(sheet["sheet.battery.cells"].place)
    (4, 'dipper.build.toml:2')

    A named table that is empty is told in the notes of its facts.
    """
    text = _decoded(data, file)
    try:
        tables = parsed(text)
    except TomlError as error:
        raise SheetError([SheetFault(Place(file, error.line, error.column), str(error))]) from None
    reader = _SheetReader(text, file)
    reader.table(tables, sheet_shape(), ())
    # What hangs together is looked at once each setting is right in itself.
    faults = reader.faults or [
        SheetFault(reader.place(tuple(path.split(".")[1:])), message)
        for path, message in faults_between(reader.stated, tables)
    ]
    if faults:
        raise SheetError(faults)
    lines, notes = len(text.splitlines()), reader.notes()
    facts = DumpFacts(file, "build sheet", len(reader.stated), lines=lines, notes=notes)
    stated = {**reader.stated, **dict(_doubtful(reader.stated))}
    return Settings(stated=stated, dumps=(facts,), named=tuple(reader.named))


_DRIVE: Final = "sheet.propulsion."
# How fast tips run at full voltage without load, in m/s, of the slowest and the fastest propellers
# of small craft, with room on either side: common practice.
_TIPS: Final = (85.0, 520.0)
_HOVERS: Final = 8.0  # % of throttle; no small craft hovers at less: common practice


def _doubtful(stated: Mapping[str, Stated]) -> Iterator[tuple[str, Stated]]:
    """Figures of the drive that no small craft has, each with why: nothing is reckoned from them.

    One of several that don't go together is mistyped, and which one is not known.
    """
    cells, chemistry = stated.get("sheet.battery.cells"), stated.get("sheet.battery.chemistry")
    made = [stated.get(f"{_DRIVE}{leaf}") for leaf in ("kv", "diameter")]
    kv, diameter = (_number(one) for one in made)
    count = _number(cells)
    if kv and diameter and count:
        full = cell_limits(str(chemistry.value) if chemistry else "lipo").full_v
        tips = tip_speed_m_per_s(diameter / 1000, no_load_rpm(kv, count * full))
        if not _TIPS[0] <= tips <= _TIPS[1]:
            says = (
                f"{number_text(count)} full cells would turn the propellers' tips at {tips:.0f} m/s"
            )
            for one in made:
                assert one is not None  # it has a number
                yield one.path, one._replace(doubt=says)
    hover = stated.get(f"{_DRIVE}hover_throttle")
    share = _number(hover)
    if hover is not None and share is not None and share < _HOVERS:
        says = f"no craft hovers at {number_text(share)} % of throttle"
        yield hover.path, hover._replace(doubt=says)


def _number(entry: Stated | None) -> float | None:
    value = entry.value if entry is not None and not entry.doubt else None
    return float(value) if isinstance(value, int | float) else None


def _decoded(data: bytes, file: str) -> str:
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SheetError([SheetFault(Place(file, line), "is not UTF-8 text")]) from None


@cache
def sheet_shape() -> SheetShape:
    """What a build sheet can hold, table within table."""
    top: SheetShape = {}
    for entry in sheet_vocabulary():
        *above, leaf = entry.pattern.split(".")[1:]
        shape = top
        for word in above:
            below = shape.setdefault(word, {})
            assert isinstance(below, dict)  # no setting has others below it
            shape = below
        shape[leaf] = entry
    return top


class _SheetReader:
    """Goes through the tables of one sheet, keeping what is right and what is wrong."""

    def __init__(self, text: str, file: str) -> None:
        self._file = file
        self._lines = places(text)
        self.stated: dict[str, Stated] = {}
        self.faults: list[SheetFault] = []
        self.named: list[str] = []  # ports and pads of which nothing more is said
        self._empty: list[Keys] = []  # other tables with a name of the builder's own
        self._lists: set[Keys] = set()  # lists of tables; their members are numbered from 1
        self._before: list[str] = []  # what is said in a word of before

    def place(self, at: Keys) -> Place:
        """Where a key stands."""
        key = (
            int(word) - 1 if at[:number] in self._lists else word for number, word in enumerate(at)
        )
        return Place(self._file, line_of(self._lines, tuple(key)))

    def _refuse(self, at: Keys, message: str) -> None:
        self.faults.append(SheetFault(self.place(at), message))

    def table(self, table: Mapping[str, Any], shape: SheetShape, above: Keys) -> None:
        """Read one table and all below it."""
        index = next((name for name in shape if name.isupper()), "")
        for name, value in table.items():
            at = (*above, name)
            below = shape.get(index or name)
            if below is None and (renamed := _renamed(at)) is not None:
                self._old(at, renamed, table, shape)
            elif below is None:
                self._refuse(at, _unknown(name, above, shape))
            elif isinstance(below, Declared):
                self._setting(at, below, value)
            elif "N" in below and isinstance(value, list):
                self._members(at, below, value)
            elif not isinstance(value, dict):
                self._refuse(at, _no_table(at, index))
            elif index and not fits(name, index, ()):
                self._refuse(at, f"{name!r} can't be a name: letters, digits, _ and - make one")
            else:
                if index and not value and above in _MAY_BE_EMPTY:
                    self.named.append(".".join((ROOT, *at)))
                elif index and not value:
                    self._empty.append(at)
                self.table(value, below, at)

    def _members(self, at: Keys, shape: SheetShape, value: Sequence[object]) -> None:
        """Read a list of tables as tables numbered from 1."""
        self._lists.add(at)
        for number, member in enumerate(value, 1):
            if isinstance(member, dict):
                self.table({str(number): member}, shape, at)
            else:
                self._refuse((*at, str(number)), f"{'.'.join(at)} must be a list of tables")

    def _old(self, at: Keys, renamed: tuple[str, Mapping[str, str]], table: Mapping[str, Any],
             shape: SheetShape) -> None:  # fmt: skip
        """Read what is said in a word of before, and note what it is called now."""
        (leaf, words), value = renamed, table[at[-1]]
        new = words.get(value, value) if isinstance(value, str) else value
        below = shape[leaf]
        assert isinstance(below, Declared)  # as a word of before is that of a setting
        if leaf in table:
            self._refuse(at, f"{'.'.join(at)} says what {leaf} says: leave {at[-1]} out")
            return
        self._setting((*at[:-1], leaf), below, new, at)
        self._before.append(f"line {self.place(at).line}: {at[-1]} = {_shown(value)} is now "
                            f"{leaf} = {_shown(new)}")  # fmt: skip

    def notes(self) -> tuple[str, ...]:
        """What is to be said of it: words of before, and named tables that are empty.

        An empty table alone needs no word: where nothing of a group is stated, the rules tell
        what they lack.
        """
        heads = [
            f"[{'.'.join(at)}]"
            for at in self._empty
            if any(path.startswith(".".join((ROOT, *at[:-1], ""))) for path in self.stated)
        ]
        if not heads:
            return tuple(self._before)
        return (*self._before, f"nothing is stated in {', '.join(heads)}: taken as not there")

    def _setting(self, at: Keys, entry: Declared, value: object, said: Keys = ()) -> None:
        """Read one setting; `said` is the key in a word of before, where it stands there."""
        path = ".".join((ROOT, *at))
        try:
            read = sheet_value(entry.kind, value)
        except BadValue as error:
            self._refuse(said or at, f"{'.'.join(said or at)}: {error}")
            return
        text = entry.kind.spell(read)
        self.stated[path] = Stated(path, read, self.place(said or at), Origin.SHEET, text)


def _renamed(at: Keys) -> tuple[str, Mapping[str, str]] | None:
    """The word of now and its values for a key of before; None where it never was one."""
    for pattern, new in BEFORE.items():
        if matching(at, pattern.split("."), ()):
            return new
    return None


def _unknown(name: str, above: Keys, shape: SheetShape) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, shape, n=1)
    what = f"there is no {'.'.join((*above, name))} in a build sheet"
    if near:
        return f"{what}; did you mean {near[0]}?"
    return f"{what}; {'.'.join(above) or 'it'} can hold {', '.join(shape)}"


def _no_table(at: Keys, index: str) -> str:
    if not index:
        return f"[{'.'.join(at)}] must be a table"
    above = ".".join(at[:-1])
    return f"{'.'.join(at)} must be a table: below {above} comes a name, as in [{above}.NAME]"


def sheet_value(kind: Kind, value: object) -> Value:
    """The typed value of what TOML gave. Raises BadValue, with near misses, and beyond limits."""
    try:
        read = _typed(kind, value)
        beyond = kind.beyond(read)
    except OverflowError:  # a number that no float holds
        raise BadValue(f"{_shown(value)} is not {kind.says}") from None
    if beyond:
        raise BadValue(beyond)
    return read


def _typed(kind: Kind, value: object) -> Value:
    read: Value | None = None
    if isinstance(value, bool):
        read = value if kind.nothing is False else None
    elif isinstance(value, int | float):
        read = kind.of_number(value) if isfinite(value) else None
    elif isinstance(value, str):
        read = _text(kind, value)
    elif isinstance(value, list):
        read = kind.of_list(value)
    if read is None:
        raise BadValue(f"{_shown(value)} is not {kind.says}{_quotes(kind, value)}")
    return read


def _text(kind: Kind, value: str) -> Value:
    if not value.strip():
        raise BadValue("is empty; leave the line out where it is not known")
    if isinstance(kind, Text):
        return value
    try:
        return kind.read(value)
    except BadValue as error:
        from difflib import get_close_matches

        near = get_close_matches(value, kind.choices, n=1) or _respelled(kind, value)
        raise BadValue(f"{error}" + (f"; did you mean {near[0]}?" if near else "")) from None


# How a builder writes what has another spelling here: what a motor does for each volt, the comma of
# a decimal; and inches.
_SPELLINGS: Final = (
    (
        re.compile(r"(?<=\d)\s*(?:(?:rpm )?per (?:volt|v)|kv|rpm per volt)\b", re.IGNORECASE),
        " rpm/V",
    ),
    (re.compile(r"(?<=\d),(?=\d)"), "."),
)
_INCHES: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(?:\"|\u2033|''|in(?:ch(?:es)?)?)")
_MM: Final = Fraction(254, 10)  # the international yard of 1959


def _respelled(kind: Kind, value: str) -> list[str]:
    """What a builder meant in the spelling that is read here; empty where nothing comes of it."""
    if kind.number is None:  # in a list a comma parts two numbers
        return []
    for pattern, here in _SPELLINGS:
        value = pattern.sub(here, value)
    inches = _INCHES.fullmatch(value.strip())
    if inches is not None:
        value = f"{number_text(round(float(Fraction(inches[1]) * _MM), 3))} mm"
    try:
        return [] if kind.beyond(kind.read(value)) else [value]
    except BadValue:
        return []


def _shown(value: object) -> str:
    """A value as TOML has it, near enough, and not too long."""
    if isinstance(value, bool):
        return str(value).lower()
    text = "a table" if isinstance(value, dict) else str(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _quotes(kind: Kind, value: object) -> str:
    return ", in quotes" if isinstance(kind, Text) and not isinstance(value, dict | list) else ""
