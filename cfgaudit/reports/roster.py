"""Many craft at once, as `fleet` tells of them: each audited, the odd ones out, all together."""

from collections.abc import Sequence
from typing import NamedTuple

from cfgaudit.audit.engine import RANK, Audit
from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Level
from cfgaudit.vocabulary.declare import NotStated


class Sender(NamedTuple):
    """A craft's picture on the air: its frequency and power, and the nearest other sender."""

    craft: int  # counted from 0
    mhz: float
    mw: float | None
    nearest: int | None  # the craft whose picture is nearest
    apart_mhz: float | None


class Roster(NamedTuple):
    """Several craft in the order of their names. `odd` has what one alone has so."""

    names: tuple[str, ...]
    audits: tuple[Audit, ...]
    odd: tuple[RowOfCraft, ...]
    together: FleetAudit
    passed_over: tuple[str, ...]  # files that no dialect knows

    @property
    def senders(self) -> tuple[Sender, ...]:
        """The craft that send a picture on a frequency that is told, the lowest first."""
        return senders([Craft(audit.settings) for audit in self.audits])

    def by_rule(self) -> list[tuple[Level, str, list[int]]]:
        """Errors and warnings: for each level and rule the craft that have it, gravest first."""
        found: dict[tuple[Level, str], list[int]] = {}
        for number, audit in enumerate(self.audits):
            for finding in audit.findings:
                craft = found.setdefault((finding.level, finding.rule.id), [])
                if number not in craft:
                    craft.append(number)
        told = [(level, rule, craft) for (level, rule), craft in found.items()]
        told = [entry for entry in told if entry[0] is not Level.NOTE]
        return sorted(told, key=lambda entry: (RANK[entry[0]], entry[1]))


def senders(crafts: Sequence[Craft]) -> tuple[Sender, ...]:
    """Where each craft's picture is on the air, and how far the nearest other one is."""
    on_air: list[tuple[float, int]] = []
    for number, craft in enumerate(crafts):
        transmitter = craft.video.transmitter
        silent = transmitter.states("enabled") and not transmitter.enabled
        if transmitter.states("frequency") and not silent:
            on_air.append((transmitter.frequency, number))
    found: list[Sender] = []
    for mhz, number in sorted(on_air):
        others = [(abs(mhz - other), at) for other, at in on_air if at != number]
        apart, nearest = min(others, default=(None, None))
        found.append(Sender(number, mhz, _power(crafts[number]), nearest, apart))
    return tuple(found)


def _power(craft: Craft) -> float | None:
    try:
        return craft.video.transmitter.power
    except NotStated:
        return None
