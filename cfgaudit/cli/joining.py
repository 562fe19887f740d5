"""Whose each `--with FILE` and each `--build FILE` is, where several dumps are named."""

from collections.abc import Sequence

import click


def shared_out(
    dumps: Sequence[str],
    extra: Sequence[str],
    *,
    one_craft: bool = False,
    option: str = "--with",
) -> list[tuple[str, ...]]:
    """The further files of each dump named: `--with FILE`, or `--with DUMP=FILE` for one of them.

    A bare FILE belongs to the only dump there is, or to every one where all are of `one_craft`.
    Raises click.UsageError where nobody can tell whose it is.
    """
    what = "dump" if option == "--with" else "build sheet"
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
                f"whose {what} is {entry}? With several craft, say {option} {dumps[0]}={entry}"
            )
    return [tuple(given[dump]) for dump in dumps]


def _owner(entry: str, dumps: Sequence[str]) -> str:
    """The dump that an entry names before an equals sign: the longest, if several fit."""
    owners = [dump for dump in dumps if entry.startswith(f"{dump}=")]
    return max(owners, key=len, default="")
