"""Nasty dumps of any size: the shapes in which time could grow faster than the file."""

from collections.abc import Callable

HEAD = "# sedge 2.4.1 on HB-7 rev C, built 2026-03-18\n"


def _lines(line: str, n: int) -> str:
    """The line n times, numbered where it has a place for a number."""
    return "".join(line.replace("#N", str(number)) for number in range(n))


SHAPES: dict[str, Callable[[int], str]] = {
    "long lines": lambda n: HEAD + _lines("x#N = " + "a " * 2_000 + "\n", n // 50),
    "long lines alike": lambda n: _lines("x " + "a " * 200 + "#N\n", n // 4),
    "deep blocks": lambda n: _lines("b#N {\nk = 1\n", n),
    "deep blocks that begin": lambda n: _lines("begin b#N\nk = 1\n", n),
    "duplicates": lambda n: HEAD + "[pack]\n" + _lines("cell_low = 350\n", n),
    "duplicates unlike": lambda n: (
        HEAD + "[pack]\n" + "".join(f"cell_low = {300 + number % 100}\n" for number in range(n))
    ),
    "lines that can't be read": lambda n: HEAD + _lines('"\n', n),
    "values that can't be": lambda n: HEAD + _lines("[port x#N]\nspeed = -5\n", n),
    "raw keys": lambda n: HEAD + _lines("k#N = 1\n", n),
    "one raw key": lambda n: HEAD + _lines("k = 1\n", n),
    "rows": lambda n: _lines("a,b,c,#N\n", n),
    "ports": lambda n: HEAD + _lines("[port x#N]\njobs = 4\nspeed = 1152\n", n),
    "pads": lambda n: HEAD + _lines("[pad x#N]\ndoes = lights\nclock = T1\n", n),
    "plain paths": lambda n: _lines("ports.u#N.baud = 9600\n", n),
    "terminal codes": lambda n: _lines("\x1b[1mk#N\x1b[0m = 1\n", n),
    "quoting and open quotation marks": lambda n: _lines('> k#N = "a\n', n),
    "broken lines": lambda n: _lines("k#N = " + "1234 " * 8 + "\n123 456\n", n),
    "owners": lambda n: HEAD + "[craft]\n" + _lines("keeper = name#N\n# name#N\n", n),
    "head lines": lambda n: _lines(HEAD + "a = 1\n" * 12, n // 12),
    "marks of a merge": lambda n: HEAD + _lines("<<<<<<< a\n", n),
}
