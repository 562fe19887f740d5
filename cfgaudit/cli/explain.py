"""`cfgaudit explain`: what a rule, a limit or a setting is; or the whole book."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import click

from cfgaudit.cli.options import format_option, output_options
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.reports.screen import Screen
from cfgaudit.vocabulary.paths import Declared, declared_anywhere, every_declared, vocabulary

if TYPE_CHECKING:  # a setting is explained without them
    from cfgaudit.rules.rule import Limit, Limits, Rule


_MOST_BELOW = 12  # names of what there is below an area or a subsystem


@click.command()
@click.argument("subject", metavar="[RULE|LIMIT|PATH]", required=False)
@click.option("--all", "everything", is_flag=True, help="The whole book, as Markdown.")
@format_option("terminal", "json")
@output_options
def command(
    subject: str | None, everything: bool, form: str, output: str | None, color: str
) -> int:
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
    if form == "json":
        from cfgaudit.reports.json_book import book_json
        from cfgaudit.reports.json_report import dumped

        put_text(dumped(book_json(told.rules, told.limits, told.settings)), output)
    elif subject is None:
        from cfgaudit.reports.markdown_book import book_markdown

        limits = {limit.name: limit for limit in told.limits}
        put_text(book_markdown(told.rules, limits, told.settings), output)
    else:
        put_screen(_screen(told), output, color)
    return 0


class _Told(NamedTuple):
    """What is to be explained. A rule comes with the limits that it takes."""

    rules: "Sequence[Rule]" = ()
    limits: "Sequence[Limit]" = ()
    settings: Sequence[Declared] = ()


def _whole() -> _Told:
    from cfgaudit.vocabulary.paths import sheet_vocabulary

    settings = (*vocabulary(), *sheet_vocabulary())
    return _Told(_every_rule(), list(_limits().values()), settings)


def _asked(subject: str) -> _Told:
    """The rule, the setting or the limit of this name. Raises click.UsageError."""
    if "/" in subject:
        rules = _rules(subject)
        rule = next((rule for rule in rules if rule.id == subject), None)
        if rule is None:
            raise _none_such(subject, [rule.id for rule in rules])
        limits = _limits() if rule.limits else {}
        return _Told((rule,), [limits[name] for name in rule.limits])
    every = every_declared(subject)
    setting = declared_anywhere(subject) or next((d for d in every if d.pattern == subject), None)
    if setting is not None:
        return _Told(settings=(setting,))
    limits = _limits()
    if subject in limits:
        return _Told(limits=(limits[subject],))
    names = [*(d.pattern for d in every), *limits]
    raise _none_such(subject, names, [*names, *(rule.id for rule in _every_rule())])


def _none_such(subject: str, names: Sequence[str], heads: Sequence[str] = ()) -> click.UsageError:
    """The refusal, with what there is below that name among `heads`, else the nearest `names`."""
    from difflib import get_close_matches

    below = [name for name in heads if name.startswith((f"{subject}.", f"{subject}/"))]
    near = get_close_matches(subject, names, n=3)
    hint = f" Did you mean {', '.join(near)}?" if near else ""
    if below:
        more = f" and {len(below) - _MOST_BELOW} more" * (len(below) > _MOST_BELOW)
        hint = f" Below it there are {', '.join(below[:_MOST_BELOW])}{more}."
    return click.UsageError(f"there is no rule, limit or setting {subject!r}.{hint}")


def _screen(told: _Told) -> Screen:
    from cfgaudit.reports.terminal_explain import limit_screen, rule_screen, setting_screen

    width = screen_width()
    if told.rules:
        return rule_screen(told.rules[0], told.limits, width)
    if told.settings:
        return setting_screen(told.settings[0], width)
    from cfgaudit.rules.rule import usual_limits

    limit = told.limits[0]
    taking = [rule for rule in _every_rule() if limit.name in rule.limits]
    return limit_screen(limit, usual_limits()[limit.name], taking, width)


def _rules(subject: str) -> "Sequence[Rule]":
    """The rules that an id may name; those of the book alone where it is one of them."""
    from cfgaudit.rules.book import every_rule, find

    return every_rule() if find(subject) is not None else _every_rule()


def _every_rule() -> "tuple[Rule, ...]":
    """The book's rules, then those of plug-ins, of waivers and of this folder."""
    from cfgaudit.audit.waivers import RULES
    from cfgaudit.cli.inputs import Inputs
    from cfgaudit.rules.book import every_rule

    inputs = Inputs()
    house = inputs.house("-")
    return (*every_rule(), *inputs.plugins().rules, *RULES, *(house.rules if house else ()))


def _limits() -> "Limits":
    """The limits as they hold in this folder."""
    from cfgaudit.cli.inputs import Inputs
    from cfgaudit.rules.rule import usual_limits

    house = Inputs().house("-")
    return house.limits if house else usual_limits()
