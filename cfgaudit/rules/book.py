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
        claims,
        failsafe,
        pads,
        receiver,
        receiver_links,
        receiver_travel,
        serial,
        serial_rates,
        serial_settings,
        switch_needs,
        switch_positions,
        switches,
        wiring_sheet,
    )

    return (
        serial, serial_settings, serial_rates, wiring_sheet, pads, claims,
        receiver, receiver_links, receiver_travel, switches, switch_positions, switch_needs,
        failsafe,
    )  # fmt: skip


def _what_is_flown() -> tuple[ModuleType, ...]:
    """Motors, power, control, sensors, the picture; and the dump itself."""
    from cfgaudit.rules import (
        battery,
        battery_sheet,
        dump,
        esc,
        filters,
        flight_log,
        gains,
        home,
        loop,
        motor_sheet,
        motors,
        notches,
        overlay,
        power,
        rates,
        sensor_mounting,
        sensors,
        video,
    )

    return (
        motors, motor_sheet, esc, battery, battery_sheet, power,
        loop, filters, notches, gains, rates, sensor_mounting, sensors, home,
        video, overlay, dump, flight_log,
    )  # fmt: skip


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
