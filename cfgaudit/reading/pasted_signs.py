"""Whether a text shows traces of pasting: a few quick looks, so that a plain dump pays little.

The repairs themselves are loaded only where a look finds something (see pasted.py).
"""

import re
from collections.abc import Sequence
from itertools import islice

NARROWEST, WIDEST = 40, 200  # widths at which lines are broken
LONGEST_WORD = 30  # a longer one would leave a line too short to be taken for a broken one
# The patterns are texts: most dumps need none of them, and re remembers those it compiled.
QUOTE = r"[ \t]{0,3}(?:>(?!>{6})[ \t]?)++"
NUMBER = r"[ \t]*+([0-9]{1,6})(?:[:|.)]?(?=[ \t]|$)|[:|])[ \t]?"
VALUE_FIRST = r"[+-]?\.?[0-9]|[,\"]"
_ODD_LETTERS = (
    "[\u200b\u200c\u200d\u2060\ufeff\u00ad\u00a0\u2007\u202f\u201c-\u201f\u2018\u201a"
    "\u2010-\u2014\u2212\u241b]"
)
_ECHO = r"^(?:[\w.-]+@[\w.-]+[: ]|\(hidden\)[: ]|\$ |[A-Za-z][\w-]{0,30}>(?:[ \t]|$))"
_SAMPLE = 20  # lines of a text's beginning, and of its middle, that are looked at first


def looks_pasted(lines: Sequence[str], whole: str) -> bool:
    """Whether there is any trace but a prompt, at the cost of a few searches over the text."""
    if "\x1b" in whole or "^[[" in whole or "[0m" in whole:
        return True
    if not whole.isascii() and re.search(_ODD_LETTERS, whole) is not None:
        return True
    if "```" in whole or "[/" in whole:
        return True
    sample = _sample(lines)
    if ("\n>" in whole or whole[:1] == ">") and _looks_quoted(sample):
        return True
    return _looks_numbered(sample) or _looks_indented(sample) or _may_be_wrapped(lines, whole)


def shows_echoes(whole: str, prompts: Sequence[str]) -> bool:
    """Whether prompts are there that the dialect does not take off itself."""
    ends = whole.count("> ") + whole.count(">\n") + whole.endswith(">")
    if "@" not in whole and "$ " not in whole and ends < 2:
        return False
    found = [match.group() for match in re.finditer(_ECHO, whole, re.MULTILINE)]
    own = tuple(prompts) or "\0"
    return sum(not echo.rstrip().endswith(own) for echo in found) > ("$ " not in whole)


def breaks(line: str, below: str, width: int) -> bool:
    """Whether the word below had no room any more on the line."""
    if len(line) < width - LONGEST_WORD or not below or below[0].isspace():
        return False
    return len(line) + 1 + len(below.split(None, 1)[0]) > width


def _sample(lines: Sequence[str]) -> list[str]:
    """The first lines that say anything, and as many from the middle."""
    middle = len(lines) // 2
    first = list(islice((line for line in islice(lines, 200) if line.strip()), _SAMPLE))
    behind = islice((line for line in lines[middle : middle + 200] if line.strip()), _SAMPLE)
    return first + list(behind)


def _looks_quoted(sample: Sequence[str]) -> bool:
    """Whether a third of a text's first and middle lines look like a quotation in a forum."""
    return sum(re.match(QUOTE, line) is not None for line in sample) * 3 > len(sample)


def _looks_numbered(sample: Sequence[str]) -> bool:
    """Whether most of a text's first and middle lines have a number in front."""
    begins = [line for line in sample if line.lstrip(" \t")[:1].isdigit()]
    if len(begins) * 2 <= len(sample):
        return False
    return sum(re.match(NUMBER, line) is not None for line in begins) * 2 > len(sample)


def _looks_indented(sample: Sequence[str]) -> bool:
    """Whether each of a text's first and middle lines begins with a blank."""
    return all(line[:1] in " \t" for line in sample)


def _may_be_wrapped(lines: Sequence[str], whole: str) -> bool:
    """Whether a line as long as the longest one leaves a quotation open or has values below."""
    lengths = list(map(len, lines))
    width = max(lengths, default=0)
    if not NARROWEST <= width <= WIDEST:
        return False
    least = width - LONGEST_WORD
    near = [index for index, length in enumerate(lengths[:-1]) if length >= least]
    quotes = '"' in whole
    for index in near:
        line, below = lines[index], lines[index + 1]
        if not breaks(line, below, width):
            continue
        if (quotes and line.count('"') % 2) or re.match(VALUE_FIRST, below) or line.endswith(","):
            return True
    return False
