"""Brings the README.md files up to date: `python tests/regenerate_documents.py`.

It writes the list of rules anew from the rule book, what the audit cannot see as it is measured,
and the output of every console block from a real run. test_documents.py reads the same blocks with
the same functions.
"""

import os
import re
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill

from cfgaudit.reports.explain import count_of, rules_table
from cfgaudit.rules.book import every_rule

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"
RULES = ROOT / "cfgaudit" / "rules" / "README.md"  # the one with the list
FOLDERS = ("rules", "dialects", "reports")  # those of cfgaudit/ with a README.md of their own
DOCUMENTS = (README, *(ROOT / "cfgaudit" / name / "README.md" for name in FOLDERS))
BEGIN, END = "<!-- rules -->", "<!-- /rules -->"
UNSEEN, SEEN = "<!-- unseen -->", "<!-- /unseen -->"
GAP = "..."  # a line of expected output that stands for any number of lines
_FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_LIST = re.compile(rf"(?<={re.escape(BEGIN)}\n).*?(?={re.escape(END)})", re.DOTALL)
_LEFT = re.compile(rf"(?<={re.escape(UNSEEN)}\n).*?(?={re.escape(SEEN)})", re.DOTALL)


class UnfitError(ValueError):
    """Expected lines and real ones that don't fit; says which."""


@dataclass(frozen=True, slots=True)
class Step:
    """One command of a console block, and the lines that it is to print."""

    command: str
    expected: tuple[str, ...]


def blocks(language: str, documents: Sequence[Path] = DOCUMENTS) -> list[str]:
    """The fenced blocks of documents in one language, in order."""
    texts = [document.read_text(encoding="utf-8") for document in documents]
    return [body for text in texts for kind, body in _FENCE.findall(text) if kind == language]


def steps(block: str) -> list[Step]:
    """Cut a console block into its commands, each with the output below it."""
    first, *rest = re.split(r"^\$ ", block, flags=re.MULTILINE)
    if first or not rest:
        raise UnfitError("a console block begins with a line `$ command`")
    cut = [part.splitlines() for part in rest]
    return [Step(lines[0], tuple(lines[1:])) for lines in cut]


def environment() -> dict[str, str]:
    """This process's environment, its own `cfgaudit` first, with nothing that changes a screen."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if name not in ("COLUMNS", "FORCE_COLOR", "CLICOLOR_FORCE", "NO_COLOR")
    }
    kept["PATH"] = os.pathsep.join([str(Path(sys.executable).parent), os.environ.get("PATH", "")])
    return kept


def run(command: str) -> list[str]:
    """The lines that a shell command prints in the checkout, on either stream."""
    done = subprocess.run(
        ["sh", "-c", command],
        cwd=ROOT,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        timeout=900,
        check=False,
    )
    return done.stdout.splitlines()


def stretches(lines: Sequence[str]) -> list[list[str]]:
    """Lines cut at the gaps: one stretch where there is none."""
    cut: list[list[str]] = [[]]
    for line in lines:
        if line.strip() == GAP:
            cut.append([])
        else:
            cut[-1].append(line)
    return cut


def fit(expected: Sequence[str], real: Sequence[str]) -> None:
    """Raise UnfitError where the real lines are not the expected ones, gaps allowed for."""
    head, *others = stretches(expected)
    if not others and list(real) != head:
        _differ(head, real)
    if list(real[: len(head)]) != head:
        _differ(head, real[: len(head)])
    at = len(head)
    for part in others[:-1]:
        at = _find(part, real, at) + len(part)
    if others and others[-1]:
        tail = others[-1]
        if len(real) - len(tail) < at or list(real[-len(tail) :]) != tail:
            _differ(tail, real[-len(tail) :])


def _find(part: list[str], real: Sequence[str], start: int) -> int:
    for at in range(start, len(real) - len(part) + 1):
        if list(real[at : at + len(part)]) == part:
            return at
    raise UnfitError("nowhere below the lines before:\n" + "\n".join(part))


def _differ(expected: Sequence[str], real: Sequence[str]) -> None:
    raise UnfitError("expected:\n" + "\n".join(expected) + "\n\nreal:\n" + "\n".join(real))


def renewed(step: Step) -> list[str]:
    """The step's lines from a real run, as many in each stretch as before.

    What stands between two gaps begins at the first line, below the stretches before, that has
    the same first word. Raises UnfitError where there is none.
    """
    real = run(step.command)
    head, *others = stretches(step.expected)
    if not others:
        return real
    fresh, at = real[: len(head)], len(head)
    for part in others[:-1]:
        at = _find_word(part, real, at)
        fresh += [GAP, *real[at : at + len(part)]]
        at += len(part)
    return [*fresh, GAP, *real[len(real) - len(others[-1]) :]]


def _find_word(part: list[str], real: Sequence[str], start: int) -> int:
    try:
        return _find(part, real, start)
    except UnfitError:
        for at in range(start, len(real)):
            if real[at].split()[:1] == part[0].split()[:1]:
                return at
        raise


def rules_list() -> str:
    """What stands between the markers: how many rules there are, and a table of them."""
    rules = every_rule()
    return f"\n{count_of(rules)}\n\n{rules_table(rules)}\n\n"


def unseen_list() -> str:
    """What stands between the markers: the safety settings that a wrong value may hide in."""
    from tests.benchmarks.blind import left_over, reviewed  # a second's work

    whys = reviewed()["left"]
    lines = [fill(f"- `{path}`: {whys[path]}", 100, subsequent_indent="  ") for path in left_over()]
    return "\n" + "\n".join(lines) + "\n\n"


def _renew_block(found: re.Match[str]) -> str:
    if found[1] != "console":
        return found[0]
    lines = [line for step in steps(found[2]) for line in (f"$ {step.command}", *renewed(step))]
    return "```console\n" + "\n".join(lines) + "\n```"


def main() -> None:
    """Write each document anew that its commands can be fitted to; say which are left."""
    for document in DOCUMENTS:
        text = document.read_text(encoding="utf-8")
        try:
            text = _FENCE.sub(_renew_block, text)
        except UnfitError as error:
            print(f"{document} is left as it was. Mend by hand: {error}", file=sys.stderr)
            continue
        text = _LEFT.sub(lambda _: unseen_list(), text)
        document.write_text(_LIST.sub(lambda _: rules_list(), text), encoding="utf-8")


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))  # for the tests' own modules, when this is run as a file
    main()
