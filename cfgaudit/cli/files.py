"""Files that are written whole or not at all, one hand at a time; and links that are not followed.

Every writer goes through here: what it made its bytes from is looked at again under a lock, after
everything is on the disk and right before it takes its place. So two at once never lose the
other's work: the second is told, or waits.
"""

import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TypeVar

import click

from cfgaudit.cli import InputError, reason_of, say

T = TypeVar("T")
# where click keeps what the options said, for this one call
FORCE, FORM, NO_LIMITS = "cfgaudit.force", "cfgaudit.form", "cfgaudit.no_limits"
REVIEW_FORMATS = ("sarif", "junit", "github", "markdown")  # of check and diff
_READ = "cfgaudit.read"
_WRITTEN = frozenset(["output", "limits"])  # options that name a file to write
_ASIDE = ".cfgaudit-"  # in the name of a neighbour that waits to take a file's place
_STREAMS = ("/dev/stdout", "/dev/fd/1", "/proc/self/fd/1")


def noting(what: str) -> Callable[[click.Context, click.Parameter, T], T]:
    """A callback that keeps what an option says for whatever is done in this one call."""

    def note(context: click.Context, _: click.Parameter, said: T) -> T:
        context.meta[what] = said
        return said

    return note


def noted(what: str) -> object:
    """What was kept so; None where nothing was."""
    context = click.get_current_context(silent=True)
    return None if context is None else context.meta.get(what)


def refuse_link_out(path: Path) -> None:
    """See that a file that is told of to others lies where it seems to. Raises InputError.

    A link out of the repository, or out of the current folder where there is none, leads to what
    whoever sent the repository may not read.
    """
    if noted(FORM) not in REVIEW_FORMATS:
        return
    seems = Path(os.path.abspath(path))  # noqa: PTH100 (resolve() would follow the links)
    tops = (above for above in seems.parents if (above / ".git").exists())
    top = next(tops, Path.cwd())
    if seems.is_relative_to(top) and not seems.resolve().is_relative_to(top.resolve()):
        raise InputError(
            f"{path} is a link out of {top}; it is not followed in a report for others"
        )


def note_read(path: Path) -> None:
    """Keep that the command that is running was made from a file, so no report replaces it."""
    context = click.get_current_context(silent=True)
    if context is not None:
        context.meta.setdefault(_READ, set()).add(path)


def refuse_own_input(output: str | None) -> None:
    """See that a report does not replace what it is made from, by whatever name. Raises InputError.

    Those are the files that the command line names, and those that were read until now.
    """
    context = click.get_current_context(silent=True)
    if context is None or output is None or not Path(output).is_file():
        return
    for path in (*_named(context), *context.meta.get(_READ, ())):
        try:
            same = Path(output).samefile(path)
        except (OSError, ValueError):  # no file, or no name for one
            continue
        if same:
            raise InputError(f"--output {output} would replace {path}, which is read here")


def _named(context: click.Context) -> Iterator[str]:
    """Whatever the command line names that may be a file: FILE, FILE#2, DUMP=FILE."""
    for name in context.params.keys() - _WRITTEN:
        said = context.params[name]
        for word in said if isinstance(said, tuple) else (said,):
            if isinstance(word, str):
                yield from (word, word.rpartition("#")[0], word.partition("=")[2])


def is_stdout(file: str) -> bool:
    """Whether a name stands for standard output, which is written to and never replaced."""
    return file in _STREAMS


def write_atomically(
    path: Path, data: bytes, *, was: bytes | str | None = "", locked: bool = False
) -> None:
    """Write a file whole or not at all: to a neighbour, then in one move. Raises InputError.

    `was` are the bytes that it was made from, None where there was no file; where a text stands for
    them, they don't matter. `locked` says that the caller holds the folder.
    """
    known = {} if isinstance(was, str) else {path: was}
    write_together({path: data}, known, locked=locked)


def write_together(
    files: Mapping[Path, bytes],
    was: Mapping[Path, bytes | None] | None = None,
    *,
    locked: bool = False,
) -> None:
    """Write several files: all of them to neighbours first, so that what goes wrong is found
    before any is replaced. Raises InputError, where one is not what it `was` any more too.
    """
    ready: dict[Path, Path] = {}  # each file's neighbour that waits to take its place
    path = Path()
    targets = {path: _target(path) for path in files}
    with ExitStack() as held:
        try:
            folders = {target.parent: name for name, target in targets.items()}
            for folder in sorted(folders) if not locked else ():
                path = folders[folder]
                held.enter_context(locking(folder))
            for path, data in files.items():
                target = targets[path]
                if target.exists() and not target.is_file():  # a device or a pipe is not replaced
                    target.write_bytes(data)
                else:
                    _write_beside(path, target, data, ready)
            for path, before in (was or {}).items():
                if _bytes(targets[path]) != before:
                    raise InputError(f"{path} has changed since it was read; nothing was written")
            for path in list(ready):
                ready[path].replace(path)
                del ready[path]
        except OSError as error:
            raise InputError(f"{path} can't be written: {reason_of(error)}") from None
        finally:
            for neighbour in ready.values():
                neighbour.unlink(missing_ok=True)


def _bytes(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _target(path: Path) -> Path:
    """The file to replace: a link stays a link. Raises InputError for one out of its folder."""
    target = path.resolve()
    if path.is_symlink() and target.is_relative_to(Path("/dev")):
        return target
    if path.is_symlink() and not target.is_relative_to(path.parent.resolve()):
        raise InputError(f"{path} is a link out of its folder, to {target}; name that file itself")
    return target


def _write_beside(name: Path, path: Path, data: bytes, ready: dict[Path, Path]) -> None:
    """Write to a neighbour, which is ready to take the file's place. Raises OSError, InputError."""
    for left in path.parent.glob(f".*{_ASIDE}*"):  # a run that was killed; we hold the folder
        if left not in ready.values():
            left.unlink(missing_ok=True)
    before = path.stat() if path.exists() else None
    if before is not None and not before.st_mode & 0o222 and not noted(FORCE):
        raise InputError(f"{name} is marked as not to be written; --force replaces it all the same")
    neighbour = path.with_name(f".{path.name[:100]}{_ASIDE}{os.urandom(8).hex()}")
    with neighbour.open("xb") as file:
        ready[path] = neighbour
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    if before is not None:
        _keep_attributes(name, path, before, neighbour)
        if before.st_nlink > 1:
            more = "another name" if before.st_nlink == 2 else f"{before.st_nlink - 1} more names"
            say(f"{name} had {more} (hard links): there it stays what it was")


def _keep_attributes(name: Path, path: Path, before: os.stat_result, neighbour: Path) -> None:
    """Give a neighbour the owner, group, mode and attributes of a file, or say that it can't be."""
    lost = []
    made = neighbour.stat()
    if sys.platform != "win32" and (made.st_uid, made.st_gid) != (before.st_uid, before.st_gid):
        try:
            os.chown(neighbour, before.st_uid, before.st_gid)
        except OSError:
            lost.append("owner or group")
    if sys.platform == "linux":
        try:
            for attribute in os.listxattr(path):
                if not attribute.startswith("security."):  # which the system sets by itself
                    os.setxattr(neighbour, attribute, os.getxattr(path, attribute))
        except OSError:
            lost.append("attributes")
    neighbour.chmod(before.st_mode & 0o7777)  # last: a change of owner takes marks away
    if lost:
        say(f"{name} is written, but its {' and '.join(lost)} could not be kept")


@contextmanager
def locking(folder: Path) -> Iterator[None]:
    """A folder while nobody else writes there, waiting for whoever does. Raises OSError.

    A file is replaced when it is written, so it can't hold the lock itself: its folder does.
    """
    held = _take(folder)
    try:
        yield
    finally:
        os.close(held)  # which gives the lock back


if sys.platform == "win32":  # there a folder can't be opened: a file in it holds the lock

    def _take(folder: Path) -> int:
        import msvcrt

        held = os.open(folder / ".cfgaudit.lock", os.O_RDWR | os.O_CREAT)
        msvcrt.locking(held, msvcrt.LK_LOCK, 1)
        return held

else:

    def _take(folder: Path) -> int:
        import fcntl

        held = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(held, fcntl.LOCK_EX)
        except OSError:
            os.close(held)
            raise
        return held
