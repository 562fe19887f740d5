"""The shapes that a line can have, the look of a dialect, and the words and cells of a line."""

import re
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import product
from typing import NamedTuple


class Look(NamedTuple):
    """The look of one firmware's dump; every field has the usual look as its default."""

    prompts: tuple[str, ...] = ()  # stripped from the front of a line; `*` is any count: `[*]`
    lead: str = ""  # a word that stands before every assignment
    continues: str = ""  # a line that ends with it goes on in the next one
    starts: tuple[str, ...] = ()  # what begins a statement that goes on in lines that begin with
    # none; `*` is a line that is not indented
    opens: tuple[str, ...] = ()  # words that begin a block, besides `begin` and `{`
    closes: tuple[str, ...] = ()  # words that end one, besides `end` and `}`
    end: str = ""  # the whole line that ends the dump; empty where none is promised
    ignore: tuple[str, ...] = ()  # noise: whole lines, `*` for any text
    titles: tuple[str, ...] = ()  # section heads besides `[name]`: `-- * --`, a sign as often
    blanks: str = ""  # signs that part words as blanks do: `port;1;use`
    edges: str = ""  # signs that do so where a word begins or ends: `--cells=4`, `+- port`
    remarks: tuple[str, ...] = ()  # what begins a remark, besides the usual marks: `%`, `REM`
    fillers: tuple[str, ...] = ()  # words that are read as blanks: `key a_b value 4`
    cells: str = ""  # a sign that parts cells as a comma does: `usb | console | -`, `KEY;1;;2`
    colons: bool = False  # `arm: by switch`: a word with a colon is a line's first word, no key

    @property
    def parts(self) -> str:
        """The signs that are read as others."""
        return "".join((self.blanks, self.edges, self.cells, *self.remarks, *self.fillers))


class Span(NamedTuple):
    """A stretch of a line: its text and the index at which it starts."""

    text: str
    start: int

    @property
    def end(self) -> int:
        """The index behind the last character."""
        return self.start + len(self.text)


class Blank:
    """Nothing, or only blanks."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Blank)

    def __hash__(self) -> int:
        return hash(Blank)

    def __repr__(self) -> str:
        return "Blank()"


class Comment(NamedTuple):
    """A line that is all comment; `body` is what stands behind the mark."""

    mark: str
    body: Span


class Section(NamedTuple):
    """A section head; `name` without its brackets."""

    name: Span


class Opener(NamedTuple):
    """The line that begins a block; `name` is what stands between the begin word and the end."""

    name: Span


class Closer(NamedTuple):
    """The line that ends a block or, outside of one, the dump."""

    name: Span


class Assignment(NamedTuple):
    """A key and a value; the value's span is empty where nothing stands behind the sign."""

    key: Span
    sign: str
    value: Span


class Directive(NamedTuple):
    """A word and its arguments; `words` in reading/words.py cuts the body."""

    body: Span


class Row(NamedTuple):
    """Cells between commas or tabs; `cells` in reading/words.py cuts the body."""

    body: Span


class Unread(NamedTuple):
    """A line that the grammar can't read: the column (from 1), and what was expected there."""

    column: int
    expected: str


Shape = Blank | Comment | Section | Opener | Closer | Assignment | Directive | Row | Unread


_WORD = re.compile(r'(?:[^\s"]|"[^"]*")+')
_CELL = {
    ",": re.compile(r'(?:[^,"]|"[^"]*")*'),
    "\t": re.compile(r'(?:[^\t"]|"[^"]*")*'),
}
_NAME = re.compile(r"[A-Za-z_][\w.\-]*")


@lru_cache(maxsize=16)  # one line is cut several times over while its mapping is sought
def words(body: Span) -> tuple[Span, ...]:
    """The words of a body, cut at blanks outside of quotes.

    >>> [w.text for w in words(Span('link 2 name="a b"', 0))]
    ['link', '2', 'name="a b"']
    """
    return tuple(Span(m.group(), body.start + m.start()) for m in _WORD.finditer(body.text))


def cells(body: Span) -> tuple[Span, ...]:
    """The cells of a row, cut at commas, else at tabs, and trimmed of blanks.

    At tabs, too, where one stands between blanks.

    >>> [c.text for c in cells(Span("PACK LOW, 350,V", 0))]
    ['PACK LOW', '350', 'V']
    """
    pattern = _CELL["," if "," in body.text and " \t " not in body.text else "\t"]
    found: list[Span] = []
    position = 0
    while True:
        match = pattern.match(body.text, position)
        end = match.end() if match is not None else position
        if end < len(body.text) and body.text[end] == '"':  # a lone mark: the rest is one cell
            end = len(body.text)
        found.append(trimmed(Span(body.text[position:end], body.start + position)))
        position = end + 1
        if end >= len(body.text):
            return tuple(found)


def celled(line: str, sign: str) -> str:
    """A line with tabs in place of a sign between its cells; as long as it was.

    A bar parts cells between blanks alone; another sign wherever it stands outside of quotes. A
    line that begins with such a sign is a remark.

    >>> celled("| usb | console |", "|").split("\\t"), celled("jobs a|b", "|")
    (['  usb ', ' console  '], 'jobs a|b')
    >>> celled('NAME;"a;b";;', ";").split("\\t"), celled("; pads", ";")
    (['NAME', '"a;b"', '', ''], '; pads')
    """
    if sign and sign != "|":
        quoted = re.compile(rf'"[^"]*"|{re.escape(sign)}')
        remark = line.lstrip().startswith(sign)
        return line if remark else quoted.sub(lambda it: "\t" if it[0] == sign else it[0], line)
    start, stop = len(line) - len(line.lstrip()), len(line.rstrip())
    inner = f"{line[:start]} {line[start + 1 :]}" if line[start:stop].startswith(sign) else line
    if line[start:stop].endswith(sign):
        inner = f"{inner[: stop - 1]} {inner[stop:]}"
    signs = inner.count(sign)
    if not sign or not signs or len(re.findall(rf"(?<=\s){re.escape(sign)}(?=\s)", inner)) < signs:
        return line
    return inner.replace(sign, "\t")


def titled(line: str, titles: Sequence[str]) -> Section | None:
    """The section head that a line is by one of a look's titles; None where it is none.

    A sign that a title has twice or more may stand there more often. As behind any other line, a
    comment may stand behind it.

    >>> titled("--- pads ------", ("-- * --",)).name.text
    'pads'
    >>> titled("ports:   # all of them", ("*:",)).name.text
    'ports'
    """
    whole = line.strip()
    for title, bare in product(titles, dict.fromkeys((whole, without_comment(whole)))):
        signs = title_signs(title)
        if signs is None:
            continue
        before, behind, apart = signs
        inner = bare[len(before) : len(bare) - len(behind)]
        if not inner or not (bare.startswith(before) and bare.endswith(behind)):
            continue
        inner = inner.lstrip(before[-1]) if len(before) > 1 else inner
        inner = inner.rstrip(behind[-1]) if len(behind) > 1 else inner
        name = inner.strip()
        parted = inner[:1].isspace() or not before, inner[-1:].isspace() or not behind
        if (all(parted) or not apart) and _NAMED.match(name) and not _STATES.search(name):
            return Section(Span(name, line.index(name, line.index(bare) + len(before))))
    return None


def without_comment(line: str) -> str:
    """A line without the comment behind it.

    >>> without_comment("ports:  # all of them")
    'ports:'
    """
    return _COMMENT_BEHIND.split(line, maxsplit=1)[0]


_COMMENT_BEHIND = re.compile(r"(?<![ \t])[ \t]+(?:#|;|/[/*])")


def worded(shape: Shape, line: str) -> Shape:
    """The shape of a line of a dump in which a word with a colon is the first word of a line.

    >>> worded(Assignment(Span("arm", 0), ":", Span("by switch", 5)), "arm: by switch").body.text
    'arm: by switch'
    """
    if isinstance(shape, Assignment) and shape.sign == ":" and shape.value.text:
        start, end = shape.key.start, shape.value.end
        if line[shape.key.end : shape.key.end + 1] == ":" and " " not in shape.key.text:
            return Directive(Span(line[start:end], start))
    return shape


@lru_cache(maxsize=100)
def title_signs(title: str) -> tuple[str, str, bool] | None:
    """What stands before and behind a title's name, and whether blanks part them from it.

    None where it is no title: it must have one star that stands for the name, and signs beside it.
    """
    apart = re.fullmatch(r"(?:(\S+) )?\*(?: (\S+))?", title)
    found = apart or re.fullmatch(r"([^\s*]*)\*([^\s*]*)", title)
    if found is None or title == "*":
        return None
    return found[1] or "", found[2] or "", apart is not None


_NAMED = re.compile(r"[^\W_]|[\ue000-\uf8ff]")  # the latter stand for a mapping's placeholders
_STATES = re.compile(r"[=\t\"]|: ")


def trimmed(span: Span) -> Span:
    """The span without the blanks around it."""
    left = len(span.text) - len(span.text.lstrip())
    return Span(span.text.strip(), span.start + left)


def named(word: Span) -> tuple[str, Span] | None:
    """The name and the value of a name=value word, or of a name:value word, else None."""
    name, sign, value = word.text.partition("=")
    if not sign:
        name, sign, value = word.text.partition(":")
        sign = value and sign
    if not sign or not _NAME.fullmatch(name):
        return None
    return name, Span(value, word.start + len(name) + 1)


def unquoted(text: str) -> str:
    """The text without the quotes around it, if it is quoted whole.

    Between double quotes two of them in a row are one, as in RFC 4180.

    >>> unquoted('"7"" frame"'), unquoted("'7 inch'")
    ('7" frame', '7 inch')
    """
    if len(text) >= 2 and text[0] == text[-1] and text[0] in "\"'":
        return text[1:-1].replace('""', '"') if text[0] == '"' else text[1:-1]
    return text


def quoted(text: str) -> str:
    """The text in double quotes, so that a line has it as one piece and `unquoted` gives it back.

    >>> quoted('7" frame')
    '"7"" frame"'
    """
    doubled = text.replace('"', '""')
    return f'"{doubled}"'


class Number(NamedTuple):
    """A number, exact, with the unit that was glued to it."""

    text: str
    value: Fraction
    unit: str = ""


class Range(NamedTuple):
    """The two ends of a range."""

    low: Number
    high: Number


class Word(NamedTuple):
    """A bare word."""

    text: str


class Quoted(NamedTuple):
    """A quoted text, without its quotes."""

    text: str


ValuePart = Number | Range | Word | Quoted


class Item(NamedTuple):
    """What stands between two commas: perhaps a label (`5:`), then its parts."""

    label: int | None
    parts: tuple[ValuePart, ...]
