"""The plain form: reading it without a file, and writing it sorted."""

import re
from functools import cache

from cfgaudit.craft.kinds import value_text
from cfgaudit.craft.settings import Origin, Settings, Stated
from cfgaudit.craft.vocabulary import declared, declared_anywhere, vocabulary
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import read_document

_CHUNKS = re.compile(r"\d+|\D+")
PLAIN = Dialect(name="plain", about="neutral paths", keys_are_paths=True)


def read_plain(text: str, name: str = "plain.cfg") -> Settings:
    """The settings of a text in the plain form. Never raises."""
    return read_settings(read_document(name, text.encode("utf-8", "surrogatepass")), PLAIN)


def stated_text(stated: Stated) -> str:
    """A setting's value in the plain form's spelling."""
    found = declared_anywhere(stated.path)
    return value_text(found.kind, stated.value) if found else str(stated.value)


def path_order(path: str) -> tuple[int, tuple[tuple[int, str], ...]]:
    """The order of paths everywhere: the vocabulary's, then natural order of names."""
    found = declared_anywhere(path)
    rank = _ranks().get(found.pattern.partition(".")[0], 10_000) if found else 10_000
    steps: list[tuple[int, str]] = []
    for word in path.split("."):
        steps += [(int(w), "") if w.isdecimal() else (-1, w) for w in _CHUNKS.findall(word)]
        steps.append((-2, ""))  # a word ends before any that goes on
    return rank, tuple(steps)


@cache
def _ranks() -> dict[str, int]:
    ranks: dict[str, int] = {}
    for entry in vocabulary():
        ranks.setdefault(entry.pattern.partition(".")[0], len(ranks))
    return ranks


def write_plain(settings: Settings) -> str:
    """The plain form of everything that the dump states: sorted, under section heads, with units.

    Factory values that only stand in are left out: the dump does not state them.
    """
    lines: list[str] = []
    section = ""
    paths = [path for path in settings if settings[path].origin is not Origin.FACTORY]
    for path in sorted(paths, key=written_order):
        head, leaf = cut_path(path)
        if head != section:
            if lines:
                lines.append("")
            lines.append(f"[{head}]")
            section = head
        lines.append(f"{leaf} = {stated_text(settings[path])}")
    return "\n".join([*lines, "end", ""])


def written_order(path: str) -> tuple[object, ...]:
    """The order in the plain form: that of paths, but for a section's own lines, which are one."""
    rank, steps = path_order(path)
    head, _ = cut_path(path)
    return rank, path_order(head)[1], steps


def cut_path(path: str) -> tuple[str, str]:
    """The section that a path is written under, and the rest of it."""
    head, _, leaf = path.rpartition(".")
    found = declared(path)
    if found is not None and found.pattern.count(".") > 1:
        words = path.split(".")
        return ".".join(words[:2]), ".".join(words[2:])
    return head, leaf
