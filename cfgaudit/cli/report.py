"""`cfgaudit report`: one page with findings and pictures, of a craft or of a change."""

import sys
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import click

from cfgaudit.cli.auditing import audited
from cfgaudit.cli.building import sheets
from cfgaudit.cli.flood import most, tell_left_out
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.options import build_option, reading_options, today_option
from cfgaudit.cli.output import put_text
from cfgaudit.craft.craft import Craft
from cfgaudit.settings import Settings

if TYPE_CHECKING:
    from cfgaudit.pictures.drawing import Missing, Picture


@click.command()
@click.argument("dump")
@click.argument("new", required=False)
@reading_options
@build_option
@click.option(
    "--beside", metavar="DUMP", multiple=True, help="A craft that flies at the same time."
)
@click.option("--output", metavar="FILE", help="Write here, whole or not at all.")
@today_option
@click.option("--all", "everything", is_flag=True, help="Craft-own and counting settings too.")
def command(
    dump: str,
    new: str | None,
    dialect: str | None,
    extra: tuple[str, ...],
    build: tuple[str, ...],
    stdin_name: str,
    beside: tuple[str, ...],
    output: str | None,
    today: datetime | None,
    everything: bool,
) -> int:
    """Make a page of DUMP, with its findings and pictures; of DUMP and NEW, of what changed.

    The page is one HTML file that loads nothing. `--beside` draws the video frequencies of other
    craft and their products with this one's.
    """
    if output is None and sys.stdout.isatty():
        raise click.UsageError("a page is not for a terminal: say where it goes, --output FILE")
    if new is None and everything:
        raise click.UsageError("--all goes with two dumps")
    if new is not None and beside:
        raise click.UsageError("--beside goes with one dump")
    inputs = Inputs(dialect, stdin_name)
    if new is None:
        text = _of_craft(inputs, dump, extra, build, beside, today)
    else:
        text = _of_change(inputs, (dump, new), extra, build, today, everything)
    put_text(text, output)
    return 0


def _of_craft(
    inputs: Inputs,
    dump: str,
    extra: Sequence[str],
    build: Sequence[str],
    beside: Sequence[str],
    today: datetime | None,
) -> str:
    from cfgaudit.reports.html import craft_html, name_of

    settings = inputs.open(dump, shared_out((dump,), extra)[0]).settings
    built = sheets(inputs, (dump,), (settings,), build)
    (audit,) = audited(inputs, (dump,), (settings,), today, built)
    others = [(name_of(other), Craft(other)) for other in _settings_of(inputs, beside)]
    tell_left_out(settings.dumps[0].file, audit.findings, "finding")
    return craft_html(audit, _album(settings, built[0], others), most=most())


def _settings_of(inputs: Inputs, dumps: Sequence[str]) -> list[Settings]:
    return [inputs.open(dump).settings for dump in dumps]


def _album(
    settings: Settings, sheet: Settings | None, others: Sequence[tuple[str, Craft]] = ()
) -> "tuple[Picture | Missing, ...]":
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.pictures.album import album

    return album(Craft(settings), None if sheet is None else Sheet(sheet), others)


def _of_change(
    inputs: Inputs,
    names: tuple[str, str],
    extra: Sequence[str],
    build: Sequence[str],
    today: datetime | None,
    everything: bool,
) -> str:
    from cfgaudit.audit.engine import new_and_cleared
    from cfgaudit.changes.diff import diff
    from cfgaudit.cli.diff import listed
    from cfgaudit.dialects.raw import raw_renames
    from cfgaudit.reports.html_change import Changed, change_html
    from cfgaudit.reports.secret_changes import masked_change

    theirs = shared_out(names, extra, one_craft=True)
    old, new = (inputs.open(name, own) for name, own in zip(names, theirs, strict=True))
    both = (old.settings, new.settings)
    every = diff(*both, raw_renames(old.settings.raw, new.dialect.old_keys(())))
    foreign = old.dialect.name != new.dialect.name
    shown = [change for change in every if everything or listed(change, foreign)]
    counted = [change for change in every if not (everything or listed(change, foreign))]
    built = sheets(inputs, names, both, build, one_craft=True)
    albums = (_album(both[0], built[0]), _album(both[1], built[1]))
    if None in built:  # what only one side could be checked for is no change
        built = [None, None]
    first, second = audited(inputs, names, both, today, built, tell=False)
    told = Changed(
        [masked_change(change) for change in shown], counted, *new_and_cleared(first, second)
    )
    tell_left_out(" to ".join(names), told.listed, "change")
    tell_left_out(names[1], told.brought, "finding")
    tell_left_out(names[0], told.cleared, "finding")
    return change_html((first, second), told, albums, most())
