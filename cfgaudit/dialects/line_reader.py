"""What one statement does to a reading, under the contexts that are open: worked out once.

A line does the same wherever the same contexts are open, in one version of a firmware; so it is
remembered, and only moved where it stands somewhere else.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from functools import lru_cache
from itertools import chain
from typing import NamedTuple, TypeVar

from cfgaudit.dialects.collect import (
    FactoryValues,
    Mention,
    ValueReader,
    target_of,
)
from cfgaudit.dialects.dialect import Dialect, Node
from cfgaudit.dialects.raw import (
    Leftover,
    body_of,
    fields_passed,
    line_key,
)
from cfgaudit.dialects.spec import Spec
from cfgaudit.dialects.template import (
    ANY,
    Bound,
    Pieces,
    Template,
    cut_of,
    key_span,
    match,
    match_front,
    match_key,
    match_text,
    open_shape,
)
from cfgaudit.reading.document import Document, Statement, front
from cfgaudit.reading.safe import unsafe_letters, unsafe_names
from cfgaudit.reading.shapes import (
    Assignment,
    Closer,
    Directive,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    Unread,
)
from cfgaudit.reading.text import Place
from cfgaudit.settings import Origin, Raw, Stated, Trouble, TroubleKind
from cfgaudit.vocabulary.paths import declared

# The words of a path, and the bracket that begins a slot: `filters.gyro[first].cutoff`.
PATH_STEPS = re.compile(r"\[|[^.\[\]]+")
_CAPITALS = re.compile(r"\b[A-Z]+\b")
_SMALL = re.compile(r"-?[0-9]{1,9}")
_NO_BINDS: Mapping[str, str] = {}


class Context:
    """An open section, block or group, with those around it; the outermost is a dump's own.

    Two are one only where they are the same object: what a line does is remembered by it.
    """

    __slots__ = (
        "above", "binds", "chain", "deep", "form", "indent", "line", "name", "node", "path",
        "settled", "under",
    )  # fmt: skip

    def __init__(
        self,
        node: Node | None,
        above: "Context | None" = None,
        form: type | None = None,
        name: str = "",
        line: str = "",
        binds: Mapping[str, str] = _NO_BINDS,
        indent: int = 0,
        deep: bool | None = False,
    ) -> None:
        self.node, self.above, self.form, self.name, self.line = node, above, form, name, line
        self.indent = indent  # of the line that opened it
        self.deep = deep  # whether what stands in it is indented further; None: not known yet
        self.settled: dict[bool, Context] = {}
        self.binds: Mapping[str, str] = (
            binds if above is None else {**above.binds, **binds}
        )  # indices, filled in
        if above is None:
            self.chain: tuple[Context, ...] = ()  # all that are open, but for the outermost
            self.under: tuple[tuple[type, str], ...] = ()  # their lines, with their forms
            self.path = ""  # their names, for people
        else:
            self.chain = (*above.chain, self)
            self.under = (*above.under, (form or object, line))
            self.path = f"{above.path}/{name}" if above.chain else name

    @property
    def is_fence(self) -> bool:
        """Whether a line inside of it is never one of a context around it."""
        return self.form in (Section, Opener)

    def at(self, indent: int) -> "Context":
        """The context in which a line stands that is indented so far.

        The first line behind a title tells whether what it opens lies deeper than the title; if
        it does, the first line that does not is beyond it.
        """
        now = self._told(deep=indent > self.indent) if self.deep is None else self
        fences = [number for number, one in enumerate(now.chain, 1) if one.is_fence]
        for one in now.chain[max(fences, default=0) :]:
            if one.deep and indent <= one.indent:
                assert one.above is not None  # it is in a chain
                return one.above
        return now

    def _told(self, *, deep: bool) -> "Context":
        """The same context once it is known whether what it opens lies deeper."""
        if deep not in self.settled:
            self.settled[deep] = Context(
                self.node, self.above, self.form, self.name, self.line, self.binds,
                self.indent, deep,
            )  # fmt: skip
        return self.settled[deep]


class Role(StrEnum):
    """What a statement is to a reading."""

    SILENT = "silent"  # blank, or a comment
    HEAD = "head"  # the head line of a dump
    NOISE = "noise"
    STATES = "states"
    LEFT = "left over"  # no mapping took it
    OPENS = "opens"  # a context; of one that the dialect doesn't name the line is left over too
    CLOSES = "closes"
    UNREAD = "unread"
    PASSED = "passed over"  # blocks lie too deep
    MARK = "mark of a merge"
    END = "end"  # the mark at the end of a dump


class StatementReading(NamedTuple):
    """What one statement came to.

    `context` is the innermost one that is open after it. `leftovers` are what no mapping took: the
    whole line, or those fields of it that its mapping passes over.
    """

    statement: Statement
    role: Role
    context: Context
    mentions: tuple[Mention, ...] = ()
    leftovers: tuple[Leftover, ...] = ()
    troubles: tuple[Trouble, ...] = ()
    noise: int = -1  # which of the dialect's patterns of noise it fits
    template: Template | None = None  # the mapping that took it
    binds: Mapping[str, str] = _NO_BINDS  # the indices that it and its contexts bind

    @property
    def says(self) -> bool:
        """Whether it says something of a setting, or opens what others say something in."""
        return self.role in (Role.STATES, Role.LEFT, Role.OPENS, Role.UNREAD)

    def moved(self, statement: Statement) -> "StatementReading":
        """The same of the same line somewhere else."""
        by = statement.first - self.statement.first
        return self._replace(
            statement=statement,
            mentions=tuple(_mention_moved(mention, by) for mention in self.mentions),
            leftovers=tuple(entry._replace(statement=statement) for entry in self.leftovers),
            troubles=tuple(t._replace(place=_place_moved(t.place, by)) for t in self.troubles),
        )


def _mention_moved(mention: Mention, by: int) -> Mention:
    place, stated = _place_moved(mention.place, by), mention.stated
    return mention._replace(place=place, stated=stated and stated._replace(place=place))


def _place_moved(place: Place | None, by: int) -> Place | None:
    return place and place._replace(line=place.line + by)


def is_grouping(node: Node) -> bool:
    """Whether lines that are no heads of sections or blocks open contexts, anywhere in a tree."""
    return node.grouping or any(map(is_grouping, node.children))


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
        elif holder.target == _COUNTING and _SMALL.fullmatch(span.text):
            found[holder.target] = str(int(span.text))  # 01 is 1
        else:
            found[holder.target] = span.text
    return found


_COUNTING = "N"  # the index whose names are numbers


def resolved(path: str, binds: Mapping[str, str]) -> str:
    """The path with its capital indices filled in."""
    if not any(word in path for word in binds):
        return path
    return PATH_STEPS.sub(lambda step: binds.get(step[0], step[0]), path)


def with_indices(constant: str, binds: Mapping[str, str]) -> str:
    """A constant with the indices that stand in it filled in: `motor ARM`."""
    if not binds:
        return constant
    return _CAPITALS.sub(lambda word: binds.get(word.group(), word.group()), constant)


def is_open(path: str) -> bool:
    """Whether a path names the slot of a list, and leaves open which list it is."""
    before, bracket, _ = path.partition("[")
    return bool(bracket) and any(word.isupper() for word in before.split("."))


def of_list(pattern: str, path: str) -> bool:
    """Whether a list is one of those that a pattern stands for: `switches.FUNCTION`."""
    wanted, words = pattern.split("."), path.split(".")
    return len(wanted) == len(words) and all(
        want == word or want.isupper() for want, word in zip(wanted, words, strict=True)
    )


StatingShape = Assignment | Directive | Row  # the shapes that state something
# a line, its words or cells or its one value, its head
CutLine = tuple[StatingShape, Sequence[Span], str]


def is_known(node: Node, views: Iterable[CutLine]) -> bool:
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
        return key_span(shape).text
    return cut[0].text if cut else ""


def views_of(shape: StatingShape) -> tuple[CutLine, ...]:
    """The line as it is and, where commas may belong to a directive's words, as a directive."""
    return (_view(shape), _view(Directive(shape.body))) if type(shape) is Row else (_view(shape),)


def _view(shape: StatingShape) -> CutLine:
    cut = cut_of(shape)
    return shape, cut, head_of(shape, cut)


def renamed_cut(cut: Sequence[Span], template: Template, shape: Shape) -> Sequence[Span]:
    """Words under today's first word, where the template has one."""
    is_other = bool(cut) and cut[0].text != template.head
    if template.head and is_other and not isinstance(shape, Assignment):
        return [Span(template.head, cut[0].start), *cut[1:]]
    return cut


S = TypeVar("S", bound=Shape)


def renamed(shape: S, template: Template) -> S | Assignment:
    """An assignment under today's key, where the template has one."""
    if isinstance(shape, Assignment) and template.head and shape.key.text != template.head:
        return Assignment(Span(template.head, shape.key.start), shape.sign, shape.value)
    return shape


class Model(NamedTuple):
    """A dump that was read whole: its lines, what each statement came to, where a line is one.

    `statements` has for each line the number of the statement that it is; -1 where it is no whole
    one.
    """

    lines: tuple[str, ...]
    taken: tuple[StatementReading, ...]
    statements: tuple[int, ...]


_PLAIN = Spec()
_MOST_NEAR = 3  # sorts of settings that mappings state which begin alike
_LINES = (Assignment, Directive, Row)
_MOST_REMEMBERED = 100_000  # lines, of one version of one dialect
_FRESH = 100  # dumps: what was in none of so many is forgotten, as each has lines of its own
_FILES = 1_000  # whose contexts are held
_MODELS = 16  # dumps that others are read by


class LineReader:
    """What lines do in one dialect and one version of its firmware, each worked out once."""

    def __init__(self, dialect: Dialect, version: tuple[int, ...]) -> None:
        self.dialect = dialect
        self.old_keys = dialect.old_keys(version)
        self.factory = FactoryValues(dialect.factory_for(version))
        self.values = ValueReader(
            dialect.tables_for(version), dialect.off, plain=dialect.keys_are_paths
        )
        self.unfit: list[Bound] = []  # what fitted the line that is read but for a word of a list
        self._noise = [
            (telling(pieces), number, pieces) for number, pieces in enumerate(dialect.ignore)
        ]
        self._roots: dict[str, Context] = {}
        self._known: dict[tuple[Context, str], StatementReading] = {}
        self._before: dict[tuple[Context, str], StatementReading] = {}  # and were not met since
        self._dumps = 0
        self.grouping = is_grouping(dialect.root)  # whether lines that are no heads open contexts
        self.models: dict[tuple[Context, int], Model] = {}  # by their number of lines
        # what no mapping took of a dump, and what that came to, by the file and how much it is
        self.leftovers: dict[tuple[str, int], tuple[list[Leftover], Mapping[str, Raw]]] = {}

    def root(self, file: str) -> Context:
        """The outermost context of a file's dump. Places are remembered too: each has its own."""
        self._dumps += 1
        if self._dumps % _FRESH == 0 or len(self._known) > _MOST_REMEMBERED:
            self._before, self._known = self._known, {}
        if len(self._roots) > _FILES or len(self.models) > _MODELS:
            self._roots.clear()
            self.models.clear()
        if len(self.leftovers) > _MODELS:
            self.leftovers.clear()
        if file not in self._roots:
            self._roots[file] = Context(self.dialect.root)
        return self._roots[file]

    def again(self, context: Context, statement: Statement, line: str) -> StatementReading | None:
        """What the line did before in this context, if it was met there."""
        key = context, line
        seen = self._known.get(key)
        if seen is not None and seen.statement.first == statement.first:
            return seen
        if seen is None:
            seen = self._before.get(key)
        if seen is not None:
            if seen.statement.first != statement.first:
                seen = seen.moved(statement)
            self._known[key] = seen
        return seen

    def remember(self, context: Context, line: str, reading: StatementReading) -> None:
        """Keep what a line did; it does the same whenever it is met in this context."""
        self._known[context, line] = reading

    def noise_of(self, line: str) -> int:
        """Which pattern of noise a line fits, with its prompt or without; -1 for none."""
        likely = [entry for entry in self._noise if entry[0] in line]
        if not likely:
            return -1
        look = self.dialect.look
        bare = line[front(line, look) :].strip() if look.prompts or look.lead else line
        for _, number, pieces in likely:
            if any(match_text(pieces, text) is not None for text in dict.fromkeys((line, bare))):
                return number
        return -1

    def read(self, context: Context, statement: Statement, document: Document) -> StatementReading:
        """Read a statement that is neither noise nor a mark, in an open context."""
        self.unfit = []
        shape = open_shape(statement.shape, self.dialect.look)
        if isinstance(shape, (*_LINES, Opener)):
            context = context.at(_indent_of(statement, document))
        if isinstance(shape, _LINES):
            views = views_of(shape)
            inside = self._group(context, statement, document, views[0])
            if inside is not None:
                return StatementReading(statement, Role.OPENS, inside)
            found = self._line(context, statement, document.name, shape, views)
            if found.role is not Role.LEFT:
                return found
            inside = _unnamed(context, statement, document, shape)
            return found if inside is None else found._replace(role=Role.OPENS, context=inside)
        if isinstance(shape, Section):
            while context.above is not None and context.form is not Opener:
                context = context.above
        if isinstance(shape, Section | Opener):
            inside = self._inside(context, statement, document, shape)
            troubles = () if inside.node is not None else self._no_arm(statement, document.name)
            return StatementReading(statement, Role.OPENS, inside, troubles=troubles)
        if isinstance(shape, Closer):
            return _closing(context, statement, shape)
        assert isinstance(shape, Unread)  # the last of the shapes
        troubles = tuple(_unread(statement, document, shape))
        return StatementReading(statement, Role.UNREAD, context, troubles=troubles)

    def _inside(
        self, above: Context, statement: Statement, document: Document, shape: Section | Opener
    ) -> Context:
        cut = cut_of(shape)
        view = shape, cut, head_of(shape, cut)
        line, form = _opening_line(statement, document), type(shape)
        for node in above.node.children if above.node else ():
            bound = self._bind_opener(node, *view)
            if bound is not None:
                return Context(node, above, form, shape.name.text, line, bound)
        return Context(None, above, form, shape.name.text, line)

    def _group(
        self, context: Context | None, statement: Statement, document: Document, view: CutLine
    ) -> Context | None:
        """The group that a line opens which is no head of a section nor of a block, if any."""
        while context is not None and not (context.node is None and context.deep):
            node = context.node
            for child in node.children if node is not None and node.grouping else ():
                bound = self._bind_opener(child, *view)
                if bound is not None:
                    name = " ".join(span.text for span in view[1])
                    line, form = _opening_line(statement, document), type(view[0])
                    indent = _indent_of(statement, document)
                    return Context(child, context, form, name, line, bound, indent, deep=None)
            context = None if context.is_fence else context.above
        return None

    def _bind_opener(
        self, node: Node, shape: Shape, cut: Sequence[Span], head: str
    ) -> dict[str, str] | None:
        opener = node.opener
        if opener is None or opener.form is not type(shape) or opener.head not in ("", head):
            return None
        bound = match(opener, shape, cut)
        return self._indices(bound, selective=bool(opener.head))

    def _line(
        self,
        context: Context,
        statement: Statement,
        file: str,
        shape: StatingShape,
        views: tuple[CutLine, ...],
    ) -> StatementReading:
        """A line by the first mapping that fits it, the innermost context's first."""
        if isinstance(shape, Assignment) and self.dialect.keys_are_paths:
            path = ".".join([*(entry.name for entry in context.chain), shape.key.text])
            if declared(path) is not None:
                return self._path_line(context, statement, file, path, shape.value)
        known = False
        states: tuple[str, ...] = ()
        at: Context | None = context
        while at is not None and at.node is not None:
            found = self._first_fit(context, at, statement, file, views)
            if found is not None:
                return found
            known = known or is_known(at.node, views)
            states += () if known else self._nearly(at, views)
            at = None if at.is_fence else at.above
        rest = Leftover(
            statement, context.path, known, context.under, states=() if known else states
        )
        troubles = () if known else self._no_arm(statement, file)
        return StatementReading(statement, Role.LEFT, context, leftovers=(rest,), troubles=troubles)

    def _no_arm(self, statement: Statement, file: str) -> tuple[Trouble, ...]:
        """A line that is an arm's but for its word, which the dialect's list of arms lacks.

        Of other lists a missing word is common, and means what has no neutral name; of an arm
        whose motor is not read nothing that is reckoned over all motors is true.
        """
        for holder, span in chain.from_iterable(self.unfit):
            table = self.values.tables.words.get(holder.spec.table, {})
            if holder.is_index and holder.target == "ARM" and table and span.text not in table:
                said = (
                    f"the dialect has no word for the arm {span.text}, only for {', '.join(table)}"
                )
                place = statement.place(file, span)
                return (Trouble(TroubleKind.NO_WORD, said, place, f"motors.{span.text}"),)
        return ()

    def _path_line(
        self, context: Context, statement: Statement, file: str, path: str, value: Span
    ) -> StatementReading:
        """In the plain form: a key is a neutral path, a section head a prefix to it."""
        self.values.troubles = []
        place = statement.place(file, value)
        mention = self.values.mention(path, _PLAIN, value.text, place, _marked(place, value))
        troubles = tuple(self.values.troubles)
        return StatementReading(statement, Role.STATES, context, (mention,), troubles=troubles)

    def _first_fit(
        self,
        context: Context,
        at: Context,
        statement: Statement,
        file: str,
        views: tuple[CutLine, ...],
    ) -> StatementReading | None:
        """What a line states by the first mapping of one context that fits it."""
        assert at.node is not None  # the caller looked
        for view, cut, head in views:
            candidates = self._candidates(at.node, type(view), head)
            for template in candidates:
                words_now = renamed_cut(cut, template, view)
                bound = match(template, renamed(view, template), words_now)
                selective = bool(template.head) or at.above is not None
                indices = self._indices(bound, selective=selective)
                if bound is None or indices is None:
                    continue
                if any(at.binds.get(name, own) != own for name, own in indices.items()):
                    continue  # it is a line of another row than the one that is open
                binds = {**at.binds, **indices} if indices else at.binds
                self.values.troubles = []
                mentions = tuple(self._mentions(template, bound, binds, statement, file, view))
                passed: tuple[Leftover, ...] = ()
                if template.passes:
                    passed = tuple(_passed_over(template, view, cut, statement, context))
                troubles = tuple(self.values.troubles)
                return StatementReading(
                    statement, Role.STATES, context, mentions, passed, troubles, -1, template, binds
                )
            if not isinstance(view, Assignment):
                continue
            for template in candidates:
                off = self._off(template, at, statement, file, renamed(view, template))
                if off is not None:
                    return StatementReading(statement, Role.STATES, context, (off,))
        return None

    def _nearly(self, at: Context, views: tuple[CutLine, ...]) -> tuple[str, ...]:
        """What the mappings of a context would state that begin as a line does, and go on
        otherwise.

        Nothing where too many do, or a first word is all that is alike, and others have it too.
        """
        assert at.node is not None  # the caller looked
        found: dict[int, dict[tuple[str, ...], None]] = {}
        for view, cut, head in views:
            for template in self._candidates(at.node, type(view), head):
                words_now = renamed_cut(cut, template, view)
                alike, bound = match_front(template, renamed(view, template), words_now)
                if alike:
                    own = tuple(self._would_state(template, bound, at))
                    found.setdefault(alike, {})[own] = None
        alike = max(found, default=0)
        most = 1 if alike == 1 else _MOST_NEAR
        near = found.get(alike, {})
        lone = alike > 1 or len(found) == 1
        return (
            tuple(dict.fromkeys(p for own in near for p in own))
            if lone and len(near) <= most
            else ()
        )

    def _would_state(self, template: Template, bound: Bound, at: Context) -> Iterator[str]:
        """The settings that a mapping states, as far as the indices of a line tell which."""
        indices = bound_indices(bound, self.values.tables.words)
        binds = {**at.binds, **(indices or {})}
        if indices is None or any(at.binds.get(n, own) != own for n, own in indices.items()):
            return
        for holder in (*template.constants, *template.holders):
            path = resolved(holder.target, binds)
            if not holder.is_index and declared(path) is not None and not is_open(path):
                yield path.partition("[")[0]

    def _indices(self, bound: Bound | None, *, selective: bool = False) -> dict[str, str] | None:
        """The indices that a line binds, if it fits and its words are known.

        A `selective` pattern has a word of its own, or a section: others fit anything.
        """
        found = None if bound is None else bound_indices(bound, self.values.tables.words)
        if bound is not None and found is None and selective:
            self.unfit.append(bound)
        return found

    def _candidates(self, node: Node, form: type, head: str) -> Sequence[Template]:
        """The mappings that may fit a line, in the order of the dialect."""
        head = self.old_keys.get(head, head)
        exact, loose = node.exact.get((form, head)), node.loose.get(form)
        if exact and loose:
            return [t for t in node.lines if t.form is form and t.head in ("", head)]
        return exact or loose or ()

    def _mentions(
        self,
        template: Template,
        bound: Bound,
        binds: Mapping[str, str],
        statement: Statement,
        file: str,
        view: Shape,
    ) -> Iterator[Mention]:
        for holder in template.constants:
            path = resolved(holder.target, binds)
            if is_open(path):  # a slot of whichever list is empty: that states nothing
                continue
            said = with_indices(holder.constant or "", binds)
            yield self.values.mention(path, _PLAIN, said, statement.place(file))
        for holder, span in bound:
            if not holder.is_index:
                path = resolved(holder.target, binds)
                place = statement.place(file, span)
                own = span
                if holder.spec.many and not isinstance(view, Assignment):
                    # it takes the rest of the line, however that is cut
                    whole = body_of(view)
                    assert whole is not None  # a line has one
                    own = Span(whole.text[span.start - whole.start :], span.start)
                marked = _marked(place, own)
                yield self.values.mention(path, holder.spec, span.text, place, marked)

    def _off(
        self, template: Template, at: Context, statement: Statement, file: str, line: Assignment
    ) -> Mention | None:
        """An off word where elements of one list are expected states the empty list.

        The key must be the mapping's own: an off word of another line is none of its business.
        """
        value = line.value.text.casefold()
        if template.form is not Assignment or value not in self.dialect.off:
            return None
        key = match_key(template, line)
        indices = None if key is None else self._indices(key)
        if indices is None:
            return None
        binds = {**at.binds, **indices}
        targets = {
            target_of(resolved(holder.target, binds))
            for slot in template.slots
            for holder in slot.pieces
            if not isinstance(holder, str) and not holder.is_index
        }
        lists = {target.path for target in targets}
        path = next(iter(lists)) if len(lists) == 1 else ""
        if declared(path) is None or not all(target.part for target in targets):
            return None
        place = statement.place(file, line.value)
        stated = Stated(path, (), place, Origin.DUMP, value)
        return Mention(path, _PLAIN, value, target_of(path), None, place, stated)


def _marked(place: Place, span: Span) -> Span | None:
    """The stretch that states a value; None where no column of the file does."""
    return span if place.column else None


def _opening_line(statement: Statement, document: Document) -> str:
    line = document.lines[statement.first]
    return line[front(line, document.look) :].strip()


def indent_of(line: str) -> int:
    """How far a line is indented."""
    line = line.expandtabs()
    return len(line) - len(line.lstrip())


def _indent_of(statement: Statement, document: Document) -> int:
    return indent_of(document.lines[statement.first])


def leads_deeper(statement: Statement, lines: Sequence[str]) -> bool:
    """Whether the line right behind it is indented further: it stands under this one."""
    behind = max((line for _, line, _ in statement.joints), default=statement.first) + 1
    following = lines[behind] if behind < len(lines) else ""
    return bool(following.strip()) and indent_of(following) > indent_of(lines[statement.first])


def _unnamed(
    context: Context, statement: Statement, document: Document, shape: StatingShape
) -> Context | None:
    """The group that a line opens which no mapping takes, where titles group lines.

    It is a title that the dialect doesn't name if the next line is indented further, or if it ends
    in a colon as the title above it does: what stands under it is none of that title's.
    """
    line, form, above = _opening_line(statement, document), type(shape), context
    valued = isinstance(shape, Assignment) and bool(shape.value.text)
    deep = not valued and leads_deeper(statement, document.lines)
    grouped = context.deep or (context.node is not None and context.node.grouping)
    if not (deep and grouped):
        titled = line.endswith(":") and context.line.endswith(":")
        if not titled or context.deep or context.is_fence or context.above is None:
            return None
        above = context.above
    indent = _indent_of(statement, document)
    return Context(None, above, form, line, line, _NO_BINDS, indent, deep=deep)


def _closing(context: Context, statement: Statement, shape: Closer) -> StatementReading:
    """The end of the innermost block; without one, that of the dump where it has no name."""
    block: Context | None = context
    while block is not None and block.form is not Opener:
        block = block.above
    if block is None or block.above is None:
        role = Role.CLOSES if shape.name.text else Role.END
        return StatementReading(statement, role, context)
    return StatementReading(statement, Role.CLOSES, block.above)


def _unread(statement: Statement, document: Document, shape: Unread) -> Iterator[Trouble]:
    place = statement.place(document.name, Span(" ", shape.column - 1))
    message = f"can't be read: expected {shape.expected}"
    yield Trouble(TroubleKind.UNREAD, message, place)
    letters = unsafe_letters([document.lines[statement.first]])
    if letters:
        yield Trouble(TroubleKind.UNSAFE, unsafe_names(letters), place)


def _passed_over(
    template: Template,
    view: StatingShape,
    cut: Sequence[Span],
    statement: Statement,
    context: Context,
) -> Iterator[Leftover]:
    """The fields of a line that its mapping passes over, each under the line's own key."""
    key = line_key(template, view, cut)
    for name, span, _ in fields_passed(template, cut):
        yield Leftover(
            statement, context.path, True, context.under, f"{key}/{name}" if key else name, span
        )


def telling(pieces: Pieces) -> str:
    """The longest literal of a pattern: a line without it need not be matched."""
    literals = [piece for piece in pieces if isinstance(piece, str) and piece != ANY]
    return max(literals, key=len, default="")


@lru_cache(maxsize=8)
def line_reader(dialect: Dialect, version: tuple[int, ...]) -> LineReader:
    """The one that remembers what lines do in a version of a dialect."""
    return LineReader(dialect, version)
