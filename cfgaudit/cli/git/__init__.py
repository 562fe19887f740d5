"""`cfgaudit git`: the version-control side; what git calls loads nothing else."""

import click

from cfgaudit.cli import LazyGroup

# name: the module under cfgaudit.cli.git, which has a `command`; and one line of help
COMMANDS = {
    "install": "Tell git to show, compare and merge dumps by setting.",
    "uninstall": "Take that back, without a trace.",
    "status": "What git has been told, and whether it can do it.",
    "textconv": "One dump as git shows it; git calls this.",
    "merge": "Three wordings of one dump made one; git calls this.",
    "merged": "What a merge brought that no side had; git's hook calls this.",
    "history": "Who changed which setting of a dump, and when.",
}
SHARED = dict.fromkeys(("install", "uninstall", "status"), "install")


@click.group(cls=LazyGroup, helps=COMMANDS, package="cfgaudit.cli.git", shared=SHARED)
def command() -> None:
    """Dumps under version control: every change readable, mergeable, checkable there."""
