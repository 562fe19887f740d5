"""A text on the workbench: lines that are cut and changed, each letter knowing its place."""

from collections.abc import Iterator, Sequence

Joints = tuple[tuple[int, int, int], ...]  # (index in the text, line index, column index)
LONGEST = 10_000  # characters; a longer line is left alone, since it is not read either


class Sheet:
    """Lines under repair, and the notes of what was done to them."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = list(lines)
        self.notes: list[str] = []
        self._columns: dict[int, list[int]] = {}  # of each altered line: a column a letter
        self._joined: dict[int, tuple[int, str]] = {}  # a line to the one it goes on from

    def short(self) -> Iterator[tuple[int, str]]:
        """The lines that are not too long to be read, with their indices."""
        return ((i, line) for i, line in enumerate(self.lines) if len(line) <= LONGEST)

    def cut(self, index: int, start: int, stop: int) -> None:
        """Take a stretch out of a line."""
        columns = self._columns_of(index)
        line = self.lines[index]
        self.lines[index] = line[:start] + line[stop:]
        del columns[start:stop]

    def put(self, index: int, start: int, stop: int, text: str) -> None:
        """Put a text in place of a stretch; each new letter stands where the stretch begins."""
        columns = self._columns_of(index)
        line = self.lines[index]
        self.lines[index] = line[:start] + text + line[stop:]
        if len(text) != stop - start:
            columns[start:stop] = [columns[start]] * len(text)

    def pass_over(self, index: int) -> None:
        """Read a line as if it were blank."""
        self.cut(index, 0, len(self.lines[index]))

    def go_on(self, index: int, upper: int, between: str) -> None:
        """Read a line as the rest of an upper one, with what was `between` them before."""
        self._joined[index] = (upper, between)

    def note(self, count: int, one: str, many: str) -> None:
        """Say what was done, if anything was: `many` has {} for the count."""
        if count:
            self.notes.append(one if count == 1 else many.format(f"{count:,}"))

    def read(self) -> Iterator[tuple[str, int, Joints]]:
        """Each line to read: its text, its first line's index, its joints if it was altered."""
        rests: dict[int, list[int]] = {}
        for index, (upper, _) in self._joined.items():
            rests.setdefault(upper, []).append(index)
        for index, line in enumerate(self.lines):
            if index in self._joined:
                continue
            if index in rests:
                yield self._with_rests(index, rests[index])
            elif index in self._columns:
                yield line, index, tuple(self._runs(index, 0)) or ((0, index, 0),)
            else:
                yield line, index, ()

    def _with_rests(self, index: int, rests: Sequence[int]) -> tuple[str, int, Joints]:
        text = self.lines[index]
        joints = list(self._runs(index, 0))
        for rest in rests:
            text += self._joined[rest][1]
            joints += self._runs(rest, len(text))
            text += self.lines[rest]
        return text, index, tuple(joints)

    def _columns_of(self, index: int) -> list[int]:
        if index not in self._columns:
            self._columns[index] = list(range(len(self.lines[index])))
        return self._columns[index]

    def _runs(self, index: int, start: int) -> Iterator[tuple[int, int, int]]:
        """Where each unbroken run of a line's letters begins: in the text, and in the file."""
        columns = self._columns.get(index)
        if columns is None:
            yield start, index, 0
            return
        expected = -1
        for at, column in enumerate(columns):
            if column != expected:
                yield start + at, index, column
            expected = column + 1
