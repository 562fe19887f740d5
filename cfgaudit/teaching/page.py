"""The text of a dialect file, and what is to be put between its letters; none of them is moved."""

import re
import tomllib
from collections.abc import Mapping, Sequence

from cfgaudit.reading.toml_places import Key, line_of, places, spans
from cfgaudit.teaching.write import quoted

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
