"""How much of a firmware that nobody knows is read rightly: `python -m tests.teach.measure`.

For each firmware of unknown/, held/ and strange/: the settings that `show` reads rightly through
the dialect as it stands, against the truth, which is written by hand; the wrong ones; those that
are missing; the rules that can run. Once after `dialect new` alone, and after some questions of
`dialect teach`: one about a setting is answered from what the craft's builder knows by heart, one
about a line by what the line says, which he reads with the firmware's handbook beside him
(lines.txt, written by hand: which line states which settings).
"""

import re
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from cfgaudit.audit.engine import audit
from cfgaudit.cli.teaching import to_pass_on
from cfgaudit.dialects.plain import read_plain
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import read_text
from cfgaudit.settings import Settings
from cfgaudit.teach.asking import Answer, LineTeller, begun, taught, taught_from
from cfgaudit.teach.write import read_draft
from cfgaudit.vocabulary.paths import declared

HERE = Path(__file__).parent
QUESTIONS = (0, 15, 30)


class Case(NamedTuple):
    """One craft of a firmware that nobody knows."""

    name: str
    dump: Path
    truth: Path
    known: Path  # what the builder knows without looking
    lines: Path  # which line states which settings


class Measured(NamedTuple):
    """What a dialect reads of a dump, held against the truth."""

    questions: int
    truth: int
    wrong: tuple[str, ...]
    missing: tuple[str, ...]
    rules: int

    @property
    def right(self) -> int:
        """Settings that are read as they are."""
        return self.truth - len(self.missing)

    def line(self) -> str:
        """The measure in a few words."""
        stated = self.right + len(self.wrong)
        return (
            f"after {self.questions:2} answers right {self.right / self.truth:6.1%}, "
            f"wrong {len(self.wrong) / max(1, stated):5.1%}, rules {self.rules:3}"
        )


def cases(folder: Path = HERE) -> Iterator[Case]:
    """Every case: unknown/ and held/ in ordinary trade words, strange/ in others.

    Those of held/ were out of sight when the method was first measured, and learnt from since.
    """
    homes = [*sorted((folder / "unknown").iterdir()), *sorted((folder / "held").iterdir())]
    for home in homes:
        dump = next(p for p in sorted(home.glob("*.dump")) if p.stem != "second")
        known, lines = home / "known.cfg", home / "lines.txt"
        yield Case(home.name, dump, dump.with_suffix(".cfg"), known, lines)
    for dump in sorted((folder / "strange").glob("*.dump")):
        truth = dump.with_suffix(".cfg")
        yield Case(dump.stem, dump, truth, truth, dump.with_suffix(".lines.txt"))


def plain(path: Path) -> Settings:
    """The settings that a file in the plain form states."""
    return read_plain(path.read_text(encoding="utf-8"), path.name)


def held_against(truth: Settings, found: Settings, questions: int) -> Measured:
    """What was read, and what is true."""
    true = {named(path): stated.value for path, stated in truth.stated.items()}
    read = {named(p): stated.value for p, stated in found.stated.items() if not stated.doubt}
    wrong = tuple(path for path, value in read.items() if true.get(path) != value)
    missing = tuple(path for path, value in true.items() if read.get(path) != value)
    return Measured(questions, len(truth), wrong, missing, audit(found).checked)


def named(path: str) -> str:
    """The path with a pad or a port under its number alone.

    Whether pad 01 is p1, pad A1 is a1, and port s1 uart1, is anyone's choice.
    """
    parts = path.split(".")
    if parts[0] in ("pads", "ports"):
        parts[1] = parts[1].casefold()
        path = ".".join(parts)
    before = {"pads": "(?:p|pad|out|s)?", "ports": "[a-z]*"}.get(parts[0], "")
    number = re.fullmatch(rf"{before}0*(\d+)", parts[1]) if before else None
    return ".".join([parts[0], number.group(1), *parts[2:]]) if number else path


def reader_of(case: Case, truth: Settings) -> LineTeller:
    """Somebody who reads a line of the dump, with the handbook."""
    rows = (row.split(":") for row in case.lines.read_text(encoding="utf-8").splitlines())
    paths = {int(number): said.split() for number, said in rows if number.isdigit()}

    def told(line: int) -> list[Answer]:
        found = [(path, declared(path)) for path in paths.get(line, ())]
        return [
            Answer("", own.kind.spell(truth[path].value), path, line) for path, own in found if own
        ]

    return told


def measure(case: Case, questions: Sequence[int] = QUESTIONS) -> Iterator[Measured]:
    """The measure of one case after each number of questions."""
    data = case.dump.read_bytes()
    text = to_pass_on(case.dump.name, data)  # as the command line does
    truth, known = plain(case.truth), plain(case.known)
    state, asked = begun([case.dump.name], [text]), 0
    reader = reader_of(case, truth)
    for count in questions:
        state, asked = taught_from(state, known, count - asked, reader), count
        dialect = read_draft(taught(state).draft)
        found = read_settings(Document(case.dump.name, read_text(data), dialect.look), dialect)
        yield held_against(truth, found, count)


def main(arguments: Sequence[str]) -> int:
    """Print the measure of every case, or of those that are named; -v tells what is amiss."""
    names = [name for name in arguments if not name.startswith("-")]
    for case in cases():
        if names and case.name not in names:
            continue
        start = time.process_time()
        for found in measure(case, (0,) if "-0" in arguments else QUESTIONS):
            print(f"{case.name:12} {found.line()}", flush=True)
            if "-v" in arguments:
                print("  wrong:", *found.wrong, sep="\n    ")
                print("  missing:", *found.missing, sep="\n    ")
        print(f"{'':12} {time.process_time() - start:.1f} s", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
