"""`cfgaudit git merge`: three wordings of one dump made one; git's merge driver."""

import os
from functools import partial
from pathlib import Path

import click

from cfgaudit.cli import say
from cfgaudit.cli.files import write_atomically
from cfgaudit.cli.inputs import Inputs, read_bytes
from cfgaudit.dialects.opening import Opened
from cfgaudit.git.install import hooks, is_own_hook
from cfgaudit.git.merge import CannotMerge, Marks, MergeResult, merge_dumps
from cfgaudit.git.repository import GitError, ask, find_repository
from cfgaudit.reading.safe import fault_of

_UNMARKED = 1
_SHOWN = 8  # settings in conflict, and findings, that are named one by one


@click.command()
@click.argument("base")
@click.argument("ours")
@click.argument("theirs")
@click.option("--path", metavar="PATH", help="The file's name in the repository, for reports.")
@click.option("--size", type=int, default=7, help="How many signs mark a conflict.")
@click.option("--ours-name", metavar="NAME", default="ours", help="What our side is called.")
@click.option("--theirs-name", metavar="NAME", default="theirs", help="What the other is called.")
@click.option("--conflict-status", type=click.IntRange(1, 125), default=1, help="Exit status then.")
def command(
    base: str,
    ours: str,
    theirs: str,
    path: str | None,
    size: int,
    ours_name: str,
    theirs_name: str,
    conflict_status: int,
) -> int:
    """Merge what THEIRS changed since BASE into OURS, setting by setting; OURS is written anew.

    Exit 1 (or as told) where both changed one setting differently: marks stand around that setting
    alone. Findings that the merged craft has and neither side had are told on standard error.
    """
    name = path or ours
    sides = [read_bytes(file, "standard input")[0] for file in (base, ours, theirs)]
    marks = Marks(size, _label(ours_name, "ours"), "base", _label(theirs_name, "theirs"), _style())
    inputs = Inputs()
    reading = partial(_read, inputs, name)
    outcome = merge_dumps(sides[0], sides[1], sides[2], marks, reading)
    if outcome.data is not None:
        write_atomically(Path(ours), outcome.data)
    for line in _told(name, outcome):
        say(line)
    merged = outcome.picks or (() if outcome.conflicts else (outcome.data,))
    if outcome.conflicts or not _hook_will_tell():
        _tell_findings(inputs, name, [data for data in merged if data is not None], sides[1:])
    if outcome.data is None:
        return _UNMARKED
    return conflict_status if outcome.conflicts else 0


def _read(inputs: Inputs, name: str, data: bytes, dialect: str | None) -> Opened:
    try:
        return inputs.open_bytes(name, data, name, dialect)
    except click.ClickException as error:  # as of a folder's broken settings: no fault of ours
        raise CannotMerge(error.format_message()) from None


def _hook_will_tell() -> bool:
    """Whether this is a merge behind which our hook tells what it brought, of the tree as a whole.

    Git names the commits that it merges in the environment, and those of a rebase it does not.
    """
    if not any(name.startswith("GITHEAD_") for name in os.environ):
        return False
    try:
        return all(map(is_own_hook, hooks(find_repository(Path.cwd()))))
    except GitError:
        return False


def _label(name: str, usual: str) -> str:
    """A side's name; git before 2.44 hands its placeholder on as it is."""
    one_line = " ".join(name.split())
    return usual if not one_line or one_line.startswith("%") else one_line


def _style() -> bool:
    """Whether the user wants to see the base in a conflict."""
    try:
        answer = ask(["config", "--get", "merge.conflictStyle"], Path.cwd())
    except GitError:
        return False
    return answer.out.strip() in (b"diff3", b"zdiff3")


def _told(name: str, outcome: MergeResult) -> list[str]:
    if outcome.data is None:
        return [f"cfgaudit: {name} is no text, so it can't be merged; ours is left as it was"]
    if outcome.why_apart:
        why = f"cfgaudit: {name} is not merged: {outcome.why_apart}"
        return [why, "  both sides stand there whole, between marks: take one of them"]
    if outcome.why_text:
        return [f"cfgaudit: {name} is merged as text: {outcome.why_text}"]
    if not outcome.clashes:
        return []
    listed = [f"  {clash}" for clash in outcome.clashes[:_SHOWN]]
    rest = len(outcome.clashes) - len(listed)
    head = f"cfgaudit: {name}: both sides set differently:"
    return [head, *listed, *([f"  and {rest} more"] if rest else [])]


def _tell_findings(inputs: Inputs, name: str, merged: list[bytes], sides: list[bytes]) -> None:
    """Say what the merged craft brings that neither side had; a fault here harms no merge."""
    try:
        lines = _brought(inputs, name, merged, sides)
    except click.ClickException as error:  # as of a build sheet at fault
        why, *more = error.format_message().split("\n")
        lines = [f"cfgaudit: {name} is merged but not audited: {why}", *more]
    except Exception as error:
        lines = [f"cfgaudit: {name} is merged but not audited: {fault_of(error)}"]
    for line in lines:
        say(line)


def _brought(inputs: Inputs, name: str, merged: list[bytes], sides: list[bytes]) -> list[str]:
    """What the merged craft has that neither side had, whichever side of a conflict is taken."""
    from cfgaudit.audit.engine import new_and_cleared  # where both sides changed the craft
    from cfgaudit.cli.auditing import audited
    from cfgaudit.cli.git.merged import told_of
    from cfgaudit.cli.options import JudgedBy

    if not merged or any(data in sides for data in merged):
        return []
    texts = [*merged, *sides]
    crafts = [inputs.open_bytes(name, data, name).settings for data in texts]
    audits = audited(inputs, [name] * len(crafts), crafts, JudgedBy(), tell=False)
    made, before = audits[: len(merged)], audits[len(merged) :]
    against = [{f.key for f in new_and_cleared(side, one)[0]} for one in made for side in before]
    both = [f for f in made[0].findings if all(f.key in some for some in against)]
    return told_of(name, both)
