"""`cfgaudit dialect`: make, try, teach and check a dialect, one module a command."""

import click

from cfgaudit.cli import LazyGroup

# name: the module under cfgaudit.cli.dialect, which has a `command`; and one line of help
COMMANDS = {
    "new": "Work out a dialect from dumps that none knows.",
    "try": "What a dialect makes of a dump, and what to map next.",
    "learn": "Find a setting's key from two dumps, before and after a change.",
    "check": "Everything that is wrong with a dialect file.",
    "list": "The dialects known here.",
}


@click.group(cls=LazyGroup, helps=COMMANDS, package="cfgaudit.cli.dialect")
def command() -> None:
    """Teach the tool a firmware's dump: its names, its units, its words."""
