"""`cfgaudit why`: from what is seen to what may be behind it."""

from pathlib import Path

import click

from cfgaudit.cli import did_you_mean
from cfgaudit.cli.auditing import audited, caused, rules_of, with_sure_mends
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import (
    JudgedBy,
    ReadBy,
    judging_options,
    output_options,
    reading_options,
)
from cfgaudit.cli.output import Output
from cfgaudit.dialects.opening import joined
from cfgaudit.reports.why import Why, symptoms_json, symptoms_screen, why_json, why_screen
from cfgaudit.reports.wording import not_audited
from cfgaudit.rules.symptoms import SYMPTOMS, meant, reached


@click.command()
@click.argument("symptom", required=False)
@click.argument("dump", required=False)
@reading_options()
@output_options("terminal", "json")
@judging_options()
def command(
    symptom: str | None, dump: str | None, reading: ReadBy, out: Output, judging: JudgedBy
) -> int:
    """What may be behind a SYMPTOM, in a builder's words: "no picture", "will not arm".

    With a DUMP, what its audit found of that, what it could not check, and what to look at by hand.
    Without a SYMPTOM, the list of those that are known.
    """
    if symptom is None:
        out.put(lambda width: symptoms_screen(SYMPTOMS, width), lambda: symptoms_json(SYMPTOMS))
        return 0
    found = meant(symptom)
    if dump is None and Path(symptom).is_file():
        raise click.UsageError(
            f"{symptom!r} is a file: say first what is seen, as in "
            f'`cfgaudit why "will not arm" {symptom}`.'
        )
    if not found:
        hint = did_you_mean(symptom, [s.name for s in SYMPTOMS])
        raise click.UsageError(
            f"no symptom is called anything like {symptom!r}.{hint} "
            "`cfgaudit why` alone lists them."
        )
    inputs = Inputs(reading)
    rules, _ = rules_of(inputs, dump or "-")
    told = Why(found[0], found[1:], reached(found[0], rules))
    if dump is not None:
        dumps = inputs.open_each(dump, reading.extra)
        (made,) = audited(inputs, (dump,), (joined(dumps),), judging)
        made = with_sure_mends(inputs, dump, dumps, made)
        told = told._replace(audit=made, causes=caused(inputs, dump, dumps, made, None))
    also = inputs.other_names if out.form == "json" else None  # on the screen causes tell it
    out.put(lambda width: why_screen(told, width), lambda: why_json(told), also)
    return 2 if told.audit is not None and not_audited(told.audit.settings) else 0
