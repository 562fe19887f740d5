"""Names with a star for a word: of neutral paths, and of a dump's own keys."""

import re
from functools import lru_cache

_JOINT = re.compile(r"[./ ]+")


def covers(pattern: str, name: str) -> bool:
    """Whether a pattern covers a path or a key: itself and all below it.

    Words are parted by a dot, a stroke or blanks, as a report prints them; `*` stands for any
    one word, or once for the rest of one.

    >>> covers("ports.*.baud", "ports.uart2.baud"), covers("tally", "tally wakes")
    (True, True)
    >>> covers("spin/nought-*", "spin/nought-x")
    True
    >>> covers("tallies/wakes", "tallies"), covers("port", "ports.uart2.baud")
    (False, False)
    """
    wanted, words = _words(pattern), _words(name)
    return len(wanted) <= len(words) and all(
        want == word or ("*" in want and _stands_for(want, word))
        for want, word in zip(wanted, words, strict=False)
    )


def _stands_for(want: str, word: str) -> bool:
    before, _, after = want.partition("*")
    long_enough = len(word) >= len(before) + len(after)
    return long_enough and word.startswith(before) and word.endswith(after)


@lru_cache(maxsize=20_000)
def _words(name: str) -> tuple[str, ...]:
    return tuple(_JOINT.split(name))
