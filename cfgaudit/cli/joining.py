"""Whose each `--with FILE` is, where several dumps are named."""

from collections.abc import Sequence

import click


def shared_out(
    dumps: Sequence[str], extra: Sequence[str], *, one_craft: bool = False
) -> list[tuple[str, ...]]:
    """The further dumps of each dump named: `--with FILE`, or `--with DUMP=FILE` for one of them.

    A bare FILE belongs to the only dump there is, or to every one where all are of `one_craft`.
    Raises click.UsageError where nobody can tell whose it is.
    """
    given: dict[str, list[str]] = {dump: [] for dump in dumps}
    for entry in extra:
        owner = _owner(entry, dumps)
        if owner:
            given[owner].append(entry[len(owner) + 1 :])
        elif one_craft or len(given) == 1:
            for files in given.values():
                files.append(entry)
        else:
            raise click.UsageError(
                f"whose dump is {entry}? With several craft, say --with {dumps[0]}={entry}"
            )
    return [tuple(given[dump]) for dump in dumps]


def _owner(entry: str, dumps: Sequence[str]) -> str:
    """The dump that an entry names before an equals sign: the longest, if several fit."""
    owners = [dump for dump in dumps if entry.startswith(f"{dump}=")]
    return max(owners, key=len, default="")
