"""`cfgaudit git install`, `uninstall` and `status`: what git is told of dumps."""

import os
import shlex
import site
import sys
from collections.abc import Callable, Sequence
from functools import cache as cache_of
from functools import partial
from pathlib import Path
from secrets import token_hex
from shutil import which

import click

from cfgaudit.cli import InputError, Refusing, reason_of, say
from cfgaudit.cli.files import write_atomically
from cfgaudit.cli.folder import dialect_files, folder_settings
from cfgaudit.cli.git.textconv import in_doubt, redacted_lines, text_of
from cfgaudit.cli.inputs import loaded_in_turn
from cfgaudit.cli.output import put_text
from cfgaudit.dialects.dialect import DialectError, load_dialect
from cfgaudit.dialects.opening import open_dump
from cfgaudit.git import install as git_install
from cfgaudit.git.install import (
    BadPattern,
    PlanStep,
    Wish,
    beside_of,
    idle_patterns,
    is_cache_filled,
    perform,
    salt_of,
)
from cfgaudit.git.repository import GitError, Repository, find_repository
from cfgaudit.git.textconv import mark_of, shown
from cfgaudit.reading.safe import fault_of, safe
from cfgaudit.reading.text import BOUNDS

_KEPT = 400  # versions whose text is worked out at once; --cache asks for all of them
_TRIED = 50  # tracked files that status tries to show; the others are like them

dry_run_option = click.option("--dry-run", is_flag=True, help="Only print the plan.")


@click.command()
@click.argument("patterns", metavar="[PATTERN]...", nargs=-1)
@click.option(
    "--private/--shared",
    default=None,
    help="Keep the patterns in .git/info/attributes, or in .gitattributes (as usual).",
)
@click.option(
    "--cache/--no-cache",
    default=None,
    help="Work out now what git will show of all versions, not of the newest; or keep nothing.",
)
@click.option("--program", metavar="COMMAND", help="How git's shell is to call cfgaudit.")
@click.option("--beside", metavar="FOLDER", multiple=True, help="Dialects are named here too.")
@dry_run_option
def install(
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
    repository = _here()
    told = beside or beside_of(repository) or _beside(repository, Path.cwd())
    called = _absolute(program) if program else _usual_program()
    salt = salt_of(repository) or token_hex(8)
    wish = Wish(called, _mark_now(repository, told), beside=told, salt=salt)
    wish = wish._replace(patterns=patterns, private=private, cache=cache)
    done = _carried_out(repository, lambda: git_install.plan_install(repository, wish), dry_run)
    for pattern in [] if dry_run else idle_patterns(repository):
        say(f"no file here is called by the pattern {pattern}")
    if not dry_run and repository.has_ref("HEAD") and (cache or not is_cache_filled(repository)):
        _fill_cache(repository, told, salt, sys.maxsize if cache else _KEPT)
    return done


@click.command()
@dry_run_option
def uninstall(dry_run: bool) -> int:
    """Take out the drivers' configuration, our block of attributes, and what git has cached."""
    repository = _here()
    return _carried_out(repository, lambda: git_install.plan_uninstall(repository), dry_run)


@click.command()
def status() -> int:
    """Say what git has been told; exit 1 where something is missing or can't be run."""
    repository = _here()
    with Refusing(GitError):
        beside = beside_of(repository)
        unread = partial(_unread, repository.top, beside)
        lines = git_install.status(repository, _mark_now(repository, beside), unread)
    rows = [
        f"{'' if line.fine else '!':2}{line.about:<10} {safe(line.words)}".rstrip()
        for line in lines
    ]
    fine = all(line.fine for line in lines)
    verdict = "git shows and merges these dumps by setting." if fine else "Not all is in order (!)."
    put_text("\n".join([*rows, verdict, ""]))
    return int(not fine)


def _here() -> Repository:
    """The repository that the working folder is in. Raises InputError."""
    with Refusing(GitError):
        return find_repository(Path.cwd())


def _unread(top: Path, beside: Sequence[str], names: Sequence[str]) -> list[str]:
    """Those of the first tracked files that the text filter shows by line."""
    files = dialect_files(top, beside)
    found: list[str] = []
    for name in names[:_TRIED]:
        try:
            data = (top / name).read_bytes()
            opened = open_dump(name, data, loaded_in_turn(data, files, load_dialect))
        except (OSError, DialectError):
            continue  # it is not checked out; a dialect at fault is told where it is read
        if shown(opened, opened.settings) is None:
            found.append(name)
    return found


def _mark_now(repository: Repository, beside: Sequence[str]) -> str:
    """The mark that the text filter's command should bear today. Raises InputError."""
    try:
        return mark_of(dialect_files(repository.top, beside))
    except OSError as error:
        raise InputError(f"a dialect can't be read: {error}") from None


def _usual_program() -> str:
    """How a shell calls us: this very Python, deaf to the folder that git stands in.

    `-I` keeps the working tree, and what the environment names, off the import path: a branch
    with a file `click.py` must not run it. What was installed for one user alone is out of reach
    of `-I`, so there the environment's path and the folder are left out by name.
    """
    own = Path(__file__).resolve().is_relative_to(Path(site.getusersitepackages()).resolve())
    python = Path(sys.executable).as_posix()
    return f"{shlex.quote(python)} {'-E -P' if own else '-I'} -m cfgaudit"


def _fill_cache(repository: Repository, beside: Sequence[str], salt: str, newest: int) -> None:
    """Work out at once what git would ask for version by version, a process each."""
    files, load = dialect_files(repository.top, beside), cache_of(load_dialect)

    def show(data: bytes) -> bytes:
        try:
            text = text_of(data, files, load, salt)
        except Exception as error:  # as the text filter itself: it is shown by line
            return redacted_lines(data) + in_doubt(fault_of(error))
        return redacted_lines(data) if text is None else text

    with Refusing(GitError):
        kept, count = git_install.fill_cache(repository, show, BOUNDS.file_bytes, newest)
    if count:
        rest = f", the newest of {count:,}; --cache keeps all" if kept < count else ""
        click.echo(f"kept for git: {kept:,} versions{rest}")


def _absolute(program: str) -> str:
    """A command whose program is found here, whatever the search path will be where git runs it."""
    name, blank, rest = program.partition(" ")
    found = which(name) if "/" not in name and not set(name) & set("'\\\"$") else None
    return f"{shlex.quote(Path(found).as_posix())}{blank}{rest}" if found else program


def _beside(repository: Repository, folder: Path) -> tuple[str, ...]:
    """The folder we stand in, where it names dialects that the top folder does not."""
    top = set(folder_settings(repository.top).dialects)
    if set(folder_settings(folder).dialects) <= top:
        return ()
    return (Path(os.path.relpath(folder.resolve(), repository.top.resolve())).as_posix(),)


def _carried_out(repository: Repository, plan: Callable[[], list[PlanStep]], dry_run: bool) -> int:
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
        raise InputError(f"{error.filename}: {reason_of(error)}") from None
    return 0
