"""Puts made-up dumps through the program, led by what they reach, and holds laws to them.

`python -m tests.benchmarks.fuzz --seconds 600 --seed 1` wants the extra `fuzz` (atheris). An input
is two dumps with a line `====` between them; the first ones are those in `fuzz_seeds`. It prints
how many ran, in what time, every ten minutes and at the end; the first input that breaks a law in
its own way is kept in the folder of --keep, and the status is 1. Teaching takes as long as all else
together, so only every fourth input is taught from. `python -m tests.benchmarks.fuzz FILE...` tries
inputs again, by every law.
"""

import argparse
import os
import random
import sys
import tempfile
import time
import traceback
import zlib
from pathlib import Path
from typing import Final

SEEDS: Final = Path(__file__).parent / "fuzz_seeds"
PART: Final = b"\n====\n"
_TOLD_EVERY: Final = 600  # seconds
_TAUGHT: Final = 4  # one input out of so many
_MOST: Final = 1_500  # bytes of an input: what is longer reaches no more, and is slower


def dumps_of(data: bytes) -> tuple[bytes, bytes]:
    """The two dumps of an input; twice the same where there is one."""
    old, part, new = data.partition(PART)
    return (old, new) if part else (data, data)


def fault_in(data: bytes, *, every: bool = True) -> tuple[str, str] | None:
    """Where a law breaks for an input, in one line, and how; None where all of them hold.

    If not `every` law is asked for, which ones are tried hangs on the input alone.
    """
    from tests.benchmarks.laws import LAWS, BrokenLawError, opened, teaching

    law = "open"
    try:
        old, new = map(opened, dumps_of(data))
        for hold in LAWS:
            if hold is teaching and not every and zlib.crc32(data) % _TAUGHT:
                continue
            law = hold.__name__
            hold(old, new)
    except Exception as error:
        at = traceback.extract_tb(error.__traceback__)[-1]
        where = str(error) if isinstance(error, BrokenLawError) else f"{at.filename}:{at.lineno}"
        return f"{law}: {type(error).__name__}: {where}", traceback.format_exc()
    return None


def mutated(data: bytes, chance: random.Random, stock: list[bytes]) -> bytes:
    """An input with a line taken out, doubled, moved, or put in from another one."""
    lines = data.split(b"\n")
    at = chance.randrange(len(lines))
    kind = chance.randrange(4)
    if kind == 0:
        del lines[at]
    elif kind == 1:
        lines.insert(at, chance.choice(lines))
    elif kind == 2:
        lines.insert(at, lines.pop(chance.randrange(len(lines))))
    else:
        lines.insert(at, chance.choice(stock))
    return b"\n".join(lines)


class Campaign:
    """One run: how many inputs until when, and what was found."""

    def __init__(self, seconds: float, keep: Path) -> None:
        self.began, self.seconds, self.keep = time.monotonic(), seconds, keep
        self.executions = 0
        self.told = 0.0
        self.found: dict[str, Path] = {}

    def one(self, data: bytes) -> None:
        """Try one input; leave when the time is over."""
        fault = fault_in(data, every=False)
        self.executions += 1
        if fault is not None and fault[0] not in self.found:
            self.keep.mkdir(parents=True, exist_ok=True)
            file = self.keep / f"found-{len(self.found)}"
            file.write_bytes(data)
            file.with_suffix(".txt").write_text(fault[1], encoding="utf-8")
            self.found[fault[0]] = file
            print(f"{file}: {fault[0]}", flush=True)
        taken = time.monotonic() - self.began
        if taken >= min(self.told + _TOLD_EVERY, self.seconds):
            self.told = taken
            print(
                f"{self.executions:,} executions in {taken:,.0f} s by the clock, "
                f"{time.process_time():,.0f} s of processor time; {len(self.found)} found",
                flush=True,
            )
        if taken >= self.seconds:
            os._exit(bool(self.found))  # the fuzzer itself knows no end but a crash


def main() -> None:
    """Run for some seconds, or try files."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seconds", type=float, default=60)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--keep", type=Path, default=Path("fuzz-found"))
    asked.add_argument("files", type=Path, nargs="*")
    given = asked.parse_args()
    if given.files:
        faults = [(file, fault_in(file.read_bytes())) for file in given.files]
        for file, fault in faults:
            print(f"{file}: {'all laws hold' if fault is None else fault[1]}")
        sys.exit(any(fault is not None for _, fault in faults))
    import atheris

    with atheris.instrument_imports(include=["cfgaudit"]):
        import tests.benchmarks.laws  # noqa: F401
    stock = [line for file in sorted(SEEDS.iterdir()) for line in file.read_bytes().split(b"\n")]

    def mutate(data: bytes, most: int, seed: int) -> bytes:
        chance = random.Random(seed)
        made: bytes = mutated(data, chance, stock)
        if chance.random() < 0.4:
            made = atheris.Mutate(made, max(len(made), 1))
        return made[:most]

    campaign = Campaign(given.seconds, given.keep)
    with tempfile.TemporaryDirectory() as folder:  # where the fuzzer keeps what reached more
        options = [f"-seed={given.seed}", f"-max_len={_MOST}", "-verbosity=0", "-timeout=120"]
        options.append(f"-artifact_prefix={folder}/")
        atheris.Setup([sys.argv[0], *options, folder, str(SEEDS)], campaign.one,
                      custom_mutator=mutate)  # fmt: skip
        atheris.Fuzz()


if __name__ == "__main__":
    main()
