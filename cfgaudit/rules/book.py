"""The rule book in order: nothing is discovered by scanning."""

from functools import cache
from types import ModuleType

from cfgaudit.rules.rule import Rule


@cache
def book() -> tuple[Rule, ...]:
    """Every rule over one craft, area by area."""
    return tuple(rule for area in (*_what_is_heard(), *_what_is_flown()) for rule in area.RULES)


def _what_is_heard() -> tuple[ModuleType, ...]:
    """Ports, the receiver, what its switches do, and what happens without it."""
    from cfgaudit.rules import (
        agreement,
        claims,
        failsafe,
        receiver,
        serial,
        switch_needs,
        switches,
        wiring,
    )

    return (serial, wiring, agreement, claims, receiver, switches, switch_needs, failsafe)


def _what_is_flown() -> tuple[ModuleType, ...]:
    """Motors, power, control, sensors, the picture; and the dump itself."""
    from cfgaudit.rules import (
        battery,
        control,
        dump,
        esc,
        filters,
        motors,
        payload,
        power,
        sensors,
        video,
    )

    return (motors, esc, battery, power, control, filters, sensors, video, payload, dump)


@cache
def fleet_book() -> tuple[Rule, ...]:
    """Every rule over several craft that fly together; its check takes all of them at once."""
    from cfgaudit.rules import fleet

    return fleet.RULES


def every_rule() -> tuple[Rule, ...]:
    """The whole book: the rules over one craft, then those over several."""
    return book() + fleet_book()


def find(rule_id: str) -> Rule | None:
    """The rule with this id, or None."""
    return next((rule for rule in every_rule() if rule.id == rule_id), None)
