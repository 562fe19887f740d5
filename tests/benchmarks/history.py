"""Measures how quick `git history` is over many commits of a long dump.

`python -m tests.benchmarks.history`. Nothing fails, as in run.py: the figures are for a person to
look at. Each part is timed in this one process, so that all see the same weather.
"""

import os
import random
import re
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path

from cfgaudit.audit.engine import audit
from cfgaudit.audit.incremental import Auditor
from cfgaudit.changes.diff import diff
from cfgaudit.dialects.dialect import load_dialect
from cfgaudit.dialects.line_reader import line_reader
from cfgaudit.dialects.opening import open_dump
from cfgaudit.rules.book import book
from cfgaudit.settings import Settings
from tests.benchmarks.run import CFGAUDIT, CORPUS, LINES, Figure, long_dump

COMMITS = 1_000
SAMPLE = 60  # versions that are also read and audited plainly, to compare
_NUMBER = re.compile(r"= \d+$")


def versions(count: int = COMMITS) -> Iterator[str]:
    """A long dump edited again and again: a few numbers each time, a new line now and then."""
    lines, chance = long_dump().split("\n"), random.Random(5)
    for number in range(count):
        if number:
            at = [index for index, line in enumerate(lines) if _NUMBER.search(line)]
            for index in chance.sample(at, chance.randint(1, 3)):
                key, value = lines[index].rsplit(" ", 1)
                lines[index] = f"{key} {max(0, int(value) + chance.choice((-1, 1)))}"
        if number % 25 == 24:
            lines.insert(5, f"# noted {number}")
        yield "\n".join(lines)


def repository(folder: Path, count: int = COMMITS) -> None:
    """A repository with a commit a version, written by git's own import."""

    def sized(text: str) -> bytes:
        data = text.encode("utf-8")
        return b"data %d\n%s\n" % (len(data), data)

    settings = f'[cfgaudit]\ndialects = ["{(CORPUS / "dialects").as_posix()}"]\n'
    parts: list[bytes] = []
    for number, text in enumerate(versions(count)):
        when = 1_700_000_000 + 60 * number
        parts.append(b"commit refs/heads/main\n")
        parts.append(b"committer Reed <reed@example.org> %d +0000\n" % when)
        parts += [sized(f"Trim {number}"), b"M 100644 inline craft.dump\n", sized(text)]
        if not number:
            parts += [b"M 100644 inline cfgaudit.toml\n", sized(settings)]
    for command in (["init", "-q", "-b", "main"], ["fast-import", "--quiet"], ["reset", "--hard"]):
        stdin = b"".join(parts) if command[0] == "fast-import" else b""
        subprocess.run(["git", *command], cwd=folder, input=stdin, check=True, capture_output=True)


def whole_figure() -> Figure:
    """Commits a second of the command itself, its start and git included."""
    with tempfile.TemporaryDirectory() as name:
        repository(Path(name))
        command = (*CFGAUDIT, "git", "history", "craft.dump", "--output", os.devnull)
        start, worked = time.perf_counter(), os.times()
        subprocess.run(command, cwd=name, check=True, capture_output=True)
        spent, now = time.perf_counter() - start, os.times()
    own = now.children_user + now.children_system - worked.children_user - worked.children_system
    print(f"{COMMITS:,} commits in {spent:.1f} s, with others at work on the machine or without")
    return Figure(
        f"git history of {LINES:,} lines, by processor's time",
        COMMITS / own,
        "commits/s",
        50,
        more=True,
    )


def part_figures() -> list[Figure]:
    """What remembering lines saves in reading, and what watching rules saves in auditing."""
    dialect = load_dialect(CORPUS / "dialects" / "sedge.toml")
    texts = [text.encode("utf-8") for text in versions(SAMPLE)]

    def read(*, forgetting: bool) -> list[Settings]:
        found: list[Settings] = []
        for text in texts:
            if forgetting:
                line_reader.cache_clear()
            found.append(open_dump("x", text, [dialect], dialect).settings)
        return found

    plainly, plain = _timed(lambda: read(forgetting=True))
    remembering, found = _timed(lambda: read(forgetting=False))
    anew, _ = _timed(lambda: [audit(settings).findings for settings in found])
    auditor = Auditor(book())
    watching, _ = _timed(lambda: [auditor.findings(settings) for settings in found])
    list_read = diff(found[0], found[-1])  # the closer look at lists is loaded at first use
    comparing, _ = _timed(lambda: [diff(a, b) for a, b in pairwise(found)])
    assert plain == found
    assert list_read
    print(
        f"milliseconds a version: read plainly {plainly:.1f}, remembering {remembering:.1f}; "
        f"audited anew {anew:.1f}, watching {watching:.1f}; compared {comparing:.1f}"
    )
    return [
        Figure("reading plainly against remembering", plainly / remembering, "times", 5, more=True),
        Figure("auditing anew against watching", anew / watching, "times", 2, more=True),
    ]


def _timed(work: Callable[[], Sequence[object]]) -> tuple[float, list[Settings]]:
    start = time.perf_counter()
    found = work()
    spent = (time.perf_counter() - start) / SAMPLE * 1_000
    return spent, [entry for entry in found if isinstance(entry, Settings)]


def main() -> None:
    """Print every figure beside its goal."""
    for figure in [*part_figures(), whole_figure()]:
        print(figure)


if __name__ == "__main__":
    main()
