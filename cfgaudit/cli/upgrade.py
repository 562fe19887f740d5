"""`cfgaudit upgrade`: one craft before and after a firmware change."""

from dataclasses import replace

import click

from cfgaudit.audit.engine import new_and_cleared
from cfgaudit.cli import say
from cfgaudit.cli.auditing import audited_change, most, tell_left_out
from cfgaudit.cli.inputs import Inputs, refuse_silent
from cfgaudit.cli.options import (
    JudgedBy,
    ReadBy,
    judging_options,
    output_options,
    reading_options,
    secrets_option,
    statuses,
)
from cfgaudit.cli.output import Output
from cfgaudit.dialects.opening import Opened
from cfgaudit.reports.lines import how_to_save
from cfgaudit.reports.secrets import is_secret, mask
from cfgaudit.reports.upgrade import UpgradeReport, upgrade_json, upgrade_screen
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.work.upgrade import Fate, Fated, review


@click.command(epilog=statuses("something was or may be lost, with --exit-code"))
@click.argument("old")
@click.argument("new")
@click.option("--old-factory", metavar="FILE", help="An untouched board, old firmware.")
@click.option("--new-factory", metavar="FILE", help="An untouched board, new firmware.")
@reading_options()
@output_options("terminal", "json")
@secrets_option
@judging_options()
@click.option("--everything", is_flag=True, help="What was kept or counts, too.")
@click.option("--lines", is_flag=True, help="Only the lines that bring back what was lost.")
@click.option("--exit-code", is_flag=True, help="Exit 1 where something was or may be lost.")
def command(
    old: str,
    new: str,
    old_factory: str | None,
    new_factory: str | None,
    reading: ReadBy,
    out: Output,
    secrets: bool,
    judging: JudgedBy,
    everything: bool,
    lines: bool,
    exit_code: bool,
) -> int:
    """What became of each setting from OLD to NEW, the dumps of one craft around an upgrade.

    What was lost comes first, with the lines that bring it back; then what else differs; what
    is the same is counted. Dumps of two untouched boards tell which values are the factory's;
    without them the dialect's recorded values do, as far as they go.
    """
    inputs = Inputs(reading)
    before, after = inputs.open_all((old, new), one_craft=True)
    refuse_silent((old, before.settings), (new, after.settings), raw=True)
    factory = [inputs.open(name) if name else None for name in (old_factory, new_factory)]
    hidden = frozenset[str]() if secrets else _secret(before, after)
    found = review(before, after, *factory, hidden=hidden)
    status = int(exit_code and found.count(Fate.LOST) + found.may_be_lost > 0)
    if lines:
        out.put_text(found.lines.text)
        if found.lines.unsaved:
            say(how_to_save([found.lines.unsaved]))
        return status
    found = found if secrets else replace(found, fates=tuple(map(_masked, found.fates)))
    settings = (before.settings, after.settings)
    come_and_gone = new_and_cleared(*audited_change(inputs, (old, new), settings, judging))
    report = UpgradeReport((old, new), found, *come_and_gone, everything)
    if out.form == "terminal":
        tell_left_out(f"{old} to {new}", report.listed, "setting")
        tell_left_out(new, report.brought, "finding")
        tell_left_out(old, report.cleared, "finding")
    out.put(
        lambda width: upgrade_screen(report, width, most()),
        lambda: upgrade_json(report),
        inputs.other_names,
    )
    return status


def _secret(*opened: Opened) -> frozenset[str]:
    """The secret paths and keys of dumps, and the keys that something secret was cut out of."""
    return frozenset(
        name
        for entries in (table for o in opened for table in (o.settings.stated, o.settings.raw))
        for name, entry in entries.items()
        if is_secret(entry) or HIDDEN in name
    )


def _masked(entry: Fated) -> Fated:
    return replace(
        entry,
        old=mask(entry.old),
        new=mask(entry.new),
        factory_old=mask(entry.factory_old),
        factory_new=mask(entry.factory_new),
    )
