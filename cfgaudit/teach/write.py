"""Writes the dialect that was worked out, and puts lines into one that is there."""

import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cfgaudit.dialects.dialect import Dialect, DialectError, build_dialect
from cfgaudit.dialects.raw import is_secret_path
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.private import is_private_key
from cfgaudit.reading.text import FileText
from cfgaudit.reading.toml import Key, line_of, places, spans
from cfgaudit.settings import TroubleKind
from cfgaudit.teach.keys import NOTHING, families_of
from cfgaudit.teach.lines import Mapped, WordTables, mapped_families
from cfgaudit.teach.look import Outlook, outlook
from cfgaudit.teach.propose import Proposal, propose, reasons_for
from cfgaudit.teach.scopes import scopes_of
from cfgaudit.vocabulary.declare import HIDDEN

_WORTH_A_LOOK = 1.0  # points from which a candidate is worth the builder's look


@dataclass(frozen=True)
class Draft:
    """A dialect file that was worked out from dumps, and what it is made of."""

    text: str
    proposals: tuple[Proposal, ...]
    mapped: tuple[Mapped, ...]

    @property
    def active(self) -> int:
        """Lines that are at work."""
        return sum(len(mapped.lines) for mapped in self.mapped if mapped.active)

    @property
    def doubtful(self) -> int:
        """Fields with candidates, none of them sure."""
        return sum(1 for made in self._left() if worth_a_look(made))

    @property
    def unknown(self) -> int:
        """Fields without any candidate."""
        return sum(1 for made in self._left() if not worth_a_look(made))

    def _left(self) -> Iterator[Proposal]:
        for mapped in self.mapped:
            if not mapped.active:
                yield from mapped.proposals


def worth_a_look(made: Proposal) -> bool:
    """Whether a field has a candidate worth telling."""
    return bool(made.candidates) and made.candidates[0].points >= _WORTH_A_LOOK


def draft_dialect(names: Sequence[str], texts: Sequence[FileText], name: str = "") -> Draft:
    """Work out a dialect from dumps of one firmware. `names` are the dumps' own."""
    seen = outlook(texts)
    noise = [line for line in (*seen.look.ignore, seen.look.end, seen.head) if line]
    documents = [Document(n, text, seen.look) for n, text in zip(names, texts, strict=True)]
    roots = [scopes_of(document, noise) for document in documents]
    proposals = propose(families_of(roots))
    dropped: set[int] = set()
    for _ in range(4):  # a line that reads its own dump with trouble is not sure after all
        tables = WordTables()
        mapped = mapped_families(proposals, tables)
        for number, one in enumerate(mapped):
            one.active = one.active and number not in dropped
        text = _text(name or seen.firmware or "unnamed", seen, mapped, tables)
        bad = _troubled(text, documents, mapped)
        if not bad:
            break
        dropped |= bad
    return Draft(text, tuple(proposals), tuple(mapped))


def _troubled(text: str, documents: Sequence[Document], mapped: Sequence[Mapped]) -> set[int]:
    """The numbers of the mappings whose lines can't be used, or read their dump with trouble."""
    try:
        dialect = build_dialect(tomllib.loads(text), "draft")
        dialect.root  # noqa: B018 (the mapping lines are compiled when they are first wanted)
    except (DialectError, tomllib.TOMLDecodeError):
        return _unusable(mapped)
    lines: set[int] = set()
    for document in documents:
        for trouble in read_settings(document, dialect).troubles:
            if trouble.place and trouble.kind in (TroubleKind.IMPOSSIBLE, TroubleKind.UNIT):
                lines.add(trouble.place.line)
    return {n for n, one in enumerate(mapped) if one.active and lines & set(one.family.lines)}


def _unusable(mapped: Sequence[Mapped]) -> set[int]:
    """The mappings that can't be compiled, tried one by one."""
    bad: set[int] = set()
    for number, one in enumerate(mapped):
        entry = {"under": list(one.under), "map": one.lines}
        try:
            build_dialect({"name": "draft", "lines": [entry]}, "draft").root  # noqa: B018
        except DialectError:
            bad.add(number)
    return bad


def _text(name: str, seen: Outlook, mapped: Sequence[Mapped], tables: WordTables) -> str:
    body = [line for block in _blocks(mapped) for line in block]
    return "\n".join([*_top(name, seen, mapped), *_lists(tables, body), *body, ""])


def _top(name: str, seen: Outlook, mapped: Sequence[Mapped]) -> Iterator[str]:
    off = {s.text for m in mapped for f in m.family.fields for s in f.samples
           if s.text.casefold() in NOTHING}  # fmt: skip
    yield f"# How {clean(name)} writes its dump: a draft, worked out from the dump itself. Lines at"
    yield "# work are sure by words, values and neighbours; lines behind # want a builder's eye."
    yield f"name = {quoted(name)}"
    yield f"about = {quoted(f'{name}, a draft')}"
    yield ""
    yield "[look]"
    look = seen.look
    headers = dict.fromkeys(m.family.header for m in mapped if m.family.header)
    look = look._replace(ignore=(*look.ignore, *headers))
    for key, texts in (("prompts", look.prompts), ("opens", look.opens), ("closes", look.closes),
                       ("ignore", look.ignore)):  # fmt: skip
        if texts:
            yield f"{key} = [{', '.join(quoted(text) for text in texts)}]"
    for key, text in (("lead", look.lead), ("continues", look.continues), ("end", look.end)):
        if text:
            yield f"{key} = {quoted(text)}"
    if off:
        yield f"off = [{', '.join(quoted(text) for text in sorted(off))}]"
    if seen.head:
        yield f"head = [{quoted(seen.head)}]"
    yield ""
    if seen.firmware:
        yield from ("[given]", f'"firmware.name" = {quoted(seen.firmware)}', "")


def _lists(tables: WordTables, body: Sequence[str]) -> Iterator[str]:
    at_work = " ".join(line for line in body if not line.lstrip().startswith("#"))
    for name, words in tables.lists.items():
        if f": words {name}}}" in at_work:
            yield f"[words.{name}]"
            yield from (f"{quoted(theirs)} = {quoted(ours)}" for theirs, ours in words.items())
            yield ""


def _blocks(mapped: Sequence[Mapped]) -> Iterator[list[str]]:
    """A table of lines for each run of families with the same contexts."""
    runs: list[tuple[tuple[str, ...], tuple[str, ...], list[Mapped]]] = []
    for one in mapped:
        key = tuple(kin.line for kin in one.family.chain)
        if runs and runs[-1][0] == key:
            runs[-1][2].append(one)
        else:
            runs.append((key, (), [one]))
    for key, _, members in runs:
        under = next((one.under for one in members if one.active), ())
        shown = under or tuple(line.replace("\0", "*") for line in key)
        at_work = any(one.active for one in members)
        lead = "" if at_work else "# "
        block = [f"{lead}[[lines]]"]
        if shown:
            texts = ", ".join(quoted(clean(line)) for line in shown)
            block.append(f"{lead}under = [{texts}]")
        block.append(f"{lead}map = [")
        for one in members:
            block += [f"  {quoted(line)}," for line in one.lines if one.active]
            if not one.active:
                block += remarks(one)
        block += [f"{lead}]", ""]
        yield block


def remarks(one: Mapped) -> Iterator[str]:
    """What is known of a family that is not at work: its fields, their values, candidates."""
    for made in one.proposals:
        values = clean(_values(made))
        label = clean(" ".join(dict.fromkeys(n for n in made.seen.names if n)))
        label = label or clean(one.family.head)
        if not worth_a_look(made):
            yield f"  # unknown: {label} ({values})"
            continue
        first = made.candidates[0]
        spec = f": {first.fit.spec}" if first.fit.spec else ""
        goal = f"{{{first.goal.target}{spec}}}"
        yield f"  # perhaps: {label} ({values}) -> {goal}, {made.sure:.0%} sure"
        reasons = clean("; ".join(reasons_for(made, first)[:3]))
        if reasons:
            yield f"  #          {reasons}"
        others = ", ".join(c.goal.target for c in made.candidates[1:3])
        if others:
            yield f"  #          or {others}"


def _values(made: Proposal) -> str:
    """The values that were seen, in short; none of what is somebody's own: a draft is passed on."""
    words = [name.rpartition("/")[2] for name in (made.family.head, *made.seen.names) if name]
    first = made.candidates[0].goal.target if made.candidates else ""
    if first == "craft.name" or is_secret_path(first, ()) or any(map(is_private_key, words)):
        return HIDDEN
    texts = ('"..."' if s.text.startswith('"') else s.text for s in made.seen.samples[:40])
    values = ", ".join(dict.fromkeys(texts))
    return values if len(values) <= 40 else values[:37] + "..."


def clean(text: str) -> str:
    """The text on one line, without anything that a comment can't hold."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def quoted(text: str) -> str:
    """The text as TOML's basic string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def read_draft(draft: Draft) -> Dialect:
    """The draft as a dialect. Raises DialectError."""
    return build_dialect(tomllib.loads(draft.text), "draft")


_BARE = re.compile(r"[A-Za-z0-9_-]+")


class CannotAdd(ValueError):  # noqa: N818 (the file is written so, no fault of ours)
    """Why nothing can be added: the line (from 1; 0 for none in particular), and what to do."""

    def __init__(self, line: int, message: str) -> None:
        super().__init__(message)
        self.line = line


class Page:
    """A TOML text to which entries of lists and tables are added, wherever they stand."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._end = "\r\n" if "\r\n" in text else "\n"
        self._data = tomllib.loads(text)
        self._lines, self._spans = places(text), spans(text)
        self._put: list[tuple[int, str]] = []  # where in the text, and what
        self._behind: list[str] = []  # lines at the end of the file

    def text(self) -> str:
        """The text with all that was put into it."""
        parts, at = [""], 0
        for place, what in sorted(self._put, key=lambda put: put[0]):
            parts += [self._text[at:place], what]
            at = place
        made = "".join([*parts, self._text[at:]])
        if self._behind:
            gap = "" if made.endswith("\n") else self._end
            made += gap + self._end.join(["", *self._behind, ""])
        return made

    def put_lines(self, under: Sequence[str], lines: Sequence[str]) -> None:
        """Add mapping lines as an entry of `lines`, however that is written."""
        says = f"map = [{', '.join(quoted(line) for line in lines)}]"
        above = f"under = [{', '.join(quoted(line) for line in under)}]" if under else ""
        if ("lines",) in self._spans:
            self._put_into_array(("lines",), f"{{ {', '.join(filter(None, (above, says)))} }}")
        else:
            self._behind += ["[[lines]]", *([above] if above else []), says]

    def put_into_table(self, sort: str, name: str, entries: Mapping[str, str]) -> None:
        """Add keys to the table `sort.name`, which need not be there. Raises CannotAdd."""
        said = [f"{_key(key)} = {value}" for key, value in entries.items()]
        whole, own = self._spans.get((sort,)), self._spans.get((sort, name))
        if own is not None:
            self._put_into_inline(own, said)
        elif name in self._data.get(sort, {}):
            if whole is not None:
                line = line_of(self._lines, (sort, name))
                raise CannotAdd(line, f"put {', '.join(said)} into {name} of {sort} there")
            self._put_into_header((sort, name), said)
        elif whole is not None:
            self._put_into_inline(whole, [f"{_key(name)} = {{ {', '.join(said)} }}"])
        else:
            self._behind += [f"[{sort}.{_key(name)}]", *said]

    def _put_into_array(self, key: Key, item: str) -> None:
        """As the last item of an array: on a line of its own where the closing bracket has one."""
        start, stop = self._spans[key]
        close = stop - 1
        items = [span for own, span in self._spans.items() if own[:-1] == key]
        last = max(items, key=lambda span: span[1])[1] if items else start + 1
        comma = self._comma_behind(last, close)
        if items and comma < 0:
            self._put.append((last, ","))
        line = self._text.rfind("\n", 0, close) + 1
        if line > last and not self._text[line:close].strip():
            self._put.append((line, f"{self._margin(items)}{item},{self._end}"))
        elif comma >= 0:
            self._put.append((comma + 1, f" {item}"))
        else:
            self._put.append((last, f" {item}" if items else item))

    def _comma_behind(self, at: int, close: int) -> int:
        """The comma behind an item, comments passed over; -1 for none."""
        while at < close:
            if self._text[at] == "#":
                at = self._text.find("\n", at)
            elif self._text[at] == ",":
                return at
            at += 1
        return -1

    def _margin(self, items: Sequence[tuple[int, int]]) -> str:
        """The blanks before an item that begins its line."""
        for start, _ in reversed(items):
            line = self._text.rfind("\n", 0, start) + 1
            if not self._text[line:start].strip():
                return self._text[line:start]
        return "  "

    def _put_into_inline(self, span: tuple[int, int], said: Sequence[str]) -> None:
        """Before the closing brace of an inline table."""
        start, stop = span
        inner = self._text[start + 1 : stop - 1]
        full = inner.rstrip()
        between, behind = (", ", "") if full else (" ", "" if inner else " ")
        self._put.append((start + 1 + len(full), f"{between}{', '.join(said)}{behind}"))

    def _put_into_header(self, key: Key, said: Sequence[str]) -> None:
        """Below the last key of a table that has a header of its own."""
        at = 0
        for _ in range(line_of(self._lines, key) - 1):
            at = self._text.index("\n", at) + 1
        inside = [stop for own, (_, stop) in self._spans.items() if own[:-1] == key]
        end = self._line_end(max([at, *inside]))
        added = self._end.join(said)
        if end == len(self._text):
            self._put.append((end, f"{self._end}{added}"))
        else:
            self._put.append((end + 1, f"{added}{self._end}"))

    def _line_end(self, at: int) -> int:
        """Where the line ends that a place is in: its line feed, or the end of the text."""
        end = self._text.find("\n", at)
        return len(self._text) if end < 0 else end


def _key(name: str) -> str:
    """A key as TOML writes it."""
    return name if _BARE.fullmatch(name) else quoted(name)
