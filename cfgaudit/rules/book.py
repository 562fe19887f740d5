"""The rule book in order: nothing is discovered by scanning."""

from functools import cache

from cfgaudit.rules.rule import Rule


@cache
def book() -> tuple[Rule, ...]:
    """Every rule, area by area."""
    from cfgaudit.rules import (
        battery,
        claims,
        dump,
        esc,
        failsafe,
        loop,
        motors,
        pads,
        receiver,
        serial,
        switches,
    )

    areas = (
        serial, pads, claims, receiver, switches, failsafe, motors, esc, battery, loop, dump
    )  # fmt: skip
    return tuple(rule for area in areas for rule in area.RULES)


def find(rule_id: str) -> Rule | None:
    """The rule with this id, or None."""
    return next((rule for rule in book() if rule.id == rule_id), None)
