"""`cfgaudit git history`: who changed a setting of a dump, and when."""

import os
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import click

from cfgaudit.cli import InputError, Refusing, did_you_mean
from cfgaudit.cli.auditing import rules_of
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import ReadBy, output_options, reading_options, secrets_option
from cfgaudit.cli.output import Output, watched
from cfgaudit.git.history import (
    CommitChanges,
    DumpReader,
    HistoryQuery,
    Touch,
    Walk,
    names_of,
    touches,
)
from cfgaudit.git.repository import Blobs, GitError, Repository, find_repository
from cfgaudit.reading.text import BOUNDS
from cfgaudit.reports.diff import history_json, history_screen, masked_change, masked_comments
from cfgaudit.rules.book import find
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.paths import covers, vocabulary


@click.command()
@click.argument("dump")
@click.argument("paths", metavar="[PATH]...", nargs=-1)
@reading_options(extra="", stdin=False, limits=False)
@output_options("terminal", "json")
@secrets_option
@click.option("--everything", is_flag=True, help="What counts by itself, too.")
@click.option("--finding", "rule", metavar="RULE", help="Only who brought or cleared its findings.")
@click.option("--reverse", is_flag=True, help="The oldest first.")
@click.option(
    "--limit", metavar="N", type=click.IntRange(1), help="The newest N commits that tell anything."
)
def command(
    dump: str,
    paths: tuple[str, ...],
    reading: ReadBy,
    out: Output,
    secrets: bool,
    everything: bool,
    rule: str | None,
    reverse: bool,
    limit: int | None,
) -> int:
    """Who changed which setting of DUMP, and when: the newest commit first.

    A PATH stands for itself and all below it; `*` stands for any one word. Renamed files are
    followed. A merge tells only what it has from none of its parents. Each version is held against
    the build sheet of its own commit.
    """
    if Path(dump).suffix == ".toml":  # no dump is one, and each key in it would pass for a line
        raise InputError(
            f"{dump} is no dump. What a build sheet brought is told with its craft's dump: "
            "`cfgaudit git history DUMP`."
        )
    inputs = Inputs(reading)
    rules, limits = rules_of(inputs, dump)
    if rule is not None:
        known = [one.id for one in rules]
        rules = tuple(one for one in rules if one.id == rule)
        if not rules:
            raise InputError(f"there is no rule {rule!r}.{did_you_mean(rule, known)}")
    with Refusing(GitError):
        repository = find_repository(_folder(dump))
        with Blobs(repository, BOUNDS.file_bytes) as blobs:
            sheet = _sheet_of(inputs, dump, repository, blobs)
            touched = touches(repository, _inside(dump, repository), sheet)
            if not touched:
                raise InputError(f"no commit touches {dump}")
            walk = Walk(blobs, _reading(inputs, dump, reading.dialect), rules, limits)
            walk.wanted = HistoryQuery(paths, everything, () if rule is None else (rule,))
            walk.sheets = names_of(repository, sheet) if sheet else ()
            walk.sheet_reading = partial(_sheet, sheet)
            steps = list(_told(walk, watched(touched, "reading versions"), limit))
    if limit is None or len(steps) < limit:
        _see_that_they_exist(paths, walk.names)
    steps = [step if secrets else _masked(step) for step in steps][:: -1 if reverse else 1]
    out.put(
        lambda width: history_screen(dump, len(touched), steps, width),
        lambda: history_json(dump, paths, len(touched), steps, rule),
        inputs.other_names,
    )
    return 0 if all(step.is_judged for step in steps) else 2


def _masked(step: CommitChanges) -> CommitChanges:
    """The step with every secret hidden."""
    return replace(
        step,
        changes=tuple(masked_change(change) for change in step.changes),
        more=tuple((number, masked_change(change)) for number, change in step.more),
        comments=masked_comments(step.comments, step.crafts),
    )


def _see_that_they_exist(paths: Sequence[str], met: Collection[str]) -> None:
    """See that each path is there in some version. Raises InputError."""
    for path in paths:
        if any(covers(path, name) for name in met):
            continue
        hint = f"; a rule's findings: --finding {path}" if find(path) else ""
        known = [*sorted(met), *(entry.pattern for entry in vocabulary())]
        hint = hint or did_you_mean(path, known, start="; did")
        raise InputError(f"no version of the dump states {path}{hint}")


def _sheet_of(inputs: Inputs, dump: str, repository: Repository, blobs: Blobs) -> str:
    """The name of the build sheet from the top of the tree; empty where the folder names none."""
    data = blobs.read(f"HEAD:{_inside(dump, repository)}") or b""
    file = inputs.sheet_file(dump, inputs.open_bytes(dump, data, dump).settings)
    return _inside(file, repository) if file else ""


def _sheet(name: str, data: bytes) -> Settings | str:
    """A build sheet as it was in a commit, or its first fault."""
    from cfgaudit.craft.sheet import SheetError, read_sheet  # most craft have none

    try:
        return read_sheet(data, name)
    except SheetError as error:
        return str(error.faults[0])


def _folder(dump: str) -> Path:
    """The nearest folder above a dump that is there: the dump itself may be gone."""
    folder = Path(dump).absolute().parent
    while not folder.is_dir():
        folder = folder.parent
    return folder


def _inside(dump: str, repository: Repository) -> str:
    """A dump's name from the top of the tree. Raises InputError."""
    folder = Path(os.path.realpath(Path(dump).absolute().parent))
    try:
        inside = folder.relative_to(os.path.realpath(repository.top))
    except ValueError:
        raise InputError(f"{dump} is outside of the repository {repository.top}") from None
    return (inside / Path(dump).name).as_posix()


def _reading(inputs: Inputs, dump: str, named: str | None) -> DumpReader:
    """Reads a version of the file, by the dialects that its folder has now."""

    def read(data: bytes) -> tuple[Settings, ...]:
        return tuple(one.settings for one in inputs.every(dump, data, dump, named))

    return read


def _told(walk: Walk, touched: Iterable[Touch], limit: int | None) -> Iterator[CommitChanges]:
    """The steps that tell anything, no more of them than asked for."""
    count = 0
    for step in walk.steps(touched):
        if walk.wanted.wants(step):
            yield step
            count += 1
            if count == limit:
                return
