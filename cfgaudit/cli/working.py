"""The working list of `cfgaudit bench`: shown, and one step of it recorded or undone."""

from collections.abc import Sequence
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import NamedTuple

import click

from cfgaudit.cli.building import open_sheet
from cfgaudit.cli.changing import open_each
from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.cli.record_file import read_entries, recording
from cfgaudit.dialects.editor import Dumps, joined
from cfgaudit.settings import Settings
from cfgaudit.work.judging import BadAnswer, Recorded, Undone, judge, put_right
from cfgaudit.work.record import (
    Listed,
    RecordEntry,
    StepOutcome,
    StepState,
    latest,
    progress,
    record_name,
    waiting_for,
    working_list,
)
from cfgaudit.work.steps import BenchStep, known_of
from cfgaudit.work.steps_flight import arms_of


class Files(NamedTuple):
    """What the list is made from."""

    build: str
    dump: str | None
    extra: tuple[str, ...] = ()
    dialect: str | None = None
    stdin_name: str = "standard input"


class Saying(NamedTuple):
    """How it is told."""

    form: str = "terminal"
    left: bool = False
    output: str | None = None
    color: str = "auto"


def _sheet(build: str) -> Settings:
    """What the build sheet states. Raises InputError, which says if it looks like a dump."""
    try:
        return open_sheet(build)
    except InputError as error:
        if Path(build).suffix == ".toml" or not Path(build).is_file():
            raise
        first = "the build sheet comes first: cfgaudit bench BUILD [DUMP]; --new writes one"
        raise InputError(f"{error.message}\n{first}") from None


class Bench(NamedTuple):
    """A craft at the bench: its list, its record's file, its dumps."""

    files: Files
    name: str
    steps: tuple[BenchStep, ...]
    arms: tuple[str, ...]
    record: Path
    dumps: Dumps

    def step(self, wanted: str) -> BenchStep:
        """One step by its id. Raises UsageError with a near miss."""
        for step in self.steps:
            if step.id == wanted:
                return step
        near = get_close_matches(wanted, [step.id for step in self.steps], n=1)
        hint = f" Did you mean {near[0]}?" if near else " `cfgaudit bench` lists them."
        raise click.UsageError(f"There is no step {wanted!r} in this list.{hint}")

    def listed(self, entries: Sequence[RecordEntry]) -> tuple[Listed, ...]:
        """The list as it stands."""
        return progress(self.steps, latest(entries))


def open_bench(files: Files) -> Bench:
    """Read sheet and dumps, and make the list. Raises InputError, UsageError."""
    if files.build == "-":
        raise click.UsageError("the build sheet must be a file: the record is kept beside it")
    stated = _sheet(files.build)
    dumps: Dumps = ()
    if files.dump is not None:
        inputs = Inputs(files.dialect, files.stdin_name)
        dumps = open_each(inputs, files.dump, files.extra, files.stdin_name)
    settings = joined(dumps) if dumps else None
    if settings is not None and not len(settings):
        raise InputError(f"{files.dump}: no dialect knows this dump, so it tells nothing")
    known = known_of(settings, stated)
    name = known.told(lambda: known.sheet.who.name, lambda: known.craft.who.name)
    return Bench(
        files,
        name or Path(files.build).name,
        working_list(known),
        tuple(one.arm for one in arms_of(known)),
        Path(record_name(files.build)),
        dumps,
    )


def show_list(bench: Bench, saying: Saying) -> int:
    """Print the list."""
    _put(bench, bench.listed(read_entries(bench.record)), None, saying)
    return 0


def record_step(bench: Bench, wanted: str, value: str, at: datetime, saying: Saying) -> int:
    """Judge and record a step: 0 where it passed, 1 where it failed. Raises InputError."""
    step = bench.step(wanted)
    try:
        verdict = judge(step, value, bench.arms)
    except BadAnswer as error:
        raise InputError(str(error)) from None
    outcome = StepOutcome.DONE if verdict.passed else StepOutcome.FAILED
    with recording(bench.record) as record:
        before = bench.listed(record.entries)
        _see_that_it_is_open(before, step)
        record.add(RecordEntry(step.id, at, outcome, value.strip(), verdict.says, step.against))
        after = bench.listed(record.entries)
    settings, changes = put_right(bench.dumps, verdict.sets)
    opened = _opened(before, after)
    _put(bench, after, Recorded(step, verdict, settings, changes, opened), saying)
    return int(not verdict.passed)


def _see_that_it_is_open(listed: Sequence[Listed], step: BenchStep) -> None:
    mine = next(one for one in listed if one.step.id == step.id)
    if mine.state is StepState.SHUT:
        raise InputError(f"{step.id} is not open yet: {waiting_for(mine)}; nothing was recorded")


def _opened(before: Sequence[Listed], after: Sequence[Listed]) -> tuple[str, ...]:
    return tuple(
        new.step.id
        for old, new in zip(before, after, strict=True)
        if old.state is StepState.SHUT and new.state is not StepState.SHUT
    )


def undo_step(bench: Bench, wanted: str, at: datetime, saying: Saying) -> int:
    """Record that what was recorded of a step no longer counts. Raises InputError."""
    known = {step.id for step in bench.steps}
    with recording(bench.record) as record:
        counting = latest(record.entries)
        if wanted not in counting:
            if wanted not in known:
                bench.step(wanted)
            raise InputError(f"{wanted} was not recorded, so there is nothing to undo")
        before = bench.listed(record.entries)
        record.add(RecordEntry(wanted, at, StepOutcome.UNDONE))
        after = bench.listed(record.entries)
    _put(bench, after, Undone(wanted, _opened(after, before)), saying)
    return 0


def _put(
    bench: Bench,
    listed: Sequence[Listed],
    event: Recorded | Undone | None,
    saying: Saying,
) -> None:
    """Tell the list, or what was recorded, or what was undone and is shut again by that."""
    names = (bench.name, bench.files.build, bench.files.dump, str(bench.record))
    if saying.form == "json":
        from cfgaudit.reports.json_bench import bench_json
        from cfgaudit.reports.json_report import dumped

        put_text(
            dumped(bench_json(names, listed, event if isinstance(event, Recorded) else None)),
            saying.output,
        )
        return
    if saying.form == "html":
        from cfgaudit.reports.html_bench import bench_html

        put_text(bench_html(bench.name, listed, only_left=saying.left), saying.output)
        return
    from cfgaudit.reports import terminal_bench as draw
    from cfgaudit.reports.screen import Screen

    screen = Screen(screen_width())
    if isinstance(event, Recorded):
        draw.recorded_screen(screen, event, listed)
    elif isinstance(event, Undone):
        draw.undone_screen(screen, event, listed)
    else:
        draw.list_screen(screen, names, listed, only_left=saying.left)
    put_screen(screen, saying.output, saying.color)
