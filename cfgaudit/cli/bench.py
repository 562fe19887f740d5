"""`cfgaudit bench`: the build sheet, to be filled in at the bench."""

from pathlib import Path

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import Inputs, read_bytes
from cfgaudit.cli.options import reading_options
from cfgaudit.cli.output import put_text
from cfgaudit.craft.settings import Settings


@click.command()
@click.argument("dump", required=False)
@click.option(
    "--new", is_flag=True, help="Write a build sheet, filled from DUMP as far as it goes."
)
@reading_options
@click.option("--into", metavar="FILE", help="Add to this build sheet what it lacks.")
@click.option("--output", metavar="FILE", help="Write here, whole or not at all.")
@click.option("--overwrite", is_flag=True, help="Let --output replace a file that is there.")
def command(
    dump: str | None,
    new: bool,
    dialect: str | None,
    extra: tuple[str, ...],
    stdin_name: str,
    into: str | None,
    output: str | None,
    overwrite: bool,
) -> int:
    """Write a build sheet: what was soldered and bolted, to be filled in at the bench.

    Each line says what to measure or look up; those that DUMP tells are filled in, to be looked
    at. `--into FILE` keeps the comments and values of FILE and adds what is missing.
    """
    if not new:
        raise click.UsageError("say what to do: --new writes a build sheet")
    settings = (
        Settings() if dump is None else Inputs(dialect, stdin_name).open(dump, extra).settings
    )
    if dump is not None and not len(settings):
        click.echo(f"{dump}: no dialect knows this dump, so it tells nothing", err=True)
    if into is not None:
        if dump is None or output is not None or overwrite:
            raise click.UsageError("--into FILE goes with a DUMP and without --output")
        _add(settings, into)
        return 0
    if output is not None and not overwrite and Path(output).exists():
        raise InputError(f"{output} is there: add to it with --into, or say --overwrite")
    put_text(_new(settings), output)
    return 0


def _new(settings: Settings) -> str:
    from cfgaudit.bench.new_sheet import new_sheet
    from cfgaudit.bench.proposal import proposal

    name = settings["craft.name"].value if "craft.name" in settings else ""
    return new_sheet(proposal(settings), str(name))


def _add(settings: Settings, file: str) -> None:
    """Bring a sheet up to date. Raises InputError; what is there is kept."""
    from cfgaudit.bench.into_sheet import CantAddError, added_to
    from cfgaudit.bench.proposal import proposal
    from cfgaudit.cli.building import open_sheet
    from cfgaudit.cli.writing import write_atomically

    open_sheet(file)  # what is wrong with it is told before anything else
    data, name = read_bytes(file, "standard input")
    text = data.decode("utf-8")
    try:
        done = added_to(text, proposal(settings), name)
    except CantAddError as error:
        raise InputError(f"{name}: nothing was added: {error}") from None
    if done.text == text:
        click.echo(f"{name}: nothing is missing", err=True)
        return
    write_atomically(Path(file), done.text.encode())
    click.echo(f"written: {name}", err=True)
    for what in (*(f"[{table}]" for table in done.tables), *done.settings):
        click.echo(f"  added {what}", err=True)
