"""`cfgaudit explain`: what a rule or a setting is."""

import click

from cfgaudit.cli.options import output_options
from cfgaudit.cli.output import put_screen, screen_width


@click.command()
@click.argument("subject", metavar="RULE|PATH")
@output_options
def command(subject: str, output: str | None, color: str) -> int:
    """Explain a rule (area/what-is-wrong) or a setting (a neutral path)."""
    from difflib import get_close_matches

    from cfgaudit.craft.vocabulary import declared, vocabulary
    from cfgaudit.reports.terminal_explain import rule_screen, setting_screen
    from cfgaudit.rules.book import book, find

    rule = find(subject)
    if rule is not None:
        put_screen(rule_screen(rule, screen_width()), output, color)
        return 0
    setting = declared(subject) or next((d for d in vocabulary() if d.pattern == subject), None)
    if setting is not None:
        put_screen(setting_screen(setting, screen_width()), output, color)
        return 0
    names = [r.id for r in book()] if "/" in subject else [d.pattern for d in vocabulary()]
    near = get_close_matches(subject, names, n=3)
    hint = f" Did you mean {', '.join(near)}?" if near else ""
    raise click.UsageError(f"there is no rule or setting {subject!r}.{hint}")
