"""Three-way merges of demo dumps drawn by a seed, and what must hold of each.

Each side edits, takes out, doubles, moves and comments lines of a dump, whatever they state. What
comes out is held against both sides field by field, and comment by comment.
"""

import random
import re
from collections import Counter
from collections.abc import Hashable, Iterator

from cfgaudit.changes.diff import meaning
from cfgaudit.dialects.opening import open_every
from cfgaudit.dialects.raw import row_key
from cfgaudit.dialects.reader import read
from cfgaudit.git.merge import MergeResult
from tests.cli.calling import CORPUS
from tests.git.demo import dialects, text_of

CRAFT = ("dipper", "goosander", "wagtail", "sandpiper")
_WORD = re.compile(r"(?<![\w.])(\d+)(?![\w.])")
_MOST_LINES = 40  # of a dump: a stretch of it reads as well, and merges quicker


def three_sides(seed: int) -> tuple[str, str, str]:
    """A base and two sides: of a stretch of a demo craft's dump, or of two dumps in one file."""
    chance = random.Random(seed)
    base = _stretch(chance)
    if chance.random() < 0.15:
        base += _stretch(chance)
    lines = base.splitlines()
    near = sorted(chance.sample(range(3, len(lines) - 1), 3))  # so that both sides often meet
    return base, _edited(lines, near, chance), _edited(lines, near, chance)


def _stretch(chance: random.Random) -> str:
    lines = (CORPUS / f"{chance.choice(CRAFT)}.dump").read_text(encoding="utf-8").splitlines()
    head = next(n for n, line in enumerate(lines) if _is_head(line)) + 1
    begins = [n for n in range(head, len(lines) - 20) if _opens(lines[n])]
    start = chance.choice(begins)
    stop = next((n for n in begins if n > start + _MOST_LINES), len(lines) - 1)
    return "\n".join([*lines[:head], *lines[start:stop], lines[-1], ""])


def _is_head(line: str) -> bool:
    return re.search(r"(?i)\b(sedge|osier|marl) [0-9]+[.][0-9]", line) is not None


def _opens(line: str) -> bool:
    return line.startswith(("[", "begin ", "port ", "pad ", "arm "))


def _edited(lines: list[str], near: list[int], chance: random.Random) -> str:
    made = list(lines)
    for _ in range(chance.randint(1, 4)):
        at = min(chance.choice(near) + chance.choice((0, 0, 0, 1)), len(made) - 1)
        line = made[at]
        kind = chance.choice(("value", "value", "value", "out", "twice", "above", "behind", "move"))
        numbers = list(_WORD.finditer(line))
        if kind == "value" and numbers and not _opens(line):
            number = chance.choice(numbers)
            value = str(int(number.group()) + chance.randint(1, 2))
            made[at] = line[: number.start()] + value + line[number.end() :]
        elif kind == "out" and not _opens(line) and not line.startswith("end"):
            del made[at]
        elif kind == "twice" and not _opens(line) and not line.startswith("end"):
            made.insert(at, line)
        elif kind == "above":
            made.insert(at, f"# noted {chance.randint(1, 3)}")
        elif kind == "behind" and line.strip() and "#" not in line:
            made[at] = f"{line}  # seen {chance.randint(1, 3)}"
        elif kind == "move" and line.strip() and not _opens(line) and not _opens(made[at - 1]):
            made[at - 1], made[at] = line, made[at - 1]
    return "\n".join([*made, ""])


def losses(base: str, ours: str, theirs: str, outcome: MergeResult) -> Iterator[str]:
    """What a merge lost without a mark: nothing, or it is a fault."""
    text = text_of(outcome)
    yield from _unmarked(outcome, text)
    if not outcome.conflicts:
        yield from _fields_lost(base, ours, theirs, text)
    said = [Counter(_comments(side)) for side in (base, ours, theirs, text)]
    for side in said[1:3]:
        for note, count in (side - said[0]).items():
            if said[3][note] < count:
                yield f"the comment {note!r}"


def _unmarked(outcome: MergeResult, text: str) -> Iterator[str]:
    marks = [len(re.findall(f"^{sign * 7}( |$)", text, re.M)) for sign in "<=>"]
    if not outcome.conflicts <= marks[0] == marks[1] == marks[2] <= outcome.conflicts:
        yield f"{outcome.conflicts} conflicts with {marks} marks"


def _fields_lost(*texts: str) -> Iterator[str]:
    parts = [_parts(text) for text in texts]
    for number in range(max(map(len, parts))):
        was, mine, other, now = (side[number] if number < len(side) else {} for side in parts)
        for key in {*was, *mine, *other, *now}:
            for side in (mine, other):
                if side.get(key) != was.get(key) and now.get(key) != side.get(key):
                    yield f"{key} of dump {number + 1}: {side.get(key)}, now {now.get(key)}"
            if mine.get(key) == other.get(key) == was.get(key) != now.get(key):
                yield f"{key} of dump {number + 1}, which nobody changed: now {now.get(key)}"


def _parts(text: str) -> list[dict[str, object]]:
    """What each dump of a text says: every field of every line, in the order in which it is said.

    A stage of filters with a name is a setting of its own. Of lines without a setting it is told
    how often each is there.
    """
    found: list[dict[str, object]] = []
    for one in open_every("a.dump", text.encode(), dialects()):
        fields: dict[str, list[Hashable]] = {}
        for mark in read(one.document, one.dialect).marks:
            if mark.place is not None:
                means = mark.text if mark.stated is None else meaning(mark.stated.value)
                fields.setdefault(mark.path, []).append(means)
        raw = one.settings.raw
        rows = Counter(f"raw {row_key(key, raw)} {entry.value}" for key, entry in raw.items())
        found.append({**fields, **rows})
    return found


def _comments(text: str) -> Iterator[str]:
    for line in text.splitlines():
        _, mark, note = line.partition("#")
        if mark and note.strip().startswith(("noted", "seen")):
            yield note.strip()
