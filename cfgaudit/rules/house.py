"""A house's own limits: what they say, and rules made of them."""

import re
from collections.abc import Iterator, Mapping, Sequence
from math import isclose
from typing import NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.reading.shapes import Number
from cfgaudit.reading.statements import ValueSyntaxError, parse_value
from cfgaudit.reading.text import Place
from cfgaudit.rules.rule import Doc, Edit, Fires, Lacks, Level, Rule, Yielded
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import HIDDEN, Class, NotStated
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Either,
    Int,
    Kind,
    Quantities,
    Quantity,
    Value,
)
from cfgaudit.vocabulary.paths import Declared, declared, nearest, vocabulary
from cfgaudit.vocabulary.units import number_text

COMPARISONS = ("at_most", "at_least", "equals", "one_of", "stated")
_VERSION = "firmware.version"  # compared by its numbers, not as text
_SAMPLES = {"N": "1", "AXIS": "roll"}  # a name that fits an index; any word fits the others


class TermsError(ValueError):
    """A condition that can't be understood; `key` says which of its entries is at fault."""

    def __init__(self, key: str, message: str) -> None:
        super().__init__(message)
        self.key = key


class Others(NamedTuple):
    """Other settings of the same craft that make a limit: their sum, so many times."""

    settings: tuple[str, ...]  # paths or patterns, as Condition has them
    times: float = 1.0

    def __str__(self) -> str:
        """The limit in words."""
        together = " and ".join(self.settings) + " together" * (len(self.settings) > 1)
        return together if self.times == 1 else f"{number_text(self.times)} times {together}"


class Condition(NamedTuple):
    """What is asked of a setting. `setting` is a path, or a pattern with indices in capitals."""

    setting: str
    declared: Declared
    word: str  # one of COMPARISONS
    values: tuple[Value, ...] = ()
    others: Others | None = None  # what makes the value, where it is not told

    @property
    def secret(self) -> bool:
        """Whether its values must stay out of every report."""
        return self.declared.traits.secret

    @property
    def indices(self) -> tuple[str, ...]:
        """Word by word: the index that `setting` leaves open there, else an empty text."""
        pairs = zip(self.setting.split("."), self.declared.pattern.split("."), strict=True)
        return tuple(word if word == want and want.isupper() else "" for word, want in pairs)

    def named(self, path: str) -> dict[str, str] | None:
        """The name that a path has for each open index; None for a path that is not covered."""
        words = path.split(".")
        wanted = self.setting.split(".")
        if len(words) != len(wanted) or declared(path) is not self.declared:
            return None
        names: dict[str, str] = {}
        for word, want, index in zip(words, wanted, self.indices, strict=True):
            if index:
                names[index] = word
            elif word != want:
                return None
        return names

    def filled(self, names: Mapping[str, str]) -> str:
        """The path that these names make of it."""
        pairs = zip(self.setting.split("."), self.indices, strict=True)
        return ".".join(names[index] if index else word for word, index in pairs)

    def paths_of_others(self, path: str) -> tuple[str, ...]:
        """The paths of the other settings, for one of this setting's own."""
        names = self.named(path) or {}
        others = self.others.settings if self.others is not None else ()
        made = (Condition(setting, setting_declared(setting), "stated") for setting in others)
        return tuple(one.filled(names) for one in made)

    def texts(self) -> list[str]:
        """The values as `spelled`."""
        return [self.spelled(value) for value in self.values]

    def spelled(self, value: Value) -> str:
        """A value in the plain form's spelling; a version without quotes."""
        if self.setting == _VERSION:
            return str(value)
        return self.declared.kind.spell(value)


def setting_declared(setting: str) -> Declared:
    """The declaration of a path or pattern. Raises TermsError, with the nearest one.

    >>> setting_declared("banks.N.rates.yaw.max").pattern
    'banks.N.rates.AXIS.max'
    """
    words = setting.split(".")
    for entry in vocabulary():
        wanted = entry.pattern.split(".")
        if len(wanted) == len(words) and all(map(_fits, words, wanted)):
            sample = [_sample(entry, want) if word == want else word
                      for word, want in zip(words, wanted, strict=True)]  # fmt: skip
            if declared(".".join(sample)) is entry:
                return entry
    near = nearest(setting)
    hint = f"; did you mean {near[0]}?" if near else ""
    raise TermsError("setting", f"there is no setting {setting!r}{hint}")


def _fits(word: str, want: str) -> bool:
    """Whether a word can stand where a pattern has `want`; capitals are an index, or nothing."""
    if not want.isupper() or word == want:
        return word == want
    return not (word.isupper() and word.isalpha() and len(word) > 1)


def _sample(entry: Declared, word: str) -> str:
    if not word.isupper():
        return word
    closed = dict(entry.choices).get(word)
    return closed[0] if closed else _SAMPLES.get(word, "x")


def related(wanted: Condition, when: Condition) -> Condition:
    """`when`, if each of its open indices is one of the limit's own. Raises TermsError."""
    for index in when.indices:
        if index and index not in wanted.indices:
            raise TermsError(
                "setting", f"{when.setting} leaves {index} open, which {wanted.setting} does not"
            )
    return when


def condition(setting: str, word: str, texts: Sequence[str]) -> Condition:
    """Understand a comparison; each text is a value in the plain form. Raises TermsError."""
    entry = setting_declared(setting)
    if word == "stated":
        asked = Condition(setting, entry, word)
        if asked.indices[-1]:
            last = f"{setting} ends in {asked.indices[-1]}"
            raise TermsError("setting", f"{last}; say which one is to be stated")
        return asked
    kind = _compared(setting, entry, word)
    values = tuple(_value(setting, kind, word, text) for text in texts)
    if word == "one_of" and len(set(values)) < len(values):
        raise TermsError(word, "one_of says a value twice")
    return Condition(setting, entry, word, values)


def compared_with(setting: str, word: str, others: Others) -> Condition:
    """A comparison with other settings of the same unit. Raises TermsError."""
    entry = setting_declared(setting)
    if word not in ("at_most", "at_least", "equals"):
        raise TermsError(word, f"{word} wants a value, no other setting")
    asked = Condition(setting, entry, word, others=others)
    for other in others.settings:
        found = setting_declared(other)
        related(asked, Condition(other, found, "stated"))
        for kind in (entry.kind, found.kind):
            if not isinstance(kind, Int | Quantity):
                raise TermsError(word, f"{word} wants two settings with a number")
        if found.kind.unit != entry.kind.unit:
            raise TermsError(word, f"{other} is not in the unit of {setting}")
        if found.traits.secret or entry.traits.secret:
            raise TermsError(word, "a secret setting is compared with no other")
    return asked


def _compared(setting: str, entry: Declared, word: str) -> Kind:
    """The kind that a comparison's value must be of. Raises TermsError."""
    kind = entry.kind
    if word == "equals" or setting == _VERSION:
        return kind
    if word == "one_of":
        return Quantity(kind.unit) if isinstance(kind, Quantities) else kind
    if isinstance(kind, Either):
        return kind.other
    if isinstance(kind, Quantities):
        return Quantity(kind.unit)
    if isinstance(kind, Int | Quantity):
        return kind
    raise TermsError(word, f"{word} wants a setting with a number; {setting} takes {kind.says}")


def _value(setting: str, kind: Kind, word: str, text: str) -> Value:
    unit = kind.unit
    if setting == _VERSION and word in ("at_most", "at_least") and not _version(text):
        raise TermsError(word, f"{word} = {text!r} is no version such as 2.4.1")
    try:
        value = kind.read(text)
    except BadValue as error:
        raise TermsError(word, f"{word} for {setting}: {error}") from None
    if unit and isinstance(kind, Quantity | Quantities | Either) and _lacks_unit(text):
        raise TermsError(word, f'{word} for {setting} lacks its unit: say "{text.strip()} {unit}"')
    beyond = kind.beyond(value)
    if beyond:
        raise TermsError(word, f"{word} for {setting}: {beyond}")
    return value


def _lacks_unit(text: str) -> bool:
    """Whether a text is a number alone."""
    try:
        items = parse_value(text)
    except ValueSyntaxError:
        return False
    return all(
        len(item.parts) == 1 and isinstance(item.parts[0], Number) and not item.parts[0].unit
        for item in items
    )


def holds(asked: Condition, value: Value) -> bool | None:
    """Whether a value is as asked; None where the two can't be compared.

    Of a set or a list, `at_most`, `at_least` and `one_of` ask every member.
    """
    if asked.word == "equals":
        wanted = asked.values[0]
        if asked.others is not None and isinstance(value, int | float):  # a sum is not exact
            return isinstance(wanted, int | float) and isclose(value, wanted, abs_tol=1e-9)
        return value == wanted
    if asked.word == "one_of":
        return _one_of(asked, value)
    limit = asked.values[0]
    if asked.setting == _VERSION:
        return _ordered(asked.word, _version(str(value)), _version(str(limit)))
    assert isinstance(limit, int | float)  # what `_compared` allows
    found: list[float] = []
    for member in value if isinstance(value, tuple) else (value,):
        if not isinstance(member, int | float):
            return None
        found.append(float(member))
    return all(n <= limit if asked.word == "at_most" else n >= limit for n in found)


def _one_of(asked: Condition, value: Value) -> bool:
    if isinstance(value, frozenset):
        allowed = frozenset().union(*(v for v in asked.values if isinstance(v, frozenset)))
        return value <= allowed
    if isinstance(asked.declared.kind, Quantities) and isinstance(value, tuple):
        return all(member in asked.values for member in value)
    return value in asked.values


def _ordered(word: str, own: tuple[int, ...], limit: tuple[int, ...]) -> bool | None:
    if not own:
        return None
    width = max(len(own), len(limit))
    left, right = (n + (0,) * (width - len(n)) for n in (own, limit))
    return left <= right if word == "at_most" else left >= right


def _version(text: str) -> tuple[int, ...]:
    """The numbers that a version begins with; none where it begins with another thing."""
    match = re.match(r"[vV]?([0-9]+(?:\.[0-9]+)*)", text.strip().strip("\"'"))
    return tuple(int(part) for part in match.group(1).split(".")) if match else ()


def terms_text(asked: Condition) -> str:
    """What is asked, in words: `at most 120 m`."""
    if asked.word == "stated":
        return "stated"
    if asked.secret:
        return "as the limit says"
    texts = [str(asked.others)] if asked.others is not None else asked.texts()
    if asked.word == "one_of":
        return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} or {texts[-1]}"
    lead = {"at_most": "at most ", "at_least": "at least ", "equals": ""}[asked.word]
    return lead + texts[0]


_UNIT_NAMES = {"%": "percent", "°": "deg"}


class HouseLimit(NamedTuple):
    """One house limit as its table says it; `place` is where the table stands."""

    wanted: Condition
    when: Condition | None
    level: Level
    because: str
    place: Place

    @property
    def id(self) -> str:
        """Made of the setting, the comparison and the condition, so it stays while values move."""
        words = [self.wanted.setting, self.wanted.word]
        if self.wanted.others is not None:
            words += ["of", *self.wanted.others.settings]
        if self.when is not None:
            words += ["when", self.when.setting, self.when.word]
            if not self.when.secret:
                words += self.when.texts()
        return "house/" + re.sub("[^a-z0-9]+", "-", " ".join(words).casefold()).strip("-")


def house_rule(limit: HouseLimit) -> Rule:
    """The rule that a house limit makes."""

    def check(craft: Craft) -> Iterator[Yielded]:
        paths = list(_members(limit.wanted, craft.settings))
        if not paths:
            yield Lacks(limit.wanted.setting)
        for path in paths:
            try:
                yield from _check_one(limit, path, craft.settings)
            except NotStated as lack:
                yield Lacks(lack.path)

    return Rule(limit.id, limit.level, _doc(limit), check)


def _doc(limit: HouseLimit) -> Doc:
    wanted = f"{limit.wanted.setting} is to be {terms_text(limit.wanted)}"
    condition = f", when {limit.when.setting} is {terms_text(limit.when)}" if limit.when else ""
    return Doc(
        f"A limit of this house: {wanted}{condition}.",
        _sentence(limit.because),
        _advice(limit, limit.wanted.setting),
        f"[[limit]] at {limit.place}.",
    )


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _advice(limit: HouseLimit, path: str) -> str:
    if limit.wanted.word == "stated":
        return f"State {path}."
    if limit.wanted.secret:
        return f"Set {path} {terms_text(limit.wanted)}."
    if limit.wanted.others is not None:
        both = " and ".join([path, *limit.wanted.paths_of_others(path)])
        return f"See which of {both} is meant: {path} is to be {terms_text(limit.wanted)}."
    do = "Bring" if limit.wanted.declared.cls is Class.IDENTITY else "Set"
    return f"{do} {path} to {terms_text(limit.wanted)}."


def _members(wanted: Condition, settings: Settings) -> Iterator[str]:
    """The paths that a pattern stands for: a name that the dump knows for every index."""
    found = [""]
    indices = wanted.indices
    for number, word in enumerate(wanted.setting.split(".")):
        last = number == len(indices) - 1
        if not indices[number]:
            found = [f"{prefix}.{word}" if prefix else word for prefix in found]
            continue
        found = [
            f"{prefix}.{name}"
            for prefix in found
            for name, below in settings.below(prefix).items()
            if last or f"{prefix}.{name}" not in below  # a setting beside a group's members
        ]
    return (path for path in found if wanted.named(path) is not None)


def _check_one(limit: HouseLimit, path: str, settings: Settings) -> Iterator[Yielded]:
    wanted, when = _with_others(limit.wanted, path, settings), limit.when
    paths: tuple[str, ...] = (path, *limit.wanted.paths_of_others(path))
    figures: tuple[tuple[str, float], ...] = ()
    if when is not None:
        other = when.filled(wanted.named(path) or {})
        if not _is_so(when, other, settings):
            return
        paths += (other,)
        figures = tuple((f"when_{name}", n) for name, n in _figures(when, other, settings))
    if _is_so(wanted, path, settings):
        return
    yield Fires(
        f"{path} is {_told(wanted, path, settings)}; {_asked(limit)}.",
        paths,
        _figures(wanted, path, settings) + figures,
        _mend(wanted, path, settings),
        _advice(limit, path),
    )


def _with_others(wanted: Condition, path: str, settings: Settings) -> Condition:
    """A comparison with the value that other settings make. Raises NotStated."""
    if wanted.others is None:
        return wanted
    numbers: list[float] = []
    for other in wanted.paths_of_others(path):
        value = settings.need(other)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise NotStated(other)
        numbers.append(value)
    return wanted._replace(values=(wanted.others.times * sum(numbers),))


def _is_so(condition: Condition, path: str, settings: Settings) -> bool:
    """Whether a condition holds. Raises NotStated where that can't be told."""
    if condition.word == "stated":
        try:
            return settings.need(path) != ""
        except NotStated:
            return False
    value = settings.need(path)
    found = None if condition.secret and value == HIDDEN else holds(condition, value)
    if found is None:  # `auto` is neither above nor below a number
        raise NotStated(path)
    return found


def _told(wanted: Condition, path: str, settings: Settings) -> str:
    if wanted.word == "stated":
        return "empty" if path in settings and settings[path].value == "" else "not stated"
    if wanted.secret:
        return "not as it should be"
    return wanted.spelled(settings.need(path))


def _asked(limit: HouseLimit) -> str:
    said = f"this house wants it {terms_text(limit.wanted)}"
    if limit.when is not None:
        said += f" when {limit.when.setting} is {terms_text(limit.when)}"
    return said


def _figures(condition: Condition, path: str, settings: Settings) -> tuple[tuple[str, float], ...]:
    """The numbers compared: the craft's own, then those of the limit."""
    if condition.secret or path not in settings:
        return ()
    unit = condition.declared.kind.unit
    suffix = "".join("_" + _UNIT_NAMES.get(part, part) for part in re.split("/", unit) if part)
    leaf = path.rpartition(".")[2]
    leaf = "value" if leaf.isdigit() else leaf
    rows = [(leaf, settings[path].value)]
    rows += [(f"{leaf}_{condition.word}", value) for value in condition.values]
    return tuple(
        (f"{name}{suffix}".replace("-", "_").lower(), float(value))
        for name, value in rows
        if isinstance(value, int | float) and not isinstance(value, bool)
    )


def _mend(wanted: Condition, path: str, settings: Settings) -> tuple[Edit, ...]:
    """The limit itself, where one value is sure to clear it and can be set."""
    declared = wanted.declared
    value: Value | None = settings[path].value if path in settings else None
    single = wanted.word == "equals" or (
        wanted.word in ("at_most", "at_least") and isinstance(value, int | float)
    )
    if not single or declared.cls is Class.IDENTITY or wanted.secret:
        return ()
    if wanted.others is not None:  # nobody knows which of the settings is the wrong one
        return ()
    return (Edit(path, declared.kind.spell(wanted.values[0])),)


def clashes(limits: Sequence[HouseLimit]) -> Iterator[tuple[HouseLimit, HouseLimit]]:
    """Each limit that says for the same case what an earlier one says, and that earlier one."""
    seen: dict[str, HouseLimit] = {}
    for limit in limits:
        first = seen.setdefault(limit.id, limit)
        if first is not limit:
            yield limit, first
