"""`cfgaudit explain`: what a rule or a setting is."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from cfgaudit.cli.options import output_options
from cfgaudit.cli.output import put_screen, screen_width

if TYPE_CHECKING:  # a setting is explained without them
    from cfgaudit.rules.rule import Rule


@click.command()
@click.argument("subject", metavar="RULE|PATH")
@output_options
def command(subject: str, output: str | None, color: str) -> int:
    """Explain a rule (area/what-is-wrong) or a setting (a neutral path)."""
    from cfgaudit.craft.vocabulary import declared, vocabulary
    from cfgaudit.reports.terminal_explain import rule_screen, setting_screen

    rules = _rules(subject) if "/" in subject else ()
    rule = next((rule for rule in rules if rule.id == subject), None)
    if rule is not None:
        put_screen(rule_screen(rule, screen_width()), output, color)
        return 0
    setting = declared(subject) or next((d for d in vocabulary() if d.pattern == subject), None)
    if setting is not None:
        put_screen(setting_screen(setting, screen_width()), output, color)
        return 0
    from difflib import get_close_matches

    names = [rule.id for rule in rules] or [d.pattern for d in vocabulary()]
    near = get_close_matches(subject, names, n=3)
    hint = f" Did you mean {', '.join(near)}?" if near else ""
    raise click.UsageError(f"there is no rule or setting {subject!r}.{hint}")


def _rules(subject: str) -> "Sequence[Rule]":
    """The rules that an id may name: the book's, else also those of waivers and of this folder."""
    from cfgaudit.rules.book import every_rule, find

    if find(subject) is not None:
        return every_rule()
    from cfgaudit.audit.waivers import RULES
    from cfgaudit.cli.inputs import Inputs

    house = Inputs().house("-")
    return (*every_rule(), *RULES, *(house.rules if house else ()))
