"""What is kept of one craft of a fleet: a small record, and the desk that makes it of bytes."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from hashlib import sha256
from itertools import combinations
from math import hypot
from typing import NamedTuple, Protocol

from cfgaudit.audit.engine import Audit
from cfgaudit.audit.incremental import FleetAuditor
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.opening import open_dump
from cfgaudit.reading.text import BOUNDS
from cfgaudit.rules.rule import Level, Limits, Rule
from cfgaudit.settings import DumpFacts, Settings, Stated
from cfgaudit.vocabulary.paths import declared

_TEXTS = 5_000  # values spelled
_TOP = 4_000  # bytes of a dump in which its firmware usually names itself
# Classes of size by the greatest distance between two motors, in millimetres. Their bounds are
# ours: they lie between the sizes that frames are sold in.
_SIZES = (100, 160, 260, 380)


class KeptFinding(NamedTuple):
    """A finding as a fleet keeps it.

    `was` has the values that its paths had when the craft was audited before, where a change of
    them brought it; "" for one that was not stated. Empty where nothing is known of that.
    """

    rule: str
    level: str
    paths: tuple[str, ...]
    fingerprint: str
    was: tuple[str, ...] = ()


class Record(NamedTuple):
    """One craft of a fleet. `paths` and `texts` are its settings, value by value, nothing secret.

    Where `reason` says why it was not audited, all behind it is empty.
    """

    source: str
    digest: str  # of the bytes, SHA-256
    stamp: str = ""  # what it was audited by
    reason: str = ""
    craft: str = ""
    firmware: str = ""
    version: str = ""
    built: str = ""
    board: str = ""
    layout: str = ""
    size: str = ""
    cells: str = ""
    lines: int = 0
    unread: int = 0
    errors: int = 0
    warnings: int = 0
    notes: int = 0
    unchecked: int = 0
    findings: tuple[KeptFinding, ...] = ()
    paths: tuple[str, ...] = ()
    texts: tuple[str, ...] = ()

    @property
    def values(self) -> dict[str, str]:
        """The settings as a mapping."""
        return dict(zip(self.paths, self.texts, strict=True))

    @property
    def like(self) -> tuple[str, str, str]:
        """What craft it is like: layout, class of size, firmware."""
        return self.layout, self.size, self.firmware


def since(before: Record, now: Record) -> Record:
    """A record that knows which of its findings a change since the one before brought.

    One that is there still keeps what was known of it. A finding is brought by a change where the
    same rule said nothing of those settings before, and one of them has another value now.
    """
    known = {found.fingerprint: found.was for found in before.findings}
    spoken = {(found.rule, found.paths) for found in before.findings}
    then, values = before.values, now.values

    def was(found: KeptFinding) -> tuple[str, ...]:
        if found.fingerprint in known:
            return known[found.fingerprint]
        old = tuple(then.get(path, "") for path in found.paths)
        same = old == tuple(values.get(path, "") for path in found.paths)
        return () if before.reason or same or (found.rule, found.paths) in spoken else old

    return now._replace(findings=tuple(f._replace(was=was(f)) for f in now.findings))


class Auditing(Protocol):
    """Makes a record of a dump's bytes."""

    def stamp(self, source: str) -> str:
        """What tells whether an audit of that source would come out the same: see stamp_of."""
        ...

    def record(self, source: str, data: bytes) -> Record:
        """The record of one dump. Never raises."""
        ...


def digest_of(data: bytes) -> str:
    """The bytes' SHA-256, in hexadecimal digits."""
    return sha256(data).hexdigest()


def mark_of(stamp: str, digest: str) -> str:
    """What tells a record apart: by what which bytes were audited."""
    return f"{stamp}:{digest}"


def stamp_of(version: str, rules: Iterable[Rule], limits: Limits, texts: Iterable[str]) -> str:
    """What tells whether an audit would come out the same: the program's version, the rules, their
    limits, and the texts of dialects and settings files.
    """
    parts = [version, *sorted(rule.id for rule in rules)]
    parts += sorted(f"{name} {limit.value!r}" for name, limit in limits.items())
    parts += sorted(sha256(text.encode("utf-8", "backslashreplace")).hexdigest() for text in texts)
    return sha256("\n".join(parts).encode()).hexdigest()[:16]


def size_of(values: Mapping[str, str]) -> str:
    """The class of size, by the arms; "" where a dump does not tell where they are."""
    arms: dict[str, dict[str, float]] = {}
    for path in values:
        if not path.startswith("frame.arms."):
            continue
        words = path.split(".")
        if len(words) == 4:
            number, _, unit = values[path].partition(" ")
            arms.setdefault(words[2], {})[words[3]] = float(number) * (1000 if unit == "m" else 1)
    placed = [(arm["x"], arm["y"]) for arm in arms.values() if {"x", "y"} <= arm.keys()]
    apart = [hypot(one[0] - two[0], one[1] - two[1]) for one, two in combinations(placed, 2)]
    if not apart:
        return ""
    upper = next((limit for limit in _SIZES if max(apart) <= limit), None)
    lower = max((limit for limit in _SIZES if limit < max(apart)), default=0)
    return f"over {lower} mm" if upper is None else f"{lower} to {upper} mm"


class SpelledValues:
    """Values as text, each value of a setting spelled once."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, type, object], str] = {}
        self._paths: dict[tuple[str, ...], tuple[str, ...]] = {}

    def of(self, settings: Settings) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The paths and texts that a record keeps: trusted, not secret, not moving by themselves,
        not the craft's own name.
        """
        if len(self._known) > _TEXTS or len(self._paths) > 1_000:
            self._known.clear()
            self._paths.clear()
        known = self._known
        paths: list[str] = []
        texts: list[str] = []
        for path, stated in settings.stated.items():
            if stated.secret or stated.volatile or stated.doubt:
                continue
            key = path, type(stated.value), stated.value
            text = known.get(key)
            if text is None:
                text = known[key] = _text(path, stated)
            if text:
                paths.append(path)
                texts.append(text)
        all_paths = tuple(paths)
        return self._paths.setdefault(all_paths, all_paths), tuple(texts)


def _text(path: str, stated: Stated) -> str:
    """A value's text; "" for one that is not to be kept."""
    found = declared(path)
    if found is None or found.traits.secret or path.startswith("craft."):
        return ""
    return found.kind.spell(stated.value)


Whole = Callable[[str, Settings], Audit | None]


class Desk:
    """Audits one dump after another by the same dialects, rules and limits; memory is bounded.

    `whole` gives the audit of a craft that wants more than its dump, such as its build sheet;
    None for one that does not.
    """

    def __init__(
        self,
        dialects: Sequence[Dialect],
        rules: Sequence[Rule],
        limits: Limits | None = None,
        chosen: Dialect | None = None,
        stamp: str = "",
        whole: Whole = lambda source, settings: None,
    ) -> None:
        self._dialects, self._chosen = tuple(dialects), chosen
        self._auditor = FleetAuditor(rules, limits)
        self._spelling = SpelledValues()
        self._stamp, self._whole = stamp, whole

    def stamp(self, source: str) -> str:
        """As Auditing does: the same for every source."""
        return self._stamp

    def record(self, source: str, data: bytes) -> Record:
        """The record of one dump. Never raises."""
        digest = digest_of(data)
        if len(data) > BOUNDS.file_bytes:
            return Record(source, digest, self._stamp, too_large(BOUNDS.file_bytes))
        try:
            return self._record(source, digest, data)
        except Exception as error:  # one dump must not stop a fleet, whatever is in it
            failed = f"cfgaudit itself failed: {type(error).__name__}"
            return Record(source, digest, self._stamp, failed)

    def _record(self, source: str, digest: str, data: bytes) -> Record:
        # read under no name: what its lines do is then remembered for others, places and all
        top = data[:_TOP]
        known = sorted(self._dialects, key=lambda dialect: dialect.name.encode() not in top)
        opened = open_dump("", data, known, self._chosen)
        if not opened.dialect.name:
            return Record(source, digest, self._stamp, NO_DIALECT)
        settings = opened.settings
        audit = self._whole(source, settings)
        if audit is not None:
            findings, lacks = audit.findings, len(audit.not_checked)
        else:
            outcome = self._auditor.outcome(settings)
            findings, lacks = outcome.findings, len(outcome.lacks)
        paths, texts = self._spelling.of(settings)
        values = dict(zip(paths, texts, strict=True))
        levels = [finding.level for finding in findings]
        facts = settings.dumps[0] if settings.dumps else DumpFacts("")
        name = settings.stated.get("craft.name")

        def said(path: str) -> str:
            return values.get(path, "").strip("\"'")

        return Record(
            source,
            digest,
            self._stamp,
            "",
            "" if name is None or name.secret else str(name.value),
            said("firmware.name"),
            said("firmware.version"),
            said("firmware.built"),
            said("board.name"),
            said("frame.layout"),
            size_of(values),
            said("battery.cells"),
            facts.lines,
            facts.unread,
            levels.count(Level.ERROR),
            levels.count(Level.WARNING),
            levels.count(Level.NOTE),
            lacks,
            tuple(KeptFinding(f.rule.id, str(f.level), f.paths, f.fingerprint) for f in findings),
            paths,
            texts,
        )


NO_DIALECT = "no dialect knows it"


def too_large(most: int) -> str:
    """Why a file of more bytes is not read."""
    return f"larger than {most / 1e6:,.0f} MB, and so no dump"
