"""`cfgaudit explain`: what a rule, a limit or a setting is; or the whole book."""

from collections.abc import Sequence

import click

from cfgaudit.cli import did_you_mean
from cfgaudit.cli.options import output_options
from cfgaudit.cli.output import Output
from cfgaudit.reports.explain import (
    Explanation,
    book_json,
    book_markdown,
    limit_screen,
    rule_screen,
    setting_screen,
)
from cfgaudit.reports.screen import Screen
from cfgaudit.rules.rule import Limits, Rule, usual_limits
from cfgaudit.vocabulary.paths import (
    declared_anywhere,
    every_declared,
    sheet_vocabulary,
    vocabulary,
)

_MOST_BELOW = 12  # names of what there is below an area or a subsystem


@click.command()
@click.argument("subject", metavar="[RULE|LIMIT|PATH]", required=False)
@click.option("--all", "everything", is_flag=True, help="The whole book, as Markdown.")
@output_options("terminal", "json")
def command(subject: str | None, everything: bool, out: Output) -> int:
    """Explain a rule (area/what-is-wrong), a limit or a setting (a neutral path).

    Such as `failsafe/throttle-held`, which findings name; `battery.warn_cell`, which `show` lists;
    `esc.idle_least`. Of an area or a
    subsystem alone it names what there is.
    """
    if everything == (subject is not None):
        raise click.UsageError(
            "explain wants a rule, a limit, a setting, or --all instead, "
            "as in: cfgaudit explain failsafe/throttle-held"
        )
    told = _whole() if subject is None else _asked(subject)
    if subject is None and out.form == "terminal":
        out.put_text(book_markdown(told))
    else:
        out.put(lambda width: _screen(told, width), lambda: book_json(told))
    return 0


def _whole() -> Explanation:
    settings = (*vocabulary(), *sheet_vocabulary())
    return Explanation(_every_rule(), list(_limits().values()), settings)


def _asked(subject: str) -> Explanation:
    """The rule, the setting or the limit of this name. Raises click.UsageError."""
    if "/" in subject:
        rules = _rules(subject)
        rule = next((rule for rule in rules if rule.id == subject), None)
        if rule is None:
            raise _none_such(subject, [rule.id for rule in rules])
        limits = _limits() if rule.limits else {}
        return Explanation((rule,), [limits[name] for name in rule.limits])
    every = every_declared(subject)
    setting = declared_anywhere(subject) or next((d for d in every if d.pattern == subject), None)
    if setting is not None:
        return Explanation(settings=(setting,))
    limits = _limits()
    if subject in limits:
        return Explanation(limits=(limits[subject],))
    names = [*(d.pattern for d in every), *limits]
    raise _none_such(subject, names, [*names, *(rule.id for rule in _every_rule())])


def _none_such(subject: str, names: Sequence[str], heads: Sequence[str] = ()) -> click.UsageError:
    """The refusal, with what there is below that name among `heads`, else the nearest `names`."""
    below = [name for name in heads if name.startswith((f"{subject}.", f"{subject}/"))]
    hint = did_you_mean(subject, names, most=3)
    if below:
        more = f" and {len(below) - _MOST_BELOW} more" * (len(below) > _MOST_BELOW)
        hint = f" Below it there are {', '.join(below[:_MOST_BELOW])}{more}."
    return click.UsageError(f"there is no rule, limit or setting {subject!r}.{hint}")


def _screen(told: Explanation, width: int) -> Screen:
    if told.rules:
        return rule_screen(told.rules[0], told.limits, width)
    if told.settings:
        return setting_screen(told.settings[0], width)
    limit = told.limits[0]
    taking = [rule for rule in _every_rule() if limit.name in rule.limits]
    return limit_screen(limit, usual_limits()[limit.name], taking, width)


def _rules(subject: str) -> Sequence[Rule]:
    """The rules that an id may name; those of the book alone where it is one of them."""
    from cfgaudit.rules.book import every_rule, find  # a setting is explained without them

    return every_rule() if find(subject) is not None else _every_rule()


def _every_rule() -> tuple[Rule, ...]:
    """The book's rules, then those of plug-ins, of waivers and of this folder."""
    from cfgaudit.audit.waivers import RULES
    from cfgaudit.cli.inputs import Inputs
    from cfgaudit.rules.book import every_rule

    inputs = Inputs()
    house = inputs.house("-")
    return (*every_rule(), *inputs.plugins().rules, *RULES, *(house.rules if house else ()))


def _limits() -> Limits:
    """The limits as they hold in this folder."""
    from cfgaudit.cli.inputs import Inputs

    house = Inputs().house("-")
    return house.limits if house else usual_limits()
