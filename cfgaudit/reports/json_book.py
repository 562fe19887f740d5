"""Machine output of `explain`, version 1: rules, the limits that they take, settings."""

from collections.abc import Iterable
from typing import Any

from cfgaudit import __version__
from cfgaudit.reports.json_report import VERSION
from cfgaudit.rules.rule import Limit, Rule, usual_limits
from cfgaudit.vocabulary.kinds import unit_of
from cfgaudit.vocabulary.paths import Declared


def book_json(
    rules: Iterable[Rule], limits: Iterable[Limit], settings: Iterable[Declared]
) -> dict[str, Any]:
    """The whole output of explain: what was asked for."""
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "rules": [_rule_json(rule) for rule in rules],
        "limits": [_limit_json(limit) for limit in limits],
        "settings": [_setting_json(setting) for setting in settings],
    }


def _rule_json(rule: Rule) -> dict[str, Any]:
    return {
        "rule": rule.id,
        "area": rule.area,
        "level": rule.level.value,
        "fleet": rule.fleet,
        "sheet": rule.sheet,
        "wrong": rule.doc.wrong,
        "in_the_air": rule.doc.air,
        "mend": rule.doc.mend,
        "source": rule.doc.source,
        "limits": list(rule.limits),
    }


def _limit_json(limit: Limit) -> dict[str, Any]:
    return {
        "limit": limit.name,
        "value": limit.value,
        "unit": limit.unit,
        "says": limit.says,
        "origin": limit.origin,
        "usual": usual_limits()[limit.name].value,
    }


def _setting_json(setting: Declared) -> dict[str, Any]:
    traits = setting.traits
    return {
        "setting": setting.pattern,
        "class": setting.cls.name.lower(),
        "unit": unit_of(setting.kind),
        "takes": setting.kind.says,
        "says": traits.says,
        "names": {index: list(names) for index, names in setting.choices},
        "craft_own": traits.craft_own,
        "volatile": traits.volatile,
        "secret": traits.secret,
    }
