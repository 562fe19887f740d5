"""Audits by a folder's settings (limits, rules of its own, waivers) and by what is installed."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING

from cfgaudit.audit.engine import Audit, audit
from cfgaudit.cli.inputs import Inputs
from cfgaudit.rules.book import book, fleet_book
from cfgaudit.settings import Settings

if TYPE_CHECKING:  # one dump alone has no use for it
    from cfgaudit.audit.fleet import FleetAudit

Day = datetime | None  # what --today gives


def audited(
    inputs: Inputs,
    dumps: Sequence[str],
    crafts: Sequence[Settings],
    today: Day,
    sheets: Sequence[Settings | None],
    *,
    tell: bool = True,
) -> list[Audit]:
    """The audit of each craft, by plug-ins and by the settings of the folder that its dump is in.

    `sheets` are the build sheets of the crafts, None where there is none.
    What is wrong with a waiver is told with the first craft that it is for, unless `tell` is off.
    """
    made: list[Audit] = []
    together: dict[str, list[int]] = {}  # the crafts that one settings file holds for
    for number, (dump, settings) in enumerate(zip(dumps, crafts, strict=True)):
        house = inputs.house(dump)
        own = house.rules if house else ()
        rules = (*book(), *inputs.plugins().single, *own)
        limits = house.limits if house else None
        made.append(audit(settings, rules, limits, sheets[number]))
        if house and house.waivers:
            together.setdefault(str(house.waivers[0].place.file), []).append(number)
    for numbers in together.values():
        from cfgaudit.audit.waivers import waive

        house = inputs.house(dumps[numbers[0]])
        assert house is not None  # as it has waivers
        done = waive([made[n] for n in numbers], house.waivers, _day(today), tell=tell)
        for number, entry in zip(numbers, done, strict=True):
            made[number] = entry
    return made


def audited_together(
    inputs: Inputs, dumps: Sequence[str], crafts: Sequence[Settings], today: Day
) -> "FleetAudit":
    """What several craft do to one another, by plug-ins and the settings of the first's folder."""
    from cfgaudit.audit.fleet import audit_fleet

    house = inputs.house(dumps[0])
    rules = (*fleet_book(), *inputs.plugins().fleet)
    if house is None:
        return audit_fleet(crafts, rules)
    from cfgaudit.audit.waivers import waive_fleet

    return waive_fleet(audit_fleet(crafts, rules, house.limits), house.waivers, _day(today))


def _day(today: Day) -> date:
    """The day to judge waivers by: the one asked for, else the machine's."""
    return today.date() if today is not None else date.today()
