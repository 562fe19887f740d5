"""`cfgaudit bench`: the build sheet to be filled in, and the list to work through."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import click

from cfgaudit.cli import InputError, say
from cfgaudit.cli.files import write_atomically
from cfgaudit.cli.inputs import Inputs, open_sheet, read_bytes
from cfgaudit.cli.options import ReadBy, bundle, output_options, reading_options
from cfgaudit.cli.output import Output
from cfgaudit.reading.toml import CannotAdd
from cfgaudit.settings import Settings

if TYPE_CHECKING:  # the list has no use for it
    from cfgaudit.work.build_sheet import SheetTable

TIMES: Final = tuple(
    f"%Y-%m-%d{between}%H:%M{seconds}{zone}"
    for between in " T"
    for seconds in ("", ":%S")
    for zone in ("", "Z")
)


_AGO: Final = re.compile(r"(?:(\d+)|an?)\s+(minute|hour|day)s?\s+ago")
_CLOCK: Final = re.compile(r"(?:(today|yesterday)(?:\s+at)?\s+)?(\d{1,2}):(\d{2})")

_WRITE_IT = "write it as 2026-12-31 16:45, 16:45, yesterday 16:45 or 2 hours ago"


class Moment(click.DateTime):
    """A time as a builder writes it: a date with an hour, an hour of today, or how long ago."""

    def __init__(self) -> None:
        super().__init__(TIMES)

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        """The time in UTC. Fails as click has it for what is none."""
        text, now = str(value).strip().lower(), datetime.now(UTC).replace(tzinfo=None)
        ago, clock = _AGO.fullmatch(text), _CLOCK.fullmatch(text)
        if text == "now":
            at = now
        elif ago:
            at = now - timedelta(**{f"{ago[2]}s": int(ago[1] or 1)})
        elif clock and int(clock[2]) < 24 and int(clock[3]) < 60:
            day = now - timedelta(days=clock[1] == "yesterday")
            at = day.replace(hour=int(clock[2]), minute=int(clock[3]), second=0)
        else:
            try:
                at = super().convert(value, param, ctx)
            except click.BadParameter:
                self.fail(f"{value!r} is no time; {_WRITE_IT}", param, ctx)
        return at


class ListRequest(NamedTuple):
    """What is asked of the list: all of it, what is left, or that a step is done or undone."""

    left: bool
    done: tuple[str, ...]
    value: str
    seen: str
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
    click.option(
        "--done",
        metavar="STEP[=V]",
        multiple=True,
        help="Record that a step of the list is done, perhaps with what was measured.",
    ),
    click.option("--value", metavar="V", default="", help="What was measured, or no."),
    click.option("--seen", metavar="TEXT", default="", help="What else was seen; it is kept."),
    click.option("--undo", metavar="STEP", help="Take back what was recorded of a step."),
    click.option(
        "--at",
        metavar="TIME",
        type=Moment(),
        help="When it was done, in UTC: 2026-11-25T15:05, `yesterday 15:05`, `20 minutes ago`.",
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
    if (step.value or step.seen or step.at) and not (step.done or step.undo):
        raise click.UsageError("--value, --seen and --at go with --done")
    if (step.value or step.seen) and len(step.done) > 1:
        raise click.UsageError("several steps: give each its own value, --done STEP=VALUE")
    from cfgaudit.cli import working  # a new sheet has no use for it

    bench = working.open_bench(build, dump, reading)
    at = (step.at or datetime.now(UTC)).replace(tzinfo=UTC)
    if step.done:
        told = [
            working.DoneStep(name, value or step.value, step.seen)
            for name, _, value in (one.partition("=") for one in step.done)
        ]
        return working.record_steps(bench, told, at, out)
    if step.undo:
        return working.undo_step(bench, step.undo, at, out)
    return working.show_list(bench, out, only_left=step.left)


def _write_sheet(dump: str | None, reading: ReadBy, sheet: SheetRequest, out: Output) -> None:
    """Write a new sheet, or add to one. Raises InputError, UsageError."""
    from cfgaudit.work.build_sheet import new_sheet, proposal  # the list has no use for it

    settings, inputs = Settings(), Inputs(reading)
    if dump is not None:
        settings = inputs.open(dump, reading.extra).settings
        if not len(settings):
            say(f"{dump}: no dialect knows this dump, so it tells nothing")
    also = inputs.names_for(settings, None)  # the board's print stands in the sheet itself
    if sheet.into is not None:
        if dump is None or out.output is not None or sheet.overwrite:
            raise click.UsageError("--into FILE goes with a DUMP and without --output")
        _add(proposal(settings, also), sheet.into)
        return
    if out.output is not None and not sheet.overwrite and Path(out.output).exists():
        raise InputError(f"{out.output} is there: add to it with --into, or say --overwrite")
    name = settings["craft.name"].value if "craft.name" in settings else ""
    out.put_text(new_sheet(proposal(settings, also), str(name)))


def _add(blocks: "tuple[SheetTable, ...]", file: str) -> None:
    """Bring a sheet up to date. Raises InputError; what is there is kept."""
    from cfgaudit.work.build_sheet import added_to

    open_sheet(file, tell=False)  # what is wrong with it is told before anything else
    data, name = read_bytes(file, "standard input")
    text = data.decode("utf-8")
    try:
        done = added_to(text, blocks, name)
    except CannotAdd as error:
        raise InputError(f"{name}: nothing was added: {error}") from None
    if done.text == text:
        say(f"{name}: nothing is missing")
        return
    write_atomically(Path(file), done.text.encode(), was=data)
    say(f"written: {name}")
    for what in (*(f"[{table}]" for table in done.tables), *done.settings):
        say(f"  added {what}")
