"""Lines and fields that no mapping covers, as raw settings; which are private or volatile."""

import re
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple, TypeVar

from cfgaudit.dialects.template import ANY, Template, cut_of, key_span
from cfgaudit.reading.document import Statement
from cfgaudit.reading.private import (
    HIDDEN,
    Private,
    Repeats,
    is_private_key,
    private_stretches,
    says_nothing,
    secret_parts,
    values_beside,
)
from cfgaudit.reading.shapes import Assignment, Directive, Row, Shape, Span, named, words
from cfgaudit.settings import Raw, Stated
from cfgaudit.vocabulary.kinds import Text
from cfgaudit.vocabulary.paths import covers, declared, declared_anywhere


class Leftover(NamedTuple):
    """A line that no mapping took, with the section or group it stands in; or a field of a line.

    A field that its line's mapping passes over has a `key` below that of its line, and a `span`.
    `states` are the settings that a mapping would state which is the line's but for words.
    """

    statement: Statement
    context: str
    known: bool = False
    under: tuple[tuple[type, str], ...] = ()
    key: str = ""
    span: Span | None = None
    states: tuple[str, ...] = ()


def body_of(shape: Shape) -> Span | None:
    """What a statement says, without its comment; of an assignment, the value alone."""
    if isinstance(shape, Assignment):
        return shape.value
    return shape.body if isinstance(shape, Directive | Row) else None


def whole_of(shape: Shape) -> tuple[int, int] | None:
    """Where what a statement says begins and ends, without its comment; None of a head."""
    body = body_of(shape)
    if body is None:
        return None
    return shape.key.start if isinstance(shape, Assignment) else body.start, body.end


def line_key(template: Template, shape: Shape, cut: Sequence[Span]) -> str:
    """What tells a mapped line from others: its key, or its words before the first value."""
    if isinstance(shape, Assignment):
        return key_span(shape).text
    return " ".join(span.text for _, span in zip(template.front, cut, strict=False))


def fields_passed(template: Template, cut: Sequence[Span]) -> Iterator[tuple[str, Span, str]]:
    """The fields that a mapping passes over, each by its name or its number in the line.

    The third of each is what stands for the field in the line: the name too, where it has one.
    """
    pairs = [(span, named(span)) for span in cut]
    by_name = {pair[0]: pair[1] for _, pair in pairs if pair and pair[0] in template.names}
    fields = [
        (f"field {number}" if template.form is not Assignment else "value", span, pair)
        for number, (span, pair) in enumerate(pairs, 1)
        if not (pair and pair[0] in template.names)
    ]
    index = 0
    for slot in template.slots:
        name, span = slot.name, by_name.get(slot.name)
        if not slot.name:
            if index < len(fields):
                name, span, _ = fields[index]
            index = len(fields) if slot.many else index + 1
        if span is not None and slot.pieces and slot.pieces[-1] == ANY:
            before = sum(len(piece) for piece in slot.pieces[:-1] if isinstance(piece, str))
            rest = Span(span.text[before:], span.start + before)
            yield name, rest, rest.text
    for name, span, pair in fields[index:] if template.open_ended else ():
        yield *(pair or (name, span)), span.text


_PLACEHOLDER = re.compile(r"\{[^}]*\}")
_SETTING = re.compile(r"\{[^}]*\.")
_OPEN = re.compile(r"\*|\.\.\.|\{[^}=]*\}")  # where a line may have anything


@lru_cache(maxsize=10_000)  # every line that the template takes asks
def is_private_line(line: str) -> bool:
    """Whether the words of a mapping line before its first value say that this is somebody's own.

    A line that the dialect spells from end to end is nobody's.

    >>> is_private_line("craft keeper: {board.name}"), is_private_line("lap {N}: {loop.rate}")
    (True, False)
    >>> is_private_line("radio: two-way serial {receiver.link = crsf}")
    False
    >>> is_private_line("serial {N}: {ports.N.baud}"), is_private_line("serial: {craft.serial}")
    (False, True)
    """
    if not _OPEN.search(line):
        return False
    first = _SETTING.search(line)
    key = line[: first.start()] if first else line
    return bool(is_private_key(_PLACEHOLDER.sub(" 1 ", key)))


class Promise(NamedTuple):
    """The words at the front of the lines that state a secret, None for any; and whose it is."""

    words: tuple[str | None, ...]
    path: str

    def kept_by(self, shape: Shape) -> Span | None:
        """Of a line with these words at its front what stands behind them; else None."""
        front = _front_of(shape)
        if front is None:
            return None
        if isinstance(shape, Assignment):
            parts, body = words(shape.key), shape.value
            fits = len(parts) == len(self.words)
        else:
            parts = tuple(cut_of(shape))
            fits = len(parts) > len(self.words)
            at = parts[len(self.words)].start if fits else 0
            body = Span(front.text[at - front.start :].rstrip(), at)
        pairs = zip(parts, self.words, strict=False)
        return body if fits and all(word in (None, part.text) for part, word in pairs) else None


def promise_of(template: Template, target: str) -> Promise | None:
    """The promise of a mapping line to state a setting; None where no word of its own begins it."""
    if template.form is Assignment:
        texts = tuple("".join(p for p in template.key if isinstance(p, str)).split())
        return Promise(texts, target) if texts and template.key == (" ".join(texts),) else None
    found = tuple(
        "".join(map(str, slot.pieces)) if all(isinstance(p, str) for p in slot.pieces) else None
        for slot in template.front
    )
    return Promise(found, target) if found and found[0] is not None else None


def kept_promise(promises: Iterable[Promise], shape: Shape) -> tuple[Promise, Span] | None:
    """The promise of a secret that a line keeps though no mapping took it, and what is secret."""
    front = _front_of(shape)
    for one in promises:
        if front is not None and front.text.startswith(one.words[0] or ""):  # as hardly any line
            span = one.kept_by(shape)
            if span is not None and not (one.path in _NAMES and _PLACE.fullmatch(span.text)):
                return one, span
    return None


_NAMES = ("craft.name", "craft.owner")
_PLACE = re.compile(r"-?[0-9]{1,3}(?:[ ,\t]+-?[0-9]{1,3})+")  # numbers, as of a text on the screen


def _front_of(shape: Shape) -> Span | None:
    """What a statement begins with: an assignment's key, else its words or cells."""
    return shape.key if isinstance(shape, Assignment) else body_of(shape)


def raw_settings(
    leftovers: Sequence[Leftover],
    file: str,
    depths: Mapping[str, int] | None = None,
    promises: Sequence[Promise] = (),
) -> dict[str, Raw]:
    """Raw settings by key. `depths` says for a first word how many more belong to a line's key.

    Without it, just as many words as make the lines of one first word differ. `promises` are of
    the dialect's lines that state a secret.
    """
    depth_of = key_depths(leftovers) if depths is None else depths
    of_secrets = tuple(promises)
    found: dict[str, Raw] = {}
    names = _Names()
    going_on = -1  # the index of the line in which a private value goes on
    for statement, context, known, under, own_key, field, states in leftovers:
        parts = () if field is not None else _parts(statement.shape)
        depth = depth_of.get(_under(context, parts[0].text), 0) if parts else 0
        key, value, span, secret = _told(
            statement.shape, context, own_key, field, depth, of_secrets
        )
        if not key:
            continue
        if statement.first == going_on:
            body = body_of(statement.shape)
            if body is not None and body.start:
                key, value, span, secret = _under(context, HIDDEN), body.text, body, True
        name = names.unlike(key)
        if not value or value.endswith("\\"):
            private = secret or is_private_key(bare_key(key))
            going_on = statement.first + 1 if private else -1
        place = statement.place(file, span)
        found[name] = Raw(
            name, value, place, known, "", False, under, secret, field is not None, states
        )
    return found


_REMEMBERED = 8_192  # lines, or names: more than the versions of a few firmwares have


class _RawField(NamedTuple):
    """What a line that no mapping took tells by itself, or a field of one; no key if nothing."""

    key: str
    value: str
    span: Span | None = None
    secret: bool = False


@lru_cache(maxsize=_REMEMBERED)
def _told(
    shape: Shape,
    context: str,
    own_key: str,
    field: Span | None,
    depth: int,
    promises: tuple[Promise, ...],
) -> _RawField:
    """What a leftover tells where so many words belong to its key; most dumps share most lines."""
    key, value, span = _cut(shape, context, own_key, field, depth)
    if not key:
        return _RawField("", "")
    kept = kept_promise(promises, shape) if field is None else None
    if kept is not None:
        span = kept[1]
        key, value = _under(context, _front(shape, span)), span.text
    own = kept is not None or _is_private(shape, field, key, value)
    return _RawField(key, value, span, own and not says_nothing(value))


class _Names:
    """Keys, each told apart by a number from those that were there before."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self._times: dict[str, int] = {}  # how often a key was numbered: none is tried again

    def unlike(self, key: str) -> str:
        """The key, with a number behind it where it was taken."""
        name, count = key, self._times.get(key, 2)
        while name in self._taken:
            name, count = f"{key} ({count})", count + 1
            self._times[key] = count
        self._taken.add(name)
        return name


_NUMBER = re.compile(r" \([0-9]+\)$")
_LEAD_WORDS = 6  # no key has more


def bare_key(key: str) -> str:
    """A key without what it stands under, and without the number that told it from others."""
    return _NUMBER.sub("", key.rpartition("/")[2])


def own_words(key: str, value: str) -> str:
    """The words of a key, and one more that may belong to it, where values stand behind that.

    >>> own_words("home", "lat 53.1"), own_words("serial", "2 9600"), own_words("serial", "to X")
    ('home lat', 'serial 2', 'serial')
    """
    key, values = bare_key(key), [word for word in value.split() if word not in ("to", "is")]
    more = len(values) > 1 and (
        values[0].isidentifier() or (values[0].isdigit() and len(values[0]) < 3)
    )
    return f"{key} {values[0]}" if more else key


def _is_private(shape: Shape, field: Span | None, key: str, value: str) -> bool:
    """Whether a line that no dialect explains tells something of somebody, by key or by looks."""
    words = isinstance(shape, Directive) and field is None
    if is_private_key(own_words(key, value) if words else bare_key(key), value):
        return True
    body = body_of(shape) if field is None else field
    if body is not None and field is None and any(private_beside(shape, body)):
        return True
    return any(private_stretches(value if body is None else body.text))


def private_beside(shape: Shape, said: Span) -> Iterator[tuple[str, Span, str]]:
    """What further keys on a line say of somebody: each key, its value, and why it is private.

    `craft : Dunlin      serial : 17`, `craft name="Dunlin" pilot="J. Reed"`, or with a colon.
    `said` is the line, or what of it is looked through.
    """
    pairs = [
        (key, Span(said.text[at:stop], said.start + at))
        for key, _, at, stop in values_beside(said.text)
    ]
    if isinstance(shape, Directive):
        pairs += [pair for pair in map(named, words(shape.body)) if pair is not None]
    if isinstance(shape, Row):  # `craft name="Dunlin", pilot="J. Reed"`
        pairs += [
            (pair["key"], Span(pair["value"], said.start + pair.start("value")))
            for pair in _PAIR_IN_CELL.finditer(said.text)
        ]
    pairs += [  # `receiver(bind "a phrase")`
        (pair["key"], Span(pair["value"], said.start + pair.start("value")))
        for pair in (_QUOTED_BESIDE.finditer(said.text) if '"' in said.text else ())
    ]
    for key, value in pairs:
        why = is_private_key(key, value.text)
        if why and not says_nothing(value.text):
            yield key, value, why


_PAIR_IN_CELL = re.compile(
    r"(?<![\w-])(?P<key>[A-Za-z][\w-]*)="
    r"(?P<value>\"[^\"]*\"|[^\s,;\"]+(?: [^\s,;\"=]+(?![\w-]*=))*)"
)
_QUOTED_BESIDE = re.compile(r"(?<![\w-])(?P<key>[A-Za-z][\w-]*)[ \t]+(?P<value>\"[^\"]+\")")
_LEAD = re.compile(  # dots between may lead the eye
    r"[ \t]*[\"']?([^\s=:,\"']{1,80})[\"']?[ \t]*[=:, \t][ \t]*(?:\.{2,}[ \t]+)?"
)


def promised(text: str, heads: Iterable[str] = ()) -> tuple[str, int]:
    """Of a line that states nothing the key and where its value begins, if that is a secret's.

    `heads` are further keys of secrets. The key is empty where nothing says that it is one.
    """
    lead = _LEAD.match(text)
    key = lead.group(1) if lead else ""
    if lead and (
        is_private_key(key, text[lead.end() :]) or any(covers(head, key) for head in heads)
    ):
        return key, lead.end()
    return "", 0


def _most_of_key(parts: Sequence[Span]) -> int:
    """How many words behind the first one can be of a key: none of what is somebody's own.

    The word that says so is: `craft owner "Ann Heron"`.
    """
    texts = [part.text for part in parts]
    for count in range(1, len(parts)):
        key, value = " ".join(texts[:count]), " ".join(texts[count:])
        if is_private_key(own_words(key, value), value):
            return count - (own_words(key, value) == key or bool(is_private_key(key)))
    first, last = parts[0].start, parts[-1].end
    line = [" "] * (last - first)
    for part in parts:
        line[part.start - first : part.end - first] = part.text
    starts = [each.start + first for each in private_stretches("".join(line))]
    before = sum(part.end <= min(starts) for part in parts) if starts else len(parts)
    return max(0, before - 1)


def row_key(key: str, keys: Container[str]) -> str:
    """The key of a row without the number that tells it from others of the same key.

    >>> row_key("note (2)", ["note", "note (2)"]), row_key("note (2)", ["note (2)"])
    ('note', 'note (2)')
    """
    stem, _, number = key.rpartition(" (")
    return stem if stem in keys and number[:-1].isdigit() else key


def key_depths(leftovers: Sequence[Leftover]) -> dict[str, int]:
    """For each first word, how many words make its lines differ (0 where there is one line)."""
    lines: dict[str, list[tuple[Span, ...]]] = {}
    for leftover in leftovers:
        parts = _parts(leftover.statement.shape) if leftover.span is None else ()
        if parts:
            lines.setdefault(_under(leftover.context, parts[0].text), []).append(parts)
    return {head: _depth(alike) if len(alike) > 1 else 0 for head, alike in lines.items()}


def raw_renames(keys: Iterable[str], then_to_now: Mapping[str, str]) -> dict[str, str]:
    """Old raw key to new raw key, for the keys that a dialect says were renamed.

    >>> raw_renames(["lamp/hum"], {"hum": "murmur"})
    {'lamp/hum': 'lamp/murmur'}
    """
    found: dict[str, str] = {}
    for key in keys:
        context, slash, leaf = key.rpartition("/")
        word, blank, rest = leaf.partition(" ")
        if word in then_to_now:
            found[key] = f"{context}{slash}{then_to_now[word]}{blank}{rest}"
    return found


def _depth(lines: Sequence[tuple[Span, ...]]) -> int:
    """How many words behind the first tell lines apart; all but the last where none do."""
    rests = [tuple([part.text for part in parts[1:]]) for parts in lines]
    most = max(len(rest) for rest in rests)
    ordered = sorted(rests)
    alike = (_alike(one, two) for one, two in pairwise(ordered))
    depth = max(alike) + 1  # of all pairs, neighbours in order have most words in common
    same = any(one == two for one, two in pairwise(ordered))
    return depth if depth < most and not same else max(0, most - 1)


def _alike(one: tuple[str, ...], two: tuple[str, ...]) -> int:
    """How many words two lines have in common from the front."""
    return next(
        (n for n, (a, b) in enumerate(zip(one, two, strict=False)) if a != b),
        min(len(one), len(two)),
    )


@lru_cache(maxsize=_REMEMBERED)
def _parts(shape: Shape) -> tuple[Span, ...]:
    """The words or cells of a line; of an assignment, and of what is no line, none."""
    return tuple(cut_of(shape)) if isinstance(shape, Directive | Row) else ()


def _cut(
    shape: Shape, context: str, own_key: str, field: Span | None, most: int
) -> tuple[str, str, Span | None]:
    """Key, value and the value's span; `most` words behind the first belong to the key."""
    if field is not None:
        return _under(context, own_key), field.text, field
    if isinstance(shape, Assignment):
        return _under(context, shape.key.text), shape.value.text, shape.value
    parts = _parts(shape)
    if not parts:
        return "", "", None
    body = body_of(shape)
    if isinstance(shape, Row) and body is not None:
        said, at = promised(body.text)
        if said:
            told = Span(body.text[at:], body.start + at)
            return _under(context, said), told.text, told
    depth = min(most, len(parts) - 1)
    lead = _private_lead([part.text for part in parts])
    if lead:
        depth = lead - 1
    elif depth:
        depth = min(depth, _most_of_key(parts))
    key = " ".join(part.text for part in parts[: depth + 1])
    rest = parts[depth + 1 :]
    value = " ".join(part.text for part in rest)
    return _under(context, key), value, rest[0] if rest else parts[0]


def _private_lead(texts: Sequence[str]) -> int:
    """How many words at the front are a key that ends in a sign and says that it is somebody's."""
    for count, text in enumerate(texts[:_LEAD_WORDS], 1):
        if text[-1:] in (":", "="):
            return count if count < len(texts) and is_private_key(" ".join(texts[:count])) else 0
    return 0


def _front(shape: Shape, value: Span) -> str:
    """The words of a line before its value."""
    if isinstance(shape, Assignment):
        return shape.key.text
    return " ".join(part.text for part in _parts(shape) if part.start < value.start)


def _under(context: str, key: str) -> str:
    return f"{context}/{key}" if context else key


def with_nearest(found: dict[str, Raw], heads: Iterable[str]) -> dict[str, Raw]:
    """The raw settings, each that the dialect does not know with the nearest key that it maps."""
    unknown = [key for key, raw in found.items() if not raw.known]
    if not unknown:
        return found
    mapped = dict.fromkeys(heads)
    for key in unknown[:50]:  # beyond that, a hint helps nobody
        word = key.rpartition("/")[2].split(" ")[0]
        alike, near = max(((_likeness(word, head), head) for head in mapped), default=(0.0, ""))
        if alike:
            found[key] = found[key]._replace(near=near)
    return found


_NEAR = 0.7  # of two words, from which one may be the other mistyped


@lru_cache(maxsize=100_000)  # while a dialect is taught it is read again and again
def _likeness(word: str, other: str) -> float:
    """How alike two words are; 0 for those that are hardly so."""
    from difflib import SequenceMatcher

    matcher = SequenceMatcher(None, other, word)
    bounds = (matcher.real_quick_ratio, matcher.quick_ratio, matcher.ratio)
    return matcher.ratio() if all(ratio() >= _NEAR for ratio in bounds) else 0.0


_WORD = re.compile(r"[^./ ]+")
E = TypeVar("E", Stated, Raw)


def marked(entries: dict[str, E], volatile: Iterable[str], secret: Iterable[str]) -> dict[str, E]:
    """The entries, those marked in place whose path or key one of either's patterns covers."""
    moves, private = _covered(tuple(volatile)), _covered(tuple(secret))
    for name in [name for name in entries if moves[name] or private[name]]:
        one = entries[name]
        entries[name] = one._replace(
            volatile=one.volatile or moves[name], secret=one.secret or private[name]
        )
    return entries


def mark_secret_pairs(
    pairs: Iterable[tuple[Stated, Stated]], patterns: Sequence[str]
) -> tuple[tuple[Stated, Stated], ...]:
    """Pairs of values that were stated for one path, each marked where its path is secret."""
    return tuple(
        (one._replace(secret=True), other._replace(secret=True))
        if any(covers(pattern, one.path) for pattern in patterns)
        else (one, other)
        for one, other in pairs
    )


def is_secret_path(path: str, patterns: Iterable[str]) -> bool:
    """Whether a setting is secret, by the vocabulary or by a dialect's patterns."""
    known = declared_anywhere(path)
    by_vocabulary = known is not None and known.traits.secret
    return by_vocabulary or any(covers(pattern, path) for pattern in patterns)


def secret_depths(depths: Mapping[str, int], patterns: Sequence[str]) -> dict[str, int]:
    """For each first word of a secret line, how many further words belong to its key.

    `depths` are those of all lines. A key is shown where its value is hidden, so it ends with the
    words that a pattern names.
    """
    found: dict[str, int] = {}
    for head, depth in depths.items() if patterns else ():
        count = len(_WORD.findall(head))
        for pattern in patterns:
            words = _WORD.findall(pattern)
            if covers(" ".join(words[:count]), head):
                found[head] = min(found.get(head, depth), max(0, len(words) - count))
    return found


def mark_private(
    stated: dict[str, Stated], raw: Mapping[str, Raw]
) -> tuple[dict[str, Stated], Mapping[str, Raw]]:
    """Mark free texts that tell of somebody, and lines that repeat a secret; keys that do are cut.

    What is marked here is what redact hides: the other marks are the vocabulary's, the dialect's,
    and those of lines without a meaning that were marked as they were cut.
    """
    told = [text for one in raw.values() if one.secret for text in _own_of(one.value)]
    told += [e.text for path, e in stated.items() if e.place and (e.secret or _is_own(path))]
    again = _repeats_of(tuple(told))
    for path in [path for path in stated if _is_text(path)]:
        entry = stated[path]
        if entry.place is not None and not entry.secret:
            looks = any(private_stretches(entry.text)) or any(again.within(entry.text))
            stated[path] = entry._replace(secret=True) if looks else entry
    shown = [_concealable(key) for key in raw]
    values = again.lines_with([one.value for one in raw.values()])
    keys = again.lines_with([found for found, _ in shown])
    if not (values or keys) and shown == [(key, ()) for key in raw]:
        return stated, raw
    nothing = Repeats(())
    names, made = _Names(), dict[str, Raw]()
    for number, (key, one) in enumerate(raw.items()):
        secret = one.secret or number in values
        name = names.unlike(concealed(key, again if number in keys else nothing))
        same = name == key and secret is one.secret
        made[name] = one if same else one._replace(key=name, secret=secret)
    return stated, made


def _own_of(value: str) -> list[str]:
    """What of a private line's value is somebody's: what its names say so of, else all of it."""
    shape = Directive(Span(value, 0))
    return [span.text for _, span, _ in private_beside(shape, shape.body)] or [value]


# The versions of one dump have their secrets, and nearly all lines, in common.
@lru_cache(maxsize=64)
def _repeats_of(secrets: tuple[str, ...]) -> Repeats:
    return Repeats([part for text in secrets for part in secret_parts(text)])


@lru_cache(maxsize=_REMEMBERED)
def _is_own(path: str) -> bool:
    """Whether a setting is nobody else's business, by the vocabulary."""
    known = declared(path)
    return known is not None and known.traits.secret


@lru_cache(maxsize=_REMEMBERED)
def _is_text(path: str) -> bool:
    """Whether a setting is a free text, but for the craft's name, which every report shows."""
    known = declared(path)
    return known is not None and isinstance(known.kind, Text) and path != "craft.name"


def concealed(text: str, again: Repeats) -> str:
    """A key or a head with what it tells of somebody hidden.

    >>> concealed("pilot M. Thorn/beat", Repeats(()))
    'pilot (hidden)/beat'
    """
    found, stretches = _concealable(text)
    kept, at = "", 0
    for start, stop, _ in sorted([*stretches, *again.within(found)]):
        if start >= at:  # what overlaps is hidden once
            kept += found[at:start] + HIDDEN
        at = max(at, stop)
    return kept + found[at:]


@lru_cache(maxsize=_REMEMBERED)
def _concealable(text: str) -> tuple[str, tuple[Private, ...]]:
    """A key or a head without what its words tell, and what in it looks private."""
    heads = text.split("/")
    for number, head in enumerate(heads[:-1]):
        word, blank, rest = head.partition(" ")
        if rest.strip() and is_private_key(word, rest):
            heads[number] = f"{word}{blank}{HIDDEN}"
    found = "/".join(heads)
    if ":" in found or "=" in found:
        found = _PAIR.sub(lambda pair: _hidden_pair(pair[1], pair[2], pair[0]), found)
    return found, tuple(private_stretches(found))


_PAIR = re.compile(r"(?<!\S)([A-Za-z][\w-]*[:=])([^\s/]+)")


def _hidden_pair(name: str, value: str, whole: str) -> str:
    own = is_private_key(name[:-1], value) and not says_nothing(value)
    return f"{name}{HIDDEN}" if own else whole


class _Covered(dict[str, bool]):
    """Whether any of some patterns covers a path or a key, by its name."""

    def __init__(self, patterns: Sequence[str]) -> None:
        super().__init__()
        self._patterns = patterns

    def __missing__(self, name: str) -> bool:
        if len(self) >= _REMEMBERED:
            self.clear()
        found = self[name] = any(covers(pattern, name) for pattern in self._patterns)
        return found


@lru_cache(maxsize=32)
def _covered(patterns: tuple[str, ...]) -> _Covered:
    """The one that remembers what these patterns cover."""
    return _Covered(patterns)
