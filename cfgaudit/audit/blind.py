"""How blind the audit is: which settings no rule looks at, and which wrong values none notices.

Coverage counts the settings that some rule read. Sensitivity makes each stated setting wrong in
plain ways, one at a time, and asks whether an error or a warning comes of it.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import combinations
from typing import Final, NamedTuple

from cfgaudit.audit.engine import Finding, FindingKey
from cfgaudit.audit.incremental import Auditor
from cfgaudit.rules.dump import BASICS, basics_missing
from cfgaudit.rules.rule import Level, Rule
from cfgaudit.settings import Origin, Settings, Stated
from cfgaudit.vocabulary.declare import Class, NotStated
from cfgaudit.vocabulary.kinds import Filter, Kind, PadUse, SwitchRange, Text, Value, Words
from cfgaudit.vocabulary.paths import declared

GRAVE: Final = (Level.ERROR, Level.WARNING)
JUDGED: Final = (Class.SAFETY, Class.POWER, Class.CONTROL, Class.RADIO)
_MIDDLE_US: Final = 1500.0  # a switch's travel is mirrored about it
_ENDS_US: Final = (1000.0, 1500.0, 2000.0)  # where a stick or a switch stands
_CHANNELS: Final = 16
_MOST_SIBLINGS: Final = 24  # more than a craft has motors, ports, switches or axes

LevelledKey = tuple[FindingKey, Level]


class Wrong(NamedTuple):
    """A plain way of making a setting wrong: in words, and the values that are put in."""

    says: str
    put: tuple[tuple[str, Value], ...]


class Noticed(NamedTuple):
    """How many settings of a class a wrong value would be noticed in, and which ones not."""

    stated: int
    unnoticed: tuple[str, ...]

    @property
    def noticed(self) -> int:
        """Those in which at least one plain wrong value brings an error or a warning."""
        return self.stated - len(self.unnoticed)


class Slip(NamedTuple):
    """An ordinary slip, and where it goes unnoticed though other wrong values do not.

    `settings` are one setting each, or two that are exchanged with each other.
    """

    says: str
    settings: tuple[tuple[str, ...], ...]


class Blindness(NamedTuple):
    """What an audit looked at, and what it would not notice."""

    stated: int  # settings that the dump itself states
    not_looked_at: tuple[str, ...]  # those that no rule read
    neutral: int  # lines known to mean nothing that rules are about
    unread: int  # lines that could not be read
    seen: Mapping[Class, Noticed]  # by what a change of them can touch
    not_told: tuple[str, ...] = ()  # what a first flight hangs on and was not read
    slips: tuple[Slip, ...] = ()  # where they were asked for

    @property
    def looked_at(self) -> int:
        """Settings that some rule read."""
        return self.stated - len(self.not_looked_at)


def blindness(
    settings: Settings,
    auditor: Auditor,
    classes: Sequence[Class] = JUDGED,
    *,
    slips: bool = False,
) -> Blindness:
    """How blind the rules of an auditor are to one dump's settings.

    `classes` are those whose settings are made wrong: that takes a moment for each. With `slips`
    each ordinary one is tried too where some wrong value is noticed. The auditor's last audit is
    afterwards that of `settings`.
    """
    before = keys(auditor.findings(settings))
    looked = auditor.looked_at()
    own = [path for path, entry in settings.stated.items() if entry.origin is Origin.DUMP]
    notices = _notices(auditor.rules)
    seen = {cls: _noticed(auditor, settings, before, own, cls, notices) for cls in classes}
    return Blindness(
        len(own),
        tuple(path for path in own if path not in looked),
        sum(raw.known for raw in settings.raw.values()),
        sum(facts.unread for facts in settings.dumps),
        seen,
        not_told(settings),
        tuple(_slips(auditor, settings, before, own, seen)) if slips else (),
    )


# What is seen at the bench alone: that a stick moves another axis, that a motor turns elsewhere.
_EXCHANGED: Final = (r"receiver\.map\.(roll|pitch|throttle|yaw)", r"motors\..+\.output")
_MEASURED: Final = 0.1  # of its value: what a meter shows, and no rule can know


def _slips(
    auditor: Auditor,
    settings: Settings,
    before: frozenset[LevelledKey],
    own: Sequence[str],
    seen: Mapping[Class, Noticed],
) -> Iterator[Slip]:
    """Where a point or a digit too many goes unnoticed, a measure that is off, or an exchange."""
    silent = {path for noticed in seen.values() for path in noticed.unnoticed}
    known = [(p, d) for p in own if p not in silent and (d := declared(p)) and d.cls in seen]
    for says, factors, of_all in (
        ("ten times as much", (10.0,), True),
        ("a tenth as much", (0.1,), True),
        ("a tenth more or less, of what is measured", (1 + _MEASURED, 1 - _MEASURED), False),
    ):
        tried = (
            (path, [_scaled(found.kind, settings[path].value, factor) for factor in factors])
            for path, found in known
            if of_all or found.traits.craft_own
        )
        passed = tuple(
            (path,)
            for path, values in tried
            if any(
                value is not None
                and brings(auditor, settings, before, Wrong(says, ((path, value),))) is None
                for value in values
            )
        )
        if passed:
            yield Slip(says, passed)
    pairs = [
        pair
        for pattern in _EXCHANGED
        for pair in combinations([path for path, _ in known if re.fullmatch(pattern, path)], 2)
    ]
    changed = tuple(
        (one, other)
        for one, other in pairs
        if (a := settings[one].value) != (b := settings[other].value)
        and brings(auditor, settings, before, Wrong("", ((one, b), (other, a)))) is None
    )
    if changed:
        yield Slip("exchanged with each other", changed)


def _scaled(kind: Kind, value: Value, factor: float) -> Value | None:
    """A measure so many times as great; None where it is none, or no such value can be."""
    if not isinstance(value, float) or value == 0:
        return None
    scaled = value * factor
    return None if kind.beyond(scaled) else scaled


def not_told(settings: Settings) -> tuple[str, ...]:
    """What a first flight hangs on and was not read, though some line may say it.

    Nothing where every line is understood: what is missing then is in no line.
    """
    if not any(settings.not_understood(dump.file) for dump in settings.dumps):
        return ()
    missing = dict.fromkeys(basics_missing(settings))
    return tuple(
        says for says, _, _, row in BASICS if says in missing or (row and _goes_on(settings, *row))
    )


def _goes_on(settings: Settings, group: str, leaf: str) -> bool:
    """Whether a line that nobody understands may be of the same sort."""
    try:
        settings.need_all(group, leaf, group)
    except NotStated:
        return True
    return False


class _Notice(NamedTuple):
    """Which rule noticed that a setting was made wrong, and how that was done."""

    says: str
    rule: str


@lru_cache(maxsize=2)
def _notices(_: Sequence[Rule]) -> dict[str, _Notice]:
    """What was noticed of late by these rules, by the setting's path and by its pattern.

    It is tried first the next time, and saves going through the others; the answer is the same.
    """
    return {}


def _noticed(
    auditor: Auditor,
    settings: Settings,
    before: frozenset[LevelledKey],
    own: list[str],
    cls: Class,
    notices: dict[str, _Notice],
) -> Noticed:
    of_class = [(path, found) for path in own if (found := declared(path)) and found.cls is cls]
    unnoticed: list[str] = []
    for path, found in of_class:
        likely = notices.get(path) or notices.get(found.pattern)
        notice = _notice(auditor, settings, before, path, likely)
        if notice is None:
            unnoticed.append(path)
        else:
            notices[path] = notices[found.pattern] = notice
    return Noticed(len(of_class), tuple(unnoticed))


def _notice(
    auditor: Auditor,
    settings: Settings,
    before: frozenset[LevelledKey],
    path: str,
    likely: _Notice | None,
) -> _Notice | None:
    """The first wrong value of a setting that brings something; None where none does."""
    asked = auditor.asks_for  # what no rule reads brings something at most where it is exchanged
    ways = wrongs(settings, path) if asked([path]) else _exchanges(settings, path, asked)
    if likely is not None:
        ways = _first_so(ways, likely.says)
    tried: set[tuple[tuple[str, Value], ...]] = set()
    for wrong in ways:
        if wrong.put in tried:
            continue
        tried.add(wrong.put)
        rule = brings(auditor, settings, before, wrong, likely.rule if likely else "")
        if rule is not None:
            return _Notice(wrong.says, rule)
    return None


def _first_so(ways: Iterator[Wrong], says: str) -> Iterator[Wrong]:
    """The same ways, but first of all the one that is called so."""
    others: list[Wrong] = []
    for way in ways:
        if way.says == says:
            yield way
            break
        others.append(way)
    yield from others
    yield from ways


def keys(findings: Sequence[Finding]) -> frozenset[LevelledKey]:
    """What tells the errors and warnings apart."""
    return frozenset((f.key, f.level) for f in findings if f.level in GRAVE)


def brings(
    auditor: Auditor,
    settings: Settings,
    before: frozenset[LevelledKey],
    wrong: Wrong,
    likely: str = "",
) -> str | None:
    """The rule that tells an error or a warning of a wrong value which was not there before.

    The rule that is `likely` to is asked first. None where no rule does.
    """
    paths = [path for path, _ in wrong.put]
    if not auditor.asks_for(paths):
        return None
    for rule, fired in auditor.touched(put(settings, wrong.put), paths, likely):
        for fires in fired:
            level = fires.level or rule.level
            if level in GRAVE and ((rule.id, fires.paths), level) not in before:
                return rule.id
    return None


def put(settings: Settings, values: Sequence[tuple[str, Value]]) -> Settings:
    """The settings with some values in place of those stated."""
    stated: dict[str, Stated] = {}
    for path, value in values:
        found = declared(path)
        text = found.kind.spell(value) if found else str(value)
        stated[path] = settings.stated[path]._replace(value=value, text=text)
    return settings.with_values(stated)


def wrongs(settings: Settings, path: str) -> Iterator[Wrong]:
    """The plain ways of making a setting wrong: each within its limits and another value.

    Raises KeyError for a path that is not stated, ValueError for one that nobody declared.
    """
    found = declared(path)
    if found is None:
        raise ValueError(f"there is no setting {path!r}")
    entry = settings.stated[path]
    if entry.doubt or entry.secret:
        return
    for says, value in _other_values(found.kind, entry.value):
        if value != entry.value and not found.kind.beyond(value):
            yield Wrong(says, ((path, value),))
    for other, theirs in _siblings(settings, path):
        yield Wrong(f"as {other}", ((path, theirs.value),))
    yield from _exchanges(settings, path)


def _exchanges(
    settings: Settings, path: str, asked: Callable[[list[str]], bool] = bool
) -> Iterator[Wrong]:
    """A setting exchanged with each of its siblings that is asked for."""
    entry = settings.stated[path]
    for other, theirs in () if entry.doubt or entry.secret else _siblings(settings, path):
        if asked([other]):
            yield Wrong(f"exchanged with {other}", ((path, theirs.value), (other, entry.value)))


def _other_values(kind: Kind, value: Value) -> Iterator[tuple[str, Value]]:
    if isinstance(value, bool):
        yield "turned round", not value
    elif isinstance(value, int | float):
        yield from _other_numbers(kind, value)
    elif isinstance(value, str):
        yield from _other_words(kind, value)
    elif isinstance(value, frozenset):
        yield "emptied", frozenset()
        yield from ((f"{word} alone", frozenset({word})) for word in kind.choices)
    elif value and isinstance(value[0], SwitchRange):
        ranges = [span for span in value if isinstance(span, SwitchRange)]
        yield from _other_ranges(ranges)
    elif value and isinstance(value[0], Filter):
        stages = [stage for stage in value if isinstance(stage, Filter)]
        yield "emptied", ()
        for says, factor in _FACTORS:
            yield says, tuple(stage._replace(cutoff=stage.cutoff * factor) for stage in stages)
    elif value:
        numbers = [number for number in value if isinstance(number, int | float)]
        for says, factor in _FACTORS:
            yield says, tuple(number * factor for number in numbers)
        yield "in another order", tuple(reversed(numbers))


_FACTORS: Final = (("ten times", 10.0), ("a tenth", 0.1), ("twice", 2.0), ("half", 0.5))


def _other_numbers(kind: Kind, value: int | float) -> Iterator[tuple[str, Value]]:
    whole = isinstance(value, int)
    yield "the other sign", -value
    for says, factor in _FACTORS:
        scaled = value * factor
        yield says, int(scaled) if whole else scaled
    if whole:
        yield "the next one", value + 1
        yield "the one before", value - 1
    nothing = kind.nothing
    if nothing is not None:
        yield "nothing", nothing
    if kind.unit == "us" and not whole:
        yield "mirrored", 2 * _MIDDLE_US - value
    if kind.unit == "deg":
        yield "a quarter turn on", value + 90 if value < 180 else value - 90


def _other_words(kind: Kind, value: str) -> Iterator[tuple[str, Value]]:
    for word in kind.choices:
        if not (isinstance(kind, PadUse) and word == "motor"):
            yield f"{word} in its place", word
    if isinstance(kind, Text):
        yield "another word", "another"
    if not isinstance(kind, Words) and kind.number is not None:
        ends = _ENDS_US if kind.number.unit == "us" else ()
        for number in (kind.number.low, kind.number.high, *ends):
            if kind.number.low <= number <= kind.number.high:
                yield f"{number:g} in its place", number


def _other_ranges(ranges: Sequence[SwitchRange]) -> Iterator[tuple[str, Value]]:
    yield "no range", ()
    yield (
        "the next channel",
        tuple(span._replace(channel=span.channel % _CHANNELS + 1) for span in ranges),
    )
    yield (
        "mirrored",
        tuple(
            SwitchRange(span.channel, 2 * _MIDDLE_US - span.high, 2 * _MIDDLE_US - span.low)
            for span in ranges
        ),
    )
    yield "the whole travel", tuple(span._replace(low=900.0, high=2100.0) for span in ranges)


def _siblings(settings: Settings, path: str) -> list[tuple[str, Stated]]:
    """The settings with which a setting may be mixed up, that have another value.

    They are the same setting of another port, arm, axis and the like, and settings in one unit
    side by side. Of more than a few those are taken whose values are told apart, the first ones of
    the dump before the later: hundreds of idle pads must not each be exchanged with each other.
    """
    stated, value = settings.stated, settings.stated[path].value
    alike = [(other, stated[other]) for other in _alike(tuple(stated), *_sorts(path))]
    siblings = [sibling for sibling in alike if not sibling[1].doubt and sibling[1].value != value]
    if len(siblings) > _MOST_SIBLINGS:
        apart = {theirs.value: (other, theirs) for other, theirs in reversed(siblings)}
        siblings = list(dict([*reversed(apart.values()), *siblings]).items())[:_MOST_SIBLINGS]
    return siblings


@lru_cache(maxsize=100)
def _alike(paths: tuple[str, ...], *sorts: tuple[str, str]) -> Sequence[str]:
    """The paths that are of one of some sorts, in order."""
    return [path for path in paths if not _sorts(path).isdisjoint(sorts)]


@lru_cache(maxsize=20_000)
def _sorts(path: str) -> frozenset[tuple[str, str]]:
    """What a setting may be mixed up by: its kind, and its unit among those beside it."""
    found = declared(path)
    if found is None:
        return frozenset()
    own, unit = (found.pattern, ""), found.kind.unit
    return frozenset([own, (path.rpartition(".")[0], unit)] if unit else [own])
