"""Finds which words of a line are its key, which name a value, and which are one."""

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from cfgaudit.reading.shapes import (
    Directive,
    Span,
    named,
)
from cfgaudit.teach.columns import is_fraction, word_kind
from cfgaudit.teach.measures import GLUED_UNIT, same_dimension, unit_of
from cfgaudit.teach.scoped import Scope, ScopedLine, scopes_within
from cfgaudit.teach.words import (
    chunks,
    is_channel,
    is_choice,
    is_closed_list,
    is_word,
)

_MARKS = "!~"  # before a word that is off


def leads_of(top: Scope) -> frozenset[str]:
    """Words that stand before the keys of very many settings: `put loop.rate 4000`."""
    behind: dict[str, set[str]] = {}
    for scope in scopes_within(top):
        for entry in scope.entries:
            if isinstance(entry.shape, Directive) and len(entry.parts) > 1 and not entry.is_cut:
                word = entry.parts[0].text
                if word[:1].isalpha() and "=" not in word:
                    behind.setdefault(entry.head, set()).add(word)
    return frozenset(head for head, words in behind.items() if len(words) >= 40)


# Words for nothing: no port, no switch, no list.
NOTHING = frozenset(
    {"[]", "off", "none", "nothing", "nobody", "never", "nil", "naught", "nought", "null", "-",
     "--", "---", "----",
     "~", "unset", "unused", "unassigned", "empty", "n/a", "hidden"}
)  # fmt: skip
SAID = frozenset(
    ["true", "false", "yes", "no", "on", "off", "enable", "disable", "enabled", "disabled"]
)


def cut_directives(scope: Scope, leads: frozenset[str]) -> None:
    """Take the words that name a value to the head of their line, where lines share first words."""
    for number, cut in _rows_of_labels(scope.entries):
        scope.entries[number] = cut
    for numbers in _by_first(scope).values():
        for number, cut in _cut_by_labels(scope.entries, numbers, leads):
            scope.entries[number] = cut
    by_first = [
        sort
        for own in _by_first(scope).values()
        for alike_ in _pairs_apart(scope.entries, own)
        for sort in _counted_apart(scope.entries, alike_)
    ]
    listed: set[str] = set()
    for numbers in sorted(by_first, key=lambda own: -_widest(scope.entries, own)):
        group = [scope.entries[number] for number in numbers]
        lead = group[0].head in leads
        made = None if lead else _cut_by_signs(group)
        made = made or _cut_by_pairs(group) or (_heads_cut(group) if lead else None)
        if made is not None:
            pass
        elif _first_word_tells(group):
            listed.update(entry.parts[0].text for entry in group if entry.parts)
            continue
        elif len(group) >= 2 and _are_rows(group, listed):
            continue  # the words are an index of other lines
        else:
            made = _heads_cut(group)
        for number, entry in zip(numbers, made, strict=True):
            scope.entries[number] = entry


def _rows_of_labels(entries: Sequence[ScopedLine]) -> Iterator[tuple[int, ScopedLine]]:
    """Rows that their first word tells apart, each value behind its label: `roll p 42 i 76 d 30`.

    A word for on or off may stand before the labels: `amps on col 11 row 14`.
    """
    sorts: dict[tuple[str, ...], list[tuple[int, int]]] = {}  # with the place of the first label
    for number, entry in enumerate(entries):
        cut = entry.is_cut and not replace(entry, barred=False).is_cut  # a gap parts key and value
        if isinstance(entry.shape, Directive) and (cut or not entry.is_cut) and not entry.before:
            texts = [span.text for span in entry.parts]
            texts = texts[:-1] if texts and not re.search(r"\w", texts[-1]) else texts
            first = len(texts)
            while first >= len(_PAIR) and _is_labelled(*texts[first - len(_PAIR) : first]):
                first -= len(_PAIR)
            labels = tuple(texts[first :: len(_PAIR)])
            if len(labels) > 1 and (not first or (first == 1 and texts[0] in SAID)):
                sorts.setdefault(labels, []).append((number, first))
    for labels, rows in sorts.items():
        names = {entries[number].head for number, _ in rows}
        if len(names) < max(_LEAST_ROWS, len(rows)):
            continue
        for number, first in rows:
            entry = entries[number]
            start = entry.shape.body.start if isinstance(entry.shape, Directive) else 0
            at = frozenset(1 + first + len(_PAIR) * n for n in range(len(labels)))
            yield number, replace(
                entry, head="", parts=(Span(entry.head, start), *entry.parts), labels=at,
                indexed=True, skeleton=" ".join(labels), negated=False, barred=False,
            )  # fmt: skip


_PAIR = ("label", "value")


def _is_labelled(label: str, value: str) -> bool:
    return _is_label(label) and re.match(r"[+-]?\.?\d", value) is not None


def _are_rows(group: Sequence[ScopedLine], listed: Collection[str]) -> bool:
    """Whether words of an index stand first, each once: of `gain roll p`, `gain roll i` they say
    no more than the words behind them.
    """
    firsts = [entry.parts[0].text for entry in group if entry.parts]
    known = len(firsts) == len(group) and all(text in listed for text in firsts)
    return known and len(set(firsts)) >= 0.7 * len(firsts)


def _by_first(scope: Scope) -> dict[str, list[int]]:
    """The lines of words that are not cut yet, by their first word."""
    found: dict[str, list[int]] = {}
    for number, entry in enumerate(scope.entries):
        if isinstance(entry.shape, Directive) and not entry.is_cut:
            found.setdefault(entry.head, []).append(number)
    return found


def _pairs_apart(entries: Sequence[ScopedLine], numbers: list[int]) -> Iterator[list[int]]:
    """Lines that end in pairs of a name and a value, and the others behind the same first word."""
    paired = [n for n in numbers if _before_pairs(entries[n]) > 0]
    paired = paired if any(sum(map(_is_pair, entries[n].parts)) > 1 for n in paired) else []
    yield from filter(None, (paired, [n for n in numbers if n not in paired]))


def _is_pair(span: Span) -> bool:
    return named(span) is not None


def _counted_apart(entries: Sequence[ScopedLine], numbers: list[int]) -> Iterator[list[int]]:
    """Lines that a number tells apart, and the others behind the same first word.

    `lost ch1 1500`, `lost ch2 hold`, and so on: `lost after 500` is none of them.
    """
    stems: dict[str, list[int]] = {}
    for number in numbers:
        parts = entries[number].parts
        counted = re.fullmatch(r"([A-Za-z]*[-_.]?)\d+", parts[0].text) if len(parts) > 1 else None
        stems.setdefault(counted[1] if counted else "\0", []).append(number)
    others = stems.pop("\0", [])
    rows = max(stems.values(), key=len, default=[])
    words = [entries[n].parts[0].text for n in others if entries[n].parts]
    told = sum(any(is_word(word) for word, _ in chunks(text)) for text in words)
    alone = len(rows) + len(others) < len(numbers) or 2 * told < len(words) or not words
    if len(rows) < _LEAST_ROWS or alone:
        yield numbers
        return
    yield from (rows, others)


_LEAST_ROWS = 3


def _cut_by_labels(
    entries: Sequence[ScopedLine], numbers: Sequence[int], leads: frozenset[str]
) -> Iterator[tuple[int, ScopedLine]]:
    """Lines in which words stand before their values: `port 1 does console at 115200`."""
    by_length: dict[int, list[int]] = {}
    for number in numbers:
        entry = entries[number]
        if not entry.before and entry.head not in leads and not any(map(named, entry.parts)):
            by_length.setdefault(len(entry.parts), []).append(number)
    made: dict[int, ScopedLine] = {}
    samples: list[ScopedLine] = []
    behind: dict[str, set[str]] = {}
    for number in numbers:
        texts = [span.text for span in entries[number].parts]
        for one, other in pairwise(texts):
            behind.setdefault(one, set()).add(other)
    for count, same in by_length.items():
        for sort in _sorts_of(entries, same, behind) if count > 2 else ():
            alike_ = dict(_labelled_alike(entries, *sort))
            made |= alike_
            samples += list(alike_.values())[:1]
    heads = Counter(
        tuple(span.text for span in entries[number].parts[:count])
        for number in numbers
        for count in range(1, len(entries[number].parts))
    )
    for number in numbers:
        entry = entries[number]
        if number not in made:
            shorter = (_shorter(entry, like) for like in samples)
            like = next((one for one in shorter if one is not None), None)
            alone = like or _flagged(entry, heads) or _paired(entry, heads)
            made |= {number: alone} if alone is not None else {}
    yield from _as_the_longest(made)


def _as_the_longest(made: Mapping[int, ScopedLine]) -> Iterator[tuple[int, ScopedLine]]:
    """The lines; those that lack the last flags of others of their key are of their sort."""
    longest: dict[str, str] = {}
    for entry in made.values():
        longest[entry.head] = max(longest.get(entry.head, ""), entry.skeleton, key=len)
    for number, entry in made.items():
        whole = longest[entry.head]
        lacks = _FLAG.match(entry.skeleton) and whole.startswith(f"{entry.skeleton} ")
        yield number, replace(entry, skeleton=whole) if lacks else entry


def _sorts_of(
    entries: Sequence[ScopedLine], numbers: Sequence[int], behind: Mapping[str, Set[str]]
) -> Iterator[tuple[list[int], set[int]]]:
    """Lines of one length, sort by sort, with the places of the words that each sort shares.

    `behind` are the words that stand behind each in any line: where they are several, a word that
    lines share is the value of the one before, `pad a1 use motor timer 5`.
    """
    left = list(numbers)
    while len(left) > 1:
        rows = [[span.text for span in entries[number].parts] for number in left]
        usual = [Counter(column).most_common(1)[0] for column in zip(*rows, strict=True)]
        stays = {
            at
            for at, (text, often) in enumerate(usual[:-1])  # a label has its value behind it
            if often >= 0.6 * len(rows) and _is_label(text)
        }
        stays -= {
            at
            for at in stays
            if {at - 1, at + 1} <= stays and len(behind[usual[at - 1][0]]) > _FEW_VALUES
        }
        fits = [
            number
            for number, row in zip(left, rows, strict=True)
            if all(row[at] == usual[at][0] for at in stays)
        ]
        if len(fits) > 2:  # what two have in common may be their value
            yield fits, stays
        if not fits or len(fits) == len(left):
            return
        left = [number for number in left if number not in fits]


def _flagged(entry: ScopedLine, heads: Mapping[tuple[str, ...], int]) -> ScopedLine | None:
    """A line whose values have each a flag before them: `filter gyro --add pt2 --cutoff 240`."""
    texts = [span.text for span in entry.parts]
    flags = [at for at, text in enumerate(texts) if _FLAG.fullmatch(text)]
    ends = [*flags[1:], len(texts)]
    if not flags or any(end - at < 2 for at, end in zip(flags, ends, strict=True)):
        return None
    count = flags[0]
    value = count > 1 and is_choice(texts[count - 1]) and heads[tuple(texts[: count - 1])] == 1
    count -= value  # `receiver link ibus --channels 14`: the last word before them is one
    return _labelled(entry, count, (at - count for at in flags))


_FLAG = re.compile(r"--?[A-Za-z][\w-]*")


_FEW_VALUES = 2  # behind a label: more tell that they are its values


def _paired(entry: ScopedLine, heads: Mapping[tuple[str, ...], int]) -> ScopedLine | None:
    """A line that ends in two pairs or more of a word and a value, and is alone in its words."""
    pairs = _pairs_at_end(entry)
    first = len(entry.parts) - 2 * pairs
    key = tuple(span.text for span in entry.parts[: first + 1])
    alone = pairs > 1 and heads.get(key) == 1
    if alone and first == 1 and not _is_plain_word(entry.parts[0].text):
        return _labelled(entry, 0, range(1, 2 * pairs, 2))  # its first word names a value, too
    return _labelled(entry, first, range(0, 2 * pairs, 2)) if alone else None


def _labelled_alike(
    entries: Sequence[ScopedLine], numbers: Sequence[int], stays: set[int]
) -> Iterator[tuple[int, ScopedLine]]:
    """Lines of one length: what they have in common behind the first word that varies is labels."""
    rows = [[span.text for span in entries[number].parts] for number in numbers]
    varies = [at for at in range(len(rows[0])) if at not in stays]
    if not varies or not any(at > varies[0] for at in stays):
        return
    first = varies[0]
    once = [len({tuple(row[first : first + n]) for row in rows}) >= 0.7 * len(rows) for n in (1, 2)]
    if once[0]:
        head, indexed = first, True
    elif once[1] and first + 1 in varies:
        head, indexed = first + 2, False
    else:
        return
    labels = [at - head for at in stays if at > first]
    for number in numbers:
        yield number, _labelled(entries[number], head, labels, indexed=indexed)


def _shorter(entry: ScopedLine, like: ScopedLine) -> ScopedLine | None:
    """A line that ends before a labelled one of its sort does: `pad 5 for beeper`, no timer."""
    cut = 1 + len(entry.parts) - len(like.head.split())
    labels = {at for at in like.labels if at < cut}
    if not labels or cut >= len(like.parts) or cut - 1 in labels or not like.indexed:
        return None
    headed = _headed(entry, len(entry.parts) - cut)
    same = headed.head == like.head and all(
        headed.parts[at].text == like.parts[at].text for at in labels
    )
    made = replace(headed, labels=frozenset(labels), indexed=True, skeleton=like.skeleton)
    return made if same else None


def _labelled(
    entry: ScopedLine, count: int, labels: Iterable[int], *, indexed: bool = False
) -> ScopedLine:
    """The line with so many more words in its head; which of the other words are labels."""
    headed = _headed(entry, count)
    own = frozenset(labels)
    said = " ".join(headed.parts[at].text for at in sorted(own))
    return replace(headed, labels=own, indexed=indexed, skeleton=said)


# What a thing is or is not, however many lines say it: `plain`, beside lines that say `flip`.
_WAYS = frozenset({"plain", "normal", "straight", "half", "full", "two"})


def _is_label(text: str) -> bool:
    figure = any(letter.isdigit() for letter in text)
    return _is_plain_word(text) and not figure and text.casefold() not in _WAYS


def _is_plain_word(text: str) -> bool:
    """Whether a text may name the value behind it: no sign, no channel with its number (`ch5`)."""
    if word_kind(text) != "word" or text in SAID or not any(map(str.isalpha, text)):
        return False
    glued = re.fullmatch(r"([A-Za-z]{1,7})\d+", text)
    return glued is None or not is_channel(glued.group(1))


def _pairs_at_end(entry: ScopedLine) -> int:
    """How many pairs of a word and a value end a line: `link sbus channels 16`."""
    texts = [span.text for span in entry.parts]
    kinds = ["word" if _is_plain_word(text) else "value" for text in texts]
    for at in range(1, len(texts)):
        if kinds[at - 1] == "word" and is_choice(texts[at]) and not is_choice(texts[at - 1]):
            kinds[at] = "value"
    pairs = 0
    while kinds[-2:] == ["word", "value"]:
        pairs += 1
        del kinds[-2:]
    return pairs


def _cut_by_signs(group: Sequence[ScopedLine]) -> list[ScopedLine] | None:
    """Lines whose keys end where a sign says so: a mark, a colon. None: no sign does."""
    if _marked(group):
        return [_switched(entry) for entry in group]
    if any(_colon(entry) for entry in group):
        return [_headed(entry, _colon(entry)) for entry in group]
    return None


def _cut_by_pairs(group: Sequence[ScopedLine]) -> list[ScopedLine] | None:
    """Lines whose keys end where pairs of a name and a value begin; None: some have no pairs."""
    counts = [_before_pairs(entry) for entry in group]
    if max(counts) > 0 and min(counts) >= 0:
        return [_headed(entry, count) for entry, count in zip(group, counts, strict=True)]
    return None


def _widest(entries: Sequence[ScopedLine], numbers: Sequence[int]) -> int:
    return max(len(entries[number].parts) for number in numbers)


def _marked(group: Sequence[ScopedLine]) -> bool:
    """Whether the lines are a verb and one word each, some of them with a mark for off."""
    if any(len(entry.parts) != 1 or entry.before for entry in group):
        return False
    marked = sum(entry.parts[0].text[:1] in _MARKS for entry in group)
    return marked > 0 and len({entry.parts[0].text for entry in group}) == len(group) >= 2


def _switched(entry: ScopedLine) -> ScopedLine:
    word = entry.parts[0].text
    off = word[:1] in _MARKS
    before = f"{entry.head} {word[:1] if off else ''}"
    return replace(entry, head=word.lstrip(_MARKS), parts=(), negated=off, before=before)


def _colon(entry: ScopedLine) -> int:
    """How many words behind the first one belong to a key that ends in a colon; 0 for none."""
    for number, span in enumerate(entry.parts, 1):
        if span.text.endswith(":") and len(span.text) > 1:
            return number
    return 0


def _before_pairs(entry: ScopedLine) -> int:
    """How many words behind the first one stand before pairs of a name and a value.

    -1 where no pairs end the line, or where the words before them may be values.
    """
    pairs = [named(span) is not None for span in entry.parts]
    count = pairs.index(True) if True in pairs else 0
    before = [span.text for span in entry.parts[:count]]
    told = all(text.isdigit() or text.replace("_", "").isalpha() for text in before)
    told = told and sum(map(str.isdigit, before)) <= 1 and not "".join(before[-1:]).isdigit()
    return count if told and pairs and all(pairs[count:]) else -1


def _headed(entry: ScopedLine, count: int) -> ScopedLine:
    """The line with so many more words in its head."""
    head = " ".join([entry.head, *(span.text for span in entry.parts[:count])])
    return replace(entry, head=head, parts=entry.parts[count:])


def _first_word_tells(group: Sequence[ScopedLine]) -> bool:
    """Whether the word behind the first tells lines of one sort apart: it is an index."""
    if any(entry.before in ("enable ", "disable ", "show ", "hide ") for entry in group):
        return False
    firsts = [entry.parts[0].text for entry in group if entry.parts]
    if len(firsts) < len(group) or any("=" in text for text in firsts):
        return len(group) == 1 and not _is_named(group[0])
    if len(group) == 1:
        return not _is_named(group[0])
    distinct = len(set(firsts)) >= 0.7 * len(firsts) and len(set(firsts)) >= 2
    if not distinct:
        return False
    if sum(any(c.isdigit() for c in text) for text in firsts) >= 0.6 * len(firsts):
        return True
    if is_closed_list(firsts) or _are_records(group):
        return True
    if 2 * sum(len(chunks(text)) > 1 for text in firsts) >= len(firsts) and not any(
        c.isdigit() for text in firsts for c in text
    ):
        return False  # words that say more than which one
    known = sum(all(is_word(word) for word, _ in chunks(text)) for text in firsts)
    return known < 0.5 * len(firsts) and len(group) <= 24 and _columns_alike(group)


def _are_records(group: Sequence[ScopedLine]) -> bool:
    """Whether a number, and more than its unit, stand behind the first word of most lines."""
    wide = [e for e in group if len(_but_unit(e.parts)) >= 3]
    numbered = all(
        word_kind(entry.parts[1].text) != "word" for entry in group if len(entry.parts) > 1
    )
    bare = ([p for p in entry.parts if not _is_pair(p)] for entry in group)
    lengths = {len(_but_unit(parts)) for parts in bare}  # rows have as many values, but for pairs
    several = len(group) >= 3 and len(wide) >= 0.5 * len(group)
    return several and numbered and len(lengths) < 3


def _but_unit(parts: Sequence[Span]) -> Sequence[Span]:
    """The parts of a line without the unit at their end."""
    return parts[:-1] if parts and unit_of(parts[-1].text) is not None else parts


def _is_named(entry: ScopedLine) -> bool:
    """Whether a line that stands alone is several words that name a value, and the value."""
    kinds = [word_kind(span.text) for span in _but_unit(entry.parts)]
    return (
        len(kinds) >= 2
        and kinds[0] == "word"
        and kinds.count("word") == len(kinds) - 1
        and kinds[-1] != "word"
    )


def _columns_alike(group: Sequence[ScopedLine]) -> bool:
    """Whether the words behind the index are of the same kind in every line."""
    for column in range(1, max(len(entry.parts) for entry in group)):
        kinds = {
            word_kind(entry.parts[column].text) for entry in group if len(entry.parts) > column
        }
        if len(kinds - {"nothing"}) > 1:
            return False
        texts = {entry.parts[column].text for entry in group if len(entry.parts) > column}
        before = {e.parts[column - 1].text for e in group if len(e.parts) > column}
        if all(map(is_fraction, before)) and _measure_several(texts):
            return False
        if kinds == {"number"} and column == 1 and _spread(texts) > 100:
            return False
    return True


def _measure_several(texts: Iterable[str]) -> bool:
    """Whether texts are units, bare or behind a number, not all of one dimension."""
    bare = (GLUED_UNIT.sub(r"\2", text) for text in sorted(texts))
    units = [found.unit for found in map(unit_of, bare) if found is not None and found.unit]
    return any(not same_dimension(units[0], other) for other in units[1:])


def _spread(texts: Iterable[str]) -> float:
    numbers = [abs(float(Fraction(text))) for text in texts if is_fraction(text)]
    full = [number for number in numbers if number]
    return max(full) / min(full) if full else 1.0


def _heads_cut(group: Sequence[ScopedLine]) -> list[ScopedLine]:
    """Lines of several sorts behind one first word: the head goes up to the value."""
    counts: dict[tuple[str, ...], list[str]] = {}
    for entry in group:
        for at, span in enumerate(entry.parts):
            if word_kind(span.text) == "number":
                words = tuple(part.text for part in entry.parts[:at])
                counts.setdefault(words, []).append(span.text)
    return [_headed(entry, _head_length(entry, counts)) for entry in group]


def _head_length(entry: ScopedLine, counts: Mapping[tuple[str, ...], Sequence[str]]) -> int:
    parts = entry.parts
    kinds = [word_kind(span.text) for span in parts]
    if entry.before and "number" not in kinds and "nothing" not in kinds:
        return len(parts)
    for at, kind in enumerate(kinds):
        if kind == "word":
            continue
        texts = counts.get(tuple(part.text for part in parts[:at]), [])
        indexed = (
            kind == "number"
            and at + 1 < len(parts)
            and parts[at].text.isdigit()
            and (len(set(texts)) >= 2 or (len(texts) > 1 and at + 2 < len(parts)))
            and (len(set(texts)) >= 0.7 * len(texts) or kinds[at + 1] == "word")
        )
        if indexed and kinds[at + 1] == "word" and _labels(parts, at):
            return at
        if indexed:
            behind = [i for i in range(at + 1, len(parts)) if kinds[i] != "word"]
            many = len(set(texts)) >= 0.7 * len(texts)
            if many:  # each line has its own number: what follows are its values
                return at + 1
            return behind[0] if behind else len(parts) - 1
        return at
    last = len(parts) - 1
    if last > 1 and parts[last].text.casefold() in NOTHING and is_choice(parts[last - 1].text):
        return last - 1  # the value, and the cell of a unit that it does not have
    return max(0, last)


def _labels(parts: Sequence[Span], at: int) -> bool:
    """Whether words and numbers take turns from here on: each word names the number behind it."""
    rest = [word_kind(span.text) for span in _but_unit(parts)[at:]]
    return (
        len(rest) >= 4 and rest[::2] == ["number"] * len(rest[::2]) and "number" not in rest[1::2]
    )
