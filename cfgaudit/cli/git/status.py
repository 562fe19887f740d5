"""`cfgaudit git status`: what git has been told, and whether it can do it."""

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.git.setting_up import here, mark_now
from cfgaudit.cli.output import put_text


@click.command()
def command() -> int:
    """Say what git has been told; exit 1 where something is missing or can't be run."""
    from cfgaudit.git.install import beside_of, status
    from cfgaudit.git.repository import GitError
    from cfgaudit.reports.safe import safe

    repository = here()
    try:
        lines = status(repository, mark_now(repository, beside_of(repository)))
    except GitError as error:
        raise InputError(str(error)) from None
    rows = [
        f"{'' if line.fine else '!':2}{line.about:<10} {safe(line.words)}".rstrip()
        for line in lines
    ]
    fine = all(line.fine for line in lines)
    verdict = "git shows and merges these dumps by setting." if fine else "Not all is in order (!)."
    put_text("\n".join([*rows, verdict, ""]), None)
    return int(not fine)
