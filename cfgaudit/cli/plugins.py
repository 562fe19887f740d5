"""The rules of other installed packages, as a command takes them."""

import sys

import click

from cfgaudit.audit.plugins import LeftOut, Plugins, installed, load_plugins


def plugins_here() -> Plugins:
    """The plug-ins that are installed here. One that can't be used is told on standard error."""
    records = installed(sys.path)
    if not records:
        return Plugins()
    from cfgaudit.audit.waivers import RULES
    from cfgaudit.rules.book import every_rule

    areas = {rule.area for rule in (*every_rule(), *RULES)} | {"house"}
    made = load_plugins(records, areas)
    for entry in made.left_out:
        _tell(entry)
    return made


def _tell(entry: LeftOut) -> None:
    from cfgaudit.reports.safe import safe

    name = f"{entry.area} of {entry.package}" if entry.area else entry.package
    click.echo(safe(f"cfgaudit: plug-in {name} is left out: {entry.why}"), err=True)
