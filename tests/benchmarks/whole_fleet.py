"""Measures a whole fleet: seconds, processor's time and memory of 1,000, 10,000 and more craft.

`python -m tests.benchmarks.whole_fleet [COUNT...]`; without counts 1,000 and 10,000. Wants the
extra `fleet` and /proc. Memory is that of all processes together: RSS counts what they share more
than once, PSS does not.
"""

import os
import sys
import tempfile
import threading
import time
from functools import partial
from pathlib import Path

from cfgaudit.audit.crew import Processes, audit_all
from cfgaudit.audit.overview import overview
from cfgaudit.audit.shelf import FileShelf
from cfgaudit.audit.sources import sources
from cfgaudit.cli.fleet_whole import FolderDesks
from cfgaudit.cli.options import JudgedBy, ReadBy
from tests.benchmarks.fleets import fleet, written_to_folder

_EVERY = 1.0  # seconds between two looks at the memory


def _memory() -> tuple[int, int]:
    """RSS and PSS in kB of this process and its children."""
    own, total, shared = os.getpid(), 0, 0
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        try:
            parent = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            if own in (int(entry.name), parent):
                rows = dict(
                    line.split()[:2]
                    for line in (entry / "smaps_rollup").read_text().splitlines()[1:]
                )
                total, shared = total + int(rows["Rss:"]), shared + int(rows["Pss:"])
        except (OSError, ValueError, IndexError, KeyError):
            continue  # it has ended
    return total, shared


class _Watch(threading.Thread):
    """Notes the greatest memory until it is told to end."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.peak = (0, 0)
        self.ended = threading.Event()

    def run(self) -> None:
        """Look now and then."""
        while not self.ended.wait(_EVERY):
            self.peak = max(self.peak, _memory())


def measured(count: int, workers: int = 2) -> str:
    """One line of figures for so many craft."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        written_to_folder(place / "craft", fleet(count, 21))
        watch = _Watch()
        watch.start()
        start, before = time.perf_counter(), os.times()
        shelf = FileShelf(place / "fleet.duckdb")
        making = partial(FolderDesks, ReadBy(), JudgedBy())
        audit_all(sources([str(place / "craft")]), making, Processes(workers), shelf)
        audited, told_from = time.perf_counter() - start, sum(os.times()[:4])
        overview(shelf)
        spent, now = time.perf_counter() - start, os.times()
        shelf.close()
        watch.ended.set()
    work, telling = sum(now[:4]) - sum(before[:4]), sum(now[:4]) - told_from
    rss, pss = (kilobytes / 1024 for kilobytes in watch.peak)
    memory = f"RSS {rss:.0f} MB, PSS {pss:.0f} MB"
    return (
        f"{count:>8,} craft: audited in {audited:,.1f} s, told in {spent:,.1f} s; "
        f"{work / count * 1e3:.1f} ms of processor's time a craft, {telling / count * 1e3:.1f} of "
        f"them to tell; {memory}; load {os.getloadavg()[0]:.1f}"
    )


def main() -> None:
    """Print a line for each count."""
    for count in [int(text) for text in sys.argv[1:]] or [1_000, 10_000]:
        print(measured(count), flush=True)


if __name__ == "__main__":
    main()
