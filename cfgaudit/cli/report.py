"""`cfgaudit report`: one page with findings and pictures, of a craft or of a change."""

import sys
from collections.abc import Sequence

import click

from cfgaudit.cli.auditing import (
    audited,
    blind_to,
    caused,
    day_of,
    most,
    tell_left_out,
    with_sure_mends,
)
from cfgaudit.cli.diff import changed, tell_change_left_out
from cfgaudit.cli.inputs import Inputs, shared_out
from cfgaudit.cli.options import JudgedBy, ReadBy, judging_options, output_options, reading_options
from cfgaudit.cli.output import Output
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.dialects.opening import joined
from cfgaudit.pictures.album import Built, album, album_of_change
from cfgaudit.reports.html import change_html, craft_html, file_of
from cfgaudit.reports.wording import name_of
from cfgaudit.settings import Settings


@click.command()
@click.argument("dump")
@click.argument("new", required=False)
@reading_options()
@judging_options()
@click.option(
    "--beside", metavar="DUMP", multiple=True, help="A craft that flies at the same time."
)
@output_options(color=False)
@click.option("--everything", is_flag=True, help="Craft-own and counting settings too.")
def command(
    dump: str,
    new: str | None,
    reading: ReadBy,
    judging: JudgedBy,
    beside: tuple[str, ...],
    out: Output,
    everything: bool,
) -> int:
    """Make a page of DUMP, with its findings and pictures; of DUMP and NEW, of what changed.

    The page is one HTML file that loads nothing. `--beside` draws the video frequencies of other
    craft and their products with this one's.
    """
    if out.output is None and sys.stdout.isatty():
        raise click.UsageError("a page is not for a terminal: say where it goes, --output FILE")
    if new is None and everything:
        raise click.UsageError("--everything goes with two dumps")
    if new is not None and beside:
        raise click.UsageError("--beside goes with one dump")
    inputs = Inputs(reading)
    if new is None:
        out.put_text(_of_craft(inputs, dump, reading.extra, judging, beside))
    else:
        out.put_text(_of_change(inputs, (dump, new), judging, everything))
    return 0


def _of_craft(
    inputs: Inputs, dump: str, extra: Sequence[str], judging: JudgedBy, flying: Sequence[str]
) -> str:
    dumps = inputs.open_each(dump, shared_out((dump,), extra)[0])
    settings = joined(dumps)
    made = audited(inputs, (dump,), (settings,), judging)[0]
    audit = with_sure_mends(inputs, dump, dumps, made)
    others = [inputs.open(other).settings for other in flying]
    tell_left_out(settings.dumps[0].file, audit.findings, "finding")
    beside = [(name_of(other), Craft(other)) for other in others]
    drawn = album(*_built(settings, audit.sheet), beside)
    causes = caused(inputs, dump, dumps, audit, None)
    blind = blind_to(inputs, dump, audit)
    also = inputs.names_for(settings, audit.sheet)
    return craft_html(audit, drawn, most(), blind, causes, day_of(judging), also)


def _of_change(inputs: Inputs, names: tuple[str, str], judging: JudgedBy, everything: bool) -> str:
    old, new = inputs.open_all(names, one_craft=True)
    both = (old.settings, new.settings)
    built = inputs.sheets(names, both, judging.build, one_craft=True)
    report = changed(inputs, names, (old, new), judging, everything, built).masked()
    tell_change_left_out(report)
    pairs = album_of_change(*map(_built, both, built))
    stands = with_sure_mends(inputs, names[1], (new,), report.stands)
    brought = caused(inputs, names[1], (new,), stands, both[0])
    blind = blind_to(inputs, names[1], report.stands)
    sheets = (file_of(built[0]), file_of(built[1]))
    told = (blind, brought, day_of(judging), inputs.other_names())
    return change_html(report, pairs, sheets, most(), *told)


def _built(settings: Settings, sheet: Settings | None) -> Built:
    return Craft(settings), None if sheet is None else Sheet(sheet)
