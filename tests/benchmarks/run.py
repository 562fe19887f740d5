"""Measures how quick the program is, as ratios of medians taken in one and the same run.

`python -m tests.benchmarks.run`, or by path, with any python that has the project and its
[test] extra. Nothing fails: seconds differ from machine to machine and ratios with the weather,
so a figure that misses its goal is marked for a person to look at.
"""

import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

CORPUS = Path(__file__).resolve().parents[2] / "corpus"
LINES = 1_500
RUNS = 7
GROWTH = 400  # lines of the smaller dump of each nasty shape
# The installed program: its modules are compiled, as they are for a user.
CFGAUDIT = (str(Path(sys.executable).with_name("cfgaudit")),)

# Runs a command in a child and says how much memory that child held at its peak.
_PEAK = """
import resource, subprocess, sys
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
print(done.returncode, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""

# In a fresh process: the seconds a line takes, each distinct line of a dump read for the first
# time, then every line of it read again. Cycles are sought as seldom as in the program itself.
_READ = """
import gc, json, sys, time
gc.set_threshold(100_000, 20, 20)
from cfgaudit.reading.document import read_document
from cfgaudit.reading.statements import parse_line
parse_line("warm = 1")
data = open(sys.argv[1], "rb").read()
distinct = b"\\n".join(dict.fromkeys(data.split(b"\\n")))
times = []
for part in (distinct, data):
    start = time.perf_counter()
    lines = len(read_document("a.dump", part).statements)
    times.append((time.perf_counter() - start) / lines)
print(json.dumps(times))
"""

# Lines made to be slow; the time of a line twice as long should be about twice as great.
HOSTILE: dict[str, Callable[[int], str]] = {
    "blanks before a comma": lambda n: "a" + " " * n + ",",
    "blanks before a sign": lambda n: "a" + " " * n + "b =",
    "quotation marks": lambda n: '"' * n,
    "open brackets": lambda n: "[" * n,
    "words and a lone quote": lambda n: "a " * (n // 2) + '"',
    "tabs before a control letter": lambda n: "a" + "\t" * n + "\x00",
    "commas": lambda n: "," * n + '"',
    "equals signs": lambda n: "=" * n,
}


@dataclass(frozen=True)
class Figure:
    """One measured figure and its goal; `more` where more is better."""

    name: str
    value: float
    unit: str
    goal: float
    more: bool = False

    @property
    def met(self) -> bool:
        """Whether the goal was met in this run."""
        return self.value >= self.goal if self.more else self.value <= self.goal

    def __str__(self) -> str:
        shown = f"{self.value:,.0f}" if self.value >= 100 else f"{self.value:.2f}"
        sign = "at least" if self.more else "at most"
        verdict = "met" if self.met else "MISSED"
        measured = f"{shown} {self.unit}".rstrip()
        return f"{self.name:<52} {measured:>18}   goal {sign} {self.goal:,g}   {verdict}"


def long_dump(lines: int = LINES) -> str:
    """Dipper's dump, with free pads added behind its own pads until it has so many lines.

    The same each time; the end mark stays last.
    """
    own = (CORPUS / "dipper.dump").read_text(encoding="utf-8").rstrip("\n").split("\n")
    stop = max(index for index, line in enumerate(own) if line.startswith("[pad ")) + 1
    while own[stop].strip():
        stop += 1
    added: list[str] = []
    for number in range(100, 100 + lines):
        pad = ["", f"[pad x{number}]", "does = idle", f"clock = T{number}", "pull = up"]
        added += pad
    return "\n".join([*own[:stop], *added[: lines - len(own)], *own[stop:]]) + "\n"


def yaml_of(lines: int = LINES) -> str:
    """A YAML file of as many lines, of the same sort: sections of short assignments."""
    text = ["---"]
    for number in range(lines):
        if len(text) == lines:
            break
        text.append(f"section_{number}:" if number % 8 == 0 else f"  key_{number}: {number * 37}")
    return "\n".join(text) + "\n"


def seconds(*commands: Sequence[str]) -> list[float]:
    """The median time of each command; the runs take turns, so that all see the same weather."""
    taken: list[list[float]] = [[] for _ in commands]
    for _ in range(RUNS):
        for times, command in zip(taken, commands, strict=True):
            start = time.perf_counter()
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            times.append(time.perf_counter() - start)
            if done.returncode not in (0, 1):  # 1 is findings, or differences
                raise SystemExit(f"{' '.join(command)} failed:\n{done.stderr or done.stdout}")
    return [statistics.median(times) for times in taken]


def command_figures(dump: Path, other: Path, yaml: Path) -> list[Figure]:
    """Start-up, check and diff, each against its yardstick."""
    bare = (sys.executable, "-c", "pass")
    check = (*CFGAUDIT, "check", str(dump))
    diff = (*CFGAUDIT, "diff", str(dump), str(other))
    lint = (sys.executable, "-m", "yamllint", "-d", "relaxed", str(yaml))
    nothing, version, checked, compared, linted = seconds(
        bare, (*CFGAUDIT, "--version"), check, diff, lint
    )
    print(
        f"medians of {RUNS} runs in seconds: python {nothing:.3f}, --version {version:.3f}, "
        f"check {checked:.3f}, diff {compared:.3f}, yamllint {linted:.3f}"
    )
    return [
        Figure("cfgaudit --version against python -c pass", version / nothing, "times", 4),
        Figure(f"check of {LINES:,} lines against yamllint", checked / linted, "times", 0.75),
        Figure("diff of two such dumps against check", compared / checked, "times", 1.35),
    ]


def page_figures(folder: Path) -> list[Figure]:
    """The page of a craft with its build sheet: its time against check's, and its size."""
    page = folder / "page.html"
    dump = str(CORPUS / "dipper.dump")
    made = (*CFGAUDIT, "report", dump, "--output", str(page))
    checked, drawn = seconds((*CFGAUDIT, "check", dump), made)
    print(f"medians of {RUNS} runs in seconds: check {checked:.3f}, report {drawn:.3f}")
    return [
        Figure("report of a craft and its sheet against check", drawn / checked, "times", 3),
        Figure("the page's size", page.stat().st_size / 1e3, "kB", 400),
    ]


def reading_figures(dump: Path) -> list[Figure]:
    """Lines a second: never seen before, and remembered."""
    cold: list[float] = []
    remembered: list[float] = []
    for _ in range(RUNS):
        out = subprocess.run(
            (sys.executable, "-P", "-c", _READ, str(dump)),
            capture_output=True,
            text=True,
            check=True,
        )
        first, again = json.loads(out.stdout)
        cold.append(first)
        remembered.append(again)
    quick = 1 / statistics.median(remembered)
    return [
        Figure("cold reading", 1 / statistics.median(cold), "lines/s", 60_000, more=True),
        Figure("remembered reading", quick, "lines/s", 800_000, more=True),
    ]


def memory_figure(dump: Path) -> Figure:
    """The greatest memory that `check` held."""
    command = (sys.executable, "-c", _PEAK, *CFGAUDIT, "check", str(dump))
    out = subprocess.run(command, capture_output=True, text=True, check=True)
    status, peak = map(int, out.stdout.split())
    if status not in (0, 1):
        raise SystemExit(f"check ended with status {status}")
    kilobyte = 1 if sys.platform == "darwin" else 1024  # ru_maxrss counts in bytes there
    return Figure("peak memory of check", peak * kilobyte / 1e6, "MB", 80)


def hostile_figures() -> list[Figure]:
    """How much longer a hostile line of twice the length takes; about 2 where time is linear."""
    from cfgaudit.reading.statements import parse_line

    def once(line: str) -> float:
        parse_line.cache_clear()
        start = time.perf_counter()
        parse_line(line)
        return time.perf_counter() - start

    figures: list[Figure] = []
    once("warm = 1")
    for name, line in HOSTILE.items():
        short, double = line(4_900), line(9_800)
        pairs = [(once(short), once(double)) for _ in range(RUNS)]
        ratio = statistics.median(b for _, b in pairs) / statistics.median(a for a, _ in pairs)
        figures.append(Figure(f"twice as many {name}", ratio, "times", 3))
    return figures


def growth_figures() -> list[Figure]:
    """How much longer dumps of nasty shapes take that are eight times as large; about 8."""
    from cfgaudit.audit.engine import audit
    from cfgaudit.dialects.dialect import load_dialect
    from cfgaudit.dialects.opening import open_dump
    from cfgaudit.reading.statements import parse_line

    sys.path.append(str(CORPUS.parent))  # behind the installed package, where run by path
    from tests.growth import SHAPES

    dialects = [load_dialect(file) for file in sorted((CORPUS / "dialects").glob("*.toml"))]

    def once(text: str) -> float:
        parse_line.cache_clear()
        start = time.perf_counter()
        audit(open_dump("a.dump", text.encode(), dialects).settings)
        return time.perf_counter() - start

    figures: list[Figure] = []
    for name, make in SHAPES.items():
        small, large = make(GROWTH), make(GROWTH * 8)
        once(small)
        pairs = [(once(small), once(large)) for _ in range(3)]
        ratio = statistics.median(b for _, b in pairs) / statistics.median(a for a, _ in pairs)
        figures.append(Figure(f"eight times as many {name}", ratio, "times", 12))
    return figures


def main() -> None:
    """Print every figure beside its goal."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        # a dump alone: no build sheet is named here
        settings = '[cfgaudit]\ndialects = ["dialects"]\n'
        (folder / "cfgaudit.toml").write_text(settings, encoding="utf-8")
        shutil.copytree(CORPUS / "dialects", folder / "dialects")
        dump, other, yaml = folder / "long.dump", folder / "other.dump", folder / "long.yaml"
        text = long_dump()
        dump.write_text(text, encoding="utf-8")
        other.write_text(text.replace("cell_low = 35", "cell_low = 34"), encoding="utf-8")
        yaml.write_text(yaml_of(), encoding="utf-8")
        figures = command_figures(dump, other, yaml)
        figures += page_figures(folder)
        figures += reading_figures(dump)
        figures.append(memory_figure(dump))
    figures += hostile_figures()
    figures += growth_figures()
    for figure in figures:
        print(figure)


if __name__ == "__main__":
    main()
