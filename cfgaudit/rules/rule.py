"""What a rule is and yields, the limits of taste that it reads, and words that rules share."""

import re
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any, Literal, NamedTuple, TypeVar

from cfgaudit.reading.text import Place
from cfgaudit.vocabulary.declare import NotStated, Part
from cfgaudit.vocabulary.kinds import BadValue, Quantity
from cfgaudit.vocabulary.units import number_text

T = TypeVar("T")
U = TypeVar("U")
K = TypeVar("K", bound=Hashable)
FRAME_RATE = "how often the receiver's link sends"  # what no setting of such a link tells
BUILD_SHEET = "the build sheet"  # what a rule lacks that asks for one where there is none


class Level(StrEnum):
    """How grave a finding is, in SARIF's words."""

    ERROR = "error"  # do not fly
    WARNING = "warning"  # look before flight
    NOTE = "note"  # worth knowing


class Edit(NamedTuple):
    """One setting's new value, in the plain form's spelling."""

    path: str
    value: str


class Fires(NamedTuple):
    """A rule's finding. `paths` says which settings it is about; the engine finds the places.

    `places` adds what has no path (a line that can't be read), or a path's other places.
    `figures` holds every number the message was computed from, by a plain name with its unit.
    `level` overrides the rule's own. `mend` is the change that clears it, `advice` the words
    for it where more than one change would. `choice` says, as half a sentence, why the mend is
    nothing to do unasked: a builder may have chosen what it changes, and loses something with it.
    `air` is what this one does in the air, where the rule's own words are about more than that.
    A rule over several craft says in `crafts` whose each path is: one number a path, counted from 0
    in the order given.
    """

    message: str
    paths: tuple[str, ...]
    figures: tuple[tuple[str, float], ...] = ()
    mend: tuple[Edit, ...] = ()
    advice: str = ""
    level: Level | None = None
    places: tuple[Place, ...] = ()
    crafts: tuple[int, ...] = ()
    choice: str = ""
    air: str = ""

    def mended(self, edits: Iterable[Edit]) -> "Fires":
        """The same with these edits in place of its advice; as it is where there are none."""
        mend = tuple(edits)
        return self._replace(mend=mend, advice="") if mend else self


class Lacks(NamedTuple):
    """Part of a rule could not be checked, for want of the setting at this path.

    A rule over several craft says in `craft` which of them lacks it, counted from 0.
    """

    path: str
    craft: int = 0


class NotApplicable(LookupError):  # noqa: N818 (it is an answer, not a fault)
    """What a rule raises that is not about such a craft; `why` is a whole sentence.

    It is raised on what the dump or the sheet states, never on what it leaves out: a rule that
    would have to guess lacks a setting. What the rule found before still stands.
    """

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


Yielded = Fires | Lacks
# A check takes the craft, then the build sheet where the rule asks for one (None where a rule that
# only wants it gets none), then the value of each limit that the rule names, in order.
# The check of a fleet rule takes a sequence of craft in place of the one.
Check = Callable[..., Iterator[Yielded]]


class Doc(NamedTuple):
    """A rule's docstring in its four parts."""

    wrong: str
    air: str
    mend: str
    source: str


class Rule(NamedTuple):
    """One rule: its id (`area/what-is-wrong`), level, documentation and check.

    `limits` names the values that are a matter of taste; they stand in limits.txt. The check of
    a `fleet` rule looks at several craft that fly together. A `sheet` rule looks at the build
    sheet too, and can't be checked without one; a `sheet_wanted` rule looks at it where there is
    one.
    """

    id: str
    level: Level
    doc: Doc
    check: Check
    limits: tuple[str, ...] = ()
    fleet: bool = False
    sheet: bool = False
    sheet_wanted: bool = False

    @property
    def area(self) -> str:
        """The part of the craft it looks at."""
        return self.id.partition("/")[0]


def rule(
    rule_id: str,
    level: Level,
    limits: tuple[str, ...] = (),
    *,
    fleet: bool = False,
    sheet: bool | Literal["wanted"] = False,
    over: Callable[..., Iterable[Any]] | None = None,
) -> Callable[[Check], Rule]:
    """Make a rule of a function. Its docstring must have the four parts that Doc names.

    The function takes the craft (a sequence of them with `fleet`), with `sheet` the build sheet
    after it, and then, in order, the value of each limit named here. With `sheet="wanted"` it is
    checked without a build sheet too, and then gets None for it.

    A rule about each of several things names in `over` what lists them, of craft and build sheet
    as the function gets them. It is checked for each as `each` does, and gets one after those two.

    Raises ValueError at import where the id or the docstring is not as it must be.
    """
    if not re.fullmatch(r"[a-z]+/[a-z0-9-]+", rule_id):
        raise ValueError(f"{rule_id!r} is no rule id: area/what-is-wrong is expected")

    def make(check: Check) -> Rule:
        doc = read_doc(rule_id, check.__doc__ or "")
        wanted = sheet == "wanted"
        run = check if over is None else _one_by_one(check, over, 2 if sheet else 1)
        return Rule(rule_id, level, doc, run, limits, fleet, bool(sheet) and not wanted, wanted)

    return make


def _one_by_one(check: Check, over: Callable[..., Iterable[Any]], given: int) -> Check:
    """A check of each of several things; the first `given` arguments say which those are."""

    def run(*args: Any) -> Iterator[Yielded]:
        of, limits = args[:given], args[given:]
        return each(over(*of), lambda item: check(*of, item, *limits))

    return run


_PART = re.compile(r"^\s*(In the air|Mend|Source):\s*", re.MULTILINE)


def read_doc(rule_id: str, docstring: str) -> Doc:
    """Cut a docstring into what is wrong, `In the air:`, `Mend:` and `Source:`."""
    pieces = _PART.split(docstring)
    wrong = " ".join(pieces[0].split())
    parts = dict(
        zip(pieces[1::2], (" ".join(piece.split()) for piece in pieces[2::2]), strict=True)
    )
    missing = [name for name in ("In the air", "Mend", "Source") if not parts.get(name)]
    if not wrong or missing:
        raise ValueError(f"{rule_id}: the docstring lacks {', '.join(missing) or 'its first part'}")
    return Doc(wrong, parts["In the air"], parts["Mend"], parts["Source"])


def each(items: Iterable[T | Lacks], check: Callable[[T], Iterator[Yielded]]) -> Iterator[Yielded]:
    """Check every item; one that lacks a setting does not keep the others from being checked.

    What could not be listed for want of a setting stands among the items as that lack. Raises
    NotApplicable, as the first item did, where the rule is about none of them.
    """
    about, first = False, None
    for item in items:
        if isinstance(item, Lacks):
            yield item
            continue
        try:
            yield from check(item)
        except NotStated as lack:
            yield Lacks(lack.path)
        except NotApplicable as answer:
            first = first or answer
            continue
        about = True
    if first is not None and not about:
        raise first


def below(items: Iterable[T | Lacks], of: Callable[[T], Iterable[U]]) -> Iterator[U | Lacks]:
    """What each item has below it; a lack in the place of what is not stated."""
    for item in items:
        if isinstance(item, Lacks):
            yield item
            continue
        try:
            yield from of(item)
        except NotStated as lack:
            yield Lacks(lack.path)


def in_groups(items: Iterable[T], key: Callable[[T], K]) -> dict[K, list[T]]:
    """The items that are alike in something, by what that is, all in their order."""
    groups: dict[K, list[T]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return groups


def lacking(parts: Iterable[Part], leaf: str) -> Iterator[Lacks]:
    """What is lacking of the parts that do not state a setting."""
    return (Lacks(part.path(leaf)) for part in parts if not part.states(leaf))


def grouped(value: float) -> str:
    """A number that is not negative, to two decimals, its thousands set apart: 57,600.

    >>> grouped(57600.0), grouped(256.25)
    ('57,600', '256.25')
    """
    whole, point, decimals = number_text(round(value, 2)).partition(".")
    return f"{int(whole):,}{point}{decimals}"


def listed(names: list[str]) -> str:
    """Names in a row: `a`, `a and b`, `a, b and c`."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def first_of(names: Sequence[str], most: int, joint: str = ", ") -> str:
    """The first names of several in a row, and how many more there are.

    >>> first_of(["a", "b", "c", "d"], 2), first_of(["a", "b"], 2)
    ('a, b and 2 more', 'a, b')
    """
    more = len(names) - most
    return joint.join(names[:most]) + (f" and {more} more" if more > 0 else "")


class LimitError(ValueError):
    """A limit that can't be moved so; `name` is the limit's, the text says what is wrong."""

    def __init__(self, name: str, message: str) -> None:
        super().__init__(message)
        self.name = name


class Limit(NamedTuple):
    """Where a rule begins to speak: `value` is in `unit`; `origin` says who thinks so."""

    name: str  # area.what
    value: float
    unit: str
    says: str
    origin: str


Limits = Mapping[str, Limit]


@cache
def usual_limits() -> Limits:
    """The limits as the rule book has them, by name."""
    text = Path(__file__).with_name("limits.txt").read_text(encoding="utf-8")
    rows = (line.split(" | ") for line in text.splitlines() if line and line[0] != "#")
    return {
        name: Limit(name, float(value), "" if unit == "-" else unit, says, origin)
        for name, value, unit, says, origin in rows
    }


def moved(limits: Limits, wanted: Mapping[str, str], origin: str) -> Limits:
    """The limits with some at other values, each spelled with its unit (`"3 %"`).

    `origin` says who moved them. Raises LimitError for a name that no limit has, and for a
    value that does not measure what the limit measures.

    >>> moved(usual_limits(), {"esc.idle_least": "3 %"}, "the club")["esc.idle_least"].value
    3.0
    """
    changed = dict(limits)
    for name, text in wanted.items():
        known = limits.get(name)
        if known is None:
            from difflib import get_close_matches

            near = get_close_matches(name, limits, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise LimitError(name, f"there is no limit {name!r}{hint}")
        try:
            value = Quantity(known.unit).read(text)
        except BadValue as error:
            raise LimitError(name, f"{name}: {error}") from None
        assert isinstance(value, float)
        changed[name] = known._replace(value=value, origin=origin)
    return changed
