"""Guesses: what could be stated in place of what findings are about, and what speaks for it.

Each is a change worth a try by the audit. What somebody wrote down elsewhere comes first (a rule's
own mend, the build sheet, what the rule itself worked out), then what the firmware and others of
its kind have, then what people do by mistake (like settings changed about, a range or a sign turned
round), then slips.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from enum import IntEnum
from itertools import combinations
from math import ceil, floor
from typing import NamedTuple

from cfgaudit.audit.engine import Finding
from cfgaudit.craft.craft import Craft
from cfgaudit.physics.allocation import decoupled_mixer, effectiveness, matched_mixer
from cfgaudit.physics.matrices import Matrix
from cfgaudit.physics.power import CELL_LIMITS
from cfgaudit.rules.geometry import positions, spins
from cfgaudit.rules.rule import Edit, Limits
from cfgaudit.settings import Origin, Settings, Stated
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.kinds import Filter, Numeric, SwitchRange, Value
from cfgaudit.vocabulary.paths import declared

Edits = Mapping[str, Stated | None]  # what is stated instead, by path; None: nothing is
_MOST_PATHS = 6  # of one finding, the gravest first, that are tried
_MOST_WORDS = 16  # of a closed list whose every word is tried, and of whole numbers
_NEAR = 8  # of a small whole number, how far others are tried
_MOST_TURNED = 8  # settings that are turned round together
_MANY = 3  # findings of one rule that have settings in common
_TRAVEL = (900.0, 2100.0)  # us: what a channel can come to
_ENDS = ((900.0, 1300.0), (1300.0, 1700.0), (1700.0, 2100.0))  # us: of a switch's positions
_ROOM = 50.0  # us: how far from a position a range must end
# What is found where a function is on though nobody moved its switch: it may be turned round.
_AT_REST = (
    "switch/armed-at-rest",
    "switch/on-at-rest",
    "switch/armed-at-failsafe-value",
    "failsafe/disarms-in-air",
    "failsafe/function-comes-on",
)
_CHANNELS = range(5, 17)  # beside the sticks
_TYPED = ((10, 1), (1, 0.05), (0.1, 0.01), (0, 0.001))  # from each size on, the steps one types
ENDS = ("low", "high")  # of one travel or range
_AXES = ("thrust", "roll", "pitch", "yaw")  # a mixer's columns, in order
GAINS = "banks.N.gains."  # they are tuned, and mistyped, together
_CALLS = ("battery.empty_cell", "battery.warn_cell")  # what a pack's chemistry tells, in order
_NEAR_V = 0.15  # how far a firmware's own warning is from the usual of the cells it is made for
_UNITS = {"percent": "%"}  # a figure's unit, as its name says it, where the kind has another


class Ground(IntEnum):
    """What speaks for a value, the strongest first."""

    WAS = 0  # it stood there before
    MEND = 1  # it follows from what is stated elsewhere; a rule says so
    SHEET = 2  # the build sheet says it
    RECKONED = 3  # a rule or a formula works it out
    FACTORY = 4  # the firmware comes with it
    SIBLING = 5  # settings of its kind have it
    SWAPPED = 6  # two like settings changed about
    MIRRORED = 7  # a range or a sign turned round
    SLIP = 8  # a slip of the pen: ten times, a sign, on for off, another word


class Guess(NamedTuple):
    """A change worth a try, and what speaks for it."""

    edits: Edits
    ground: Ground
    one: bool = False  # whether one slip may have made all of it, where findings name all of it


def guesses(
    settings: Settings,
    sheet: Settings | None,
    findings: Sequence[Finding],
    limits: Limits,
    further: Sequence[str] = (),
) -> Iterator[Guess]:
    """Every change worth a try where these findings stand, each once, the likeliest kinds first.

    `further` are settings beside those that the findings name.
    """
    seen: set[frozenset[tuple[str, object]]] = set()
    every = _Guesser(settings, sheet, findings, limits)
    every.named += [path for path in further if path in settings.stated and path not in every.named]
    for guess in every.made():
        key = frozenset((path, value_key(entry)) for path, entry in guess.edits.items())
        if any(entry is not None and entry.value == _NO_MEND for entry in guess.edits.values()):
            continue
        if key not in seen and any(
            differ(entry, settings.stated.get(path)) for path, entry in guess.edits.items()
        ):
            seen.add(key)
            yield guess


def differ(one: Stated | None, other: Stated | None) -> bool:
    """Whether two entries mean different things; None where nothing is stated."""
    if one is None or other is None:
        return one is not other
    return (type(one.value), one.value, one.doubt) != (type(other.value), other.value, other.doubt)


def value_key(entry: Stated | None) -> object:
    """What tells an entry's value from another; 1, 1.0 and on are three."""
    return None if entry is None else (type(entry.value), entry.value)


# What the craft is made of, and how its parts are joined: told once, changed with a part. From the
# trade, not measured.
_FACTS = (
    "board.",
    "frame.",
    "gyro.",
    "pads.",
    "loop.rate",
    "esc.protocol",
    "receiver.link",
    "receiver.channels",
    "receiver.map.",
    "receiver.ends.",
    "receiver.low",
    "receiver.centre",
    "receiver.high",
    "battery.chemistry",
    "battery.cells",
    "battery.adc_reference",
)
# What a channel takes on link loss, and the throttle of the landing: flown while nobody steers.
FLOWN = ("failsafe.channels.", "failsafe.throttle")
_ARM = "switches.arm"  # thrown before every flight: where it is amiss, it is noticed
_ACTION = "failsafe.action"  # chosen on purpose: what it wants is likelier amiss
_GIVEN_UP = ("off", "none", "free")
_NO_MEND = "motors_off"  # a craft that is let fall answers every rule about how it comes home


def against(guess: Guess, settings: Settings, sheet: Settings | None) -> float:
    """What speaks against a guess, in steps of a ground: 0 where nothing does.

    A fact of the craft is seldom at fault, and one that its build sheet confirms hardly ever; nor
    is what is used before every flight. What is switched on is wanted: what it wants is likelier
    amiss than that somebody wants it.
    """
    steps = 0.0
    if denies_sheet(guess, settings, sheet):
        steps = 4
    elif denies_fact(guess):
        steps = 2
    for path, entry in guess.edits.items():
        if guess.ground >= Ground.RECKONED and path == _ARM:
            steps = max(steps, 1)
        now = settings.stated.get(path)
        if guess.ground is Ground.SLIP and path.endswith(".use") and now and now.value != "free":
            steps = max(steps, 3)  # a pad that is free is likelier to have lost its use
        if guess.ground >= Ground.RECKONED and path == _ACTION:
            steps = max(steps, 5)
        if guess.ground >= Ground.FACTORY and (entry is None or gives_up(entry.value)):
            steps = max(steps, 2)
    return steps


def denies_sheet(guess: Guess, settings: Settings, sheet: Settings | None) -> bool:
    """Whether a guess changes what the build sheet says as the dump does."""
    said = sheet.stated if sheet is not None else {}
    return any(
        (now := settings.stated.get(path)) is not None
        and (seen := said.get(f"sheet.{path}")) is not None
        and seen.value == now.value
        for path in guess.edits
    )


def denies_fact(guess: Guess) -> bool:
    """Whether a guess takes a fact of the craft for a slip, and nobody wrote down another one."""
    swapped = guess.ground is Ground.SWAPPED  # which is how a fact is told wrong
    made_up = guess.ground >= Ground.RECKONED and not swapped
    return made_up and any(is_fact(path) for path in guess.edits)


def is_fact(path: str) -> bool:
    """Whether a setting tells what the craft is made of, or how its parts are joined."""
    return path.startswith(_FACTS)


def gives_up(value: Value) -> bool:
    """Whether a value switches something off, or leaves nothing of it."""
    if isinstance(value, frozenset | tuple):
        return not value
    return value is False or value in _GIVEN_UP


def typed_number(value: float, *, up: bool) -> float:
    """A worked-out number as one would type it, rounded up or down.

    >>> typed_number(26.6667, up=True), typed_number(115_200.0, up=True)
    (27.0, 115200.0)
    """
    step = next(size for least, size in _TYPED if abs(value) >= least)
    steps = round(value / step, 6)
    return float(round((ceil(steps) if up else floor(steps)) * step, 6))


class _Guesser:
    """The sources of guesses over one set of settings and its findings."""

    def __init__(
        self,
        settings: Settings,
        sheet: Settings | None,
        findings: Sequence[Finding],
        limits: Limits,
    ) -> None:
        self.settings, self.stated = settings, settings.stated
        self.sheet = sheet.stated if sheet is not None else {}
        self.findings, self.limits = findings, limits
        self.named = list(
            dict.fromkeys(
                path
                for finding in findings
                for path in (*finding.paths[:_MOST_PATHS], *(edit.path for edit in finding.mend))
                if not path.startswith("sheet.")
            )
        )
        rest = [finding for finding in findings if finding.rule.id in _AT_REST]
        self.turned = {path for finding in rest for path in finding.paths}
        self.families: dict[str, list[str]] = {}
        for path in self.stated:
            self.families.setdefault(_pattern(path), []).append(path)

    def made(self) -> Iterator[Guess]:
        """Every guess, unlike ones and like ones, the likeliest kinds first."""
        for finding in self.findings:
            yield from self._as_edits_say(finding.mend)
            yield from self._by_sheet(finding)
            yield from self._reckoned(finding)
        yield from self._mended_together()
        yield from self._by_chemistry()
        yield from self._by_plan()
        yield from self._by_frame()
        for finding in self.findings:
            yield from self._changed_about(finding)
        yield from self._like_ones_changed_about()
        for finding in self.findings:
            yield from self._turned_round(finding)
        yield from self._in_common()
        yield from self._as_it_comes()
        for path in self.named:
            entry = self.stated.get(path)
            if entry is None:
                yield from self._unstated(path)
                continue
            for ground, value in self._instead(path, entry.value):
                yield Guess({path: entry._replace(value=value, doubt="")}, ground)

    def _put(self, path: str, value: Value) -> Stated:
        entry = self.stated.get(path)
        if entry is None:
            return Stated(path, value, None, Origin.DUMP)
        return entry._replace(value=value, doubt="")

    def _all(self, values: Mapping[str, Value], ground: Ground) -> Iterator[Guess]:
        """A guess of what differs among these values; none where nothing does."""
        edits = {path: self._put(path, value) for path, value in values.items()}
        kept = {p: e for p, e in edits.items() if differ(e, self.stated.get(p))}
        if kept:
            yield Guess(kept, ground)

    def _mended_together(self) -> Iterator[Guess]:
        """The mends of one area at once, and two of any areas: one may leave what another wants."""
        mends = {f.mend: f.rule.area for f in self.findings if f.mend}
        areas = [[m for m, own in mends.items() if own == area] for area in mends.values()]
        pairs = [list(two) for two in combinations(list(mends)[:_MOST_PATHS], 2)]
        for some in (*areas, *pairs):
            edits = {edit.path: edit for mend in some for edit in mend}
            if len(edits) < 2 or any(edits[e.path] != e for mend in some for e in mend):
                continue  # one alone, or two that differ about a setting
            yield from self._as_edits_say(tuple(edits.values()))

    def _as_edits_say(self, edits: Sequence[Edit]) -> Iterator[Guess]:
        read = {edit.path: _read(edit.path, edit.value) for edit in edits}
        values = {path: value for path, value in read.items() if value is not None}
        if values and len(values) == len(read):
            yield from self._all(values, Ground.MEND)

    def _by_sheet(self, finding: Finding) -> Iterator[Guess]:
        """What the sheet says of the same thing: of each setting, and of all of a finding's."""
        found: dict[str, Value] = {}
        for path in finding.paths:
            entry = self.sheet.get(f"sheet.{path}") or self._same_word(path, finding)
            known, now = declared(path), self.stated.get(path)
            if entry is None or known is None or entry.doubt or entry.disputed:
                continue
            fits = now is None or type(now.value) is type(entry.value)
            if (fits or f"sheet.{path}" in self.sheet) and not known.kind.beyond(entry.value):
                found[path] = entry.value
                yield from self._all({path: entry.value}, Ground.SHEET)
        if len(found) > 1:
            yield from self._all(found, Ground.SHEET)

    def _same_word(self, path: str, finding: Finding) -> Stated | None:
        """What a finding names of the sheet that has the same last word as a setting."""
        word = "protocol" if path == "receiver.link" else path.rpartition(".")[2]
        alike = [p for p in finding.paths if p in self.sheet and p.rpartition(".")[2] == word]
        return self.sheet[alike[0]] if len(alike) == 1 else None

    def _reckoned(self, finding: Finding) -> Iterator[Guess]:
        """The finding's figures and the rule's limits, where they measure what a setting does."""
        figures = [*finding.figures]
        for name in finding.rule.limits:
            limit = self.limits[name]
            figures.append((f"{name}_{_word(limit.unit)}", limit.value))
        for path in finding.paths[:_MOST_PATHS]:
            entry, known = self.stated.get(path), declared(path)
            number = known.kind.number if known is not None else None
            if entry is None or number is None or isinstance(entry.value, tuple):
                continue
            fit = [value for name, value in figures if _measures(name, path, number)]
            between = [(a + b) / 2 for a, b in combinations(fit, 2)]
            near = (*between, *(value * by for value in fit for by in (1.05, 0.95)))
            given = {self.stated[p].value for p in finding.paths if p in self.stated}
            own = [value for value in fit if value not in given]  # worked out, and not just told
            if isinstance(entry.value, float):
                now = entry.value
                own.sort(key=lambda value: abs(value - now))  # the least change first
                own = [v for w in own for v in (typed_number(w, up=w > now), w)]
            tried = [(Ground.RECKONED, value) for value in own]
            for ground, value in (*tried, *((Ground.SLIP, value) for value in near)):
                made = number.of_number(value)
                if made is not None and not number.beyond(made):
                    yield from self._all({path: made}, ground)

    def _by_chemistry(self) -> Iterator[Guess]:
        """A cell's thresholds and what it is made of, as the sheet or the dump has the latter."""
        if not any(path.startswith("battery.") for path in self.named):
            return
        fitted = self.sheet.get("sheet.battery.chemistry")
        said = fitted or self.stated.get("battery.chemistry")
        cell = CELL_LIMITS.get(str(said.value)) if said is not None else None
        if cell is None:
            return
        usual: dict[str, Value] = {
            "battery.warn_cell": cell.warn_v,
            "battery.empty_cell": cell.empty_v,
            "battery.full_cell": cell.full_v,
        }
        of_another_pack = any(p.endswith(".chemistry") for f in self.findings for p in f.paths)
        empty, warn = (self.settings.factory.get(path) for path in _CALLS)
        own: dict[str, Value] = {}
        if (
            of_another_pack
            and isinstance(empty, float)
            and isinstance(warn, float)
            and cell.floor_v < empty < warn
            and abs(warn - cell.warn_v) <= _NEAR_V
        ):
            own = dict(zip(_CALLS, (empty, warn), strict=True))
        usual |= own
        if fitted is not None:
            usual["battery.chemistry"] = fitted.value
        usual = {path: value for path, value in usual.items() if path in self.stated}
        for count in range(1, len(usual) + 1):
            for some in combinations(usual, count):
                comes = all(usual[path] == own.get(path) for path in some)
                ground = Ground.FACTORY if comes else Ground.RECKONED
                for guess in self._all({path: usual[path] for path in some}, ground):
                    yield guess._replace(one=of_another_pack and set(some) == set(_CALLS))

    def _by_frame(self) -> Iterator[Guess]:
        """A mixer's columns, as the arms' places and turns have them."""
        columns = {path.rpartition(".")[2] for path in self.named if ".mix." in path}
        arms = [p.split(".")[1] for p in self.stated if p.endswith(".mix.thrust")]
        if not columns or not arms:
            return
        craft = Craft(self.settings)
        try:
            places, turns = positions(craft, arms), spins(craft, arms)
        except (NotStated, KeyError):
            return
        where, turning = [places[arm] for arm in arms], [turns[arm] for arm in arms]
        yield from self._columns(arms, columns, matched_mixer(where, turning))
        try:
            alone = decoupled_mixer(effectiveness(where, turning))
        except ValueError:  # of such arms no command is alone
            return
        for guess in self._columns(arms, columns, alone):
            yield guess._replace(one=True)

    def _columns(
        self, arms: Sequence[str], columns: Collection[str], fitting: Matrix
    ) -> Iterator[Guess]:
        every: dict[str, Value] = {}
        for at, axis in enumerate(_AXES):
            column: dict[str, Value] = {
                f"motors.{arm}.mix.{axis}": round(row[at], 3)
                for arm, row in zip(arms, fitting, strict=True)
            }
            if axis in columns:
                every |= column
                yield from self._all(column, Ground.RECKONED)
        yield from self._all(every, Ground.RECKONED)

    def _by_plan(self) -> Iterator[Guess]:
        """A transmitter's channel and frequency, as a plan has them together."""
        if not any(path.startswith("video.transmitter.") for path in self.named):
            return
        for path in self.families.get("video.plan.BAND", ()):
            plan = self.stated[path].value
            for number, frequency in enumerate(plan if isinstance(plan, tuple) else (), 1):
                if isinstance(frequency, float):
                    values: dict[str, Value] = {
                        "video.transmitter.band": path.rpartition(".")[2],
                        "video.transmitter.channel": number,
                        "video.transmitter.frequency": frequency,
                    }
                    kept = {p: value for p, value in values.items() if p in self.stated}
                    for guess in self._all(kept, Ground.SIBLING):
                        sure = len(guess.edits) == 1  # the others stated go with it
                        yield guess._replace(ground=Ground.RECKONED) if sure else guess

    def _changed_about(self, finding: Finding) -> Iterator[Guess]:
        """Two settings of one part that a finding names, with each other's value."""
        own = [path for path in finding.paths[:_MOST_PATHS] if path in self.stated]
        for one, other in combinations(own, 2):
            if one.rpartition(".")[0] == other.rpartition(".")[0] and _alike(one, other):
                yield self._swapped(one, other)

    def _like_ones_changed_about(self) -> Iterator[Guess]:
        for path in self.named:
            part, _, end = path.rpartition(".")
            if end in ENDS:
                low, high = (f"{part}.{one}" for one in ENDS)
                if low in self.stated and high in self.stated:
                    yield self._swapped(low, high)
            entry = self.stated.get(path)
            if entry is None or not isinstance(entry.value, str | int | frozenset):
                continue  # a gain or a cutoff is not changed about with another one
            if isinstance(entry.value, bool):
                continue
            for other in self.families.get(_pattern(path), ()):
                theirs = self.stated[other]
                if other == path or _one_drives(entry.value, theirs.value):
                    continue
                if differ(theirs, entry):
                    yield self._swapped(path, other)

    def _swapped(self, one: str, other: str) -> Guess:
        edits: Edits = {
            one: self._put(one, self.stated[other].value),
            other: self._put(other, self.stated[one].value),
        }
        return Guess(edits, Ground.SWAPPED)

    def _turned_round(self, finding: Finding) -> Iterator[Guess]:
        """All of a finding's settings of one sort together: the signs, the words of two."""
        sorts: dict[str, list[str]] = {}
        for path in finding.paths:
            if path in self.stated and not path.startswith("sheet."):
                sorts.setdefault(_pattern(path), []).append(path)
        for paths in sorts.values():
            turned = {path: _turned(path, self.stated[path].value) for path in paths}
            values = {path: value for path, value in turned.items() if value is not None}
            if 1 < len(paths) <= _MOST_TURNED and len(values) == len(paths):
                yield from self._all(values, Ground.MIRRORED)
        on = [path for path in finding.paths if self._is_on(path)]
        if len(on) > 1:
            yield from self._all(dict.fromkeys(on, False), Ground.SLIP)

    def _is_on(self, path: str) -> bool:
        entry = self.stated.get(path)
        return entry is not None and entry.value is True

    def _in_common(self) -> Iterator[Guess]:
        """What many findings of one rule have in common, all of it larger or smaller."""
        for rule in dict.fromkeys(finding.rule.id for finding in self.findings):
            paths = [finding.paths for finding in self.findings if finding.rule.id == rule]
            common = [p for p in paths[0] if all(p in other for other in paths)]
            if len(paths) < _MANY or len(common) < 2:
                continue
            for factor in (2, 0.5):
                values = {path: self._scaled(path, factor) for path in common}
                made = {path: value for path, value in values.items() if value is not None}
                if len(made) == len(common):
                    yield from self._all(made, Ground.SLIP)

    def _as_it_comes(self) -> Iterator[Guess]:
        """Settings of one kind that findings of one rule name, all as the firmware comes."""
        named: dict[tuple[str, str], dict[str, Value]] = {}
        for finding in self.findings:
            for path in finding.paths[:_MOST_PATHS]:
                own = self.settings.factory.get(path)
                if own is None:
                    continue
                kind = _pattern(path)
                for sort in sorted({kind, GAINS if kind.startswith(GAINS) else kind}):
                    named.setdefault((finding.rule.id, sort), {})[path] = own
        for values in named.values():
            if 1 < len(values) <= 2 * _MOST_TURNED:
                for guess in self._all(values, Ground.FACTORY):
                    yield guess._replace(one=True)

    def _scaled(self, path: str, factor: float) -> Value | None:
        entry, known = self.stated.get(path), declared(path)
        number = known.kind.number if known is not None else None
        if entry is None or number is None or isinstance(entry.value, bool):
            return None
        if not isinstance(entry.value, int | float):
            return None
        wanted = min(max(entry.value * factor, number.low), number.high)
        return number.of_number(int(wanted) if isinstance(entry.value, int) else wanted)

    def _unstated(self, path: str) -> Iterator[Guess]:
        """What a setting could say that a finding misses."""
        known = declared(path)
        words = known.kind.choices if known is not None else ()
        if len(words) <= _MOST_WORDS:
            for word in words:
                yield from self._all({path: word}, Ground.SLIP)

    def _instead(self, path: str, value: Value) -> Iterator[tuple[Ground, Value]]:
        """Values that are likely in place of the one stated."""
        held = value if isinstance(value, tuple) else ()
        ranges = [one for one in held if isinstance(one, SwitchRange)]
        if any(one.low > one.high for one in ranges):
            ends = (one._replace(low=min(one[1:]), high=max(one[1:])) for one in ranges)
            yield Ground.MIRRORED, tuple(ends)
        elif ranges and path in self.turned:
            mirrored = tuple(_mirrored(one) for one in ranges)
            middle = sum(_TRAVEL) / 2  # a switch of three positions would be half-way on there
            if not any(one.low - _ROOM <= middle <= one.high + _ROOM for one in mirrored):
                yield Ground.MIRRORED, mirrored
            if len(ranges) == 1:
                yield from ((Ground.MIRRORED, (end,)) for end in _other_end(ranges[0]))
        own = self.settings.factory.get(path)
        if own is not None:
            yield Ground.FACTORY, own
        if value != () and not ranges:  # each function has its own switch, or none
            for other in self.families.get(_pattern(path), ()):
                if other != path:
                    yield Ground.SIBLING, self.stated[other].value
        for slip in self._moved(ranges) if ranges else _slips(path, value):
            yield Ground.SLIP, slip

    def _moved(self, ranges: Sequence[SwitchRange]) -> Iterator[Value]:
        """The ranges at another of three positions, on a free channel, or none at all."""
        if len(ranges) == 1:
            (one,) = ranges
            yield from ((one._replace(low=low, high=high),) for low, high in _ENDS)
            taken = {
                other.channel
                for entry in self.stated.values()
                if isinstance(entry.value, tuple)
                for other in entry.value
                if isinstance(other, SwitchRange)
            }
            free = [number for number in _CHANNELS if number not in taken][:2]
            near = [n for n in (one.channel + 1, one.channel - 1) if n in _CHANNELS]
            yield from ((one._replace(channel=n),) for n in (*free, *near))
        yield ()


def _one_drives(one: Value, other: Value) -> bool:
    """Whether just one of two pads' uses is a motor's: nobody takes a lamp's pad for one."""
    uses = [value for value in (one, other) if isinstance(value, str)]
    return sum(value.split(" ")[0] == "motor" for value in uses) == 1


def _pattern(path: str) -> str:
    known = declared(path)
    return known.pattern if known is not None else path


def _alike(one: str, other: str) -> bool:
    """Whether two settings of numbers measure the same."""
    kinds = [known.kind for known in map(declared, (one, other)) if known is not None]
    return len(kinds) == 2 and bool(kinds[0].unit) and kinds[0].unit == kinds[1].unit


def _word(unit: str) -> str:
    return next((word for word, said in _UNITS.items() if said == unit), unit)


def _measures(figure: str, path: str, number: Numeric) -> bool:
    """Whether a figure is in the unit of a number, or is called as the setting is."""
    name, _, unit = figure.rpartition("_")
    if not number.unit:
        return figure == path.rpartition(".")[2]
    return bool(name) and _UNITS.get(unit, unit).lower() == number.unit.lower()


def _turned(path: str, value: Value) -> Value | None:
    """A value turned round: the other sign, the other of two words; None where there is none."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return -value
    known = declared(path)
    if isinstance(value, str) and known is not None and len(known.kind.choices) == 2:
        return next((word for word in known.kind.choices if word != value), None)
    return None


def _mirrored(one: SwitchRange) -> SwitchRange:
    low, high = _TRAVEL
    return one._replace(low=low + high - one.high, high=low + high - one.low)


def _other_end(one: SwitchRange) -> Iterator[SwitchRange]:
    """The range at the other end of the travel, as a switch of three positions has it."""
    first, _, last = _ENDS
    low, high = last if one.low <= sum(_TRAVEL) - one.high else first
    yield one._replace(low=low, high=high)


def _slips(path: str, value: Value) -> Iterator[Value]:
    """What a slip of the pen may have made the value of."""
    known = declared(path)
    if known is None:
        return
    words = known.kind.choices if len(known.kind.choices) <= _MOST_WORDS else ()
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, frozenset):
        yield from (value ^ {word} for word in (*words, *sorted(value - set(words))))
    elif isinstance(value, str):
        yield from words
    elif isinstance(value, tuple):
        yield from _slipped_lists(value)
    elif isinstance(value, int | float):
        yield from _numbers(path, value)
    if known.kind.number is not None and not isinstance(value, tuple):
        usual = (known.kind.number.of_number(number) for number in (1500, 1000))
        yield from (one for one in usual if one is not None and not known.kind.beyond(one))


def _slipped_lists(value: Sequence[Value | Filter | SwitchRange]) -> Iterator[Value]:
    """A list in order, or with one of its filters at another cutoff or left out."""
    numbers = [one for one in value if isinstance(one, float)]
    if len(numbers) == len(value) and numbers != sorted(numbers):
        yield tuple(sorted(numbers))
    for at, one in enumerate(value):
        if isinstance(one, Filter):
            before, after = value[:at], value[at + 1 :]
            for factor in (0.1, 10, 0.5, 2):
                yield (*before, one._replace(cutoff=one.cutoff * factor), *after)  # type: ignore[misc]
            yield (*before, *after)  # type: ignore[misc]


def _numbers(path: str, value: int | float) -> Iterator[Value]:
    """A number with its point or its sign elsewhere, near it, or anywhere it can be."""
    known = declared(path)
    number = known.kind.number if known is not None else None
    made: list[float] = []
    if number is None or number.unit != "us":  # a pulse is never ten times another
        made += [value * factor for factor in (10, 0.1, -1, 2, 0.5, 100, 0.01)]
    made += [*(value * factor for factor in (1.25, 0.8, 1.05, 0.95)), value + 1, value - 1]
    if number is not None:
        low, high = number.low, number.high
        if isinstance(value, int) and abs(value) <= 2 * _MOST_WORDS:
            counts = range(max(int(low), value - _NEAR), min(int(high), value + _NEAR) + 1)
            made += sorted(counts, key=lambda one: abs(one - value))
        elif not value:
            made += [low + (high - low) * share for share in (0.01, 0.1, 0.5, 1)]
    for one in (*made, 0):
        kept = int(one) if isinstance(value, int) and float(one).is_integer() else one
        beyond = known is not None and known.kind.beyond(kept)
        if not beyond and isinstance(kept, type(value)) and kept != value:
            yield kept


def _read(path: str, text: str) -> Value | None:
    known = declared(path)
    if known is None:
        return None
    try:
        return known.kind.read(text)
    except ValueError:
        return None
