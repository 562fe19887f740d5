"""TOML texts: read within bounds, where each key stands, and entries added with all else kept.

The reader of the standard library gives values alone. Of a text that it reads `places`
tells where each key stands; nothing is checked here a second time. TOML 1.0.0 (toml.io) says what a
key, a header and a string look like.

Why not by a library: tomlkit counts the comment above a table's head as the end of the table
before, and so puts a new key between a comment and what it is about.
"""

import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

Key = tuple[str | int, ...]  # table names and keys, and the index (from 0) within an array

LARGEST = 1_000_000  # characters: far above what a sheet or a dialect has
DEEPEST = 32  # words of one dotted key: what reads TOML takes a time that grows by its square
_DEEP = re.compile(
    r"""(?:^|[\[{,])[ \t]*+(?:(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*+\.[ \t]*+)"""
    f"{{{DEEPEST}}}",
    re.MULTILINE,
)
_AT = re.compile(r" \(at line (\d+), column (\d+)\)$")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


class TomlError(ValueError):
    """A text that can't be read: line and column from 1, the column 0 where it can't be told."""

    def __init__(self, message: str, line: int = 1, column: int = 0) -> None:
        super().__init__(message)
        self.line, self.column = line, column


def parsed(text: str) -> dict[str, Any]:
    """What a TOML text holds. Raises TomlError, also for one that would hold the machine up."""
    if len(text) > LARGEST:
        raise TomlError(f"is larger than {LARGEST:,} characters")
    deep = _DEEP.search(text)
    if deep is not None:
        line = text.count("\n", 0, deep.start()) + 1
        raise TomlError(f"a key has more than {DEEPEST} words with dots between them", line)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _told(str(error), text) from None
    except RecursionError:
        raise TomlError("lists or tables lie too deep in each other") from None
    except ValueError as error:  # a number of some thousand digits
        raise TomlError(f"holds a number that can't be read: {error}") from None


def _told(message: str, text: str) -> TomlError:
    """The library's message, its place taken out of the words."""
    at = _AT.search(message)
    said = _AT.sub("", message).replace(" (at end of document)", " before the end")
    line, column = (int(at[1]), int(at[2])) if at else (text.count("\n") + 1, 0)
    return TomlError(f"is no TOML: {said[:1].lower()}{said[1:]}", line, column)


_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")  # between statements, and within an array
_SPACE = re.compile(r"[ \t]*")
_WORD = re.compile(r'[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'')
_DOT = re.compile(r"[ \t]*\.[ \t]*")
_SCALAR = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}'  # up to two marks may stand before the closing three
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'"
    r"|[^\[\]{},#\r\n\"']+",  # a number, a date, true or false
    re.DOTALL,
)


def places(text: str) -> Mapping[Key, int]:
    """The line (from 1) of every table, key and array item that a TOML text holds.

    A table stands where its own header is, else where it is first mentioned. What is inside an
    inline table is not in the mapping; `line_of` gives the line where the table begins. Works
    on any text that tomllib reads.

    >>> places('[a]\\nb.c = 1\\nd = [2,\\n 3]')[("a", "d", 1)]
    4
    """
    return _TomlScan(text).lines


def line_of(found: Mapping[Key, int], path: Key) -> int:
    """The line of a path, else of the nearest thing around it that has one; 1 for nothing.

    >>> line_of(places('# a club\\nwhen = { setting = "esc.idle" }'), ("when", "setting"))
    2
    """
    for length in range(len(path), 0, -1):
        if path[:length] in found:
            return found[path[:length]]
    return 1


class Places:
    """Where the keys and the values of a TOML text stand; inline tables are looked into too."""

    def __init__(self, text: str) -> None:
        self._text, self._walk = text, _TomlScan(text)

    def of(self, path: Key, letter: int | None = None) -> tuple[int, int]:
        """Line and column, from 1, of a key's value, or of a letter (from 0) of a text.

        The column is 0 where a key has none of its own; of a text that is written with escapes,
        or over several lines, it is where the text begins.

        >>> Places('[a]\\nb = { c = ["xyz"] }').of(("a", "b", "c", 0), 2)
        (2, 15)
        """
        span = self._walk.spans.get(path) or self._walk.inner.get(path)
        if span is None:
            return line_of(self._walk.lines, path), 0
        start, end = span
        raw = self._text[start:end]
        plain = raw[:1] in ("'", '"') and "\\" not in raw and raw[:3] not in ('"""', "'''")
        at = start + (letter + 1 if letter is not None and plain else 0)
        line = self._text.count("\n", 0, at) + 1
        return line, at - self._text.rfind("\n", 0, at)


class _TomlScan:
    """One pass over a text: `at` is the place reached, `table` the path of the header above."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Key, int] = {}
        self.spans: dict[Key, tuple[int, int]] = {}
        self.inner: dict[Key, tuple[int, int]] = {}  # as spans, of what is inside inline tables
        self.heads: dict[Key, int] = {}  # where the line behind a table's header begins
        self._counted = (0, 1)  # a place in the text, and its line
        self._items: dict[Key, int] = {}  # arrays of tables: how many there are so far
        table: Key = ()
        self._skip(_BLANK)
        while self.at < len(text):
            if text[self.at] == "[":
                table = self._header()
            else:
                self._assignment(table)
            self._skip(_BLANK)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        if match is not None:
            self.at = match.end()

    def _line(self) -> int:
        """The line that `at` is in."""
        before, line = self._counted
        self._counted = (self.at, line + self.text.count("\n", before, self.at))
        return self._counted[1]

    def _header(self) -> Key:
        """A table's header; the table's path, with an index for each array on the way."""
        line = self._line()
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        self._skip(_SPACE)
        *above, last = self._key()
        self._skip(_SPACE)
        self.at += 2 if many else 1
        path: Key = ()
        for word in above:
            path = self._entered((*path, word), line)
        path = (*path, last)
        if many:
            self._items[path] = self._items.get(path, 0) + 1
            path = self._entered(path, line)
        self.lines[path] = line
        self.heads[path] = self.at
        return path

    def _entered(self, path: Key, line: int) -> Key:
        """The table that a name in a header leads to: of an array of tables, the last one."""
        self.lines.setdefault(path, line)
        count = self._items.get(path)
        return path if count is None else (*path, count - 1)

    def _assignment(self, table: Key) -> None:
        line = self._line()
        path = table
        for word in self._key():
            path = (*path, word)
            self.lines.setdefault(path, line)
        self._skip(_SPACE)
        self.at += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path)

    def _key(self) -> list[str]:
        """The words of a key, dotted or not."""
        words: list[str] = []
        while (match := _WORD.match(self.text, self.at)) is not None:
            self.at = match.end()
            words.append(_unquoted(match.group()))
            dot = _DOT.match(self.text, self.at)
            if dot is None:
                break
            self.at = dot.end()
        return words

    def _value(self, path: Key, inside: bool = False) -> None:
        """Walk over a value; the items of an array have lines, but for those in inline tables."""
        start = self.at
        if self.text[self.at] == "[":
            self._array(path, inside)
        elif self.text[self.at] == "{":
            self._inline_table(path)
        else:
            self._skip(_SCALAR)
        end = start + len(self.text[start : self.at].rstrip())
        (self.inner if inside else self.spans)[path] = (start, end)

    def _array(self, path: Key, inside: bool) -> None:
        self.at += 1
        self._skip(_BLANK)
        index = 0
        while self.text[self.at] != "]":
            item = (*path, index)
            if not inside:
                self.lines[item] = self._line()
            self._value(item, inside)
            self._skip(_BLANK)
            if self.text[self.at] == ",":
                self.at += 1
                self._skip(_BLANK)
            index += 1
        self.at += 1

    def _inline_table(self, path: Key) -> None:
        self.at += 1
        self._skip(_BLANK)
        while self.text[self.at] != "}":
            key = (*path, *self._key())
            self._skip(_SPACE)
            self.at += 1  # the equals sign
            self._skip(_SPACE)
            self._value(key, inside=True)
            self._skip(_BLANK)
            if self.text[self.at] == ",":
                self.at += 1
                self._skip(_BLANK)
        self.at += 1


def _unquoted(word: str) -> str:
    """A key's name; escapes are left to the standard library."""
    if word[0] not in "\"'":
        return word
    return next(iter(tomllib.loads(f"{word} = 0")))


class CannotAdd(ValueError):  # noqa: N818 (the file is written so, no fault of ours)
    """Why nothing can be added: the line (from 1; 0 for none in particular), and what to do."""

    def __init__(self, line: int, message: str) -> None:
        super().__init__(message)
        self.line = line


class Page:
    """A TOML text to which entries of lists and tables are added; every byte of it stays."""

    def __init__(self, text: str) -> None:
        self._mark = "\ufeff" if text.startswith("\ufeff") else ""
        self._text = text.removeprefix("\ufeff")
        self._end = "\r\n" if "\r\n" in text else "\n"
        self._walk = _TomlScan(self._text)
        self._put: list[tuple[int, str]] = []  # where in the text, and what
        self._behind: list[str] = []  # lines at the end of the file

    @cached_property
    def _data(self) -> dict[str, Any]:
        return tomllib.loads(self._text)

    def text(self) -> str:
        """The text with all that was put into it, new lines ended as its own are."""
        parts, at = [self._mark], 0
        for place, what in sorted(self._put, key=lambda put: put[0]):
            parts += [self._text[at:place], what]
            at = place
        made = "".join([*parts, self._text[at:]])
        if self._behind:
            made = made.rstrip(" \t\r\n")
            gap = self._end if made.strip("\ufeff") else ""
            made += gap + self._end.join([*self._behind, ""])
        return made

    def has_head(self, table: Sequence[str]) -> bool:
        """Whether a table has a head of its own."""
        return self._path(table) in self._walk.heads

    def has_list(self, name: str) -> bool:
        """Whether a key at the top holds a list that is written as one."""
        return (name,) in self._walk.spans

    def put_behind(self, lines: Sequence[str]) -> None:
        """Put lines behind everything, with an empty one before them."""
        self._behind += ["", *lines]

    def put_item(self, name: str, item: str) -> None:
        """The last item of a list: on a line of its own where the closing bracket has one."""
        start, stop = self._walk.spans[(name,)]
        close = stop - 1
        items = [span for own, span in self._walk.spans.items() if own[:-1] == (name,)]
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

    def put_keys(self, table: Sequence[str], said: Sequence[str]) -> None:
        """Add `key = value` lines to a table, which need not be there. Raises CannotAdd."""
        path = self._path(table)
        own = self._walk.spans.get(path)
        around = next((path[:n] for n in range(1, len(path)) if path[:n] in self._walk.spans), ())
        if own is not None:
            self._put_into_inline(own, said)
        elif path in self._walk.heads:
            self._put_below_head(path, said)
        elif around and self._holds(path):
            line = line_of(self._walk.lines, path)
            where = ".".join(table[:-1])
            raise CannotAdd(line, f"put {', '.join(said)} into {table[-1]} of {where} there")
        elif around:
            inner = "{ " + ", ".join(said) + " }"
            for word in reversed(table[len(around) :]):
                inner = f"{key_text(word)} = {inner}"
                inner = inner if word == table[len(around)] else "{ " + inner + " }"
            self._put_into_inline(self._walk.spans[around], [inner])
        elif self._holds(path):
            name = ".".join(table)
            line = line_of(self._walk.lines, path)
            raise CannotAdd(line, f"{name} must have a head of its own, [{name}]")
        else:
            self.put_behind([f"[{'.'.join(map(key_text, table))}]", *said])

    def _path(self, table: Sequence[str]) -> Key:
        """A table's key; one of a list of tables is named by its number, from 1."""
        *above, last = table
        numbered: Key = (*above, int(last) - 1) if last.isdigit() else ()
        return numbered if numbered in self._walk.heads else tuple(table)

    def _holds(self, path: Key) -> bool:
        held: Any = self._data
        for word in path:
            if not isinstance(held, Mapping) or word not in held:
                return False
            held = held[word]
        return True

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

    def _put_below_head(self, path: Key, said: Sequence[str]) -> None:
        """Below the last key of a table that stands under its header, else below the header."""
        head = self._walk.heads[path]
        after = min((at for at in self._walk.heads.values() if at > head), default=len(self._text))
        inside = [
            stop
            for own, (start, stop) in self._walk.spans.items()
            if own[: len(path)] == path and head < start < after
        ]
        end = self._line_end(max([head, *inside]))
        added = self._end.join(said)
        if end == len(self._text):
            self._put.append((end, f"{self._end}{added}"))
        else:
            self._put.append((end + 1, f"{added}{self._end}"))

    def _line_end(self, at: int) -> int:
        """Where the line ends that a place is in: its line feed, or the end of the text."""
        end = self._text.find("\n", at)
        return len(self._text) if end < 0 else end


def key_text(name: str) -> str:
    """A key as TOML writes it.

    >>> key_text("uart1"), key_text("arm switch")
    ('uart1', '"arm switch"')
    """
    return name if _BARE.fullmatch(name) else quoted(name)


def quoted(text: str) -> str:
    """A text in TOML's double quotes; whatever could act on a screen is escaped."""
    return '"' + "".join(_escaped(letter) for letter in text) + '"'


def _escaped(letter: str) -> str:
    if letter in '"\\':
        return "\\" + letter
    if letter.isprintable():
        return letter
    return f"\\u{ord(letter):04X}" if ord(letter) < 0x10000 else f"\\U{ord(letter):08X}"
