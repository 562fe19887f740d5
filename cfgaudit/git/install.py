"""What git is told: a plan first, of configuration and a block of attributes; its status."""

import codecs
import os
import re
import shlex
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from cfgaudit import __version__
from cfgaudit.git.repository import ATTRIBUTE, Blobs, GitError, Repository, ask
from cfgaudit.git.textconv import IN_DOUBT
from cfgaudit.rules.rule import first_of

BEGIN = b"# cfgaudit begins; `cfgaudit git uninstall` takes these lines out"
MADE = b"# this file was made for these lines"
END = b"# cfgaudit ends"
_BLOCK = re.compile(
    rb"(?:(?<=\n)|\A)" + re.escape(BEGIN) + rb"\r?\n(.*?)" + re.escape(END) + rb"(?:\r?\n|\Z)", re.S
)
_QUOTED = re.compile(r'"((?:[^"\\]|\\.)*)"|(\S+)')


class BadPattern(ValueError):  # noqa: N818 (the pattern is, no fault of ours)
    """A pattern that git attributes can't hold; the message says why."""


class AttributesBlock(NamedTuple):
    """Our block: the patterns in it, and whether the file was made for it."""

    patterns: tuple[str, ...]
    made: bool = False


def found_in(data: bytes) -> AttributesBlock | None:
    """Our block in a file of attributes, if it is there."""
    match = _BLOCK.search(_without_bom(data)[1])
    if match is None:
        return None
    lines = match.group(1).decode("utf-8", "surrogateescape").splitlines()
    made = bool(lines) and lines[0].encode("utf-8", "surrogateescape") == MADE
    return AttributesBlock(
        tuple(_pattern(line) for line in lines if not line.startswith("#")), made
    )


def with_block(data: bytes | None, patterns: Sequence[str]) -> bytes:
    """The file with our block, before the user's lines: so theirs overrule ours.

    None where there is no file yet. Raises BadPattern.
    """
    there = found_in(data or b"")
    made = data is None or (there is not None and there.made)
    bom, rest = _without_bom(without_block(data) or b"" if data is not None else b"")
    newline = b"\r\n" if b"\r\n" in (rest or data or b"") else b"\n"
    texts = [f"{quoted(pattern)} diff={ATTRIBUTE} merge={ATTRIBUTE}" for pattern in patterns]
    rows = [text.encode("utf-8", "surrogateescape") for text in texts]
    lines = [BEGIN, *([MADE] if made else []), *rows, END]
    return bom + b"".join(line + newline for line in lines) + rest


def without_block(data: bytes) -> bytes | None:
    """The file without our block, to the byte as it was; None where it is to be removed."""
    block = found_in(data)
    bom, rest = _without_bom(data)
    rest = _BLOCK.sub(b"", rest)
    return None if block is not None and block.made and not rest else bom + rest


def quoted(pattern: str) -> str:
    """A pattern as attributes hold it. Raises BadPattern.

    >>> quoted("*.dump"), quoted("my craft/*.txt")
    ('*.dump', '"my craft/*.txt"')
    """
    if not pattern.strip() or any(letter < " " or letter == "\x7f" for letter in pattern):
        raise BadPattern(f"{pattern!r} is no pattern: it is empty or has control characters")
    if pattern.startswith(("!", "[attr]")):
        raise BadPattern(f"{pattern!r}: git attributes take no pattern that begins so")
    if pattern[0] in '#"' or any(letter.isspace() for letter in pattern):
        inner = pattern.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{inner}"'
    return pattern


def _pattern(line: str) -> str:
    match = _QUOTED.match(line.strip())
    if match is None:
        return ""
    if match.group(1) is None:
        return match.group(2)
    return re.sub(r"\\(.)", r"\1", match.group(1))


def _without_bom(data: bytes) -> tuple[bytes, bytes]:
    bom = codecs.BOM_UTF8 if data.startswith(codecs.BOM_UTF8) else b""
    return bom, data[len(bom) :]


USUAL = ("*.dump",)
_NOTHING = "0 tracked: by these patterns git shows and merges nothing by setting"
_KINDS, _SHOWN = ("diff", "merge"), 5  # names that are listed one by one
_SHOWS, _MERGES = " git textconv", " git merge"  # what stands behind the program's name
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
    cache: bool | None = None  # on where nobody has said otherwise
    beside: tuple[str, ...] = ()
    salt: str = ""  # nobody else knows it: by it a secret is shown to be another one, not which


class PlanStep(NamedTuple):
    """One thing to do, in words, and as what is done: `key` of the configuration, or `file`."""

    words: str
    key: str = ""
    value: str | None = None  # None: taken out
    file: Path | None = None
    data: bytes | None = None  # None: removed
    runs: bool = False  # the file is a program
    ref: str = ""


def plan_install(repository: Repository, wish: Wish) -> list[PlanStep]:
    """What is to be done for it all to be as asked; nothing where it is. Raises GitError."""
    steps: list[PlanStep] = []
    wanted = {**_FIXED, TEXTCONV: textconv_command(wish), DRIVER: driver_command(wish.program)}
    cached = repository.local(CACHE) != ["false"] if wish.cache is None else wish.cache
    wanted[CACHE] = "true" if cached else "false"
    for key in KEYS:
        if repository.local(key) != [wanted[key]]:
            steps.append(PlanStep(f"set {key} = {wanted[key]}", key, wanted[key]))
    if not cached or repository.local(TEXTCONV) != [wanted[TEXTCONV]] or _holds_doubt(repository):
        steps += _drop_cache(repository)
    return [*steps, *_attributes(repository, wish), *_hooks(repository, wish.program)]


def plan_uninstall(repository: Repository) -> list[PlanStep]:
    """What is to be done for no trace to be left. Raises GitError."""
    steps = [PlanStep(f"take out {key}", key) for key in KEYS if repository.local(key)]
    steps += _drop_cache(repository)
    for file in places(repository).values():
        if block_in(file) is not None:
            steps.append(_without(repository, file))
    ours = [file for file in hooks(repository) if is_own_hook(file)]
    return [*steps, *(PlanStep(f"remove {file}", file=file) for file in ours)]


def perform(
    repository: Repository, steps: Sequence[PlanStep], write: Callable[[Path, bytes], None]
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
            if step.runs:
                step.file.chmod(0o755)
        elif step.file is not None:
            step.file.unlink()
            if step.file.parent.name in ("info", "hooks") and not any(step.file.parent.iterdir()):
                step.file.parent.rmdir()  # an empty one was made for our file
    if any(step.key and step.value is None for step in steps):
        _drop_empty_sections(repository.path("config"), write)


def _drop_empty_sections(config: Path, write: Callable[[Path, bytes], None]) -> None:
    """Take out the heads that git leaves where somebody's comment stands before or behind them."""
    data = _bytes(config) or b""
    left = _EMPTY.sub(b"", data)
    if left != data:
        write(config, left)


_SHOW = "show() { "
# Whatever happens to us, git has something to show. What is private only we can tell, so that is
# the file's digest; its name is for where no program is in reach: no two of them look the same.
_ELSE = (
    f" -- \"$1\" || {{ printf '%s\\n' '{IN_DOUBT} cfgaudit can not be run here; with --no-textconv "
    "git shows the lines, and what is private in them'; "
    'git hash-object --no-filters -- "$1" 2>/dev/null || cksum <"$1" 2>/dev/null || '
    "printf '%s\\n' \"$1\"; }; }; show"
)


def is_cache_filled(repository: Repository) -> bool:
    """Whether git's cache holds anything yet, if it is on."""
    return repository.local(CACHE) != ["true"] or repository.has_ref(CACHE_REF)


def _holds_doubt(repository: Repository) -> bool:
    """Whether git keeps a text that was made while something was wrong."""
    if not repository.has_ref(CACHE_REF):
        return False
    return ask(["grep", "-q", "-F", "-e", IN_DOUBT, CACHE_REF], repository.top).status == 0


def fill_cache(
    repository: Repository, show: Callable[[bytes], bytes], most: int, newest: int
) -> tuple[int, int]:
    """Put into git's cache what it will show for the newest versions of our files.

    It is kept as git itself keeps it: notes by object, valid for the one command that the commit's
    message names. How many were kept, and how many there are. Raises GitError.
    """
    _, names = _files(repository)
    said = repository.text("rev-list", "--objects", "HEAD", "--", *names) if names else ""
    pairs = (line.partition(" ")[::2] for line in said.splitlines())
    blobs = [name for name, path in pairs if path in set(names)]
    command = repository.text("config", "--local", TEXTCONV).encode()
    parts = [b"commit %s\ncommitter cfgaudit <cfgaudit> 0 +0000\n" % CACHE_REF.encode()]
    parts += [b"data %d\n%s\n" % (len(command), command)]
    with Blobs(repository, most) as held:
        for name in blobs[:newest]:
            data = held.read(name)
            if data is not None:
                text = show(data)
                parts.append(b"M 100644 inline %s\ndata %d\n" % (name.encode(), len(text)))
                parts.append(text + b"\n")
    if not blobs:
        return 0, 0
    if repository.has_ref(CACHE_REF):
        repository.text("update-ref", "-d", CACHE_REF)
    done = ask(["fast-import", "--quiet", "--force"], repository.top, b"".join(parts))
    if done.status:
        raise GitError(f"git fast-import: {done.reason}")
    return min(newest, len(blobs)), len(blobs)


def textconv_command(wish: Wish) -> str:
    """How git is told to show a dump. The mark is there for git's cache: see textconv.py.

    Git puts the name of the file behind it, be it `-h.dump`. Where we can't be run, or fail, the
    shell shows its digest: else `git diff` would end there, for all files behind it.
    """
    beside = "".join(f" --beside={shlex.quote(folder)}" for folder in wish.beside)
    call = f"{wish.program} git textconv --as={wish.mark} --salt={wish.salt}{beside}"
    return f"{_SHOW}{call}{_ELSE}"


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


_HOOKS = ("post-merge", "post-commit")  # the second is for a merge that stopped at a conflict
_HOOK = b"#!/bin/sh\n# cfgaudit made this file; `cfgaudit git uninstall` removes it\n"


def hooks(repository: Repository) -> list[Path]:
    """The hooks behind a merge, ours or not. Raises GitError."""
    return [repository.path(f"hooks/{name}") for name in _HOOKS]


def is_own_hook(file: Path) -> bool:
    """Whether a hook is one of ours."""
    return (_bytes(file) or b"").startswith(_HOOK)


def _hooks(repository: Repository, program: str) -> Iterator[PlanStep]:
    """The hooks that tell what a merge brought, where there is none of somebody else's.

    Not in a folder that the user shares with other repositories, or with others by this one.
    """
    own = (repository.top / repository.text("rev-parse", "--git-common-dir")).resolve() / "hooks"
    wanted = _HOOK + (
        'test "$1" = 1 || '  # a squash, which is staged only
        "git rev-parse --quiet --verify HEAD^2 >/dev/null || exit 0\n"
        f"{program} git merged || exit 0  # findings stop nothing: the merge is done\n"
    ).encode("utf-8", "surrogateescape")
    for file in hooks(repository):
        data = _bytes(file)
        free = data is None or data.startswith(_HOOK)
        stale = data != wanted or not os.access(file, os.X_OK)
        if stale and free and file.parent.resolve() == own:
            yield PlanStep(f"write {file}", file=file, data=wanted, runs=True)


def block_in(file: Path) -> AttributesBlock | None:
    """Our block in a file. Raises GitError where somebody has cut it up."""
    data = _bytes(file)
    block = found_in(data or b"")
    if block is None and BEGIN in (data or b""):
        raise GitError(f"{file}: the lines that cfgaudit put there are cut up; delete what is left")
    return block


def _attributes(repository: Repository, wish: Wish) -> list[PlanStep]:
    files = places(repository)
    blocks = {name: block_in(file) for name, file in files.items()}
    private = blocks["private"] is not None if wish.private is None else wish.private
    here, there = ("private", "shared") if private else ("shared", "private")
    held = blocks[here] or blocks[there]
    patterns = wish.patterns or (held.patterns if held else USUAL)
    steps: list[PlanStep] = []
    if blocks[there] is not None:
        steps.append(_without(repository, files[there]))
    data = _bytes(files[here])
    wanted = with_block(data, tuple(dict.fromkeys(patterns)))
    if data != wanted:
        listed = " ".join(patterns)
        if held is not None and held.patterns != patterns:
            listed += f" (in place of {' '.join(held.patterns)})"
        steps.append(PlanStep(f"write to {files[here]}: {listed}", file=files[here], data=wanted))
    return steps


def _without(repository: Repository, file: Path) -> PlanStep:
    left = without_block(_bytes(file) or b"")
    what = f"remove {file}" if left is None else f"take our lines out of {file}"
    asked = ["ls-files", "--error-unmatch", "--", file.name]
    if file == places(repository)["shared"] and ask(asked, repository.top).status == 0:
        what += " (it is tracked, so the team's: commit that only if nobody is to have them)"
    return PlanStep(what, file=file, data=left)


def _drop_cache(repository: Repository) -> list[PlanStep]:
    if not repository.has_ref(CACHE_REF):
        return []
    return [PlanStep("throw away git's cache of shown dumps", ref=CACHE_REF)]


def _bytes(file: Path) -> bytes | None:
    try:
        return file.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise GitError(f"{file} can't be read: {reason}") from None


class StatusLine(NamedTuple):
    """One line of the status: about what, what there is, and whether that is as it should be."""

    about: str
    words: str
    fine: bool = True


def status(
    repository: Repository, mark: str, unread: Callable[[Sequence[str]], Sequence[str]]
) -> list[StatusLine]:
    """Every part in turn, as git will really go by it. Raises GitError.

    `mark` is what the text filter's command should bear; `unread` tells which of some tracked files
    it can't show by setting.
    """
    shown, merged = repository.local(TEXTCONV), repository.local(DRIVER)
    patterns, files, ours = _patterns(repository), *_files(repository)
    lines = [patterns, files]
    if patterns.fine and not shown and not merged:
        why = "this clone was never told: the attributes came with it, the commands do not"
        lines.append(StatusLine("", f"{why}; run `cfgaudit git install`", False))
    strange = unread(ours) if shown else ()
    if strange:
        said = f"in no dialect that the text filter looks at: {first_of(strange, _SHOWN)}"
        lines.append(StatusLine("dialects", said, False))
    program = shown[0].partition(_SHOWS)[0].removeprefix(_SHOW) if shown else ""
    wish = Wish(program, mark, beside=beside_of(repository), salt=salt_of(repository))
    lines.append(_command("shown by", shown, _SHOWS, textconv_command(wish)))
    own = ""
    if merged:
        own = driver_command(merged[0].partition(_MERGES)[0].replace("%%", "%"))
    lines.append(_command("merged by", merged, _MERGES, own))
    if shown:
        lines.append(_program(repository, program))
    lines += [*_others(repository), *_hook_lines(repository, program)]
    on = repository.local(CACHE) == ["true"]
    lines.append(StatusLine("cache", "on; a new install clears it" if on else "off"))
    return lines


def beside_of(repository: Repository) -> tuple[str, ...]:
    """The folders whose settings the text filter looks at, besides the top one."""
    return _option(repository, "--beside=")


def salt_of(repository: Repository) -> str:
    """The salt that the text filter was given; empty where it has none yet."""
    return next(iter(_option(repository, "--salt=")), "")


def _option(repository: Repository, sign: str) -> tuple[str, ...]:
    try:
        words = shlex.split((repository.local(TEXTCONV) or [""])[0])
    except ValueError:  # edited by hand, and a quote was left open
        return ()
    return tuple(word.removeprefix(sign) for word in words if word.startswith(sign))


def _patterns(repository: Repository) -> StatusLine:
    for file in places(repository).values():
        block = block_in(file)
        if block is not None:
            return StatusLine("patterns", f"{' '.join(block.patterns)}  (in {file})")
    return StatusLine("patterns", "none", False)


def _files(repository: Repository) -> tuple[StatusLine, list[str]]:
    """How many tracked files git gives us, and which; and those of our patterns that it does not.

    Attributes that stand behind ours, or nearer to the file, overrule them.
    """
    names = ask(["ls-files", "-z"], repository.top).out
    cells = ask(["check-attr", "-z", "--stdin", "diff", "merge"], repository.top, names).words
    triples = [tuple(cells[n : n + 3]) for n in range(0, len(cells) - 2, 3)]
    has = {kind: {n for n, k, v in triples if k == kind and v == ATTRIBUTE} for kind in _KINDS}
    both = [name for name, kind, _ in triples if kind == "diff" and name in has["merge"]]
    both = [name for name in both if name in has["diff"]]
    some = sorted({*has["diff"], *has["merge"], *_meant(repository)} - set(both))
    words = f"{len(both)} tracked" if both or some else _NOTHING
    if some:
        words += f"; other attributes overrule ours, in part or whole, for {first_of(some, _SHOWN)}"
    return StatusLine("files", words, bool(both) and not some), both


def _meant(repository: Repository) -> set[str]:
    """The tracked files that our patterns are about."""
    patterns = _own_patterns(repository)
    return {name for pattern in patterns for name in _files_of(repository, pattern)}


def idle_patterns(repository: Repository) -> list[str]:
    """Those of our patterns that no file is called by, tracked or not."""
    patterns = _own_patterns(repository)
    return [one for one in patterns if not _files_of(repository, one, "--cached", "--others")]


def _own_patterns(repository: Repository) -> list[str]:
    blocks = [block_in(file) for file in places(repository).values()]
    return [pattern for block in blocks if block is not None for pattern in block.patterns]


def _files_of(repository: Repository, pattern: str, *which: str) -> list[str]:
    spec = pattern.removeprefix("/") if "/" in pattern else f"**/{pattern}"
    return ask(["ls-files", "-z", *which, "--", f":(top,glob){spec}"], repository.top).words[:-1]


def _others(repository: Repository) -> Iterator[StatusLine]:
    """What else of ours is not as it was put, or has no effect."""
    for key, wanted in _FIXED.items():
        if repository.local(DRIVER) and repository.local(key) != [wanted]:
            yield StatusLine("", f"{key} was altered: run `cfgaudit git install`", False)
    for key in KEYS:
        held = ask(["config", "--get", key], repository.top)
        local = repository.local(key)
        if local and held.text != local[-1]:
            yield StatusLine("", f"{key} is overruled by a configuration besides this one", False)


def _hook_lines(repository: Repository, program: str) -> Iterator[StatusLine]:
    stale = {step.file for step in _hooks(repository, program)}
    for file in hooks(repository):
        if is_own_hook(file):
            if file in stale:
                words = (
                    f"{file} may not be run, or is another version's: run `cfgaudit git install`"
                )
                yield StatusLine("hook", words, False)
        else:
            what = "is somebody's own" if file.exists() else "is not there"
            words = f"{file} {what}: what a merge brought is told by `cfgaudit git merged` alone"
            yield StatusLine("hook", words)


def _command(about: str, held: list[str], verb: str, wanted: str) -> StatusLine:
    if len(held) != 1:
        return StatusLine(about, f"{len(held)} commands are set" if held else "nothing", False)
    if verb not in held[0]:
        return StatusLine(about, f"{held[0]}  (not ours)", False)
    if held[0] != wanted:
        why = "altered, or made for another version or other dialects: run `cfgaudit git install`"
        return StatusLine(about, f"{held[0]}  ({why})", False)
    return StatusLine(about, held[0].partition(verb)[0].removeprefix(_SHOW) + verb)


def _program(repository: Repository, program: str) -> StatusLine:
    """Whether git can run the program: it is called as git calls it."""
    if runs_strange_code(program):
        why = "takes code from the working tree, whoever wrote it: run `cfgaudit git install`"
        return StatusLine("program", f"{program} {why}", False)
    alias = f"alias.cfgaudit-asked=!{program} --version"
    answer = ask(["-c", alias, "cfgaudit-asked"], repository.top)
    said = answer.out.decode("utf-8", "replace").strip().splitlines()
    if answer.status or not said:
        reason = answer.err.splitlines()[-1:] or [f"it ended with {answer.status}"]
        return StatusLine("program", f"{program} can't be run: {reason[0]}", False)
    if said[0] != f"cfgaudit {__version__}":
        return StatusLine(
            "program", f"{program} is {said[0]}, this is cfgaudit {__version__}", False
        )
    return StatusLine("program", f"{program} runs: {said[0]}")


def runs_strange_code(program: str) -> bool:
    """Whether the command lets Python import from the folder that git stands in."""
    try:
        words = shlex.split(program)
    except ValueError:  # edited by hand: what it does is seen when it is run
        return False
    if "-m" not in words:
        return False
    flags = "".join(word[1:] for word in words[: words.index("-m")] if word.startswith("-"))
    return not ("I" in flags or "P" in flags)
