"""`cfgaudit git install`: tell git to show, compare and merge dumps by setting."""

from pathlib import Path

import click

from cfgaudit.cli.git.setting_up import carried_out, here, wish_for


@click.command()
@click.argument("patterns", metavar="[PATTERN]...", nargs=-1)
@click.option(
    "--private/--shared",
    default=None,
    help="Keep the patterns in .git/info/attributes, or in .gitattributes (as usual).",
)
@click.option("--cache/--no-cache", default=None, help="Let git keep what it has shown once.")
@click.option("--program", metavar="COMMAND", help="How git's shell is to call cfgaudit.")
@click.option("--beside", metavar="FOLDER", multiple=True, help="Dialects are named here too.")
@click.option("--dry-run", is_flag=True, help="Only print the plan.")
def command(
    patterns: tuple[str, ...],
    private: bool | None,
    cache: bool | None,
    program: str | None,
    beside: tuple[str, ...],
    dry_run: bool,
) -> int:
    """Tell git that files of these PATTERNs are dumps (*.dump, if not told otherwise).

    What is written: local configuration of the drivers' own, and a marked block of attributes. A
    second time changes nothing; after an update of cfgaudit or of a dialect, run it again.
    """
    from cfgaudit.git.install import plan_install

    repository = here()
    wish = wish_for(repository, Path.cwd(), program, beside)
    wish = wish._replace(patterns=patterns, private=private, cache=cache)
    return carried_out(repository, lambda: plan_install(repository, wish), dry_run)
