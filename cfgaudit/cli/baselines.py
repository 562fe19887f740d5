"""A baseline as a file: JSON, sorted, without line numbers, made to be versioned."""

import json
import os
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple, NoReturn

from cfgaudit.audit.baseline import BaselineEntry, Compared, compare_with, in_file_order, updated
from cfgaudit.audit.engine import Audit
from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.cli import InputError, reason_of, say
from cfgaudit.cli.files import locking, write_atomically
from cfgaudit.reading.text import bounded_bytes

_ABOUT = "findings that `cfgaudit check --baseline` takes as known; --update-baseline writes them"
_KEYS = ("dumps", "rule", "level", "paths", "message", "fingerprint")
_LISTS = ("dumps", "paths")


class BaselineFile(NamedTuple):
    """What the command line says of a baseline: its file, and whether to bring it up to date."""

    path: str
    update: bool

    def held_against(
        self, audits: Sequence[Audit], fleet: FleetAudit | None, names: Sequence[str]
    ) -> Compared:
        """The audits of these dumps held against it. Raises InputError.

        Where it is to be brought up to date, that is done first, so that nothing is new.
        """
        if not self.update:
            return self._held_against(audits, fleet, names)
        folder = Path(self.path).resolve().parent
        try:
            with locking(folder):  # so that two at once both stand in it
                return self._held_against(audits, fleet, names)
        except OSError as error:
            raise InputError(f"{self.path} can't be written: {reason_of(error)}") from None

    def _held_against(
        self, audits: Sequence[Audit], fleet: FleetAudit | None, names: Sequence[str]
    ) -> Compared:
        file = Path(self.path)
        files = [_from_folder(name, file.parent) for name in names]
        before = bounded_bytes(file) if self.update and file.exists() else None
        entries = () if self.update and before is None else read_baseline(file)
        compared = compare_with(entries, audits, fleet, files)
        if not self.update:
            return compared
        made = updated(entries, compared, files)
        write_atomically(file, baseline_text(made).encode("ascii"), was=before, locked=True)
        added = Counter(entry.key for entry in made) - Counter(entry.key for entry in entries)
        say(
            f"written: {self.path}: {len(made)} known, {added.total()} of them new, "
            f"{len(compared.gone)} taken out"
        )
        return compare_with(made, audits, fleet, files)


def _from_folder(name: str, folder: Path) -> str:
    """A dump's name as the baseline has it: seen from the baseline's own folder."""
    try:
        return Path(os.path.relpath(name, folder)).as_posix()
    except ValueError:  # on another drive
        return Path(name).as_posix()


def baseline_text(entries: Sequence[BaselineEntry]) -> str:
    """The file's text, the same for the same entries; ASCII, so safe to show."""
    data = {
        "version": 1,
        "about": _ABOUT,
        "findings": [entry._asdict() for entry in in_file_order(entries)],
    }
    return json.dumps(data, indent=2, ensure_ascii=True) + "\n"


def read_baseline(file: Path) -> tuple[BaselineEntry, ...]:
    """The entries of a file. Raises InputError, with file and place, for the first fault."""
    try:
        data = json.loads(bounded_bytes(file))
    except FileNotFoundError:
        raise InputError(f"there is no baseline {file}; --update-baseline makes one") from None
    except OSError as error:
        raise InputError(f"{file} can't be read: {reason_of(error)}") from None
    except json.JSONDecodeError as error:
        message = f"{file}:{error.lineno}:{error.colno}: no JSON: {error.msg.lower()}"
        raise InputError(message) from None
    except (ValueError, RecursionError):  # no UTF-8, a number of thousands of digits, too deep
        raise InputError(f"{file}: no JSON that can be read") from None
    version = data.get("version") if isinstance(data, dict) else None
    if version is None:
        _refuse(file, "an object with version and findings is expected")
    if version != 1 or isinstance(version, bool):
        _refuse(file, f"version {version!r} is unknown here; this cfgaudit knows version 1")
    found = data.get("findings")
    if not isinstance(found, list):
        _refuse(file, "findings must be a list")
    return tuple(_entry(file, number, entry) for number, entry in enumerate(found))


def _entry(file: Path, number: int, entry: object) -> BaselineEntry:
    where = f"findings[{number}]"
    if not isinstance(entry, dict):
        _refuse(file, f"{where}: an object is expected")
    if sorted(entry) != sorted(_KEYS):
        _refuse(file, f"{where}: exactly these are expected: {', '.join(_KEYS)}")
    values: dict[str, Any] = {}
    for key in _KEYS:
        value = entry[key]
        if key in _LISTS:
            if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
                _refuse(file, f"{where}.{key}: a list of texts is expected")
            values[key] = tuple(value)
        elif isinstance(value, str):
            values[key] = value
        else:
            _refuse(file, f"{where}.{key}: a text is expected")
    return BaselineEntry(**values)


def _refuse(file: Path, message: str) -> NoReturn:
    raise InputError(f"{file}: {message}")
