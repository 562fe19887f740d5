"""`cfgaudit git history`: who changed a setting of a dump, and when."""

import os
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import click

from cfgaudit.audit.incremental import Auditor
from cfgaudit.cli import InputError
from cfgaudit.cli.auditing import rules_of
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import ReadBy, output_options, reading_options, secrets_option
from cfgaudit.cli.output import Output
from cfgaudit.cli.progress import watched
from cfgaudit.git.history import CommitChanges, HistoryQuery, Reading, Walk, touches
from cfgaudit.git.repository import Blobs, GitError, Repository, find_repository
from cfgaudit.reading.text import BOUNDS
from cfgaudit.reports.diff import masked_change
from cfgaudit.reports.history import history_json, history_screen
from cfgaudit.settings import Settings


@click.command()
@click.argument("dump")
@click.argument("paths", metavar="[PATH]...", nargs=-1)
@reading_options(extra="", stdin=False, limits=False)
@output_options("terminal", "json")
@secrets_option
@click.option("--all", "everything", is_flag=True, help="Craft-own and counting settings too.")
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
    reverse: bool,
    limit: int | None,
) -> int:
    """Who changed which setting of DUMP, and when: the newest commit first.

    A PATH stands for itself and all below it; `*` stands for any one word. Renamed files are
    followed. A merge tells only what it has from none of its parents.
    """
    inputs = Inputs(reading)
    try:
        repository = find_repository(_folder(dump))
        touched = touches(repository, _inside(dump, repository))
        if not touched:
            raise InputError(f"no commit touches {dump}")
        with Blobs(repository, BOUNDS.file_bytes) as blobs:
            walk = Walk(blobs, _reading(inputs, dump, reading.dialect), _auditor(inputs, dump))
            walk.wanted = HistoryQuery(paths, everything)
            steps = list(_told(walk.steps(watched(touched, "reading versions")), limit))
    except GitError as error:
        raise InputError(str(error)) from None
    steps = [step if secrets else _masked(step) for step in steps][:: -1 if reverse else 1]
    out.put(
        lambda width: history_screen(dump, len(touched), steps, width),
        lambda: history_json(dump, paths, len(touched), steps),
    )
    return 0


def _masked(step: CommitChanges) -> CommitChanges:
    """The step with every secret hidden."""
    return replace(step, changes=tuple(masked_change(change) for change in step.changes))


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


def _reading(inputs: Inputs, dump: str, named: str | None) -> Reading:
    """Reads a version of the dump, by the dialects that its folder has now."""

    def read(data: bytes) -> Settings:
        return inputs.open_bytes(dump, data, dump, named).settings

    return read


def _auditor(inputs: Inputs, dump: str) -> Auditor:
    """By the folder's own rules and limits; its waivers hold for today, not for what was."""
    return Auditor(*rules_of(inputs, dump))


def _told(steps: Iterable[CommitChanges], limit: int | None) -> Iterator[CommitChanges]:
    """The steps that tell anything, no more of them than asked for."""
    count = 0
    for step in steps:
        if step.tells:
            yield step
            count += 1
            if count == limit:
                return
