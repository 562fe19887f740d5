"""What git is told: a plan first, of local configuration and our own block of attributes only."""

import re
import shlex
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from cfgaudit.vcs.attributes import BEGIN, Block, found_in, with_block, without_block
from cfgaudit.vcs.repository import GitError, Repository

USUAL = ("*.dump",)
TEXTCONV = "diff.cfgaudit.textconv"
CACHE = "diff.cfgaudit.cachetextconv"
DRIVER = "merge.cfgaudit.driver"
CACHE_REF = "refs/notes/textconv/cfgaudit"
MARKED = 87  # how the driver's command ends where it has marked a conflict
_EMPTY = re.compile(  # a head of ours with comments at most before the next head
    rb'^[ \t]*\[(?:diff|merge) "cfgaudit"\][ \t]*\r?\n'
    rb"(?=(?:[ \t]*(?:[#;].*)?\r?\n)*[ \t]*(?:\[|\Z))",
    re.M,
)
_FIXED = {
    "diff.cfgaudit.xfuncname": r"^\[.*\]$",  # the plain form's section heads, above each hunk
    "merge.cfgaudit.name": "a settings dump, merged by setting",
}
KEYS = (TEXTCONV, CACHE, "diff.cfgaudit.xfuncname", "merge.cfgaudit.name", DRIVER)


class Wish(NamedTuple):
    """What is asked for; what is left open stays as it is, or comes as usual."""

    program: str  # how a shell calls us
    mark: str
    patterns: tuple[str, ...] = ()
    private: bool | None = None
    cache: bool | None = None
    beside: tuple[str, ...] = ()


class Step(NamedTuple):
    """One thing to do, in words, and as what is done: `key` of the configuration, or `file`."""

    words: str
    key: str = ""
    value: str | None = None  # None: taken out
    file: Path | None = None
    data: bytes | None = None  # None: removed
    ref: str = ""


def plan_install(repository: Repository, wish: Wish) -> list[Step]:
    """What is to be done for it all to be as asked; nothing where it is. Raises GitError."""
    steps: list[Step] = []
    wanted = {**_FIXED, TEXTCONV: textconv_command(wish), DRIVER: driver_command(wish.program)}
    cached = repository.local(CACHE) == ["true"]
    if cached if wish.cache is None else wish.cache:
        wanted[CACHE] = "true"
    for key in KEYS:
        held = repository.local(key)
        if key in wanted and held != [wanted[key]]:
            steps.append(Step(f"set {key} = {wanted[key]}", key, wanted[key]))
        elif key == CACHE and held and wish.cache is False:
            steps.append(Step(f"take out {key}", key))
    if steps and repository.local(TEXTCONV) != [wanted[TEXTCONV]]:
        steps += _drop_cache(repository)
    return [*steps, *_attributes(repository, wish)]


def plan_uninstall(repository: Repository) -> list[Step]:
    """What is to be done for no trace to be left. Raises GitError."""
    steps = [Step(f"take out {key}", key) for key in KEYS if repository.local(key)]
    steps += _drop_cache(repository)
    for file in places(repository).values():
        if block_in(file) is not None:
            steps.append(_without(file))
    return steps


def perform(
    repository: Repository, steps: Sequence[Step], write: Callable[[Path, bytes], None]
) -> None:
    """Do what was planned; `write` writes a file whole or not at all. Raises GitError."""
    for step in steps:
        if step.key and step.value is not None:
            repository.text("config", "--local", "--replace-all", step.key, step.value)
        elif step.key:
            repository.text("config", "--local", "--unset-all", step.key)
        elif step.ref:
            repository.text("update-ref", "-d", step.ref)
        elif step.file is not None and step.data is not None:
            step.file.parent.mkdir(exist_ok=True)
            write(step.file, step.data)
        elif step.file is not None:
            step.file.unlink()
            if step.file.parent.name == "info" and not any(step.file.parent.iterdir()):
                step.file.parent.rmdir()  # an empty one was made for our file
    if any(step.key and step.value is None for step in steps):
        _drop_empty_sections(repository.path("config"), write)


def _drop_empty_sections(config: Path, write: Callable[[Path, bytes], None]) -> None:
    """Take out the heads that git leaves where somebody's comment stands before or behind them."""
    data = _bytes(config) or b""
    left = _EMPTY.sub(b"", data)
    if left != data:
        write(config, left)


def textconv_command(wish: Wish) -> str:
    """How git is told to show a dump. The mark is there for git's cache: see textconv.py.

    Git puts the name of the file behind it, be it `-h.dump`.
    """
    beside = "".join(f" --beside={shlex.quote(folder)}" for folder in wish.beside)
    return f"{wish.program} git textconv --as={wish.mark}{beside} --"


def driver_command(program: str) -> str:
    """How git is told to merge a dump.

    Where we can't be run, or fail in a way that leaves no marks, the shell lets git merge the
    text: a conflict without marks would pass for a merge. So a conflict that is marked has an exit
    status of its own, one that no shell and no Python has for a fault.
    """
    names = "--path=%P --size=%L --ours-name=%X --theirs-name=%Y"
    status = f"--conflict-status={MARKED}"
    call = f"{program.replace('%', '%%')} git merge {names} {status} %O %A %B"
    done = f"test $s = {MARKED} && exit 1; test $s = 0 && exit 0"
    by_git = "git merge-file -q --marker-size=%L %A %O %B || exit 1"
    return f"{call}; s=$?; {done}; {by_git}"


def places(repository: Repository) -> dict[str, Path]:
    """The two files that can have our block, by what they are to the user."""
    return {
        "shared": repository.top / ".gitattributes",
        "private": repository.path("info/attributes"),
    }


def block_in(file: Path) -> Block | None:
    """Our block in a file. Raises GitError where somebody has cut it up."""
    data = _bytes(file)
    block = found_in(data or b"")
    if block is None and BEGIN in (data or b""):
        raise GitError(f"{file}: the lines that cfgaudit put there are cut up; delete what is left")
    return block


def _attributes(repository: Repository, wish: Wish) -> list[Step]:
    files = places(repository)
    blocks = {name: block_in(file) for name, file in files.items()}
    private = blocks["private"] is not None if wish.private is None else wish.private
    here, there = ("private", "shared") if private else ("shared", "private")
    held = blocks[here] or blocks[there]
    patterns = wish.patterns or (held.patterns if held else USUAL)
    steps: list[Step] = []
    if blocks[there] is not None:
        steps.append(_without(files[there]))
    data = _bytes(files[here])
    wanted = with_block(data, tuple(dict.fromkeys(patterns)))
    if data != wanted:
        listed = " ".join(patterns)
        steps.append(Step(f"write to {files[here]}: {listed}", file=files[here], data=wanted))
    return steps


def _without(file: Path) -> Step:
    left = without_block(_bytes(file) or b"")
    what = f"remove {file}" if left is None else f"take our lines out of {file}"
    return Step(what, file=file, data=left)


def _drop_cache(repository: Repository) -> list[Step]:
    if not repository.has_ref(CACHE_REF):
        return []
    return [Step("throw away git's cache of shown dumps", ref=CACHE_REF)]


def _bytes(file: Path) -> bytes | None:
    try:
        return file.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise GitError(f"{file} can't be read: {reason}") from None
