"""What install, uninstall and status share: the repository, how we are called, the plan done."""

import os
import shlex
import site
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.git.folders import dialect_files
from cfgaudit.cli.settings import folder_settings
from cfgaudit.cli.writing import write_atomically
from cfgaudit.git.install import BadPattern, PlanStep, Wish, beside_of, perform
from cfgaudit.git.repository import GitError, Repository, find_repository
from cfgaudit.git.textconv import mark_of
from cfgaudit.reports.safe import safe


def here() -> Repository:
    """The repository that the working folder is in. Raises InputError."""
    try:
        return find_repository(Path.cwd())
    except GitError as error:
        raise InputError(str(error)) from None


def wish_for(
    repository: Repository, folder: Path, program: str | None, beside: tuple[str, ...]
) -> Wish:
    """What is asked for, as far as it hangs on where we are and how we were called."""
    told = beside or beside_of(repository) or _beside(repository, folder)
    return Wish(program or usual_program(), mark_now(repository, told), beside=told)


def mark_now(repository: Repository, beside: Sequence[str]) -> str:
    """The mark that the text filter's command should bear today. Raises InputError."""
    try:
        return mark_of(dialect_files(repository.top, beside))
    except OSError as error:
        raise InputError(f"a dialect can't be read: {error}") from None


def usual_program() -> str:
    """How a shell calls us: this very Python, deaf to the folder that git stands in.

    `-I` keeps the working tree, and what the environment names, off the import path: a branch
    with a file `click.py` must not run it. What was installed for one user alone is out of reach
    of `-I`, so there the environment's path and the folder are left out by name.
    """
    own = Path(__file__).resolve().is_relative_to(Path(site.getusersitepackages()).resolve())
    python = Path(sys.executable).as_posix()
    return f"{shlex.quote(python)} {'-E -P' if own else '-I'} -m cfgaudit"


def _beside(repository: Repository, folder: Path) -> tuple[str, ...]:
    """The folder we stand in, where it names dialects that the top folder does not."""
    top = set(folder_settings(repository.top).dialects)
    if set(folder_settings(folder).dialects) <= top:
        return ()
    return (Path(os.path.relpath(folder.resolve(), repository.top.resolve())).as_posix(),)


def carried_out(repository: Repository, plan: Callable[[], list[PlanStep]], dry_run: bool) -> int:
    """Make a plan, print it, and carry it out unless it is only asked for. Raises InputError."""
    try:
        steps = plan()
        for step in steps:
            click.echo(("would " if dry_run else "") + safe(step.words))
        if not steps:
            click.echo("nothing to change")
        elif not dry_run:
            perform(repository, steps, write_atomically)
    except (GitError, BadPattern) as error:
        raise InputError(str(error)) from None
    except OSError as error:
        raise InputError(f"{error.filename}: {(error.strerror or str(error)).lower()}") from None
    return 0
