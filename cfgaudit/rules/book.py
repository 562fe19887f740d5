"""The rule book in order: nothing is discovered by scanning."""

from functools import cache

from cfgaudit.rules.rule import Rule


@cache
def book() -> tuple[Rule, ...]:
    """Every rule over one craft, area by area."""
    from cfgaudit.rules import (
        battery,
        battery_sheet,
        claims,
        dump,
        esc,
        failsafe,
        filters,
        flight_log,
        gains,
        home,
        loop,
        motor_sheet,
        motors,
        notches,
        overlay,
        pads,
        power,
        rates,
        receiver,
        receiver_links,
        receiver_travel,
        sensor_mounting,
        sensors,
        serial,
        serial_rates,
        serial_settings,
        switch_needs,
        switch_positions,
        switches,
        video,
        wiring_sheet,
    )

    areas = (
        serial, serial_settings, serial_rates, wiring_sheet, pads, claims,
        receiver, receiver_links, receiver_travel, switches, switch_positions, switch_needs,
        failsafe, motors, motor_sheet, esc, battery, battery_sheet, power,
        loop, filters, notches, gains, rates, sensor_mounting, sensors, home,
        video, overlay, dump, flight_log,
    )  # fmt: skip
    return tuple(rule for area in areas for rule in area.RULES)


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
