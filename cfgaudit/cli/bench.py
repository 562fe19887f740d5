"""`cfgaudit bench`: the build sheet to be filled in, and the list to work through."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, NamedTuple

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import Inputs, read_bytes
from cfgaudit.cli.options import format_option, output_options, reading_options
from cfgaudit.cli.output import put_text
from cfgaudit.settings import Settings

TIMES: Final = ("%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%MZ", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M:%SZ")


@click.command()
@click.argument("build", required=False)
@click.argument("dump", required=False)
@reading_options
@click.option("--left", is_flag=True, help="Only what is still to be done.")
@click.option("--done", metavar="STEP", help="Record that a step of the list is done.")
@click.option("--value", metavar="V", default="", help="What was measured or seen, or no.")
@click.option("--undo", metavar="STEP", help="Take back what was recorded of a step.")
@click.option("--at", metavar="TIME", type=click.DateTime(TIMES), help="When it was done, in UTC.")
@click.option("--new", is_flag=True, help="Write a build sheet instead, filled from a dump.")
@click.option("--into", metavar="FILE", help="With --new: add to this sheet what it lacks.")
@click.option("--overwrite", is_flag=True, help="Let --new replace the file of --output.")
@format_option("terminal", "json", "html")
@output_options
def command(**given: Any) -> int:
    """The list to work through at the bench, made for the craft of BUILD and DUMP.

    From the cold craft to after its first hover: each step says what to do and what to expect,
    and stays shut until those before it are done. What is recorded is kept beside BUILD.

    `bench --new [DUMP]` writes a build sheet: each line says what to measure or look up, and what
    DUMP tells is filled in, to be looked at.
    """
    options = _Options(**given)
    return _write_sheet(options) if options.new else _work(options)


class _Options(NamedTuple):
    """What was asked for."""

    build: str | None
    dump: str | None
    dialect: str | None
    extra: tuple[str, ...]
    stdin_name: str
    left: bool
    done: str | None
    value: str
    undo: str | None
    at: datetime | None
    new: bool
    into: str | None
    overwrite: bool
    form: str
    output: str | None
    color: str


def _work(given: _Options) -> int:
    """Show the list, or record a step of it."""
    if given.build is None:
        raise click.UsageError("name the craft's build sheet; --new writes one")
    if given.into is not None or given.overwrite:
        raise click.UsageError("--into and --overwrite go with --new")
    if given.done and given.undo:
        raise click.UsageError("--done and --undo can't go together")
    if given.left and (given.done or given.undo):
        raise click.UsageError("--left goes with the list, not with --done or --undo")
    if (given.value or given.at) and not (given.done or given.undo):
        raise click.UsageError("--value and --at go with --done")
    from cfgaudit.cli import working

    bench = working.open_bench(
        working.Files(given.build, given.dump, given.extra, given.dialect, given.stdin_name)
    )
    saying = working.Saying(given.form, given.left, given.output, given.color)
    at = (given.at or datetime.now(UTC)).replace(tzinfo=UTC)
    if given.done:
        return working.record_step(bench, given.done, given.value, at, saying)
    if given.undo:
        return working.undo_step(bench, given.undo, at, saying)
    return working.show_list(bench, saying)


def _write_sheet(given: _Options) -> int:
    """Write a new sheet, or add to one."""
    dump, into, output = given.build, given.into, given.output
    if given.dump is not None:
        raise click.UsageError("--new takes one DUMP; --with adds others of the same craft")
    of_the_list = (given.left, given.done, given.value, given.undo, given.at)
    if any(of_the_list) or given.form != "terminal":
        raise click.UsageError("--new writes a build sheet, and has nothing to do with the list")
    settings = Settings()
    if dump is not None:
        settings = Inputs(given.dialect, given.stdin_name).open(dump, given.extra).settings
    if dump is not None and not len(settings):
        click.echo(f"{dump}: no dialect knows this dump, so it tells nothing", err=True)
    if into is not None:
        if dump is None or output is not None or given.overwrite:
            raise click.UsageError("--into FILE goes with a DUMP and without --output")
        _add(settings, into)
        return 0
    if output is not None and not given.overwrite and Path(output).exists():
        raise InputError(f"{output} is there: add to it with --into, or say --overwrite")
    put_text(_new(settings), output)
    return 0


def _new(settings: Settings) -> str:
    from cfgaudit.work.build_sheet import new_sheet, proposal

    name = settings["craft.name"].value if "craft.name" in settings else ""
    return new_sheet(proposal(settings), str(name))


def _add(settings: Settings, file: str) -> None:
    """Bring a sheet up to date. Raises InputError; what is there is kept."""
    from cfgaudit.cli.building import open_sheet
    from cfgaudit.cli.writing import write_atomically
    from cfgaudit.work.build_sheet import CantAddError, added_to, proposal

    open_sheet(file, tell=False)  # what is wrong with it is told before anything else
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
