"""Where a dump's values can belong: every setting of the vocabulary, and what tells of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from cfgaudit.craft.kinds import Filters, Kind
from cfgaudit.craft.vocabulary import Declared, vocabulary
from cfgaudit.dialects.collect import ELEMENT_PARTS
from cfgaudit.teaching.words import about, data_table, merged, tokens

AXES = ("roll", "pitch", "yaw")
_SAID, _ABOVE = 0.45, 0.6  # how much a word of the description, of the path above counts
# Names that a firmware may spell out in the key instead of in an index of its own.
_SPELLED = {"AXIS": AXES, "CONTROL": ("roll", "pitch", "throttle", "yaw")}


@dataclass(frozen=True)
class Goal:
    """One setting, or one part of an element of a list setting, with its indices in capitals."""

    target: str  # as a dialect names it: `ports.ID.baud`, `switches.FUNCTION.low`
    indices: tuple[str, ...]
    kind: Kind
    order: int  # in the vocabulary
    group: str  # the part of the vocabulary that it belongs to
    ideas: Mapping[str, float]
    choices: Mapping[str, tuple[str, ...]]  # closed lists of names, by index
    usual: tuple[float, float] | None = None
    one_of: frozenset[float] = frozenset()
    contrary: frozenset[str] = frozenset()  # words of a name that say the opposite
    spelled: str = ""  # the word of the key that it needs


@cache
def goals() -> tuple[Goal, ...]:
    """Every goal, in the order of the vocabulary."""
    return tuple(goal for order, entry in enumerate(vocabulary()) for goal in _of(entry, order))


def _of(entry: Declared, order: int) -> Iterator[Goal]:
    if entry.pattern in ("firmware.name", "firmware.version", "firmware.built"):
        return
    if entry.pattern in ("board.name", "board.revision"):
        return
    parts = ELEMENT_PARTS.get(type(entry.kind), {})
    if not parts:
        yield from _variants(entry, entry.pattern, entry.kind, order)
        return
    for number, (name, kind) in enumerate(parts.items()):
        target = f"{entry.pattern}.{name}"
        if isinstance(entry.kind, Filters):
            yield _goal(entry, f"{entry.pattern}[SLOT].{name}", target, kind, order, "", number)
            yield _goal(entry, f"{entry.pattern}[].{name}", target, kind, order, "", number)
        else:
            yield _goal(entry, target, target, kind, order, "", number)


def _variants(entry: Declared, pattern: str, kind: Kind, order: int) -> Iterator[Goal]:
    yield _goal(entry, pattern, pattern, kind, order)
    for index, names in _SPELLED.items():
        if index not in pattern.split("."):
            continue
        for number, name in enumerate(names):
            target = ".".join(name if word == index else word for word in pattern.split("."))
            yield _goal(entry, target, target, kind, order, name, number)


def _goal(
    entry: Declared, target: str, key: str, kind: Kind, order: int, spelled: str = "", at: int = 0
) -> Goal:
    facts = data_table("usual")
    words = key.split(".")
    capital = tuple(w for w in words if w.isupper())
    if "[SLOT]" in target:
        capital = (*capital, "SLOT")
    own = about(tokens(words[-1]) if not words[-1].isupper() else tokens(words[-2]))
    above = about((t for w in words[:-1] if not w.isupper() for t in tokens(w)), _ABOVE)
    said = about(tokens(entry.traits.says), _SAID)
    sort = ".".join(entry.pattern.split(".") if key == entry.pattern else words)
    pattern = entry.pattern if spelled else sort
    span = facts["range"].get(key) or facts["range"].get(pattern)
    group = [w for w in words[:-1] if w not in (spelled, "AXIS")]
    return Goal(
        target,
        capital,
        kind,
        order * 10 + at,
        ".".join(group) or words[0],
        merged(own, above, said),
        dict(entry.choices),
        (float(span[0]), float(span[1])) if span else None,
        frozenset(float(v) for v in facts["one_of"].get(key, facts["one_of"].get(pattern, ()))),
        frozenset(facts["contrary"].get(entry.pattern, "").split()),
        spelled,
    )


def is_part(goal: Goal) -> bool:
    """Whether it is a part of one element of a list setting."""
    return "[" in goal.target or (
        goal.target.startswith("switches.") and goal.target.count(".") == 2
    )
