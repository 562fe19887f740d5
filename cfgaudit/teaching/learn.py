"""Learns which key a setting is from dumps before and after it was changed, and how it is written.

Every pair of dumps is one trial: the key must have changed in each of them, and one rule must
give every value from its text. Where several rules or several keys do, all of them are told.
"""

from collections.abc import Sequence
from itertools import permutations
from typing import NamedTuple

from cfgaudit.craft.kinds import Kind
from cfgaudit.craft.spelling import BadValue, read_value
from cfgaudit.craft.values import Value
from cfgaudit.craft.vocabulary import declared
from cfgaudit.reading.document import Document
from cfgaudit.reading.lines import Text
from cfgaudit.reading.look import Look
from cfgaudit.reading.shapes import Assignment, Directive
from cfgaudit.teaching.keys import Family, Field, families_of
from cfgaudit.teaching.look import Outlook, outlook
from cfgaudit.teaching.scopes import scopes_of
from cfgaudit.teaching.trials import Told, Trial, rules_for


class Lesson(NamedTuple):
    """Two dumps, the value that was set between them, and the one before, if it is told."""

    before: Text
    after: Text
    value: str
    was: str = ""


class Learnt(NamedTuple):
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


class CannotLearn(ValueError):  # noqa: N818 (the dumps don't tell, no fault of ours)
    """Why the pairs tell nothing."""


Key = tuple[tuple[str, ...], str, int, tuple[str, ...]]  # contexts, head, field, index words


def learn(path: str, lessons: Sequence[Lesson], look: Look | None = None) -> tuple[Learnt, ...]:
    """Every way to explain what changed, the plainest first. Raises CannotLearn.

    `look` is the dumps' own, where it is known; else it is worked out of them.
    """
    found = declared(path)
    if found is None:
        from cfgaudit.craft.vocabulary import nearest

        near = nearest(path)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise CannotLearn(f"{path} is no setting of the vocabulary{hint}")
    kind = found.kind
    values = [_value(kind, lesson.value, path) for lesson in lessons]
    was = [_value(kind, lesson.was, path) if lesson.was else None for lesson in lessons]
    texts = [text for lesson in lessons for text in (lesson.before, lesson.after)]
    seen = outlook(texts) if look is None else Outlook(look, "", "")
    befores = [_fields(lesson.before, seen) for lesson in lessons]
    afters = [_fields(lesson.after, seen) for lesson in lessons]
    changed = _changed(befores, afters)
    if not changed:
        raise CannotLearn("no key changed in every pair; was the change saved before the dump?")
    told: list[Learnt] = []
    for key in changed:
        family, _, _ = afters[0].get(key) or befores[0][key]
        trials = [
            Trial(_text(b, key), _text(a, key), value, earlier)
            for b, a, value, earlier in zip(befores, afters, values, was, strict=True)
        ]
        told += [_learnt(path, kind, key, family, trials, rule) for rule in rules_for(kind, trials)]
    if not told:
        names = ", ".join(_name(key) for key in changed[:5])
        raise CannotLearn(f"no plain rule turns what changed ({names}) into {lessons[0].value}")
    return tuple(sorted(told, key=lambda one: (one.cost, one.key)))


def _value(kind: Kind, text: str, path: str) -> Value:
    try:
        return read_value(kind, text)
    except BadValue as error:
        raise CannotLearn(f"{path}: {error}") from None


Fields = dict[Key, tuple[Family, Field, str]]


def _fields(text: Text, seen: Outlook) -> Fields:
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


def _text(fields: Fields, key: Key) -> str | None:
    entry = fields.get(key)
    return entry[2] if entry else None


def _changed(befores: Sequence[Fields], afters: Sequence[Fields]) -> list[Key]:
    """The keys whose text changed in every pair, or came, or went."""
    sets: list[set[Key]] = []
    for before, after in zip(befores, afters, strict=True):
        keys = before.keys() | after.keys()
        sets.append({key for key in keys if _text(before, key) != _text(after, key)})
    common = set.intersection(*sets)
    order = {key: n for n, key in enumerate(dict.fromkeys([*afters[0], *befores[0]]))}
    return sorted(common, key=lambda key: order.get(key, 0))


def _name(key: Key) -> str:
    contexts, head, number, index = key
    own = index[sum("\0" in line for line in contexts) :]
    name = " ".join(part for part in (*_filled(contexts, index), head, *own) if part)
    return f"{name}, value {number + 1}" if number > 0 else name


def _learnt(
    path: str, kind: Kind, key: Key, family: Family, trials: Sequence[Trial], rule: Told
) -> Learnt:
    target, pairs = _with_indices(path, key[3])
    indices = [_index(*pair) for pair in pairs] or list(key[3])
    lists = tuple(
        (f"learnt_{name.lower()}", ((theirs, ours),))
        for (name, theirs, ours), holder in zip(pairs, indices, strict=False)
        if ": words " in holder
    )
    table = rule.table_name(target)
    spec = rule.spec.replace("TABLE", table)
    holder = f"{{{target}: {spec}}}" if spec else f"{{{target}}}"
    lines, under = _lines(family, key, holder, indices, rule, target)
    lines = lines if rule.mappable else ()
    words = [(table, tuple(rule.words.items()))] if rule.words else []
    flags = tuple(rule.flags.items())
    texts = tuple((trial.before or "-", trial.after or "-") for trial in trials)
    return Learnt(
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


def _filled(lines: Sequence[str], index: Sequence[str]) -> tuple[str, ...]:
    """Context lines with the words of the indices in their places."""
    words = iter(index)
    return tuple(line.replace("\0", next(words)) if "\0" in line else line for line in lines)


def _lines(
    family: Family, key: Key, holder: str, indices: list[str], rule: Told, target: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The mapping lines, and the context lines above them."""
    left = list(indices)
    under = tuple(
        kin.line.replace("\0", left.pop(0)) if kin.varies else kin.line for kin in family.chain
    )
    front = " ".join([family.head, *left]).strip()
    number = key[2]
    if number < 0:
        on, off = ("off", "on") if rule.spec == "not" else ("on", "off")
        return (f"{front} {{{target} = {on}}}", f"no {front} {{{target} = {off}}}"), under
    parts: list[str] = []
    for name, template in family.parts:
        text = "".join(
            p if isinstance(p, str) else holder if p == number else "*" for p in template
        )
        parts.append(f"{name}={text}" if name else text)
    if family.form is Assignment:
        sign = " = " if family.sign == "=" else f"{family.sign} "
        return (f"{family.head}{sign}{parts[0]}",), under
    last = max(n for n, text in enumerate(parts) if holder in text)
    rest = [] if last == len(parts) - 1 else ["..."]
    if family.form is Directive:
        return (" ".join([front, *parts[: last + 1], *rest]),), under
    cells = [*(left or [family.head]), *parts[: last + 1]]
    rest = rest or (["..."] if family.tail else [])
    return (family.between.join([*cells, *rest]),), under


def equals(found: Sequence[Learnt]) -> tuple[Learnt, ...]:
    """Those that explain the pairs just as plainly as the first."""
    return tuple(one for one in found if one.cost <= found[0].cost + 1e-9)
