"""`cfgaudit git merged`: what a merge brought that no side had; the hook behind a merge."""

import os
from collections.abc import Sequence
from pathlib import Path
from string import hexdigits
from tempfile import TemporaryDirectory
from typing import NamedTuple

import click

from cfgaudit.audit.engine import Audit, Finding, new_and_cleared
from cfgaudit.cli import InputError, Refusing
from cfgaudit.cli.auditing import audited, audited_together
from cfgaudit.cli.folder import passed_over
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import JudgedBy
from cfgaudit.cli.output import put_text
from cfgaudit.git.repository import (
    Blobs,
    GitError,
    Repository,
    Tree,
    dumps_among,
    find_repository,
    lay_out,
    parents_of,
    staged_squash,
    tree_of,
)
from cfgaudit.reading.safe import safe
from cfgaudit.reading.text import BOUNDS
from cfgaudit.reports.wording import few
from cfgaudit.settings import Settings

_SHOWN = 8  # findings of one craft that are named one by one


class _MergeSide(NamedTuple):
    """The merge, or one of its sides: its tree, and that tree's files as they lie in a folder."""

    name: str
    tree: Tree
    folder: Path
    inputs: Inputs


class _MergeCraft(NamedTuple):
    """One dump of a side."""

    file: str  # its name in the tree
    number: int  # in its file
    path: str
    settings: Settings

    @property
    def name(self) -> str:
        """What its dump calls the craft; empty where it does not."""
        named = self.settings.stated.get("craft.name")
        return str(named.value) if named is not None else ""


@click.command()
@click.argument("commit", required=False)
@click.argument("sides", metavar="[SIDE]...", nargs=-1)
def command(commit: str | None, sides: tuple[str, ...]) -> int:
    """What the merge COMMIT (the newest one, if not told otherwise) brought that no side had.

    The sides are its parents, or the commits named: `merged MAIN MAIN^ BRANCH` judges a squash.
    Without COMMIT a squash that is staged and not committed yet is judged.

    Each craft is held against the build sheet, the dialects and the settings of the same commit,
    and those of one folder against one another. Exit 1 where there is anything to tell.
    """
    with Refusing(GitError):
        repository = find_repository(Path.cwd())
        staged = () if commit is not None else staged_squash(repository)
        commits = staged or (commit or "HEAD", *sides)
        if not staged:
            parents, *_ = [parents_of(repository, name) for name in commits]
            commits = commits if sides else (commits[0], *parents)
        if len(commits) < 3 and not sides:
            name = safe(commits[0])
            put_text(f"{name} is no merge (`merged {name} SIDE...` holds it against others).\n")
            return 0
        lines = _brought(repository, commits)
    put_text("".join(f"{safe(line)}\n" for line in lines))
    return int(bool(lines))


def _brought(repository: Repository, commits: Sequence[str]) -> list[str]:
    """What the first of the commits has that none of the others, its sides, had."""
    trees = [tree_of(repository, name) for name in commits]
    every = dict.fromkeys(name for tree in trees for name in tree.blobs)
    dumps = sorted(dumps_among(repository, every))
    own = repository.path("cfgaudit").parent  # of git's: what is above the tree stays above it
    with TemporaryDirectory(prefix="cfgaudit-", dir=own) as held:
        sides = [
            _MergeSide(name, tree, Path(held) / str(n), Inputs())
            for n, (name, tree) in enumerate(zip(commits, trees, strict=True))
        ]
        with Blobs(repository, BOUNDS.file_bytes) as blobs:
            for side in sides:
                there = [name for name in dumps if name in side.tree.blobs]
                lay_out(blobs, side.tree, [*there, *side.tree.settings], side.folder)
        try:
            lines = [*_passed_over(sides, dumps), *_of_each(sides, dumps), *_of_all(sides, dumps)]
        except click.ClickException as error:  # a command line is not what it is about
            why, *more = _in_commits(error.format_message(), sides).split("\n")
            raise InputError(f"the merge was not audited: {why}", *more) from None
        return [_in_commits(line, sides) for line in lines]


def _in_commits(text: str, sides: Sequence[_MergeSide]) -> str:
    """The text with the files of our folders as git names those of a commit."""
    for side in sides:
        for folder in (str(side.folder.resolve()), str(side.folder), os.path.relpath(side.folder)):
            text = text.replace(f"{folder}{os.sep}", f"{_short(side.name)}:")
    return text


def _short(name: str) -> str:
    return name[:10] if len(name) >= 40 and set(name) <= set(hexdigits) else name


def _passed_over(sides: Sequence[_MergeSide], dumps: Sequence[str]) -> list[str]:
    """The settings files that the merge has from a side, and keep others from being used."""
    merge, *parents = sides
    found: dict[str, None] = {}
    for name in (name for name in dumps if name in merge.tree.blobs):
        own = merge.inputs.folder(str(merge.folder / name)).file
        over = passed_over(own) if own is not None else None
        if own is None or over is None or not over.is_relative_to(merge.folder.resolve()):
            continue
        near, far = (one.relative_to(merge.folder.resolve()).as_posix() for one in (own, over))
        if not all(near in parent.tree.blobs for parent in parents):
            found[f"cfgaudit: {near} is used, and {far} further up is not"] = None
    return list(found)


def _of_each(sides: Sequence[_MergeSide], dumps: Sequence[str]) -> list[str]:
    """What each craft has that it has in no parent."""
    merge, *parents = sides
    new = [name for name in dumps if not any(merge.tree.same(p.tree, [name]) for p in parents)]
    made = _audits(merge, _crafts(merge, new))
    lines: list[str] = []
    if not made:
        return lines
    before = [_audits(side, _crafts(side, dumps)) for side in parents]
    for craft, audit in made:
        earlier = [own for own in (_counterpart(craft, side) for side in before) if own is not None]
        found = list(audit.findings)
        for one in earlier:
            brought = new_and_cleared(one, audit)[0]
            found = [finding for finding in found if finding in brought]
        lines += told_of(craft.file, found)
    return lines


def _of_all(sides: Sequence[_MergeSide], dumps: Sequence[str]) -> list[str]:
    """What the craft of one folder do to one another that they do in no parent."""
    lines: list[str] = []
    for folder in dict.fromkeys(name.rpartition("/")[0] for name in dumps):
        names = [name for name in dumps if name.rpartition("/")[0] == folder]
        if any(sides[0].tree.same(parent.tree, names) for parent in sides[1:]):
            continue
        now, *before = (_together(side, names) for side in sides)
        had = {key for findings in before for key in findings}
        found = [finding for key, finding in now.items() if key not in had]
        head = f"{folder or '.'}: merged, its craft do to one another what they did on no side:"
        lines += _told(head, found, f"fleet {folder or '.'}")
    return lines


FleetFindingKey = tuple[object, ...]


def _together(side: _MergeSide, names: Sequence[str]) -> dict[FleetFindingKey, Finding]:
    """What the fleet's rules say of the craft of one folder, by what makes two findings one."""
    crafts = _crafts(side, names)
    if len(crafts) < 2:
        return {}
    paths, settings = [craft.path for craft in crafts], [craft.settings for craft in crafts]
    made = audited_together(side.inputs, paths, settings, JudgedBy())
    return {
        (f.rule.id, f.level, f.paths, *(crafts[n].name or crafts[n].file for n in f.crafts)): f
        for f in made.findings
    }


def _crafts(side: _MergeSide, names: Sequence[str]) -> list[_MergeCraft]:
    """The dumps of a side that some dialect knows."""
    found: list[_MergeCraft] = []
    for name in names:
        path = side.folder / name
        if path.is_file():
            every = side.inputs.every(str(path), path.read_bytes(), name)
            found += [
                _MergeCraft(name, number, str(path), opened.settings)
                for number, opened in enumerate(every)
                if any(entry.place for entry in opened.settings.stated.values())
            ]
    return found


def _audits(side: _MergeSide, crafts: Sequence[_MergeCraft]) -> list[tuple[_MergeCraft, Audit]]:
    paths, settings = [craft.path for craft in crafts], [craft.settings for craft in crafts]
    sheets = side.inputs.sheets(paths, settings, (), tell=False)
    made = audited(side.inputs, paths, settings, JudgedBy(), sheets=sheets, tell=False)
    return list(zip(crafts, made, strict=True))


def _counterpart(craft: _MergeCraft, side: Sequence[tuple[_MergeCraft, Audit]]) -> Audit | None:
    """The audit of the same craft: of the same file, else of the same name."""
    by_file = [made for own, made in side if own[:2] == craft[:2]]
    by_name = [made for own, made in side if own.name and own.name == craft.name]
    return next(iter((*by_file, *by_name)), None)


def told_of(file: str, findings: Sequence[Finding]) -> list[str]:
    """What one craft has that it had on no side, in lines; none where that is nothing."""
    head = f"{file}: merged, this craft has what neither side had:"
    return _told(head, findings, f"check {os.path.normpath(file)}")


def _told(head: str, findings: Sequence[Finding], more: str) -> list[str]:
    if not findings:
        return []
    told = few([f"{f.level.upper()}  {f.rule.id}  {f.message}" for f in findings], _SHOWN)
    return [
        f"cfgaudit: {head}",
        *(f"  {line}" for line in [*told, f"see it whole: cfgaudit {more}"]),
    ]
