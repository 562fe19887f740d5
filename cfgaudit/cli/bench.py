"""`cfgaudit bench`: the build sheet to be filled in, and the list to work through."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Final, NamedTuple

import click

from cfgaudit.cli import InputError, say
from cfgaudit.cli.files import write_atomically
from cfgaudit.cli.inputs import Inputs, open_sheet, read_bytes
from cfgaudit.cli.options import ReadBy, bundle, output_options, reading_options
from cfgaudit.cli.output import Output
from cfgaudit.reading.toml import CannotAdd
from cfgaudit.settings import Settings

TIMES: Final = ("%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%MZ", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M:%SZ")


class ListRequest(NamedTuple):
    """What is asked of the list: all of it, what is left, or that a step is done or undone."""

    left: bool
    done: str | None
    value: str
    undo: str | None
    at: datetime | None


class SheetRequest(NamedTuple):
    """Whether a build sheet is wanted in the list's place, and where to."""

    new: bool
    into: str | None
    overwrite: bool


@click.command()
@click.argument("build", required=False)
@click.argument("dump", required=False)
@reading_options()
@bundle(
    "step",
    ListRequest,
    click.option("--left", is_flag=True, help="Only what is still to be done."),
    click.option("--done", metavar="STEP", help="Record that a step of the list is done."),
    click.option("--value", metavar="V", default="", help="What was measured or seen, or no."),
    click.option("--undo", metavar="STEP", help="Take back what was recorded of a step."),
    click.option(
        "--at", metavar="TIME", type=click.DateTime(TIMES), help="When it was done, in UTC."
    ),
)
@bundle(
    "sheet",
    SheetRequest,
    click.option("--new", is_flag=True, help="Write a build sheet instead, filled from a dump."),
    click.option("--into", metavar="FILE", help="With --new: add to this sheet what it lacks."),
    click.option("--overwrite", is_flag=True, help="Let --new replace the file of --output."),
)
@output_options("terminal", "json", "html")
def command(
    build: str | None,
    dump: str | None,
    reading: ReadBy,
    step: ListRequest,
    sheet: SheetRequest,
    out: Output,
) -> int:
    """The list to work through at the bench, made for the craft of BUILD and DUMP.

    From the cold craft to after its first hover: each step says what to do and what to expect,
    and stays shut until those before it are done. What is recorded is kept beside BUILD.

    `bench --new [DUMP]` writes a build sheet: each line says what to measure or look up, and what
    DUMP tells is filled in, to be looked at.
    """
    if sheet.new:
        if dump is not None:
            raise click.UsageError("--new takes one DUMP; --with adds others of the same craft")
        if any(step) or out.form != "terminal":
            raise click.UsageError(
                "--new writes a build sheet, and has nothing to do with the list"
            )
        _write_sheet(build, reading, sheet, out)
        return 0
    if build is None:
        raise click.UsageError("name the craft's build sheet; --new writes one")
    if sheet.into is not None or sheet.overwrite:
        raise click.UsageError("--into and --overwrite go with --new")
    return _work(build, dump, reading, step, out)


def _work(build: str, dump: str | None, reading: ReadBy, step: ListRequest, out: Output) -> int:
    """Show the list, or record a step of it."""
    if step.done and step.undo:
        raise click.UsageError("--done and --undo can't go together")
    if step.left and (step.done or step.undo):
        raise click.UsageError("--left goes with the list, not with --done or --undo")
    if (step.value or step.at) and not (step.done or step.undo):
        raise click.UsageError("--value and --at go with --done")
    from cfgaudit.cli import working  # a new sheet has no use for it

    bench = working.open_bench(build, dump, reading)
    at = (step.at or datetime.now(UTC)).replace(tzinfo=UTC)
    if step.done:
        return working.record_step(bench, step.done, step.value, at, out)
    if step.undo:
        return working.undo_step(bench, step.undo, at, out)
    return working.show_list(bench, out, only_left=step.left)


def _write_sheet(dump: str | None, reading: ReadBy, sheet: SheetRequest, out: Output) -> None:
    """Write a new sheet, or add to one. Raises InputError, UsageError."""
    from cfgaudit.work.build_sheet import new_sheet, proposal  # the list has no use for it

    settings = Settings()
    if dump is not None:
        settings = Inputs(reading).open(dump, reading.extra).settings
        if not len(settings):
            say(f"{dump}: no dialect knows this dump, so it tells nothing")
    if sheet.into is not None:
        if dump is None or out.output is not None or sheet.overwrite:
            raise click.UsageError("--into FILE goes with a DUMP and without --output")
        _add(settings, sheet.into)
        return
    if out.output is not None and not sheet.overwrite and Path(out.output).exists():
        raise InputError(f"{out.output} is there: add to it with --into, or say --overwrite")
    name = settings["craft.name"].value if "craft.name" in settings else ""
    out.put_text(new_sheet(proposal(settings), str(name)))


def _add(settings: Settings, file: str) -> None:
    """Bring a sheet up to date. Raises InputError; what is there is kept."""
    from cfgaudit.work.build_sheet import added_to, proposal

    open_sheet(file, tell=False)  # what is wrong with it is told before anything else
    data, name = read_bytes(file, "standard input")
    text = data.decode("utf-8")
    try:
        done = added_to(text, proposal(settings), name)
    except CannotAdd as error:
        raise InputError(f"{name}: nothing was added: {error}") from None
    if done.text == text:
        say(f"{name}: nothing is missing")
        return
    write_atomically(Path(file), done.text.encode(), was=data)
    say(f"written: {name}")
    for what in (*(f"[{table}]" for table in done.tables), *done.settings):
        say(f"  added {what}")
