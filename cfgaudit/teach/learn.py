"""Learns which key a setting is, and how it is written, from dumps before and after."""

import re
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import permutations
from typing import Final, NamedTuple

from cfgaudit.dialects.spec import WordLists, read_with
from cfgaudit.dialects.template_language import parse_spec
from cfgaudit.reading.document import Document
from cfgaudit.reading.shapes import Assignment, Directive, Look, unquoted
from cfgaudit.reading.text import FileText
from cfgaudit.teach.fit import spec_text
from cfgaudit.teach.keys import Family, Field, FieldTemplate, families_of
from cfgaudit.teach.look import Outlook, outlook
from cfgaudit.teach.scopes import scopes_of
from cfgaudit.vocabulary.kinds import (
    CHANNEL,
    OFF_WORDS,
    ON_WORDS,
    PULSE,
    BadValue,
    Bool,
    Either,
    Int,
    Kind,
    Quantities,
    Quantity,
    SwitchRange,
    SwitchRanges,
    Text,
    Value,
    WordSet,
)
from cfgaudit.vocabulary.paths import declared

_PLAIN_SCALES = tuple(
    Fraction(text) for text in ("1", "1/10", "1/100", "1/1000", "10", "100", "1000")
)


_STRANGE = 2.5  # what a step costs that no firmware would choose


class Trial(NamedTuple):
    """A key's text before and after (None where the line is not there), and the values."""

    before: str | None
    after: str | None
    value: Value
    was: Value | None


class ValueRule(NamedTuple):
    """One rule: its specification (TABLE stands for a table's name), what it needs, its cost."""

    spec: str
    says: str
    cost: float
    words: Mapping[str, str] = {}
    flags: Mapping[str, int] = {}

    def table_name(self, target: str) -> str:
        """A name for the table of words or flags that it needs."""
        return "learnt_" + "_".join(w for w in target.split(".") if not w.isupper())


def rules_for(kind: Kind, trials: Sequence[Trial]) -> Iterator[ValueRule]:
    """Every rule that gives the values of all trials from their texts."""
    if isinstance(kind, Bool):
        yield from _flag_rules(trials)
        yield from _bit_rules(trials)
        return
    if isinstance(kind, WordSet):
        yield from _set_rules(trials)
        return
    pairs = _observed(trials)
    if pairs is None:
        return
    numbers = [(_number(text), value) for text, value in pairs]
    if isinstance(kind, Quantity | Int | Either) and all(
        raw is not None and isinstance(value, int | float) for raw, value in numbers
    ):
        known = [
            (raw, Fraction(str(value)))
            for raw, value in numbers
            if raw is not None and isinstance(value, int | float)
        ]
        rules = list(_number_rules(kind, known))
        yield from rules
        strange = isinstance(kind, Quantity) and all(rule.cost >= _STRANGE for rule in rules)
        if strange and len(dict(known)) == 1:
            yield from _word_rules(kind, pairs)  # a code as likely as a step that nobody would take
        return
    if isinstance(kind, Quantities):
        return  # one of its numbers does not tell the list
    if any(raw is None for raw, _ in numbers) or not isinstance(kind, Quantity | Int):
        yield from _word_rules(kind, pairs)


def _observed(trials: Sequence[Trial]) -> list[tuple[str, Value]] | None:
    """Texts with their values; those from before count where the value was told."""
    found: list[tuple[str, Value]] = []
    for trial in trials:
        if trial.after is None:
            return None
        found.append((trial.after, trial.value))
        if trial.was is not None and trial.before is not None:
            found.append((trial.before, trial.was))
    return found


def _number(text: str) -> Fraction | None:
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        return None


def _number_rules(kind: Kind, pairs: Sequence[tuple[Fraction, Fraction]]) -> Iterator[ValueRule]:
    unit = kind.unit if isinstance(kind, Quantity) else ""
    if isinstance(kind, Either) and isinstance(kind.other, Quantity):
        unit = kind.other.unit
    whole = isinstance(kind, Int) or (isinstance(kind, Either) and isinstance(kind.other, Int))
    distinct = dict(pairs)
    if len({raw for raw, _ in pairs}) < len({value for _, value in pairs}):
        return
    for raw, value in pairs:
        if distinct[raw] != value:
            return
    if whole:
        shifts = {value - raw for raw, value in pairs}
        if len(shifts) == 1 and (shift := shifts.pop()) in (0, 1):
            spec = "from 0" if shift else ""
            yield ValueRule(spec, "counted from 0" if shift else "as it stands", float(shift) / 4)
        return
    scales = {value / raw for raw, value in pairs if raw}
    if len(scales) == 1 and all(bool(raw) == bool(value) for raw, value in pairs):
        scale = scales.pop()
        spec = spec_text(scale, Fraction(0), unit)
        cost = _scale_cost(scale)
        says = f"{spec or 'the number'} for each one" if scale != 1 else f"as it stands, {spec}"
        yield ValueRule(spec, says.removesuffix(", "), cost)
        return
    yield from _straight_line(pairs, unit)


def _straight_line(pairs: Sequence[tuple[Fraction, Fraction]], unit: str) -> Iterator[ValueRule]:
    """A scale and an offset: two values tell them, any further one must agree."""
    points = sorted(dict(pairs).items())
    if len(points) < 2:
        return
    (first, low), (last, high) = points[0], points[-1]
    scale = (high - low) / (last - first)
    offset = low - scale * first
    if scale and all(scale * raw + offset == value for raw, value in points):
        spec = spec_text(scale, offset, unit)
        yield ValueRule(spec, f"{spec}: a step and an offset", 1.5 if len(points) > 2 else 2.0)


def _scale_cost(scale: Fraction) -> float:
    if scale == 1:
        return 0.0
    if abs(scale) in _PLAIN_SCALES:
        return 0.5 if scale > 0 else 0.6
    simple = abs(scale).numerator == 1 or abs(scale).denominator == 1
    return 1.0 if simple and scale.numerator < 1000 and scale.denominator < 1000 else _STRANGE


def _word_rules(kind: Kind, pairs: Sequence[tuple[str, Value]]) -> Iterator[ValueRule]:
    """A word for each value; a text of somebody's own has none but itself."""
    words: dict[str, str] = {}
    for text, value in pairs:
        ours = value if isinstance(value, str) else kind.spell(value)
        if words.setdefault(text, ours) != ours:
            return
    if len(set(words.values())) < len(words):
        return
    if all(unquoted(text) == ours for text, ours in words.items()):
        yield ValueRule("", "as it stands", 0.0)
    elif not isinstance(kind, Text) and not kind.parts:
        said = ", ".join(f"{text} = {ours}" for text, ours in words.items())
        figures = any(_number(text) is not None for text in words)
        yield ValueRule("words TABLE", f"words: {said}", 1.5 if figures else 0.5, words)


def _flag_rules(trials: Sequence[Trial]) -> Iterator[ValueRule]:
    """On and off as words; what it was before is the other one."""
    seen: dict[str, bool] = {}
    for trial in trials:
        for text, value in ((trial.after, trial.value), (trial.before, not trial.value)):
            if text is None:
                continue
            if seen.setdefault(text.casefold(), bool(value)) is not bool(value):
                return
    if not seen:
        return
    if all(text in (ON_WORDS if value else OFF_WORDS) for text, value in seen.items()):
        yield ValueRule("", "on is on", 0.0)
    elif all(text in (OFF_WORDS if value else ON_WORDS) for text, value in seen.items()):
        yield ValueRule("not", "on is off", 0.3)
    elif len(seen) == 2 and not all(text.lstrip("-").isdigit() for text in seen):
        words = {text: "on" if value else "off" for text, value in seen.items()}
        said = ", ".join(f"{text} = {ours}" for text, ours in words.items())
        yield ValueRule("words TABLE", f"words: {said}", 0.5, words)


def _bit_rules(trials: Sequence[Trial]) -> Iterator[ValueRule]:
    """One bit of a number that is on with the setting, or off with it."""
    bits: set[tuple[int, bool]] = set()
    for trial in trials:
        bit = _bit_changed(trial)
        if bit is None:
            return
        bits.add((bit, bool(int(trial.after or "0") & bit) is bool(trial.value)))
    if len(bits) == 1 and not {t.after for t in trials} <= {"0", "1"}:
        bit, alike = bits.pop()
        said = f"the bit {bit} of a number, which is {'on' if alike else 'off'} where it is set"
        yield ValueRule(f"bit {bit}" if alike else f"bit {bit} not", said, 0.8)


def _bit_changed(trial: Trial) -> int | None:
    """The one bit in which two numbers differ."""
    if not (trial.before or "").isdecimal() or not (trial.after or "").isdecimal():
        return None
    changed = int(trial.before or "0") ^ int(trial.after or "0")
    return changed if changed and not changed & (changed - 1) else None


def _set_rules(trials: Sequence[Trial]) -> Iterator[ValueRule]:
    """The bit of each word: in every number whose set has the word, and in no other."""
    seen: list[tuple[int, frozenset[str]]] = []
    for trial in trials:
        for text, value in ((trial.after, trial.value), (trial.before, trial.was)):
            if isinstance(value, frozenset) and text is not None and text.isdecimal():
                seen.append((int(text), value))
    if not seen:
        yield from _set_words(trials)
        return
    if any(bool(number) is not bool(words) for number, words in seen):
        return
    flags = _bits(seen)
    for number, words in seen:
        if sum(flags.get(word, 0) for word in words) != number:
            return
    said = ", ".join(f"{word} = {bit}" for word, bit in flags.items())
    yield ValueRule("flags TABLE", f"bits: {said}", 0.8, flags=flags)


def _bits(seen: Sequence[tuple[int, frozenset[str]]]) -> dict[str, int]:
    """The bit of each word that can be told; a word whose bit can't be is left out."""
    flags: dict[str, int] = {}
    for _ in range(len(seen) + 1):  # a bit that was found may tell others
        for word in sorted({word for _, words in seen for word in words} - flags.keys()):
            mask = -1
            for number, words in seen:
                left = number & ~sum(bit for other, bit in flags.items() if other in words)
                mask &= left if word in words else ~number
            if mask > 0 and not mask & (mask - 1):
                flags[word] = mask
    return flags


def _set_words(trials: Sequence[Trial]) -> Iterator[ValueRule]:
    """A set of one word, written as a word."""
    words: dict[str, str] = {}
    for trial in trials:
        if trial.after is None or not isinstance(trial.value, frozenset) or len(trial.value) != 1:
            return
        words[trial.after] = next(iter(trial.value))
    if all(text == ours for text, ours in words.items()):
        yield ValueRule("", "as it stands", 0.0)
    elif len(set(words.values())) == len(words):
        yield ValueRule("words TABLE", "words of its own", 0.5, words)


class Lesson(NamedTuple):
    """Two dumps, the value that was set between them, and the one before, if it is told."""

    before: FileText
    after: FileText
    value: str
    was: str = ""


class LearntKey(NamedTuple):
    """One way to explain all pairs: a key, and how its text becomes the value."""

    key: str  # for people: `[pack] cell_low`
    texts: tuple[tuple[str, str], ...]  # before and after, pair by pair
    says: str  # the rule, for people
    lines: tuple[str, ...]  # the mapping lines; none where a dialect can't say it
    under: tuple[str, ...]
    words: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]  # word lists that it needs
    flags: tuple[tuple[str, int], ...]
    cost: float  # the plainer the rule, the less
    contexts: tuple[str, ...] = ()  # the dump's own lines that it stands under
    indices: tuple[tuple[str, str, str], ...] = ()  # an index's name, their word, ours
    was: str = ""  # what the rule makes of the first BEFORE, as the plain form has it


class CannotLearn(ValueError):  # noqa: N818 (the dumps don't tell, no fault of ours)
    """Why the pairs tell nothing."""


FieldKey = tuple[tuple[str, ...], str, int, tuple[str, ...]]  # contexts, head, field, index words


def learn(path: str, lessons: Sequence[Lesson], look: Look | None = None) -> tuple[LearntKey, ...]:
    """Every way to explain what changed, the plainest first. Raises CannotLearn.

    `path` may be one part of a list's member, such as the low end of a switch's range. `look` is
    the dumps' own, where it is known; else it is worked out of them.
    """
    kind, part = _kind_of(path), part_of(path)
    whole = part[0] if part is not None else path
    values = [_value(kind, lesson.value, path) for lesson in lessons]
    was = [_value(kind, lesson.was, path) if lesson.was else None for lesson in lessons]
    texts = [text for lesson in lessons for text in (lesson.before, lesson.after)]
    seen = outlook(texts) if look is None else Outlook(look, "", "")
    befores = [_fields(lesson.before, seen) for lesson in lessons]
    afters = [_fields(lesson.after, seen) for lesson in lessons]
    _see_that_they_are_alike([*befores, *afters])
    changed = _changed(befores, afters)
    if not changed:
        raise CannotLearn("no key changed in every pair; was the change saved before the dump?")
    if isinstance(kind, SwitchRanges):
        ranges = list(zip(befores, afters, values, was, strict=True))
        return _ranges_learnt(path, kind, changed, ranges)
    told: list[LearntKey] = []
    for key in changed:
        family, _, _ = afters[0].get(key) or befores[0][key]
        trials = [
            Trial(_text(b, key), _text(a, key), value, earlier)
            for b, a, value, earlier in zip(befores, afters, values, was, strict=True)
        ]
        for rule in rules_for(kind, trials):
            meant = _made_of_before(kind, rule, trials[0].before)
            if meant is not None:
                placed = _RuledField(key[2], part[1] if part is not None else "", rule)
                told.append(_learnt(whole, key, family, trials, [placed])._replace(was=meant))
    if not told:
        names = ", ".join(_name(key) for key in changed[:5])
        raise CannotLearn(f"no plain rule turns what changed ({names}) into {lessons[0].value}")
    return tuple(sorted(told, key=lambda one: (one.cost, one.key)))


def part_of(path: str) -> tuple[str, str] | None:
    """The setting and the part of it that a path names, as `switches.arm.low`; None for others."""
    whole, _, part = path.rpartition(".")
    found = declared(whole) if declared(path) is None else None
    return (whole, part) if found is not None and part in found.kind.parts else None


def _kind_of(path: str) -> Kind:
    """The kind of a setting, or of a part of one. Raises CannotLearn."""
    found, part = declared(path), part_of(path)
    if found is not None:
        return found.kind
    whole = declared(part[0]) if part is not None else None
    if part is not None and whole is not None:
        return whole.kind.parts[part[1]]
    from cfgaudit.vocabulary.paths import nearest

    near = nearest(path)
    hint = f"; did you mean {near[0]}?" if near else ""
    raise CannotLearn(f"{path} is no setting of the vocabulary{hint}")


_ENOUGH: Final = 10  # keys that a dump must have before it is held against another
_ALIKE: Final = (
    0.2  # of the smaller one's keys: so many have two dumps of one firmware at the least
)


def _see_that_they_are_alike(dumps: Sequence["Fields"]) -> None:
    """Raise CannotLearn where the dumps are not of one firmware: they differ in everything."""
    for other in dumps[1:]:
        smaller = min(len(dumps[0]), len(other))
        common = len(dumps[0].keys() & other.keys())
        if smaller >= _ENOUGH and common < smaller * _ALIKE:
            raise CannotLearn(
                f"the dumps are not of one firmware: of {smaller} keys they have {common} in common"
            )


def _made_of_before(kind: Kind, rule: ValueRule, before: str | None) -> str | None:
    """What a rule makes of the text before the change: nothing where it has no word for it.

    None where that is a value which can't be: then it is not the rule.
    """
    if before is None:
        return ""
    tables = WordLists({"TABLE": rule.words}, {"TABLE": rule.flags})
    try:
        value = read_with(parse_spec(rule.spec), kind, before, tables)
    except BadValue:
        return ""
    return None if kind.beyond(value) else kind.spell(value)


_LONGEST: Final = 12  # values of a line among which a range's three are looked for
_RangePair = tuple["Fields", "Fields", Value, Value | None]  # the dumps, the values of a lesson


def _ranges_learnt(
    path: str, kind: SwitchRanges, changed: Sequence["FieldKey"], pairs: Sequence[_RangePair]
) -> tuple[LearntKey, ...]:
    """The lines that show channel and both ends of a switch, one of them changed in every pair."""
    told: list[LearntKey] = []
    for contexts, head, _, index in dict.fromkeys((c, h, 0, i) for c, h, _, i in changed):
        keys = [k for k in pairs[0][1] if (k[0], k[1], k[3]) == (contexts, head, index)]
        keys = [k for k in keys if k[2] >= 0][:_LONGEST]
        for three in permutations(keys, 3):
            if not set(three) & set(changed):
                continue
            trials = [_part_trials(key, n, pairs) for n, key in enumerate(three)]
            channels = rules_for(CHANNEL, trials[0]) if all(trials) else ()
            for channel in channels:
                ends = rules_for(PULSE, [*trials[1], *trials[2]])
                told += [
                    _learnt_range(path, kind, three, pairs, channel, rule)
                    for rule in ends
                    if rule.cost < _STRANGE and not rule.spec.startswith("-")
                    if not (rule.words or channel.words)
                ]
    if not told:
        value = kind.spell(pairs[0][2])
        raise CannotLearn(
            f"no plain rule: no line that changed shows all of {value}, and no other change"
        )
    return tuple(sorted(told, key=lambda one: (one.cost, one.key)))


def _part_trials(key: "FieldKey", part: int, pairs: Sequence[_RangePair]) -> list[Trial]:
    """A field before and after as one part of a range; none where a value is no single range."""
    found: list[Trial] = []
    for before, after, value, was in pairs:
        if not isinstance(value, tuple) or len(value) != 1 or not isinstance(value[0], SwitchRange):
            return []
        one = value[0]
        earlier = was[0] if isinstance(was, tuple) and len(was) == 1 else None
        told = earlier[part] if isinstance(earlier, SwitchRange) else None
        found.append(Trial(_text(before, key), _text(after, key), one[part], told))
    return found


def _learnt_range(
    path: str,
    kind: SwitchRanges,
    three: Sequence["FieldKey"],
    pairs: Sequence[_RangePair],
    channel: ValueRule,
    ends: ValueRule,
) -> LearntKey:
    """A line with a range's three parts in it."""
    rules = (channel, ends, ends)
    placed = [
        _RuledField(key[2], part, rule)
        for key, part, rule in zip(three, kind.parts, rules, strict=True)
    ]
    trials = [_part_trials(key, n, pairs) for n, key in enumerate(three)]
    told = [
        Trial(
            " ".join(t.before or "-" for t in one), " ".join(t.after or "-" for t in one), "", None
        )
        for one in zip(*trials, strict=True)
    ]
    made = [
        _made_of_before(kind.parts[one.part], one.rule, tried[0].before)
        for one, tried in zip(placed, trials, strict=True)
    ]
    was = f"{made[0]}: {(made[1] or '').removesuffix(' us')}..{made[2]}" if all(made) else ""
    key = (*three[0][:2], 0, three[0][3])
    learnt = _learnt(path, key, pairs[0][1][three[0]][0], told, placed)
    says = f"channel {channel.says}, ends {ends.says}"
    return learnt._replace(was=was, says=says, cost=channel.cost + ends.cost)


def _value(kind: Kind, text: str, path: str) -> Value:
    try:
        return kind.read(text)
    except BadValue as error:
        raise CannotLearn(f"{path}: {error}") from None


Fields = dict[FieldKey, tuple[Family, Field, str]]


def _fields(text: FileText, seen: Outlook) -> Fields:
    """Every value of a dump by its key."""
    noise = [line for line in (*seen.look.ignore, seen.look.end, seen.head) if line]
    root = scopes_of(Document("", text, seen.look), noise)
    found: Fields = {}
    for family in families_of([root]):
        contexts = tuple(kin.line for kin in family.chain)
        for number, one in enumerate(family.fields):
            place = -1 if one.switch else number
            for sample in one.samples:
                found[(contexts, family.head, place, sample.under)] = (family, one, sample.text)
    return found


def _text(fields: Fields, key: FieldKey) -> str | None:
    entry = fields.get(key)
    return entry[2] if entry else None


def _changed(befores: Sequence[Fields], afters: Sequence[Fields]) -> list[FieldKey]:
    """The keys whose text changed in every pair, or came, or went."""
    sets: list[set[FieldKey]] = []
    for before, after in zip(befores, afters, strict=True):
        keys = before.keys() | after.keys()
        sets.append({key for key in keys if _text(before, key) != _text(after, key)})
    common = set.intersection(*sets)
    order = {key: n for n, key in enumerate(dict.fromkeys([*afters[0], *befores[0]]))}
    return sorted(common, key=lambda key: order.get(key, 0))


def _name(key: FieldKey) -> str:
    contexts, head, number, index = key
    own = list(index[sum("\0" in line for line in contexts) :])
    head = _with_holes_filled(head, own)
    name = " ".join(part for part in (*_filled(contexts, index), head, *own) if part)
    return f"{name}, value {number + 1}" if number > 0 else name


class _RuledField(NamedTuple):
    """A field of a line with the rule that reads it; `part` is of a member of a list."""

    number: int
    part: str
    rule: ValueRule


def _learnt(
    path: str,
    key: FieldKey,
    family: Family,
    trials: Sequence[Trial],
    placed: Sequence[_RuledField],
) -> LearntKey:
    target, pairs = _with_indices(path, key[3])
    indices = [_index(*pair) for pair in pairs] or list(key[3])
    lists = tuple(
        (f"learnt_{name.lower()}", ((theirs, ours),))
        for (name, theirs, ours), holder in zip(pairs, indices, strict=False)
        if ": words " in holder
    )
    holders: dict[int, str] = {}
    words: list[tuple[str, tuple[tuple[str, str], ...]]] = []
    for number, part, rule in placed:
        named = f"{target}.{part}" if part else target
        table = rule.table_name(named)
        spec = rule.spec.replace("TABLE", table)
        holders[number] = f"{{{named}: {spec}}}" if spec else f"{{{named}}}"
        words += [(table, tuple(rule.words.items()))] if rule.words else []
    rule = placed[0].rule
    lines, under = _lines(family, key, holders, indices, rule, target)
    flags = tuple(rule.flags.items())
    texts = tuple((trial.before or "-", trial.after or "-") for trial in trials)
    return LearntKey(
        *(_name(key), texts, rule.says, lines, under, (*lists, *words), flags, rule.cost),
        _filled([kin.line for kin in family.chain], key[3]),
        tuple(pairs),
    )


def _with_indices(path: str, index: tuple[str, ...]) -> tuple[str, list[tuple[str, str, str]]]:
    """The target with its indices in capitals; for each of the key's own its name and our word.

    Of all ways to pair them the one in which most are the same word, else the order's.
    """
    entry = declared(path)
    assert entry is not None  # the caller looked
    words, pattern = path.split("."), entry.pattern.split(".")
    capital = [at for at, word in enumerate(pattern) if word.isupper()]
    if len(capital) != len(index) or not index:
        return path, []
    order = max(
        permutations(capital),
        key=lambda ats: sum(words[at] == theirs for at, theirs in zip(ats, index, strict=True)),
    )
    pairs = [(pattern[at], theirs, words[at]) for at, theirs in zip(order, index, strict=True)]
    target = [pattern[at] if at in capital else word for at, word in enumerate(words)]
    return ".".join(target), pairs


def _index(name: str, theirs: str, ours: str) -> str:
    """The placeholder for an index."""
    if theirs == ours:
        return f"{{{name}}}"
    if theirs.isdigit() and ours.isdigit() and int(ours) == int(theirs) + 1:
        return f"{{{name}: from 0}}"
    return f"{{{name}: words learnt_{name.lower()}}}"


def _with_holes_filled(head: str, left: list[str]) -> str:
    """A key with its own indices in their places; they are taken from what is left."""
    while "\0" in head and left:
        head = head.replace("\0", left.pop(0), 1)
    return head


def _filled(lines: Sequence[str], index: Sequence[str]) -> tuple[str, ...]:
    """Context lines with the words of the indices in their places."""
    words = iter(index)
    return tuple(line.replace("\0", next(words)) if "\0" in line else line for line in lines)


def _lines(
    family: Family,
    key: FieldKey,
    holders: Mapping[int, str],
    indices: list[str],
    rule: ValueRule,
    target: str,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The mapping lines, and the context lines above them."""
    left = list(indices)
    under = tuple(re.sub("\0", lambda _: left.pop(0), kin.line) for kin in family.chain)
    head = _with_holes_filled(family.head, left)
    front = " ".join([head, *left]).strip()
    number = key[2]
    if number < 0:
        on, off = ("off", "on") if rule.spec == "not" else ("on", "off")
        return (f"{front} {{{target} = {on}}}", f"no {front} {{{target} = {off}}}"), under
    parts: list[str] = []
    for name, template in _worded(family, number, key[3]):
        text = "".join(
            p if isinstance(p, str) else holders.get(p) or _beside(family, p, key[3])
            for p in template
        )
        parts.append(f"{name}{family.sign}{text}" if name else text)
    if family.form is Assignment:
        sign = " = " if family.sign == "=" else f"{family.sign} "
        return (f"{head}{sign}{parts[0]}",), under
    held = [n for n, text in enumerate(parts) if any(one in text for one in holders.values())]
    last = max(held)
    rest = [] if last == len(parts) - 1 else ["..."]
    if family.form is Directive:
        return (" ".join([front, *parts[: last + 1], *rest]),), under
    cells = [*([head] if head != family.head or not left else []), *left, *parts[: last + 1]]
    rest = rest or (["..."] if family.tail else [])
    return (family.between.join([*cells, *rest]),), under


def _worded(
    family: Family, number: int, index: tuple[str, ...]
) -> Sequence[tuple[str, FieldTemplate]]:
    """The parts of a family's lines; of sentences in the wording that has the field there."""
    at = {s.place.line for s in family.fields[number].samples if s.under == index}
    own = [way for way, lines in family.ways.items() if number in way and at & set(lines)]
    return [("", own[0])] if own else family.parts


def _beside(family: Family, number: int, index: tuple[str, ...]) -> str:
    """What stands for a field that is not learnt: any word; in a sentence only its own text can."""
    if number in family.flags:
        return family.flags[number]
    own = (s.text for s in family.fields[number].samples if s.under == index and family.ways)
    return next(own, "*")


def equals(found: Sequence[LearntKey]) -> tuple[LearntKey, ...]:
    """Those that explain the pairs just as plainly as the first."""
    return tuple(one for one in found if one.cost <= found[0].cost + 1e-9)
