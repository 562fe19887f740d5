"""`cfgaudit explain`: what a rule, a limit or a setting is; or the whole book."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from cfgaudit.cli import did_you_mean
from cfgaudit.cli.options import ReadBy, output_options, reading_options
from cfgaudit.cli.output import Output
from cfgaudit.reports.explain import (
    ExampleLine,
    Explanation,
    book_json,
    book_markdown,
    group_screen,
    limit_screen,
    rule_screen,
    setting_screen,
)
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.wording import NOT_STATED
from cfgaudit.rules.rule import Limits, Rule, usual_limits
from cfgaudit.vocabulary.paths import (
    Declared,
    covers,
    declared_anywhere,
    every_declared,
    sheet_vocabulary,
    vocabulary,
)

if TYPE_CHECKING:  # only an example in a dump's own words opens one
    from cfgaudit.dialects.editor import Dumps
    from cfgaudit.testing.examples import Shown


@click.command()
@click.argument("subject", metavar="[RULE|LIMIT|PATH]", required=False)
@click.option("--all", "everything", is_flag=True, help="The whole book, as Markdown.")
@click.option("--for", "dump", metavar="DUMP", help="A rule's example in this dump's own words.")
@reading_options(extra="", limits=False)
@output_options("terminal", "json")
def command(
    subject: str | None, everything: bool, dump: str | None, reading: ReadBy, out: Output
) -> int:
    """Explain a rule (area/what-is-wrong), a limit or a setting (a neutral path).

    Such as `failsafe/throttle-held`, which findings name; `battery.warn_cell`, which `show` lists;
    `esc.idle_least`. Of a rule it shows an example, wrong and right. Of an area (`failsafe`) or a
    group of settings (`ports.ID`) it lists what is in it.
    """
    if everything == (subject is not None):
        raise click.UsageError(
            "explain wants a rule, a limit, a setting, or --all instead, "
            "as in: cfgaudit explain failsafe/throttle-held"
        )
    told = _whole() if subject is None else _with_example(_asked(subject), dump, reading)
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
    below = _below(subject, every, limits)
    if below.rules or below.limits or below.settings:
        return below
    raise _none_such(subject, [*(d.pattern for d in every), *limits])


def _below(subject: str, every: Sequence[Declared], limits: Limits) -> Explanation:
    """What an area or a group of settings has in it; a group is named with or without indices."""
    return Explanation(
        [rule for rule in _every_rule() if rule.area == subject],
        [limit for name, limit in limits.items() if name.startswith(f"{subject}.")],
        [d for d in every if d.pattern.startswith(f"{subject}.")]
        or [d for d in every if len(d.pattern.split(".")) > 1 and covers(subject, d.pattern)],
    )


def _with_example(told: Explanation, dump: str | None, reading: ReadBy) -> Explanation:
    """The explanation of one rule with its example, in a dump's own words where one is given."""
    if len(told.rules) != 1 or told.settings:
        if dump is not None:
            raise click.UsageError(
                "--for goes with one rule, whose example it shows; "
                "`cfgaudit show DUMP PATH` shows a setting in a dump"
            )
        return told
    from cfgaudit.cli.inputs import Inputs
    from cfgaudit.testing.examples import example_of  # of a rule alone

    example = example_of(told.rules[0])
    if example is None:
        return told
    dumps = Inputs(reading).open_each(dump, ()) if dump is not None else ()

    return told._replace(wrong=_lines(example.wrong, dumps), right=_lines(example.right, dumps))


def _lines(shown: "Shown", dumps: "Dumps") -> list[ExampleLine]:
    """Each setting as a line: the dump's own where it has one, else in the plain form."""
    from cfgaudit.dialects.plain import stated_text
    from cfgaudit.work.causes import typed

    stated = {path: entry for path, entry in shown.items() if entry is not None}
    own = {path: entry.value for path, entry in stated.items() if not path.startswith("sheet.")}
    said = typed(own, dumps) if dumps else {}
    made: list[ExampleLine] = []
    for path, entry in shown.items():
        if entry is None:
            made.append(ExampleLine(f"{path}  {NOT_STATED}"))
            continue
        plain = f"{path} = {stated_text(entry)}"
        made.append(ExampleLine(said[path], plain) if path in said else ExampleLine(plain))
    texts = [line.text for line in made]
    return sorted(made, key=lambda line: texts.index(line.text))  # what one line says together


def _none_such(subject: str, names: Sequence[str]) -> click.UsageError:
    """The refusal, with the nearest names."""
    hint = did_you_mean(subject, names, most=3)
    return click.UsageError(f"there is no rule, limit or setting {subject!r}.{hint}")


def _screen(told: Explanation, width: int) -> Screen:
    if len(told.rules) == 1 and not told.settings:
        return rule_screen(told, width)
    if len(told.rules) + len(told.settings) > 1 or len(told.limits) > 1:
        return group_screen(told, width)
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
