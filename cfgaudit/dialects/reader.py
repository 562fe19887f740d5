"""The one reading of a document in a dialect: what each statement states, under which heads.

It keeps what it saw. Settings are summed up from it; edits, merges and the history of a dump look
at it, and nobody needs to read a statement in a way of their own.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property, lru_cache

from cfgaudit.dialects.collect import (
    Collector,
    Mention,
    ValueReader,
    plain_value,
)
from cfgaudit.dialects.comments import annotations_of
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.line_reader import (
    Context,
    LineReader,
    Model,
    Role,
    StatementReading,
    indent_of,
    leads_deeper,
    line_reader,
)
from cfgaudit.dialects.raw import (
    Leftover,
    Promise,
    is_private_line,
    is_secret_path,
    key_depths,
    mark_private,
    mark_secret_pairs,
    marked,
    promise_of,
    raw_settings,
    secret_depths,
    with_nearest,
)
from cfgaudit.dialects.spec import Spec
from cfgaudit.dialects.template import is_mark, open_shape
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.private import says_nothing
from cfgaudit.reading.shapes import Blank, Closer, Comment, Opener, Shape, Span, Unread
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import BOUNDS, Place
from cfgaudit.settings import NEEDED, DumpFacts, Origin, Raw, Settings, Stated, Trouble, TroubleKind
from cfgaudit.vocabulary.kinds import BadValue, Value, version_numbers

HEAD_LINES = 60  # among which a dump says whose it is
_PLAIN = Spec()
_LONE = re.compile(r"[A-Za-z][A-Za-z_-]*")  # a word, and nothing else on its line
_OWN = "its key says that it is somebody's own, and it is no value of this setting"
# What version control writes around the two sides of a conflict; the last one ends it. A row of
# = signs is a mark between the sides only: elsewhere it may be an ornament.
_BETWEEN_SIDES = "======="
_MERGE_MARKS = ("<<<<<<<", "|||||||", _BETWEEN_SIDES, ">>>>>>>")


class _Pass:
    """One way through a document, statement by statement, with what is not a line's own doing."""

    def __init__(
        self, document: Document, reader: LineReader, heads: Mapping[int, StatementReading]
    ) -> None:
        self._document, self._reader, self._heads = document, reader, heads
        self._lines, self._look = document.lines, reader.dialect.look
        self._context = reader.root(document.name)
        # what lines of a long remark say hangs on others
        own = not document.repairs and not document.remarked
        self._remembers = own and document.bounds == BOUNDS
        self._too_deep = 0  # blocks that are open beyond the deepest one that is read
        self._merging = False  # between the first and the last mark of a merge conflict
        self.troubles: list[Trouble] = []

    def take_all(self) -> tuple[StatementReading, ...]:
        """Read every statement; of a dump that has most lines of one before, only the others."""
        root = self._context
        key = root, len(self._lines)
        if not self._remembers or self._document.part is not None:
            return tuple(map(self.take, self._document.statements))
        model = self._reader.models.get(key)
        taken = None if model is None else self._by_model(model)
        if taken is None:
            self._context, self._too_deep, self._merging = root, 0, False
            self.troubles.clear()
            taken = tuple(map(self.take, self._document.statements))
            if not self.troubles:
                self._reader.models[key] = _model_of(self._lines, taken)
        return taken

    def _by_model(self, model: Model) -> tuple[StatementReading, ...] | None:
        """What the statements came to there, but for lines that differ; None where that hangs on
        more than these lines themselves.
        """
        others = [
            n
            for n, both in enumerate(zip(self._lines, model.lines, strict=True))
            if both[0] != both[1]
        ]
        if len(others) * 2 > len(self._lines):
            return None
        taken = list(model.taken)
        for index in others:
            number, statement = model.statements[index], self._document.statement_of(index)
            if number < 0 or statement is None:
                return None
            if self._reader.grouping and indent_of(self._lines[index]) != indent_of(
                model.lines[index]
            ):
                return None
            if number:
                self._context = taken[number - 1].context
            found = self.take(statement)
            if found.context is not taken[number].context or self.troubles:
                return None
            taken[number] = found
        return tuple(taken)

    def take(self, statement: Statement) -> StatementReading:
        """Read the next statement."""
        if isinstance(statement.shape, Blank):
            return StatementReading(statement, Role.SILENT, self._context)
        line, key = self._lines[statement.first], ""
        if len(statement.joints) < 2 and self._remembers and not self._too_deep:
            key = self._key(statement, line)
            found = self._reader.again(self._context, statement, key)
            if found is not None and statement.line not in self._heads:
                self._context = found.context
                return found
        return self._first_time(statement, line, key)

    def _first_time(self, statement: Statement, line: str, key: str) -> StatementReading:
        """Read a line that was not met in this context; keep what it did under a key, if any."""
        bare, context = line.strip(), self._context
        head = self._heads.get(statement.line)
        if bare and self._look.end and is_mark(bare, self._look.end):
            return StatementReading(statement, Role.END, context)
        if bare.startswith(_MERGE_MARKS) and self._is_merge_mark(bare):
            self._note(TroubleKind.CONFLICT_MARKER, bare.split(None, 1)[0], statement)
            return StatementReading(statement, Role.MARK, context)
        if head is not None:
            return head._replace(statement=statement, context=context)
        if isinstance(statement.shape, Comment):
            return StatementReading(statement, Role.SILENT, context)
        shape = open_shape(statement.shape, self._look)
        noise = self._reader.noise_of(bare)
        if noise >= 0:
            found = StatementReading(statement, Role.NOISE, context, noise=noise)
        elif self._too_deep or (isinstance(shape, Opener) and self._is_full()):
            return self._passed_over(statement, shape)
        else:
            found = self._reader.read(context, statement, self._document)
        if key and not bare.startswith(_MERGE_MARKS):
            self._reader.remember(context, key, found)
        self._context = found.context
        return found

    def _key(self, statement: Statement, line: str) -> str:
        """A line as it is remembered; what titles hold is told by the line behind them as well."""
        titled = self._reader.grouping and leads_deeper(statement, self._lines)
        return f"{line}\n" if titled else line

    def _is_merge_mark(self, line: str) -> bool:
        """Note what an unfinished merge left behind: seven signs, alone or before a name."""
        mark = line.split(None, 1)[0]
        if mark not in _MERGE_MARKS or (mark == _BETWEEN_SIDES and not self._merging):
            return False
        self._merging = mark != _MERGE_MARKS[-1]
        return True

    def _is_full(self) -> bool:
        """Whether so many blocks are open that no further one is gone into."""
        return len(self._context.chain) >= self._document.bounds.depth

    def _passed_over(self, statement: Statement, shape: Shape) -> StatementReading:
        """Only count blocks, up to the end of the one that lies too deep."""
        most = self._document.bounds.depth
        message = f"blocks lie deeper than {most:,} in each other: what is in them is not read"
        if all(trouble.message != message for trouble in self.troubles):
            self._note(TroubleKind.UNREAD, message, statement)
        self._too_deep += isinstance(shape, Opener) - isinstance(shape, Closer)
        return StatementReading(statement, Role.PASSED, self._context)

    def _note(self, kind: TroubleKind, message: str, statement: Statement) -> None:
        place = statement.place(self._document.name)
        self.troubles.append(Trouble(kind, message, place))


def _model_of(lines: tuple[str, ...], taken: tuple[StatementReading, ...]) -> Model:
    """A dump that was read, for others to be read by."""
    numbers = [-1] * len(lines)
    for number, entry in enumerate(taken):
        if len(entry.statement.joints) < 2:
            numbers[entry.statement.first] = number
    return Model(lines, taken, tuple(numbers))


_WHOLE = 20  # statements, before a last one that is not understood tells anything


class Reading:
    """One reading of one document: the lines as they were read, and what they add up to.

    `version` is the firmware's, for a text whose head line does not tell it. Never raises,
    whatever the dump holds.
    """

    def __init__(self, document: Document, dialect: Dialect, version: tuple[int, ...]) -> None:
        self.document, self.dialect = document, dialect
        self.heads, self.version = _read_heads(document, dialect, version)
        self.tables = dialect.tables_for(self.version)
        self._reader = line_reader(dialect, self.version)
        going = _Pass(document, self._reader, self.heads)
        self.statements = self._settled(going.take_all())
        self._troubles = going.troubles

    def _settled(self, taken: tuple[StatementReading, ...]) -> tuple[StatementReading, ...]:
        """The statements with the values that hang on other settings, as far as these are known.

        One may hang on another that hangs on a third; nothing is stated where that goes round.
        """
        waiting = [
            n
            for n, entry in enumerate(taken)
            if entry.mentions and any(mention.spec.by for mention in entry.mentions)
        ]
        if not waiting:
            return taken
        found = list(taken)
        heads = (head for head in self.heads.values())
        mentions = (m for entry in (*heads, *taken) for m in entry.mentions)
        known = {m.path: m.stated.value for m in mentions if m.stated and not m.stated.doubt}
        values = ValueReader(self.tables, self.dialect.off)
        for path, text in self.dialect.given.items():
            given = values.mention(path, _PLAIN, text, None)
            if given.stated is not None:
                known.setdefault(path, given.stated.value)
        for _ in range(len({m.spec.by for n in waiting for m in taken[n].mentions})):
            for number in waiting:
                values.troubles = []
                entry = found[number]
                now = tuple(_settle(mention, known, values) for mention in entry.mentions)
                known |= {m.path: m.stated.value for m in now if m.stated and not m.stated.doubt}
                troubles = (*entry.troubles, *values.troubles)
                found[number] = entry._replace(mentions=now, troubles=troubles)
        return tuple(found)

    def _repeats(self, repeats: Iterable[tuple[Stated, Stated]]) -> Iterator[tuple[Stated, Stated]]:
        """What is stated twice, but for what a head line says again: it is no setting's line."""
        for one, other in repeats:
            by_head = any(e.place is not None and e.place.line in self.heads for e in (one, other))
            if not by_head or one.value != other.value:
                yield one, other

    @cached_property
    def settings(self) -> Settings:
        """What the document states, all of it."""
        said, reader = self.dialect, self._reader
        collector, given = Collector(), ValueReader(said.tables, said.off)
        for line, head in self.heads.items():
            collector.take(head.mentions, line)
        for path, text in said.given.items():
            collector.take([given.mention(path, _PLAIN, text, None, origin=Origin.GIVEN)], 0)
        troubles = [t for head in self.heads.values() for t in head.troubles] + given.troubles
        leftovers: list[Leftover] = []
        own: dict[str, None] = {}  # the settings that a line states whose key is somebody's own
        for entry in self.statements:
            if entry.role is Role.HEAD or entry.role is Role.SILENT:
                continue
            if entry.mentions:
                collector.take(entry.mentions, entry.statement.line)
            leftovers += entry.leftovers
            if entry.template is not None and is_private_line(entry.template.line):
                own |= dict.fromkeys(m.target.path for m in entry.mentions if _tells(m))
                troubles += [t._replace(message=_OWN, secret=True) for t in entry.troubles]
            else:
                troubles += entry.troubles
        troubles += [*self._troubles, *self._truncated(), *self._wrapped()]
        collector.put_together()
        unclear = {path for leftover in leftovers for path in leftover.states}
        factory = {p: text for p, text in reader.factory.texts.items() if p not in unclear}
        troubles += _stand_in_factory(collector.stated, factory, said.file)
        secret = (*said.secret, *own)
        known = marked(collector.stated, said.volatile, secret)
        stated, raw = mark_private(known, self._raw(leftovers))
        return Settings(
            stated=stated,
            repeats=mark_secret_pairs(self._repeats(collector.repeats), secret),
            raw=raw,
            troubles=tuple(
                sorted(
                    troubles, key=lambda t: (t.place.line, t.place.column) if t.place else (0, 0)
                )
            ),
            dumps=(self._facts(),),
            factory=reader.factory,
            idle=collector.idle,
            annotations=tuple(annotations_of(self.document, self.statements)),
        )

    @cached_property
    def marks(self) -> tuple[Mention, ...]:
        """Every value that is stated, with its statement, in order: those of head lines first."""
        heads = (mention for head in self.heads.values() for mention in head.mentions)
        others = (
            Mention(*mention[:-1], number)
            for number, entry in enumerate(self.statements)
            for mention in (entry.mentions if entry.role is not Role.HEAD else ())
        )
        return (*heads, *others)

    @cached_property
    def stating(self) -> frozenset[str]:
        """The settings that some statement states."""
        return frozenset(mark.path for mark in self.marks if mark.statement >= 0)

    def of(self, path: str) -> list[Mention]:
        """The marks of a setting, those of its elements' parts among them, in order."""
        return [mark for mark in self.marks if mark.target.path == path]

    @cached_property
    def openers(self) -> tuple[tuple[int, ...], ...]:
        """For each statement, which statements opened the contexts that are open after it."""
        found: list[tuple[int, ...]] = []
        now: tuple[int, ...] = ()
        for number, entry in enumerate(self.statements):
            depth = len(entry.context.chain)
            now = (*now[: depth - 1], number) if entry.role is Role.OPENS else now[:depth]
            found.append(now)
        return tuple(found)

    @property
    def leftovers(self) -> list[Leftover]:
        """What no mapping took: lines, and fields of lines."""
        return [leftover for entry in self.statements for leftover in entry.leftovers]

    def _facts(self) -> DumpFacts:
        document, count = self.document, len(self.statements)
        # by what was read: of a dump that has most lines of another only the rest are parsed
        unread = sum(isinstance(entry.statement.shape, Unread) for entry in self.statements)
        return DumpFacts(
            document.name, self.dialect.name, count, unread, count, document.notes,
            needed_by(self.dialect),
        )  # fmt: skip

    def _truncated(self) -> Iterator[Trouble]:
        last = Place(self.document.name, self.document.last_line)
        chain = self.statements[-1].context.chain if self.statements else ()
        opened = [context for context in chain if context.form is Opener]
        if opened and self._closes_by_a_word(opened):
            return
        if opened:
            message = f"the dump stops inside of {opened[-1].name or 'a block'}"
            yield Trouble(TroubleKind.TRUNCATED, message, last)
        elif self.dialect.look.end and Role.END not in {entry.role for entry in self.statements}:
            message = f"the dump lacks its end mark, {self.dialect.look.end!r}"
            yield Trouble(TroubleKind.TRUNCATED, message, last)
        elif self._stops_in_a_line():
            message = "the dump stops in the middle of its last line"
            yield Trouble(TroubleKind.TRUNCATED, message, last)

    def _closes_by_a_word(self, opened: Sequence[Context]) -> bool:
        """Whether the last line closes all blocks that are open with a word of the firmware's own.

        Such a word stands alone, where the line stood that opened the block, and as often as there
        are blocks: of a single one only where its head is a word alone as well. Where a block
        beside it was closed in the usual way, or a remark leads over to the word, it closes none.
        """
        lines = self.document.lines
        said = [n for n, line in enumerate(lines) if line.strip()]
        last = lines[said[-1]].rstrip()
        above, word = lines[said[-2]], last.strip()
        if not _LONE.fullmatch(word) or isinstance(parse_line(above), Comment):
            return False
        if len(opened) == 1 and not _LONE.fullmatch(opened[0].line):
            return False
        heads = [lines[self.statements[n].statement.first] for n in self.openers[-1]]
        if "{" in opened[0].line or indent_of(last) != indent_of(heads[0]):
            return False
        depth = len(opened[0].chain)
        closed = any(
            entry.role is Role.CLOSES and len(entry.context.chain) < depth
            for entry in self.statements
        )
        return not closed and sum(line.strip() == word for line in lines) == len(opened)

    def _wrapped(self) -> Iterator[Trouble]:
        """The lines that seem to be broken, and stayed in pieces."""
        message = "they seem to be wrapped, and could not be put together"
        for index in self.document.broken:
            place = Place(self.document.name, index + 1)
            yield Trouble(TroubleKind.WRAPPED, message, place)

    def _stops_in_a_line(self) -> bool:
        """Whether the last line has no line end and says nothing known, as hardly another does."""
        ends, document = self.document.text.ends, self.document
        if document.part is not None or not ends or ends[-1] or len(self.statements) < _WHOLE:
            return False
        roles = Counter(entry.role for entry in self.statements)
        lost = self.statements[-1].role in (Role.LEFT, Role.UNREAD)
        return lost and roles[Role.LEFT] + roles[Role.UNREAD] < 0.1 * roles[Role.STATES]

    def _raw(self, leftovers: list[Leftover]) -> Mapping[str, Raw]:
        """What the lines without a mapping come to; the same as before where they are the same."""
        key = self.document.name, len(leftovers)
        before = self._reader.leftovers.get(key)
        if before is None or before[0] != leftovers:
            before = self._reader.leftovers[key] = leftovers, self._raw_anew(leftovers)
        return before[1]

    def _raw_anew(self, leftovers: Sequence[Leftover]) -> dict[str, Raw]:
        heads = (line.template.head for line in self.dialect.lines if line.template.head)
        secret = self.dialect.secret
        depths = key_depths(leftovers)
        depths |= secret_depths(depths, secret)
        found = raw_settings(leftovers, self.document.name, depths, promises_of(self.dialect))
        return marked(with_nearest(found, heads), self.dialect.volatile, secret)


def _settle(mention: Mention, known: Mapping[str, Value], values: ValueReader) -> Mention:
    """A mention whose value hangs on another setting, with its value if that one is known."""
    spec = mention.spec.settled(known.get) if mention.spec.by and mention.stated is None else None
    if spec is None:
        return mention
    made = values.mention(mention.path, spec, mention.text, mention.place, mention.span)
    return made._replace(spec=mention.spec)


def _read_heads(
    document: Document, dialect: Dialect, version: tuple[int, ...]
) -> tuple[dict[int, StatementReading], tuple[int, ...]]:
    """What head lines state, by their number in the file; and the version that they tell."""
    found: dict[int, StatementReading] = {}
    values, root = ValueReader(dialect.tables, dialect.off), Context(None)
    for number, line in document.top(HEAD_LINES) if dialect.head else ():
        bound = dialect.head_in(line.strip())
        if bound is None:
            continue
        indent = len(line) - len(line.lstrip())
        values.troubles, mentions = [], []
        for holder, span in bound:
            place = document.place(number - 1, Span(span.text, span.start + indent))
            mentions.append(values.mention(holder.target, holder.spec, span.text, place))
            if holder.target == "firmware.version" and mentions[-1].stated is not None:
                version = version_numbers(str(mentions[-1].stated.value))
        statement, troubles = Statement(Blank(), number - 1), tuple(values.troubles)
        found[number] = StatementReading(
            statement, Role.HEAD, root, tuple(mentions), troubles=troubles
        )
    return found, version


def _stand_in_factory(
    stated: dict[str, Stated], texts: Mapping[str, str], file: str
) -> Iterator[Trouble]:
    """Put factory values where the dump states none."""
    for path, text in texts.items():
        if path not in stated or stated[path].origin is Origin.GIVEN:
            try:
                value = plain_value(path, text)
            except BadValue as error:
                message = f"factory value of {path} in {file}: {error}"
                yield Trouble(TroubleKind.IMPOSSIBLE, message, None, path)
                continue
            stated[path] = Stated(path, value, None, Origin.FACTORY, text)


def read(document: Document, dialect: Dialect, version: tuple[int, ...] = ()) -> Reading:
    """Read a document in one dialect. Never raises."""
    return Reading(document, dialect, version)


def read_settings(document: Document, dialect: Dialect) -> Settings:
    """The settings that a document states, in one dialect. Never raises."""
    return Reading(document, dialect, ()).settings


@lru_cache(maxsize=16)
def needed_by(dialect: Dialect) -> tuple[str, ...]:
    """What of that which no first flight goes without a dialect has lines for."""
    paths = {holder.target for line in dialect.lines for holder in line.targets}
    return tuple(
        what for what, begins in NEEDED.items() if any(p.startswith(begins) for p in paths)
    )


@lru_cache(maxsize=16)
def promises_of(dialect: Dialect, *, names: bool = False) -> tuple[Promise, ...]:
    """What the lines of a dialect promise that state a secret; with `names` the craft's too."""
    found = (
        promise_of(line.template, holder.target)
        for line in dialect.lines
        for holder in line.template.values
        if is_secret_path(holder.target, dialect.secret)
        or (names and holder.target == "craft.name")
    )
    return tuple(promise for promise in found if promise is not None)


def _tells(mention: Mention) -> bool:
    """Whether a value may be of somebody: neither yes nor no is."""
    stated = mention.stated
    return stated is None or not (isinstance(stated.value, bool) or says_nothing(stated.text))
