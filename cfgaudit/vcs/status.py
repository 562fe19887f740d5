"""What git has been told, and whether it can do it."""

import shlex
from typing import NamedTuple

from cfgaudit import __version__
from cfgaudit.vcs.attributes import DRIVER as NAME
from cfgaudit.vcs.install import CACHE, DRIVER, TEXTCONV, block_in, driver_command, places
from cfgaudit.vcs.repository import Repository, ask


class Line(NamedTuple):
    """One line of the status: about what, what there is, and whether that is as it should be."""

    about: str
    words: str
    fine: bool = True


def status(repository: Repository, mark: str) -> list[Line]:
    """Every part in turn; `mark` is what the text filter's command should bear. Raises GitError."""
    shown, merged = repository.local(TEXTCONV), repository.local(DRIVER)
    lines = [_patterns(repository), _files(repository)]
    lines.append(_command("shown by", shown, " git textconv", mark))
    lines.append(_command("merged by", merged, " git merge", ""))
    if shown:
        lines.append(_program(repository, shown[0].partition(" git textconv")[0]))
    if merged and merged[0] != driver_command(_of_driver(merged[0])):
        lines.append(Line("", "not as this version puts it: run `cfgaudit git install`", False))
    on = repository.local(CACHE) == ["true"]
    lines.append(Line("cache", "on; a new install clears it" if on else "off"))
    return lines


def beside_of(repository: Repository) -> tuple[str, ...]:
    """The folders whose settings the text filter looks at, besides the top one."""
    try:
        words = shlex.split((repository.local(TEXTCONV) or [""])[0])
    except ValueError:  # edited by hand, and a quote was left open
        return ()
    sign = "--beside="
    return tuple(word.removeprefix(sign) for word in words if word.startswith(sign))


def _patterns(repository: Repository) -> Line:
    for file in places(repository).values():
        block = block_in(file)
        if block is not None:
            return Line("patterns", f"{' '.join(block.patterns)}  (in {file})")
    return Line("patterns", "none", False)


def _files(repository: Repository) -> Line:
    """How many tracked files git would give us."""
    names = ask(["ls-files", "-z"], repository.top).out
    said = ask(["check-attr", "-z", "--stdin", "diff", "merge"], repository.top, names).out
    cells = said.decode("utf-8", "surrogateescape").split("\0")
    ours = [tuple(cells[n : n + 2]) for n in range(0, len(cells) - 2, 3) if cells[n + 2] == NAME]
    both = {name for name, kind in ours if kind == "diff"} & {n for n, k in ours if k == "merge"}
    some = {name for name, _ in ours} - both
    words = f"{len(both)} tracked"
    if some:
        words += f"; {len(some)} more only in part, as other lines of yours overrule ours"
    return Line("files", words)


def _command(about: str, held: list[str], verb: str, mark: str) -> Line:
    if len(held) != 1:
        return Line(about, f"{len(held)} commands are set" if held else "nothing", False)
    if verb not in held[0]:
        return Line(about, f"{held[0]}  (not ours)", False)
    if mark and not (f" --as={mark}" in held[0] and held[0].endswith(" --")):
        why = "made for another version or other dialects: run `cfgaudit git install`"
        return Line(about, f"{held[0]}  ({why})", False)
    return Line(about, held[0] if mark else held[0].partition(verb)[0] + verb)


def _program(repository: Repository, program: str) -> Line:
    """Whether git can run the program: it is called as git calls it."""
    if runs_strange_code(program):
        why = "takes code from the working tree, whoever wrote it: run `cfgaudit git install`"
        return Line("program", f"{program} {why}", False)
    alias = f"alias.cfgaudit-asked=!{program} --version"
    answer = ask(["-c", alias, "cfgaudit-asked"], repository.top)
    said = answer.out.decode("utf-8", "replace").strip().splitlines()
    if answer.status or not said:
        reason = answer.err.splitlines()[-1:] or [f"it ended with {answer.status}"]
        return Line("program", f"{program} can't be run: {reason[0]}", False)
    if said[0] != f"cfgaudit {__version__}":
        return Line("program", f"{program} is {said[0]}, this is cfgaudit {__version__}", False)
    return Line("program", f"{program} runs: {said[0]}")


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


def _of_driver(command: str) -> str:
    return command.partition(" git merge")[0].replace("%%", "%")
