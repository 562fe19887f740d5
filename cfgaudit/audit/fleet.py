"""Several craft together: the fleet rules over all of them at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from cfgaudit.audit.engine import Finding, Waived, finding_of, in_order, run
from cfgaudit.craft.craft import Craft
from cfgaudit.rules.book import fleet_book
from cfgaudit.rules.fleet import names_of
from cfgaudit.rules.rule import Fires, Lacks, Limits, Rule, usual_limits
from cfgaudit.settings import Settings


class UncheckedAmong(NamedTuple):
    """A fleet rule that could not be checked for some craft, and what each of them lacks."""

    rule: Rule
    lacks: tuple[Lacks, ...]


@dataclass(frozen=True)
class FleetAudit:
    """What the fleet rules say of several craft. `names` tells them apart, in the order given."""

    names: tuple[str, ...]
    findings: tuple[Finding, ...]
    not_checked: tuple[UncheckedAmong, ...]
    waived: tuple[Waived, ...] = ()  # set apart from the findings; see waivers.py
    known: tuple[Finding, ...] = ()  # set apart from the findings; see baseline.py


def audit_fleet(
    crafts: Sequence[Settings], rules: Sequence[Rule] | None = None, limits: Limits | None = None
) -> FleetAudit:
    """Run the fleet rules over several craft; joined dumps of one craft are one of them."""
    fleet = [Craft(settings) for settings in crafts]
    within = usual_limits() if limits is None else limits
    findings: list[Finding] = []
    unchecked: list[UncheckedAmong] = []
    for rule in fleet_book() if rules is None else rules:
        fired, lacks, _ = run(rule, fleet, within)
        findings += [_finding(rule, fires, crafts) for fires in fired]
        if lacks:
            unchecked.append(UncheckedAmong(rule, tuple(dict.fromkeys(lacks))))
    return FleetAudit(names_of(fleet), in_order(findings), tuple(unchecked))


def _finding(rule: Rule, fires: Fires, crafts: Sequence[Settings]) -> Finding:
    """The finding with each path's place in its own craft's dump."""
    owners = [crafts[number] for number in fires.crafts]
    stated = [owner.stated.get(path) for owner, path in zip(owners, fires.paths, strict=True)]
    names = [owner.stated.get("craft.name") for owner in owners]
    return finding_of(rule, fires, stated, [str(name.value) if name else "" for name in names])
