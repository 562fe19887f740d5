"""Writes the lines of a dialect that state a setting, in the words that a dump has for it.

What a line states besides is taken from what is known; what its mapping passes over, from the
dump's own line. Where that is not there, the line is refused, with the reason.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from cfgaudit.dialects.collect import EMPTY, Mention, Target, target_of
from cfgaudit.dialects.dialect import MappedLine
from cfgaudit.dialects.line_reader import (
    StatementReading,
    is_open,
    of_list,
    resolved,
    views_of,
    with_indices,
)
from cfgaudit.dialects.lines import fits, kind_of, pattern_of
from cfgaudit.dialects.raw import fields_passed
from cfgaudit.dialects.reader import Reading, read
from cfgaudit.dialects.spec import (
    CannotWrite,
    Holder,
    Spec,
    SpecForm,
    write_with,
)
from cfgaudit.dialects.template import ANY, Pieces, Slot, Template
from cfgaudit.reading.document import read_document
from cfgaudit.reading.shapes import Assignment, Directive, Look, Opener, Row, Section
from cfgaudit.vocabulary.kinds import (
    FILTER_KINDS,
    BadValue,
    Bool,
    Either,
    Filter,
    Filters,
    Kind,
    SwitchRange,
    SwitchRanges,
    Text,
    Value,
    Words,
    WordSet,
)

_BRACES = re.compile(r"\{[^{}]*\}")
_BARE = re.compile(
    r"[A-Za-z][A-Za-z0-9_.\-]*"
)  # a text that needs no quotes where others have none
_SIGN = re.compile(r"\s*[=:]\s*")
ON_OFF = ("on", "off")
# How dumps spell on and off, apart from a dialect's own word lists.
SPELLINGS = (ON_OFF, ("yes", "no"), ("true", "false"), ("1", "0"), ("enabled", "disabled"))
_RANKS: dict[object, int] = {Opener: 0, Section: 2}  # groups between: a block after one would
# be taken for its own
_COUNTED: Final = tuple(str(number) for number in range(1, 100))


class Placed(NamedTuple):
    """A line as text, under its context lines as text, each with its template's form."""

    chain: tuple[tuple[type, str], ...]
    text: str


@dataclass
class ContextLines:
    """The lines under one context line, and the contexts that open inside of it."""

    lines: list[str] = field(default_factory=list)
    inner: dict[tuple[type, str], "ContextLines"] = field(default_factory=dict)

    def add(self, placed: Placed) -> None:
        """Add a line under its context lines."""
        block = self
        for head in placed.chain:
            block = block.inner.setdefault(head, ContextLines())
        block.lines.append(placed.text)

    def text(self, look: Look) -> list[str]:
        """All lines: a context's own first, then blocks, groups and sections inside of it."""
        found = list(self.lines)
        inner = sorted(self.inner.items(), key=lambda item: _RANKS.get(item[0][0], 1))
        for (form, head), block in inner:
            found += [head, *block.text(look)]
            if form is Opener:
                found.append(closing(head, look))
        return found


def closing(head: str, look: Look) -> str:
    """The line that ends a block, by the line that begins it."""
    word, _, name = head.partition(" ")
    if head.endswith("{"):
        return "}"
    if word in look.opens:
        at = look.opens.index(word)
        return look.closes[min(at, len(look.closes) - 1)] if look.closes else "end"
    return f"end {name}".rstrip()


class WholeLine(NamedTuple):
    """A line of the dialect and what it states when it is read by itself."""

    placed: Placed
    marks: tuple[Mention, ...]
    empties: tuple[Target, ...] = ()  # the slots that it says are empty

    @property
    def paths(self) -> tuple[str, ...]:
        """What it states, in its own order."""
        return tuple(mark.path for mark in self.marks)


class Spelling:
    """The words that a dump has for values which are words: as its own lines say them."""

    def __init__(self, reading: Reading) -> None:
        self._reading = reading
        self._nothings: Counter[str] = Counter()
        self._pairs: Counter[tuple[str, str]] = Counter()
        self._said: dict[int, list[StatementReading]] = {}  # by the mapping's identity
        off = reading.dialect.off
        for entry in reading.statements:
            if not entry.mentions:
                continue
            self._said.setdefault(id(entry.template), []).append(entry)
            for mention in entry.mentions:
                text, value = mention.text.casefold(), mention.value
                if text in off and not isinstance(value, bool):
                    self._nothings[text] += 1
                elif isinstance(value, bool) and mention.span is not None:
                    self._pairs.update(pair for pair in SPELLINGS if text in pair)

    @property
    def nothing(self) -> str:
        """The word for: nothing here. The dump's own, else the dialect's; empty where none is."""
        words = sorted(self._reading.dialect.off)
        return max(words, key=lambda word: self._nothings[word], default="")

    def own_line(
        self, template: Template, binds: Mapping[str, str], which: int = 0
    ) -> StatementReading | None:
        """The dump's line of a mapping with these indices; of several, which one."""
        found = [
            entry
            for entry in self._said.get(id(template), ())
            if all(entry.binds.get(index) == value for index, value in binds.items())
        ]
        return found[which] if which < len(found) else None

    def like(self, template: Template | None, spec: Spec, path: str) -> str:
        """A text that the dump has in a line of this mapping: that of the path, else of another."""
        mentions = self._mentions(template, spec)
        found = min(mentions, key=lambda mention: mention.path != path, default=None)
        return "" if found is None else found.text

    def _mentions(self, template: Template | None, spec: Spec) -> Iterator[Mention]:
        """What lines of this mapping say by a spec, in a stretch of their own."""
        for entry in self._said.get(id(template), ()):
            yield from (m for m in entry.mentions if m.spec == spec and m.span is not None)

    def of(
        self, template: Template | None, spec: Spec, path: str, kind: Kind, value: Value
    ) -> str | None:
        """How the dump itself spells a value in a line of this mapping; None where it doesn't."""
        alike = self._mentions(template, spec)
        mentions = [(each, each.stated.value) for each in alike if each.stated is not None]
        pattern = pattern_of(path)
        mentions.sort(key=lambda m: (m[0].path != path, pattern_of(m[0].path) != pattern))
        if isinstance(kind, Bool) and spec.form is not SpecForm.WORDS:
            said = value is not (spec.form is SpecForm.NOT)
            for mention, there in mentions:
                for pair in SPELLINGS:
                    if mention.text.casefold() in pair and isinstance(there, bool):
                        return pair[not said]
            return max(SPELLINGS, key=lambda pair: self._pairs[pair])[not said]
        own = [m for m in mentions if pattern_of(m[0].path) == pattern]
        if isinstance(value, str) and isinstance(kind, Words | Either):
            found = (mention.text.strip('"') for mention, there in own if there == value)
            return next(found, None)
        if isinstance(value, frozenset):  # none of some flags may be a sign of its own, or nought
            return next((mention.text for mention, there in own if there == value), None)
        if isinstance(value, str) and isinstance(kind, Text) and _BARE.fullmatch(value):
            quoted = any(mention.text.startswith('"') for mention, _ in own)
            return value if own and not quoted else None
        return None


class LineWriter:
    """Writes the lines of one dump's dialect, in the words of its version.

    `known` is what is so already, `wanted` what shall be so too, whoever writes it.
    """

    def __init__(
        self, reading: Reading, known: Mapping[str, Value], wanted: Mapping[str, Value]
    ) -> None:
        self.reading, self.known, self.stock = reading, known, {**known, **wanted}
        self.spelling = Spelling(reading)
        self.dialect, self.tables = reading.dialect, reading.tables
        self._lines = reading.dialect.lines
        self._heads = {
            piece.target
            for pieces in self.dialect.head
            for piece in pieces
            if isinstance(piece, Holder)
        }
        self._names_then = self.dialect.keys_then(reading.version)
        self._slots = slots_in(reading)

    # ------------------------------------------------------------- the lines of a setting

    def lines(self, path: str, value: Value) -> list[WholeLine]:
        """The lines that state it. Raises CannotWrite."""
        kind, stock = kind_of(path), {**self.stock, path: value}
        if isinstance(kind, SwitchRanges | Filters) and isinstance(value, tuple):
            placed = self._list(path, value, stock)
        else:
            placed = [self._place(path, stock)]
        return self._read(path, placed)

    def plain_lines(self, path: str, value: Value, sections: Sequence[str]) -> list[WholeLine]:
        """The ways to state it in the plain form: below the nearest section, else a new one."""
        text = kind_of(path).spell(value)
        words = path.split(".")
        heads = [".".join(words[:cut]) for cut in range(len(words) - 1, 0, -1)]
        there = [head for head in heads if head in sections]
        ways = [*there, *(head for head in heads[:1] if head not in there)]
        made = [
            Placed(((Section, f"[{head}]"),), f"{path[len(head) + 1 :]} = {text}") for head in ways
        ]
        return self._read(path, made if sections else [Placed((), f"{path} = {text}")])

    def _read(self, path: str, placed: Sequence[Placed]) -> list[WholeLine]:
        """Lines with what they state by themselves. Raises CannotWrite where that is not it."""
        lines: list[WholeLine] = []
        for entry in dict.fromkeys(placed):
            text = "\n".join([*(head for _, head in entry.chain), entry.text])
            data = text.encode("utf-8", "surrogatepass")
            found = read(
                read_document("written", data, self.dialect.look),
                self.dialect,
                self.reading.version,
            )
            last = len(found.statements) - 1
            marks = tuple(mark for mark in found.marks if mark.statement == last)
            lines.append(WholeLine(entry, marks, empty_slots(found.statements[last])))
        if not any(mark.target.path == path for line in lines for mark in line.marks):
            raise CannotWrite("a line with that value in it could not be read back")
        return lines

    def has_constant(self, path: str, value: Value, other_than: Template | None) -> bool:
        """Whether another line says this value of itself: the firmware's own way to say it."""
        for line in self._lines:
            for holder in line.template.constants if line.template is not other_than else ():
                if fits(holder.target, path, line.indices) is not None:
                    try:
                        if kind_of(path).read(holder.constant or "") == value:
                            return True
                    except (BadValue, CannotWrite):
                        continue
        return False

    # -------------------------------------------------------------------------- one line

    def _place(self, target: str, stock: Mapping[str, Value], which: int = 0) -> Placed:
        """The line that states a target; everything else in it is taken from the stock too.

        Lines that state the value as a constant come first: they are the firmware's own way.
        Raises CannotWrite with the reason of the first line that came into question.
        """
        why = ""
        if self.dialect.look.starts:
            why = "how a new line goes on in the next ones is not known: it is typed by hand"
            raise CannotWrite(why)
        if self.dialect.look.parts:
            why = "how signs part the words of a new line is not known: it is typed by hand"
            raise CannotWrite(why)
        if target in self._heads:
            why = f"{target} stands in the head line, which the firmware writes of itself"
        for _, _, line, binds in self._candidates(target):
            try:
                return self._fill(line, _completed(line, binds, stock), stock, target, which)
            except CannotWrite as error:
                why = why or str(error)
        raise CannotWrite(why or f"{self.dialect.name} has no line for {target}")

    def _candidates(self, target: str) -> list[tuple[bool, int, MappedLine, dict[str, str]]]:
        """Lines with a placeholder for a target: constants first, then the most literal path."""
        found: list[tuple[bool, int, MappedLine, dict[str, str]]] = []
        for line in self._lines:
            for holder in line.targets:
                indices = line.indices
                if holder.constant is not None and is_open(holder.target):
                    indices |= {word for word in holder.target.split(".") if word.isupper()}
                    indices |= {holder.target.partition("[")[0].rpartition(".")[2]}
                binds = fits(holder.target, target, indices)
                if binds is not None:
                    found.append((holder.constant is None, len(binds), line, binds))
        return sorted(found, key=lambda candidate: candidate[:2])

    def _fill(
        self,
        line: MappedLine,
        binds: Mapping[str, str],
        stock: Mapping[str, Value],
        target: str = "",
        which: int = 0,
    ) -> Placed:
        """The line with its values; without a target, with a word for nothing as its value."""
        template = line.template
        self._check_constants(template, binds, stock, target)
        chain = tuple((part.form, self._head(part, binds)) for part in line.chain)
        filling = _Filling(self, template, binds, stock, target)
        if template.passes:
            filling.passed = _passed(template, self.spelling.own_line(template, binds, which))
        if template.form is Assignment:
            sign = _SIGN.search(_BRACES.sub(lambda found: "\0" * len(found.group()), template.line))
            assert sign is not None  # it was read as an assignment
            key = filling.pieces(template.key)
            key = self._names_then.get(template.head, key) if template.head else key
            value = filling.words(" ") if target or template.constants else self.spelling.nothing
            lead = f"{self.dialect.look.lead} " if self.dialect.look.lead else ""
            text = f"{lead}{key}{sign.group()}{value}".rstrip()
        else:
            apart = "," if "," in _BRACES.sub("", template.line) else "\t"
            text = filling.words(" " if template.form is Directive else apart)
            if template.head and template.head in self._names_then:
                text = text.replace(template.head, self._names_then[template.head], 1)
        if any(ord(letter) < 32 and letter != "\t" for letter in text) or "\x85" in text:
            raise CannotWrite("the value holds a line end or a control character")
        return Placed(chain, text)

    def _check_constants(
        self, template: Template, binds: Mapping[str, str], stock: Mapping[str, Value], target: str
    ) -> None:
        for holder in template.constants:
            path = resolved(holder.target, binds)
            try:
                value = kind_of(path).read(with_indices(holder.constant or "", binds))
            except BadValue as error:
                raise CannotWrite(f"{template.line!r}: {error}") from None
            if path not in stock:
                raise CannotWrite(f"the line for it would also state {path}, which is not known")
            if stock[path] != value:
                if path == target:  # a line for another value is no reason by itself
                    raise CannotWrite("")
                raise CannotWrite(f"the line for it would also say {path} = {holder.constant}")

    def _head(self, template: Template, binds: Mapping[str, str]) -> str:
        """A context line as text."""
        texts = iter([self.index(holder, binds) for holder in template.holders])
        return _BRACES.sub(lambda _: next(texts), template.line)

    def index(self, holder: Holder, binds: Mapping[str, str]) -> str:
        """An index in the dump's words. Raises CannotWrite."""
        if holder.target not in binds:
            raise CannotWrite(f"which {holder.target} its line is about is not known")
        ours = binds[holder.target]
        table = self.tables.words.get(holder.spec.table)
        if table is not None:
            theirs = next((word for word, own in table.items() if own == ours), None)
            if theirs is None:
                raise CannotWrite(f"the dialect has no word for {ours} in {holder.spec.table}")
            return theirs
        if holder.spec.base != 1:
            if not ours.isdigit():
                raise CannotWrite(f"{ours} is no number to count by")
            return str(int(ours) - 1 + holder.spec.base)
        return ours

    def spelled(self, template: Template | None, spec: Spec, path: str, value: Value) -> str:
        """A value in the words of the dump, else of the dialect. Raises CannotWrite."""
        kind = kind_of(path)
        if self.dialect.keys_are_paths:
            return kind.spell(value)
        if isinstance(value, str) and '"' in value:
            raise CannotWrite("how its firmware writes a quotation mark in a text is not known")
        empty = isinstance(value, frozenset | tuple) and not value
        if empty and spec.form is not SpecForm.FLAGS:
            return self._none(spec, kind)
        settled = spec.settled(self.stock.get)
        if settled is None:
            raise CannotWrite(f"its line needs {spec.by} too, which is not known")
        if spec.cut is None:
            own = self.spelling.of(template, spec, path, kind, value)
            if own is not None:
                return own
        if isinstance(value, str) and spec.form is SpecForm.SCALED and isinstance(kind, Either):
            raise CannotWrite(f"its line has a number there, and the dialect no word for {value}")
        if isinstance(value, str) and spec.form is SpecForm.PLAIN and value == kind.nothing:
            return self.spelling.nothing or value
        like = self.spelling.like(template, spec, path)
        return write_with(settled, kind, value, self.tables, like)

    # -------------------------------------------------------------------- lists of elements

    def _list(
        self, path: str, elements: Sequence[object], stock: Mapping[str, Value]
    ) -> list[Placed]:
        """The lines that state a list; slots that fall free are switched off."""
        whole, listed, any_name = self._ways(path)
        if whole:
            return [self._place(path, stock)]
        labels = list(dict.fromkeys((*self._slots.get(path, ()), *listed)))
        shared = self._free_rows(path)
        if shared is not None:  # a row of another list is not taken away from it
            labels = list(dict.fromkeys((*labels, *shared)))
            if not labels:
                raise CannotWrite(f"this dump has no empty row for {path}")
        elif any_name and not set(labels) - {*listed, *_COUNTED}:
            # the dialect does not list the names of these slots: they are counted
            before = self.known.get(path)
            had = len(before) if isinstance(before, tuple) else 0
            labels = list(dict.fromkeys((*labels, *_COUNTED[: max(len(elements), had, 1)])))
        if labels:
            return self._in_slots(path, elements, labels, stock)
        if not elements:
            return [self._empty(path, stock)]
        made: list[Placed] = []
        for which, element in enumerate(elements):
            parts = {f"{path}.{name}": part for name, part in parts_of(element).items()}
            known = {**stock, **parts}
            made += dict.fromkeys(self._place(target, known, which) for target in parts)
        return made

    def _free_rows(self, path: str) -> list[str] | None:
        """The rows that are empty in the dump, where lists share theirs; None where they don't."""
        shared = any(
            is_open(holder.target) and of_list(holder.target.partition("[")[0], path)
            for line in self._lines
            for holder in line.template.constants
        )
        slots = (slot for entry in self.reading.statements for slot in empty_slots(entry))
        return [slot.label for slot in slots if of_list(slot.path, path)] if shared else None

    def _ways(self, path: str) -> tuple[bool, list[str], bool]:
        """Whether one value states it whole; its slots; whether there are slots of any name."""
        whole, any_name = False, False
        labels: list[str] = []
        for line in self._lines:
            tables = {h.target: h.spec.table for h in line.holders if h.is_index}
            for holder in line.template.values:
                before, bracket, _ = holder.target.partition("[")
                if fits(before, path, line.indices) is None:
                    continue
                label = target_of(holder.target).label
                words = self.tables.words.get(tables.get(label, ""), {})
                whole = whole or not bracket
                any_name = any_name or (label in tables and not words)
                if bracket:
                    labels += words.values() if label in tables else [label]
        return whole, labels, any_name

    def _none(self, spec: Spec, kind: Kind) -> str:
        """How a list says that it has nothing: by a word of its own table, by ours, or by any."""
        words = self.tables.words.get(spec.table, {})
        own = next((theirs for theirs, ours in words.items() if ours == "none"), "")
        ours = "none" if isinstance(kind, WordSet) and "none" in self.dialect.off else ""
        return own or ours or self.spelling.nothing or "none"

    def _empty(self, path: str, stock: Mapping[str, Value]) -> Placed:
        """The line that says that a list has no element."""
        try:
            return self._place(path, stock)  # a constant says it
        except CannotWrite as error:
            why = error
        for line in self._lines:
            parents = {holder.target.rpartition(".")[0] for holder in line.template.values}
            if len(parents) != 1 or line.template.form is not Assignment:
                continue
            binds = fits(parents.pop(), path, line.indices)
            if binds is not None and self.spelling.nothing:
                return self._fill(line, binds, stock)
        raise why

    def _in_slots(
        self, path: str, elements: Sequence[object], labels: list[str], stock: Mapping[str, Value]
    ) -> list[Placed]:
        """Each element in the first free slot that can hold it; the other slots are off."""
        free = list(labels)
        made: list[Placed] = []
        for element in elements:
            why = CannotWrite(f"the dialect has no more than {len(labels)} places for {path}")
            for label in free:
                try:
                    made += self._slot(path, label, parts_of(element), stock)
                except CannotWrite as error:
                    why = error
                    continue
                free.remove(label)
                break
            else:
                raise why
        there = self._slots.get(path, {})
        shared = self._free_rows(path) or ()
        for label in free:
            if there.get(label, label not in shared):
                made += self._off(path, label, stock)
        return made

    def _slot(
        self, path: str, label: str, parts: Mapping[str, Value], stock: Mapping[str, Value]
    ) -> list[Placed]:
        """The lines that put one element into one slot."""
        own = {f"{path}[{label}].{name}": part for name, part in parts.items()}
        given = self.dialect.given.get(f"{path}[{label}].kind")
        if given is not None and given != parts["kind"]:
            raise CannotWrite(f"the dialect's place for a {given} can't hold a {parts['kind']}")
        own = {goal: part for goal, part in own.items() if not given or not goal.endswith(".kind")}
        known = {**stock, **own}
        return list(dict.fromkeys(self._place(target, known) for target in own))

    def _off(self, path: str, label: str, stock: Mapping[str, Value]) -> list[Placed]:
        """The lines that switch one slot off: whatever its kind, a cutoff of 0."""
        slot = f"{path}[{label}]"
        try:
            return [self._place(slot, {**stock, slot: EMPTY.choices[0]})]
        except CannotWrite:
            pass
        for kind in FILTER_KINDS:
            try:
                return self._slot(path, label, {"kind": kind, "cutoff": 0.0}, stock)
            except CannotWrite:
                continue
        raise CannotWrite(f"the dialect can't switch off the {label} place of {path}")


def _completed(
    line: MappedLine, binds: Mapping[str, str], stock: Mapping[str, Value]
) -> Mapping[str, str]:
    """The indices of a line, those too that its constants tell of: `{pads.ID.use = motor ARM}`."""
    found = dict(binds)
    for holder in line.template.constants:
        path, said = resolved(holder.target, found), holder.constant or ""
        if path not in stock:
            continue
        words, ours = said.split(), kind_of(path).spell(stock[path]).split()
        if len(words) == len(ours):
            pairs = zip(words, ours, strict=True)
            found |= {word: own for word, own in pairs if word in line.indices - found.keys()}
    return found


class _Filling:
    """One template with its values put in."""

    def __init__(
        self,
        writer: LineWriter,
        template: Template,
        binds: Mapping[str, str],
        stock: Mapping[str, Value],
        target: str,
    ) -> None:
        self._writer, self._template, self._binds = writer, template, binds
        self._stock, self._target = stock, target
        self.passed: Iterator[str] = iter(())  # the fields that the mapping passes over

    def words(self, between: str) -> str:
        """The words, the cells or the one value, put together."""
        if self._template.form is Assignment:
            return "".join(self.pieces(slot.pieces) for slot in self._template.slots)
        texts: list[str] = []
        lacking = ""  # an optional value that is not known: nothing by position may follow it
        for slot in self._template.slots:
            paths = [
                resolved(piece.target, self._binds)
                for piece in slot.pieces
                if isinstance(piece, Holder) and not piece.is_index
            ]
            absent = next((path for path in paths if path not in self._stock), "")
            if slot.optional and (absent or (lacking and not slot.name)):
                if self._target in paths:
                    raise CannotWrite(f"its line needs {lacking} too, which is not known")
                lacking = lacking or ("" if slot.name else absent)
                continue
            texts.append(self._slot(slot, between))
        return between.join([*texts, *self.passed])

    def _slot(self, slot: Slot, between: str) -> str:
        text = self.pieces(slot.pieces)
        if slot.many:
            text = between.join(text.split())
        elif '"' not in text and (between in text or text != text.strip()):
            text = f'"{text}"'
        return f"{slot.name}{slot.sign}{text}" if slot.name else text

    def pieces(self, pieces: Pieces) -> str:
        """A word's pieces as text."""
        texts: list[str] = []
        for piece, before in zip(pieces, (None, *pieces), strict=False):
            if isinstance(piece, Holder) and piece.spec.cut is not None:
                shares = isinstance(before, Holder) and before.spec.cut is not None
                number = int(texts.pop()) if shares else 0
                texts.append(str(piece.spec.cut.put(number, int(self._text(piece)))))
            elif not isinstance(piece, Holder):
                texts.append(next(self.passed, "") if piece == ANY else piece)
            elif piece.is_index:
                texts.append(self._writer.index(piece, self._binds))
            else:
                texts.append(self._text(piece))
        return "".join(texts)

    def _text(self, holder: Holder) -> str:
        """A value in the dump's spelling."""
        path = resolved(holder.target, self._binds)
        if path not in self._stock and target_of(path).part != "q":
            raise CannotWrite(f"its line needs {path} too, which is not known")
        value = self._stock.get(path, 0.0)  # a stage without a quality
        return self._writer.spelled(self._template, holder.spec, path, value)


def _passed(template: Template, own: StatementReading | None) -> Iterator[str]:
    """The texts of the fields that a mapping passes over in a line of the dump, in order.

    Raises CannotWrite where one is asked for and there is no such line.
    """
    if own is None:
        raise CannotWrite(
            "its line has more fields than its mapping names, and this dump has no such line to "
            "take them from"
        )
    shape = own.statement.shape
    assert isinstance(shape, Assignment | Directive | Row)  # a mapping took it
    for view, cut, _ in views_of(shape):
        if type(view) is template.form:
            yield from (text for _, _, text in fields_passed(template, cut))


def empty_slots(entry: StatementReading) -> tuple[Target, ...]:
    """The slots that a statement says are empty, whichever list they are of.

    Its mapping has `{switches.FUNCTION[SLOT] = none}`, and no FUNCTION in its own line.
    """
    constants = entry.template.constants if entry.template is not None else ()
    paths = (resolved(holder.target, entry.binds) for holder in constants)
    return tuple(target_of(path) for path in paths if is_open(path))


def slots_in(reading: Reading) -> dict[str, dict[str, bool]]:
    """The slots of each list that the dump names, in its order, and whether each is on."""
    found: dict[str, dict[str, dict[str, Mention]]] = {}
    for mark in reading.marks:
        goal = mark.target
        if goal.label:
            found.setdefault(goal.path, {}).setdefault(goal.label, {})[goal.part] = mark
    return {
        path: {label: is_on(slot) for label, slot in slots.items()} for path, slots in found.items()
    }


def is_on(slot: Mapping[str, Mention]) -> bool:
    """Whether a slot holds an element: a channel or a cutoff above nought."""
    for name in ("channel", "cutoff"):
        value = slot[name].value if name in slot else None
        if value is not None:
            return isinstance(value, int | float) and value > 0
    return False


def parts_of(element: object) -> dict[str, Value]:
    """One element's parts by name; a stage without a quality has none to state."""
    if isinstance(element, SwitchRange):
        return {"channel": element.channel, "low": element.low, "high": element.high}
    if isinstance(element, Filter):
        parts: dict[str, Value] = {"kind": element.kind, "cutoff": element.cutoff}
        return {**parts, "q": element.q} if element.q else parts
    raise CannotWrite(f"{element} is no element of a list of ranges or stages")
