"""Reads a document in one dialect: statements become settings."""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from cfgaudit.dialects.collect import Collector, FactoryValues, plain_value, target_of
from cfgaudit.dialects.dialect import Dialect, Node
from cfgaudit.dialects.raw import (
    Leftover,
    mark_secret,
    mark_secret_pairs,
    mark_volatile,
    raw_settings,
    secret_depths,
    with_nearest,
)
from cfgaudit.dialects.template import (
    ANY,
    Bound,
    Pieces,
    Spec,
    Template,
    match,
    match_text,
    open_shape,
)
from cfgaudit.reading.document import Document, Statement, front
from cfgaudit.reading.safe import unsafe_letters, unsafe_names
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    Unread,
    cells,
    words,
)
from cfgaudit.reading.text import Place
from cfgaudit.settings import DumpFacts, Origin, Raw, Settings, Stated, Trouble, TroubleKind
from cfgaudit.vocabulary.kinds import BadValue, version_numbers
from cfgaudit.vocabulary.paths import declared

_SMALL = re.compile(r"-?[0-9]{1,9}")
_NO_BINDS: Mapping[str, str] = {}


class OpenContext(NamedTuple):
    """An open section, block or group: its lines, the indices it binds, its name for people."""

    node: Node | None
    form: type | None = None
    binds: Mapping[str, str] = _NO_BINDS
    name: str = ""
    under: tuple[tuple[type, str], ...] = ()  # the opening lines around it and its own


def bound_indices(bound: Bound, lists: Mapping[str, Mapping[str, str]]) -> dict[str, str] | None:
    """The indices that a line binds, in neutral words; None where a word is unknown.

    `lists` are the dialect's word lists: the dump's word to ours.
    """
    found: dict[str, str] = {}
    for holder, span in bound:
        if not holder.is_index:
            continue
        table = lists.get(holder.spec.table)
        if table is not None:
            if span.text not in table:
                return None
            found[holder.target] = table[span.text]
        elif holder.spec.base != 1:
            if not _SMALL.fullmatch(span.text):
                return None
            found[holder.target] = str(int(span.text) + 1 - holder.spec.base)
        else:
            found[holder.target] = span.text
    return found


def resolved(path: str, binds: Mapping[str, str]) -> str:
    """The path with its capital indices filled in."""
    if not any(word in path for word in binds):
        return path
    before, bracket, rest = path.partition("[")
    filled = ".".join(binds.get(word, word) for word in before.split("."))
    if not bracket:
        return filled
    label, _, part = rest.partition("]")
    return f"{filled}[{binds.get(label, label)}]{part}"


Line = Assignment | Directive | Row  # the shapes that state something
View = tuple[Line, Sequence[Span], str]  # a line, its words or cells or its one value, its head


def is_known(node: Node, views: Iterable[View]) -> bool:
    """Whether the dialect lists the line as one without a neutral meaning."""
    if not node.known:
        return False
    for view, cut, head in views:
        candidates = node.known.get((type(view), head), []) + node.known.get((type(view), ""), [])
        if any(match(template, view, cut) is not None for template in candidates):
            return True
    return False


def head_of(shape: Shape, cut: Sequence[Span]) -> str:
    """The key of an assignment, the first word or cell of another line."""
    if isinstance(shape, Assignment):
        return " ".join(shape.key.text.split())
    return cut[0].text if cut else ""


def cut_of(shape: Shape) -> Sequence[Span]:
    """The one value, the cells or the words of a line."""
    if isinstance(shape, Assignment):
        return [shape.value]
    if isinstance(shape, Row):
        return cells(shape.body)
    return words(shape.body) if isinstance(shape, Directive) else ()


def views_of(shape: Line) -> tuple[View, ...]:
    """The line as it is and, where commas may belong to a directive's words, as a directive."""
    return (_view(shape), _view(Directive(shape.body))) if type(shape) is Row else (_view(shape),)


def _view(shape: Line) -> View:
    cut = cut_of(shape)
    return shape, cut, head_of(shape, cut)


def renamed_cut(cut: Sequence[Span], template: Template, shape: Shape) -> Sequence[Span]:
    """Words under today's first word, where the template has one."""
    is_other = bool(cut) and cut[0].text != template.head
    if template.head and is_other and not isinstance(shape, Assignment):
        return [Span(template.head, cut[0].start), *cut[1:]]
    return cut


def renamed(shape: Shape, template: Template) -> Shape:
    """An assignment under today's key, where the template has one."""
    if isinstance(shape, Assignment) and template.head and shape.key.text != template.head:
        return Assignment(Span(template.head, shape.key.start), shape.sign, shape.value)
    return shape


_PLAIN = Spec()
_SILENT, _LINES = (Blank, Comment), (Assignment, Directive, Row)
# What version control writes around the two sides of a conflict; the last one ends it. A row of
# = signs is a mark between the sides only: elsewhere it may be an ornament.
_BETWEEN_SIDES = "======="
_MERGE_MARKS = ("<<<<<<<", "|||||||", _BETWEEN_SIDES, ">>>>>>>")


class Reader:
    """One reading of one document; `settings` gives the outcome.

    `version` is the firmware's, for a text whose head line does not tell it.
    """

    def __init__(self, document: Document, dialect: Dialect, version: tuple[int, ...] = ()) -> None:
        self.document, self.dialect = document, dialect
        self.file = document.name
        self.version = version
        self.collector = Collector(dialect.tables, dialect.off)
        self.frames = [OpenContext(dialect.root)]
        self.leftovers: list[Leftover] = []
        self.ended = False
        self.too_deep = 0  # blocks that are open beyond the deepest one that is read
        self.said_deep = False
        self.old_keys: dict[str, str] = {}
        self.merging = False  # between the first and the last mark of a merge conflict
        self.noise = [(_telling(pieces), pieces) for pieces in dialect.ignore]

    def settings(self) -> Settings:
        """Read every statement. Never raises, whatever the dump holds."""
        heads = self._read_heads()
        self._state_given()
        self._read_all(heads)
        self._say_truncated()
        collector, said = self.collector, self.dialect
        collector.put_together()
        factory = self._factory()
        self._stand_in_factory(factory.texts)
        return Settings(
            stated=mark_secret(mark_volatile(collector.stated, said.volatile), said.secret),
            repeats=mark_secret_pairs(collector.repeats, said.secret),
            raw=self._raw(),
            troubles=tuple(sorted(collector.troubles, key=_by_place)),
            dumps=(self._facts(),),
            factory=factory,
        )

    def _read_all(self, heads: set[int]) -> None:
        lines = self.document.lines
        for statement in self.document.statements:
            self._read_one(statement, lines[statement.first].strip(), heads)

    def _read_one(self, statement: Statement, line: str, heads: set[int]) -> None:
        """Read one statement, whose first line this is; noise and heads say nothing here."""
        if line and line == self.dialect.look.end:
            self.ended = True
        elif line.startswith(_MERGE_MARKS) and self._is_merge_mark(statement, line):
            return
        elif statement.line not in heads and not self._ignored(statement, line):
            self._read(statement)

    def _is_merge_mark(self, statement: Statement, line: str) -> bool:
        """Note what an unfinished merge left behind: seven signs, alone or before a name."""
        mark = line.split(None, 1)[0]
        if mark not in _MERGE_MARKS or (mark == _BETWEEN_SIDES and not self.merging):
            return False
        self.merging = mark != _MERGE_MARKS[-1]
        place = statement.place(self.file)
        self.collector.troubles.append(Trouble(TroubleKind.CONFLICT_MARKER, mark, place))
        return True

    def _factory(self) -> FactoryValues:
        return FactoryValues(self.dialect.factory_for(self.version))

    def _facts(self) -> DumpFacts:
        statements = self.document.statements
        unread = sum(isinstance(statement.shape, Unread) for statement in statements)
        notes = self.document.notes
        return DumpFacts(
            self.file, self.dialect.name, len(statements), unread, len(statements), notes
        )

    def _read_heads(self) -> set[int]:
        """State what the head line tells, and give the numbers of the lines that are heads."""
        found: set[int] = set()
        for number, line in self.document.top(60):
            for pieces in self.dialect.head:
                bound = match_text(pieces, line.strip())
                if bound is None:
                    continue
                found.add(number)
                indent = len(line) - len(line.lstrip())
                for holder, span in bound:
                    place = self.document.place(number - 1, Span(span.text, span.start + indent))
                    self.collector.state(holder.target, holder.spec, span.text, place)
                break
        version = self.collector.stated.get("firmware.version")
        self.version = version_numbers(str(version.value)) if version else self.version
        self.old_keys = self.dialect.old_keys(self.version)
        self.collector.tables = self.dialect.tables_for(self.version)
        return found

    def _state_given(self) -> None:
        for path, text in self.dialect.given.items():
            self.collector.state(path, _PLAIN, text, None, origin=Origin.GIVEN)

    def _stand_in_factory(self, texts: Mapping[str, str]) -> None:
        stated = self.collector.stated
        for path, text in texts.items():
            if path not in stated or stated[path].origin is Origin.GIVEN:
                try:
                    value = plain_value(path, text)
                except BadValue as error:
                    message = f"factory value of {path} in {self.dialect.file}: {error}"
                    self.collector.troubles.append(
                        Trouble(TroubleKind.IMPOSSIBLE, message, None, path)
                    )
                    continue
                stated[path] = Stated(path, value, None, Origin.FACTORY, text)

    def _ignored(self, statement: Statement, line: str) -> bool:
        """Whether a line is noise, with its prompt or without."""
        if isinstance(statement.shape, _SILENT):
            return False
        likely = [pieces for telling, pieces in self.noise if telling in line]
        if not likely:
            return False
        look = self.dialect.look
        bare = line[front(line, look) :].strip() if look.prompts or look.lead else line
        texts = (line,) if bare == line else (line, bare)
        return any(match_text(pieces, text) is not None for text in texts for pieces in likely)

    def _read(self, statement: Statement) -> None:
        if isinstance(statement.shape, _SILENT):
            return
        shape = open_shape(statement.shape, self.dialect.look)
        if self.too_deep or (isinstance(shape, Opener) and self._is_full()):
            self._pass_over(statement, shape)
        elif isinstance(shape, _LINES):
            views = views_of(shape)
            if not self._opens_group(statement, *views[0]):
                self._read_line(statement, shape, views)
        elif isinstance(shape, Section):
            while len(self.frames) > 1 and self.frames[-1].form is not Opener:
                self.frames.pop()
            self._push(statement, shape, shape.name)
        elif isinstance(shape, Opener):
            self._push(statement, shape, shape.name)
        elif isinstance(shape, Closer):
            self._close(shape)
        elif isinstance(shape, Unread):
            self._say_unread(statement, shape)

    def _say_unread(self, statement: Statement, shape: Unread) -> None:
        place = statement.place(self.file, Span(" ", shape.column - 1))
        message = f"can't be read: expected {shape.expected}"
        self.collector.troubles.append(Trouble(TroubleKind.UNREAD, message, place))
        letters = unsafe_letters([self.document.lines[statement.first]])
        if letters:
            names = unsafe_names(letters)
            self.collector.troubles.append(Trouble(TroubleKind.UNSAFE, names, place))

    def _is_full(self) -> bool:
        """Whether so many blocks are open that no further one is gone into."""
        return len(self.frames) > self.document.bounds.depth

    def _pass_over(self, statement: Statement, shape: Shape) -> None:
        """Only count blocks, up to the end of the one that lies too deep."""
        if not self.too_deep and not self.said_deep:
            self.said_deep = True
            most = self.document.bounds.depth
            message = f"blocks lie deeper than {most:,} in each other: what is in them is not read"
            place = statement.place(self.file)
            self.collector.troubles.append(Trouble(TroubleKind.UNREAD, message, place))
        self.too_deep += isinstance(shape, Opener) - isinstance(shape, Closer)

    def _close(self, shape: Closer) -> None:
        depth = next(
            (i for i in range(len(self.frames) - 1, 0, -1) if self.frames[i].form is Opener), 0
        )
        if depth:
            del self.frames[depth:]
        elif not shape.name.text:
            self.ended = True

    def _push(self, statement: Statement, shape: Section | Opener, name: Span) -> None:
        above, cut = self.frames[-1], words(name)
        under, head = self._under(above, statement, shape), head_of(shape, cut)
        for node in above.node.children if above.node else ():
            bound = self._bind_opener(node, shape, cut, head)
            if bound is not None:
                binds = {**above.binds, **bound}
                self.frames.append(OpenContext(node, type(shape), binds, name.text, under))
                return
        self.frames.append(OpenContext(None, type(shape), above.binds, name.text, under))

    def _under(
        self, above: OpenContext, statement: Statement, shape: Shape
    ) -> tuple[tuple[type, str], ...]:
        """The opening lines of a context that this statement opens."""
        line = self.document.lines[statement.first]
        return (*above.under, (type(shape), line[front(line, self.document.look) :].strip()))

    def _bind_opener(
        self, node: Node, shape: Shape, cut: Sequence[Span], head: str
    ) -> dict[str, str] | None:
        opener = node.opener
        if opener is None or opener.form is not type(shape) or opener.head not in ("", head):
            return None
        bound = match(opener, shape, cut)
        return None if bound is None else self._indices(bound)

    def _indices(self, bound: Bound) -> dict[str, str] | None:
        return bound_indices(bound, self.collector.tables.words)

    def _opens_group(
        self, statement: Statement, shape: Line, cut: Sequence[Span], head: str
    ) -> bool:
        for depth in range(len(self.frames) - 1, -1, -1):
            frame = self.frames[depth]
            for node in frame.node.children if frame.node and frame.node.grouping else ():
                bound = self._bind_opener(node, shape, cut, head)
                if bound is not None:
                    del self.frames[depth + 1 :]
                    name = " ".join(span.text for span in cut)
                    binds = {**frame.binds, **bound}
                    under = self._under(frame, statement, shape)
                    self.frames.append(OpenContext(node, type(shape), binds, name, under))
                    return True
            if frame.form in (Section, Opener):
                return False
        return False

    def _read_line(self, statement: Statement, shape: Line, views: tuple[View, ...]) -> None:
        known = False
        if isinstance(shape, Assignment) and self._state_path(statement, shape):
            return
        for frame in reversed(self.frames):
            if frame.node is None:
                break
            if self._apply_all(frame, statement, views):
                return
            known = known or is_known(frame.node, views)
            if frame.form in (Section, Opener):
                break
        context = "/".join(frame.name for frame in self.frames[1:])
        self.leftovers.append(Leftover(statement, context, known, self.frames[-1].under))

    def _state_path(self, statement: Statement, shape: Assignment) -> bool:
        """In the plain form: a key is a neutral path, a section head a prefix to it."""
        if not self.dialect.keys_are_paths:
            return False
        names = [frame.name for frame in self.frames[1:]]
        path = ".".join([*names, shape.key.text])
        if declared(path) is None:
            return False
        place = statement.place(self.file, shape.value)
        self.collector.state(path, _PLAIN, shape.value.text, place)
        return True

    def _apply_all(self, frame: OpenContext, statement: Statement, views: tuple[View, ...]) -> bool:
        """Apply every mapping of a frame that matches the line; whether any did."""
        assert frame.node is not None  # the caller looked
        for view, cut, head in views:
            applied = False
            for template in self._candidates(frame.node, type(view), head):
                view_now = renamed(view, template)
                bound = match(template, view_now, renamed_cut(cut, template, view))
                if bound is not None:
                    applied |= self._apply(template, bound, frame, statement)
                else:
                    applied |= self._apply_off(template, frame, statement, view)
            if applied:
                return True
        return False

    def _candidates(self, node: Node, form: type, head: str) -> list[Template]:
        head = self.old_keys.get(head, head)
        exact, loose = node.exact.get((form, head)), node.loose.get(form)
        return exact + loose if exact and loose else exact or loose or []

    def _apply(
        self, template: Template, bound: Bound, frame: OpenContext, statement: Statement
    ) -> bool:
        indices = self._indices(bound)
        if indices is None:
            return False
        binds = {**frame.binds, **indices} if indices else frame.binds
        row = f"{statement.line}"
        for holder in template.constants:
            path = resolved(holder.target, binds)
            place = statement.place(self.file)
            if target_of(path).part or holder.constant != "none":
                self.collector.state(path, _PLAIN, holder.constant or "", place, row=row)
            else:
                self.collector.state(path, _PLAIN, "none", place)
        for holder, span in bound:
            if not holder.is_index:
                path = resolved(holder.target, binds)
                place = statement.place(self.file, span)
                self.collector.state(path, holder.spec, span.text, place, row=row)
        return True

    def _apply_off(
        self, template: Template, frame: OpenContext, statement: Statement, shape: Shape
    ) -> bool:
        """An off word where elements of one list are expected states the empty list."""
        if not isinstance(shape, Assignment) or template.form is not Assignment:
            return False
        value = shape.value.text.casefold()
        if value not in self.dialect.off:
            return False
        targets = {
            target_of(resolved(holder.target, frame.binds)).path
            for slot in template.slots
            for holder in slot.pieces
            if not isinstance(holder, str) and not holder.is_index
        }
        path = next(iter(targets)) if len(targets) == 1 else ""
        if not path or declared(path) is None:
            return False
        self.collector.state_empty(path, value, statement.place(self.file, shape.value))
        return True

    def _say_truncated(self) -> None:
        last = Place(self.file, self.document.last_line)
        opened = [frame.name for frame in self.frames if frame.form is Opener]
        if opened:
            message = f"the dump stops inside of {opened[-1] or 'a block'}"
        elif self.dialect.look.end and not self.ended:
            message = f"the dump lacks its end mark, {self.dialect.look.end!r}"
        else:
            return
        self.collector.troubles.append(Trouble(TroubleKind.TRUNCATED, message, last))

    def _raw(self) -> dict[str, Raw]:
        heads = (head for node in _all_nodes(self.dialect.root) for _, head in node.exact)
        secret = self.dialect.secret
        found = raw_settings(self.leftovers, self.file, secret_depths(self.leftovers, secret))
        return mark_secret(mark_volatile(with_nearest(found, heads), self.dialect.volatile), secret)


def _telling(pieces: Pieces) -> str:
    """The longest literal of a pattern: a line without it need not be matched."""
    literals = [piece for piece in pieces if isinstance(piece, str) and piece != ANY]
    return max(literals, key=len, default="")


def read_settings(document: Document, dialect: Dialect) -> Settings:
    """The settings that a document states, in one dialect. Never raises."""
    return Reader(document, dialect).settings()


def _all_nodes(node: Node) -> list[Node]:
    return [node] + [below for child in node.children for below in _all_nodes(child)]


def _by_place(trouble: Trouble) -> tuple[int, int]:
    return (trouble.place.line, trouble.place.column) if trouble.place else (0, 0)
