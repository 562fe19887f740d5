"""What two versions of one firmware call the same setting."""

from cfgaudit.craft.versions import is_older
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.placing import lines_of
from cfgaudit.dialects.writer import pattern_of


def renamed_between(dialect: Dialect, old: tuple[int, ...], new: tuple[int, ...]) -> dict[str, str]:
    """Old key to new key, for a change of firmware from one version to another.

    Empty where either version is not known. Taken backwards, the names go back.
    """
    then, now = _names(dialect, old), _names(dialect, new)
    today = {**{name: name for name in then}, **{name: name for name in now}}
    return {
        then.get(name, name): now.get(name, name)
        for name in today
        if old and new and then.get(name, name) != now.get(name, name)
    }


def _names(dialect: Dialect, version: tuple[int, ...]) -> dict[str, str]:
    """Today's key to the key of a version, the oldest that fits."""
    found: dict[str, str] = {}
    for variation in sorted(dialect.variations, key=lambda entry: entry.before, reverse=True):
        if version and is_older(version, variation.before):
            found.update(variation.renames)
    return found


def old_names(dialect: Dialect, old: tuple[int, ...], new: tuple[int, ...]) -> dict[str, str]:
    """For the pattern of each path whose key is another now: the key of the old version."""
    renamed = {now: then for then, now in renamed_between(dialect, old, new).items()}
    names_now = _names(dialect, new)
    found: dict[str, str] = {}
    for line in lines_of(dialect.root) if renamed else ():
        key = names_now.get(line.template.head, line.template.head)
        if key in renamed:
            for holder in (*line.template.constants, *line.template.holders):
                if not holder.is_index:
                    found[pattern_of(holder.target)] = renamed[key]
    return found
