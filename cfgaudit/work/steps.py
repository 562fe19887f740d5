"""The steps of a working list: what each says and asks, and what the craft and its sheet tell."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from fnmatch import translate
from hashlib import sha256
from re import compile as compile_pattern
from typing import Final, NamedTuple, TypeVar

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.dialects.plain import stated_text
from cfgaudit.physics.power import cell_limits
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.declare import NotStated, Traits
from cfgaudit.vocabulary.paths import declared, declared_in_sheet
from cfgaudit.vocabulary.sheet import ROOT

T = TypeVar("T")

SECTIONS: Final = {
    "before": "Before power",
    "first": "First power, with a current limiter",
    "ports": "Ports, sensors and receiver",
    "switches": "Switches",
    "failsafe": "Failsafe, propellers off",
    "motors": "Motors, propellers off",
    "measuring": "Voltage and current",
    "video": "Video",
    "propellers": "Propellers on",
    "hover": "First hover",
    "after": "After the hover",
}

_RULES: Final = "Local rules and licensed practice go before this list."
SPINNING: Final = (
    "Spinning propellers cut. Nobody stands within reach or in their plane; unplug the pack "
    f"before a hand goes near. {_RULES}"
)
LITHIUM: Final = (
    "A lithium pack that is shorted, crushed or overcharged burns. Keep it in sight and away from "
    f"what burns, and follow its maker. {_RULES}"
)
RADIO: Final = (
    "A transmitter without its antenna breaks, and not every frequency and power is allowed. "
    f"{_RULES}"
)
HEIGHT: Final = (
    f"What falls from a height hurts whoever is below. Stay low and away from people. {_RULES}"
)
FLYING: Final = (
    "Spinning propellers cut, and what falls hurts whoever is below. Stay low, away from people, "
    f"and ready to disarm. {_RULES}"
)
STANDING: Final = "Motors may start by themselves. Propellers off, craft held down, hands clear."


class Ask(NamedTuple):
    """What is to be told when a step is done, and what it is judged by.

    kind    tells
    yes     that it was so; `no` says that it was not
    number  one number in `unit`, from `low` to `high` if these are given
    pair    what a meter shows, then what the craft shows, in `unit`; they may differ by the part
            `part` of the meter's, or by `least`; `sets` is the setting that puts it right, which
            has the value `now` and is changed the way that `way` says (see judging.py)
    turn    which arm was seen to turn, and `cw` or `ccw`: `arm` and `turn` are wanted
    audit   nothing: it is worked out anew whenever the list is made
    """

    kind: str = "yes"
    unit: str = ""
    low: float | None = None
    high: float | None = None
    part: float = 0.0
    least: float = 0.0
    sets: str = ""
    now: float | None = None
    scale: float | None = None
    way: str = ""
    arm: str = ""
    turn: str = ""
    sample: str = ""  # how a value is written; N stands for a number


YES: Final = Ask()


class BenchStep(NamedTuple):
    """One step: what to do and what to expect, which steps come before it, what it asks.

    `watches` are the settings of dump and sheet that it proves, as paths, what is below them, or
    with `*`; `proves` has them with their values, once the craft is known. Where one of them has
    changed, a step that was done counts as open again.
    """

    id: str
    section: str
    do: str
    expect: str
    after: tuple[str, ...] = ()
    caution: str = ""
    ask: Ask = YES
    watches: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()


class Known(NamedTuple):
    """What sheet and dump tell; the craft's settings are empty where no dump was given.

    `also` gives by name of a port or pad what it is called on the board and by the firmware.
    """

    craft: Craft
    sheet: Sheet
    has_dump: bool
    also: Mapping[str, str]

    def place(self, name: str) -> str:
        """A port or pad by all its names."""
        return f"{name} ({self.also[name]})" if name in self.also else name

    def told(self, *reads: Callable[[], T]) -> T | None:
        """The first of these that is stated, or None."""
        for read in reads:
            try:
                return read()
            except NotStated:
                continue
        return None

    @property
    def cells(self) -> int | None:
        """Cells in series, by the sheet, else by the dump."""
        found = self.told(lambda: self.sheet.battery.cells, lambda: self.craft.battery.cells)
        return found if isinstance(found, int) else None

    def cell_volts(self) -> tuple[float, float, float] | None:
        """Floor, warning and full voltage of a cell: the dump's own, else its chemistry's."""
        chemistry = self.told(
            lambda: self.sheet.battery.chemistry, lambda: self.craft.battery.chemistry
        )
        if chemistry is None:
            return None
        usual = cell_limits(chemistry)
        warn = self.told(lambda: self.craft.battery.warn_cell)
        full = self.told(lambda: self.craft.battery.full_cell)
        return usual.floor_v, usual.warn_v if warn is None else warn, full or usual.full_v


def known_of(
    settings: Settings | None, sheet: Settings, also: Mapping[str, str] | None = None
) -> Known:
    """What a dump (None for none) and a sheet tell, and what else ports and pads are called."""
    return Known(Craft(settings or Settings()), Sheet(sheet), settings is not None, also or {})


# What somebody soldered: where it is another, joint and pole and limiter are looked at again.
SOLDERED: Final = (
    *(f"sheet.devices.*.{leaf}" for leaf in ("kind", "port", "pad", "wires", "rail", "fed_by")),
    *(f"sheet.motors.*.{leaf}" for leaf in ("output", "pad", "wires")),
    *(f"sheet.rails.*.{leaf}" for leaf in ("choice", "fed_by", "sources.*")),
    "sheet.board.name",
)
PACK: Final = (
    "sheet.battery", "battery.chemistry", "battery.cells", "battery.warn_cell", "battery.full_cell",
)  # fmt: skip
_MOST_LINES: Final = 60  # beyond it a record would be all settings; they are told by a digest


def proof(known: Known, watches: Sequence[str]) -> tuple[str, ...]:
    """The settings that a step proves with their values, as `path = value`, in order.

    What a firmware writes by itself proves nothing; a secret is not written down. Very many of the
    dump's are one line, `dump = 411 settings, DIGEST`.
    """
    exact = tuple(name for name in watches if "*" not in name)
    below = tuple(f"{name}." for name in exact)
    globs = [compile_pattern(translate(name)).match for name in watches if "*" in name]
    found: dict[bool, list[str]] = {True: [], False: []}
    for table in (known.sheet.settings, known.craft.settings):
        for path in sorted(table.stated):
            if path in exact or path.startswith(below) or any(fits(path) for fits in globs):
                traits = _traits(path)
                if traits is None or not (traits.volatile or traits.secret):
                    found[path.startswith(f"{ROOT}.")].append(proof_of(table[path]))
    if len(found[False]) > _MOST_LINES:
        digest = sha256("\n".join(found[False]).encode()).hexdigest()[:16]
        found[False] = [f"dump = {len(found[False])} settings, {digest}"]
    return (*found[True], *found[False])


def proof_of(stated: Stated) -> str:
    """One setting with its value, as a record has it."""
    return f"{stated.path} = {stated_text(stated)}"


def _traits(path: str) -> Traits | None:
    entry = declared_in_sheet(path) or declared(path)
    return None if entry is None else entry.traits


def find_out(
    known: Known, subject: str, section: str, paths: Sequence[str], after: Iterable[str]
) -> BenchStep:
    """The step for what neither sheet nor dump tells; `paths` are of either."""
    hints = []
    for path in paths:
        entry = declared_in_sheet(path) or declared(path)
        says = f" ({entry.traits.says})" if entry else ""
        hints.append(f"{path.removeprefix(ROOT + '.')}{says}")
    where = "write it into the build sheet"
    if not any(path.startswith(f"{ROOT}.") for path in paths):
        where = "set it, and read the dump anew" if known.has_dump else "read a dump out"
    return BenchStep(
        f"find-out-{subject}",
        section,
        f"Find out: {'; '.join(hints)}. Then {where}.",
        "Neither sheet nor dump tells it, so the list can't say what to expect.",
        tuple(after),
        proves=(f"asked for = {', '.join(paths)}",),
    )


def named(word: str) -> str:
    """A name of the vocabulary in plain words: front_left becomes front left."""
    return word.replace("_", " ")
