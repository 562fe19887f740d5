"""Where a key stands in a TOML text: the reader of the standard library gives values alone.

The text must be one that `tomllib` reads; nothing is checked here a second time. TOML 1.0.0
(toml.io) says what a key, a header and a string look like.
"""

import re
import tomllib
from collections.abc import Mapping

Key = tuple[str | int, ...]  # table names and keys, and the index (from 0) within an array

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
    return _Walk(text).lines


def spans(text: str) -> Mapping[Key, tuple[int, int]]:
    """Where the value of every key and array item begins and ends, as indices of the text.

    What is inside an inline table, and what tables with a header hold, is not in the mapping.

    >>> spans("a = [2,\\n { b = 1 }]")[("a", 1)]
    (9, 18)
    """
    return _Walk(text).spans


def line_of(found: Mapping[Key, int], path: Key) -> int:
    """The line of a path, else of the nearest thing around it that has one; 1 for nothing.

    >>> line_of(places('# a club\\nwhen = { setting = "esc.idle" }'), ("when", "setting"))
    2
    """
    for length in range(len(path), 0, -1):
        if path[:length] in found:
            return found[path[:length]]
    return 1


class _Walk:
    """One pass over a text: `at` is the place reached, `table` the path of the header above."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Key, int] = {}
        self.spans: dict[Key, tuple[int, int]] = {}
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
        if not many:
            self.lines[path] = line
            return path
        self._items[path] = self._items.get(path, 0) + 1
        path = self._entered(path, line)
        self.lines[path] = line
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

    def _value(self, path: Key | None) -> None:
        """Walk over a value; the items of an array have lines, if the array has a path."""
        start = self.at
        if self.text[self.at] == "[":
            self._array(path)
        elif self.text[self.at] == "{":
            self._inline_table()
        else:
            self._skip(_SCALAR)
        if path is not None:
            end = start + len(self.text[start : self.at].rstrip())
            self.spans[path] = (start, end)

    def _array(self, path: Key | None) -> None:
        self.at += 1
        self._skip(_BLANK)
        index = 0
        while self.text[self.at] != "]":
            item = None if path is None else (*path, index)
            if item is not None:
                self.lines[item] = self._line()
            self._value(item)
            self._skip(_BLANK)
            if self.text[self.at] == ",":
                self.at += 1
                self._skip(_BLANK)
            index += 1
        self.at += 1

    def _inline_table(self) -> None:
        self.at += 1
        self._skip(_BLANK)
        while self.text[self.at] != "}":
            self._key()
            self._skip(_SPACE)
            self.at += 1  # the equals sign
            self._skip(_SPACE)
            self._value(None)
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
