"""`cfgaudit check`: audit dumps."""

import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from cfgaudit.audit.engine import Audit
from cfgaudit.cli import say
from cfgaudit.cli.auditing import (
    audited,
    audited_together,
    blind_to,
    caused,
    exit_status,
    fail_on,
    most,
    shortened,
    tell_left_out,
    with_sure_mends,
)
from cfgaudit.cli.files import REVIEW_FORMATS
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import (
    AUDIT_STATUSES,
    JudgedBy,
    ReadBy,
    bundle,
    judging_options,
    links_option,
    output_options,
    reading_options,
)
from cfgaudit.cli.output import Output
from cfgaudit.dialects.opening import joined
from cfgaudit.reports.check import CheckReport, check_json, check_screen
from cfgaudit.reports.wording import counted_levels, not_audited
from cfgaudit.settings import Settings

if TYPE_CHECKING:
    from cfgaudit.dialects.editor import Dumps


class _CheckOptions(NamedTuple):
    """What else there is to tell or to leave out."""

    baseline: str | None
    update_baseline: bool
    waived: bool
    unchecked: bool
    blind: bool
    every: bool
    since: str | None
    links: str
    around: bool


telling_options = bundle(
    "telling",
    _CheckOptions,
    click.option("--baseline", metavar="FILE", help="Report only what FILE does not know."),
    click.option("--update-baseline", is_flag=True, help="Make that file know all there is now."),
    click.option("--waived", is_flag=True, help="List what the folder's settings waive."),
    click.option("--unchecked", is_flag=True, help="List what could not be checked."),
    click.option(
        "--blind", is_flag=True, help="List what no rule looks at, and what none would notice."
    ),
    click.option("--long", "every", is_flag=True, help="Every finding, with places and figures."),
    click.option(
        "--since", metavar="OLD", help="An earlier dump of the craft: what changed is suspected."
    ),
    links_option,
    click.option(
        "--around",
        is_flag=True,
        help="A .toml among the DUMPs (settings, a sheet) stands for the dumps in its folder.",
    ),
)


@click.command(epilog=AUDIT_STATUSES)
@click.argument("dumps", metavar="DUMP...", nargs=-1, required=True)
@reading_options(several=True)
@output_options("terminal", "json", *REVIEW_FORMATS)
@judging_options(fail_on=True)
@telling_options
def command(
    dumps: tuple[str, ...], reading: ReadBy, out: Output, judging: JudgedBy, telling: _CheckOptions
) -> int:
    """Audit DUMPs: a verdict, the causes with their own lines, what could not be checked.

    A DUMP is a file, or `-` for standard input; `FILE#2` is the second dump in a file.

    With several DUMPs, `--with DUMP=FILE` and `--build DUMP=FILE` say whose craft FILE belongs to.
    """
    if telling.around:
        dumps = _around(dumps)
        if not dumps:
            return 0
    if telling.update_baseline and telling.baseline is None:
        raise click.UsageError("--update-baseline wants to know which: --baseline FILE")
    if telling.since is not None and len(dumps) > 1:
        raise click.UsageError("--since is of one craft; check its DUMP alone")
    inputs = Inputs(reading)
    opened = inputs.open_crafts(dumps)
    crafts = [joined(one) for one in opened]
    audits = [
        with_sure_mends(inputs, dump, one, made)
        for dump, one, made in zip(
            dumps, opened, audited(inputs, dumps, crafts, judging, tried_on=True), strict=True
        )
    ]
    fleet = audited_together(inputs, dumps, crafts, judging) if len(crafts) > 1 else None
    report = _less_what_is_known(CheckReport(audits, fleet), telling)
    if out.form == "json" or (out.form == "terminal" and not telling.every):
        earlier = _earlier(inputs, telling.since, crafts[0]) if telling.since is not None else None
        causes = [
            caused(inputs, dump, one, found, earlier)
            for dump, one, found in zip(dumps, opened, report.audits, strict=True)
        ]
        report = report._replace(causes=causes)
    every = telling.blind or out.form == "json"
    both = zip(dumps, report.audits, strict=True)
    blind = [blind_to(inputs, dump, found, every=every) for dump, found in both]
    report = report._replace(blind=blind)
    for entry in report.audits if out.form != "markdown" else ():  # which says so itself
        tell_left_out(entry.settings.dumps[0].file, entry.findings, "finding")
    if out.form in REVIEW_FORMATS:
        level = fail_on(inputs, dumps[0], judging)
        out.put_text(_reviewed(report, out.form, level, telling, inputs.other_names()))
    else:
        # on the screen causes tell what ports and pads are called beside each line
        beside = out.form == "terminal" and not telling.every and bool(report.causes)
        out.put(
            lambda width: check_screen(
                report,
                width=width,
                unchecked=telling.unchecked,
                waived=telling.waived,
                every=telling.every,
                blind=telling.blind,
                most=most(),
            ),
            lambda: check_json(report, most()),
            None if beside else inputs.other_names,
        )
    among = report.fleet.findings if report.fleet is not None else ()
    audits = [*report.audits, *_further(inputs, dumps, opened, judging)]
    return exit_status(inputs, dumps[0], judging, audits, among)


def _further(
    inputs: Inputs, dumps: Sequence[str], opened: Sequence["Dumps"], judging: JudgedBy
) -> Iterator[Audit]:
    """The audits of the further dumps of the files: not in the report, told by count.

    Their findings count for the status: an error in the second dump of a file is never green.
    """
    for dump, craft in zip(dumps, opened, strict=True):
        for number, other in enumerate(inputs.further(dump, craft[0]), 2):
            name = f"{dump}#{number}"
            if name in dumps:
                continue
            alone = judging._replace(build=())  # a sheet that was named is the first dump's
            (made,) = audited(inputs, (name,), (other.settings,), alone, tell=False)
            told = (
                not_audited(made.settings) or f"{counted_levels(made.findings) or 'nothing found'}."
            )
            say(f"{name}, further down in that file: {told} `cfgaudit check {name}` tells of it.")
            yield made


def _around(files: Sequence[str]) -> tuple[str, ...]:
    """The files, those that say how dumps are judged replaced by the dumps that they may be of."""
    found: list[str] = []
    for file in files:
        if file.endswith(".toml"):
            found += sorted(map(str, Path(file).parent.rglob("*.dump")))
        else:
            found.append(os.path.normpath(file) if file != "-" else file)
    return tuple(dict.fromkeys(found))


def _earlier(inputs: Inputs, since: str, craft: Settings) -> Settings:
    """The settings of the earlier dump; where it may be another craft's, that is said."""
    earlier = inputs.open(since).settings
    if paths := craft.called_otherwise(earlier):
        say(
            f"{since} may be another craft's: it has another {' and '.join(paths)}. What differs "
            "is then no change"
        )
    return earlier


def _less_what_is_known(report: CheckReport, telling: _CheckOptions) -> CheckReport:
    """The audits held against the baseline, if there is one."""
    if telling.baseline is None:
        return report
    from cfgaudit.cli.baselines import BaselineFile  # few have one

    names = [entry.settings.dumps[0].file for entry in report.audits]
    file = BaselineFile(telling.baseline, telling.update_baseline)
    compared = file.held_against(report.audits, report.fleet, names)
    return report._replace(
        audits=compared.audits, fleet=compared.fleet, baseline=telling.baseline, compared=compared
    )


def _reviewed(
    report: CheckReport, form: str, level: str, telling: _CheckOptions, also: Mapping[str, str]
) -> str:
    """A report for review; `also` gives by name of a port or pad what else it is called."""
    from cfgaudit.reports.review import review_of, review_text  # a screen has no use for them

    # a comment in Markdown is cut by its own size, and counts everything before that
    audits = report.audits if form == "markdown" else shortened(report.audits)
    review = review_of(audits, report.fleet, report.blind)._replace(also=also)
    if report.compared is not None:
        gone, unsure = report.compared.gone, report.compared.unsure
        review = review._replace(compared=True, gone=gone, unsure=unsure)
    if form == "markdown":
        from cfgaudit.reports.markdown import check_markdown

        told = (telling.unchecked, telling.waived)
        return check_markdown(review, unchecked=told[0], waived=told[1], links=telling.links)
    return review_text(form, review, level)
