"""`cfgaudit upgrade`: one craft before and after a firmware change."""

from dataclasses import replace
from datetime import datetime

import click

from cfgaudit.audit.engine import Finding, new_and_cleared
from cfgaudit.cli.auditing import audited
from cfgaudit.cli.building import sheets
from cfgaudit.cli.flood import most, tell_left_out
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.options import (
    STATUS,
    build_option,
    format_option,
    output_options,
    reading_options,
    secrets_option,
    today_option,
    together,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.dialects.opening import Opened
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.secrets import is_secret, mask
from cfgaudit.settings import Settings
from cfgaudit.work.upgrade import Fate, Fated, Upgrade, review

factory_options = together(
    click.option("--old-factory", metavar="FILE", help="An untouched board, old firmware."),
    click.option("--new-factory", metavar="FILE", help="An untouched board, new firmware."),
)


@click.command(epilog=STATUS.format(one="something was or may be lost, with --exit-code"))
@click.argument("old")
@click.argument("new")
@factory_options
@reading_options
@build_option
@format_option("terminal", "json")
@output_options
@secrets_option
@today_option
@click.option("--all", "everything", is_flag=True, help="What was kept or counts, too.")
@click.option("--lines", is_flag=True, help="Only the lines that bring back what was lost.")
@click.option("--exit-code", is_flag=True, help="Exit 1 where something was or may be lost.")
def command(
    old: str,
    new: str,
    old_factory: str | None,
    new_factory: str | None,
    dialect: str | None,
    extra: tuple[str, ...],
    build: tuple[str, ...],
    stdin_name: str,
    form: str,
    output: str | None,
    color: str,
    secrets: bool,
    today: datetime | None,
    everything: bool,
    lines: bool,
    exit_code: bool,
) -> int:
    """What became of each setting from OLD to NEW, the dumps of one craft around an upgrade.

    What was lost comes first, with the lines that bring it back; then what else differs; what
    is the same is counted. Dumps of two untouched boards tell which values are the factory's;
    without them the dialect's recorded values do, as far as they go.
    """
    inputs = Inputs(dialect, stdin_name)
    theirs = shared_out((old, new), extra, one_craft=True)
    before, after = map(inputs.open, (old, new), theirs)
    factory = [inputs.open(name) if name else None for name in (old_factory, new_factory)]
    hidden = frozenset[str]() if secrets else _secret(before, after)
    found = review(before, after, *factory, hidden=hidden)
    status = int(exit_code and found.count(Fate.LOST) + found.may_be_lost > 0)
    if lines:
        put_text(found.lines.text, output)
        return status
    found = found if secrets else replace(found, fates=tuple(map(_masked, found.fates)))
    findings = _findings(inputs, (old, new), (before.settings, after.settings), build, today)
    if form == "json":
        put_text(_json((old, new), found, findings, everything), output)
    else:
        put_screen(_screen((old, new), found, findings, everything), output, color)
    return status


Found = tuple[tuple[Finding, ...], tuple[Finding, ...]]


def _findings(
    inputs: Inputs,
    names: tuple[str, str],
    both: tuple[Settings, Settings],
    build: tuple[str, ...],
    today: datetime | None,
) -> Found:
    """The findings that the change brings and those it clears."""
    built = sheets(inputs, names, both, build, one_craft=True)
    if None in built:  # what only one side could be checked for is no change
        built = [None, None]
    return new_and_cleared(*audited(inputs, names, both, today, built, tell=False))


def _screen(names: tuple[str, str], found: Upgrade, findings: Found, everything: bool) -> Screen:
    """The screen; what of a long one is left out is said on standard error."""
    from cfgaudit.reports.terminal_upgrade import is_listed, upgrade_screen

    listed = [entry for entry in found.fates if everything or is_listed(entry)]
    tell_left_out(" to ".join(names), listed, "setting")
    tell_left_out(names[1], findings[0], "finding")
    tell_left_out(names[0], findings[1], "finding")
    return upgrade_screen(found, *findings, everything, screen_width(), most())


def _json(
    names: tuple[str, str],
    found: Upgrade,
    findings: Found,
    everything: bool,
) -> str:
    from cfgaudit.reports.json_report import dumped
    from cfgaudit.reports.json_upgrade import upgrade_json

    return dumped(upgrade_json(names, found, *findings, everything))


def _secret(*opened: Opened) -> frozenset[str]:
    """The secret paths and keys of dumps."""
    return frozenset(
        name
        for entries in (table for o in opened for table in (o.settings.stated, o.settings.raw))
        for name, entry in entries.items()
        if is_secret(entry)
    )


def _masked(entry: Fated) -> Fated:
    return replace(
        entry,
        old=mask(entry.old),
        new=mask(entry.new),
        factory_old=mask(entry.factory_old),
        factory_new=mask(entry.factory_new),
    )
