"""The sound craft of corpus/sound, what somebody does to them, and what the audit says of it.

The craft and the edits in mistakes.toml were written from the trade, apart from the rules. Each
plain file may say in `# true: PATH, PATH: why` lines what it may rightly be warned of.
"""

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

from cfgaudit.audit.engine import Audit, Finding, audit
from cfgaudit.craft.sheet import read_sheet, sheet_value
from cfgaudit.dialects.plain import read_plain
from cfgaudit.settings import Origin, Settings, Stated
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.vocabulary.paths import declared_anywhere

SOUND: Final = Path(__file__).parents[2] / "corpus" / "sound"
CRAFT: Final = tuple(sorted(file.stem for file in SOUND.glob("*.cfg")))
EDITS: Final[list[dict[str, Any]]] = tomllib.loads(
    (Path(__file__).parent / "mistakes.toml").read_text(encoding="utf-8")
)["edit"]
MISTAKES: Final = [edit for edit in EDITS if not edit.get("harmless")]
HARMLESS: Final = [edit for edit in EDITS if edit.get("harmless")]


def told(edit: Mapping[str, Any]) -> str:
    """What an edit is called: unlike every other one's."""
    return f"{edit['craft']}: {edit['name']}"


def text_of(craft: str) -> str:
    """A sound craft's plain file."""
    return (SOUND / f"{craft}.cfg").read_text(encoding="utf-8")


@cache
def dump_of(craft: str) -> Settings:
    """A sound craft's settings."""
    return read_plain(text_of(craft), f"{craft}.cfg")


@cache
def sheet_of(craft: str) -> Settings:
    """A sound craft's build sheet."""
    return read_sheet((SOUND / f"{craft}.build.toml").read_bytes(), f"{craft}.build.toml")


def owned(craft: str) -> dict[tuple[str, ...], str]:
    """What a craft may rightly be warned of: the paths, each time with the reason."""
    lines = re.findall(r"^# true: (.*?): (.*)$", text_of(craft), re.M)
    return {tuple(paths.split(", ")): why for paths, why in lines}


def is_about(finding: Finding, paths: Iterable[str]) -> bool:
    """Whether a finding names one of these settings, or one above or below it."""
    return any(
        named == path or named.startswith(f"{path}.") or path.startswith(f"{named}.")
        for named in finding.paths
        for path in paths
    )


def leaves(table: Mapping[str, Any], above: str) -> Iterator[tuple[str, object]]:
    """Every setting of nested tables, as TOML gave it, by path; lists of tables from 1."""
    for name, value in table.items():
        path = f"{above}.{name}"
        if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
            yield from leaves({str(number): one for number, one in enumerate(value, 1)}, path)
        elif isinstance(value, dict):
            yield from leaves(value, path)
        else:
            yield path, value


def meaning(path: str, value: object) -> Value:
    """What a value means. Raises BadValue where it can't stand there."""
    found = declared_anywhere(path)
    assert found is not None, path
    if path.startswith("sheet."):
        return sheet_value(found.kind, value)
    return found.kind.read(str(value))


def edited(edit: Mapping[str, Any]) -> tuple[Settings, Settings]:
    """Dump and sheet of the craft that an edit is made with, after it."""
    dump, sheet = dump_of(edit["craft"]), sheet_of(edit["craft"])
    put = dict(leaves_of(edit.get("set", {})))
    said = dict(leaves_of(edit.get("sheet", {})))
    gone = [*edit.get("remove", ()), *edit.get("sheet", {})]
    return _with(dump, put, gone, Origin.DUMP), _with(sheet, said, gone, Origin.SHEET)


def leaves_of(paths: Mapping[str, object]) -> Iterator[tuple[str, object]]:
    """Each path with its value; those of a list of tables one by one."""
    for path, value in paths.items():
        above, _, leaf = path.rpartition(".")
        yield from leaves({leaf: value}, above) if above else [(path, value)]


def _with(
    settings: Settings, put: Mapping[str, object], gone: list[str], origin: Origin
) -> Settings:
    stated = {
        path: entry
        for path, entry in settings.stated.items()
        if path in put or not any(path == one or path.startswith(f"{one}.") for one in gone)
    }
    for path, value in put.items():
        now = stated.get(path)
        new = Stated(path, meaning(path, value), origin=origin, text=str(value))
        stated[path] = new if now is None else now._replace(value=new.value, text=new.text)
    return Settings(stated, dumps=settings.dumps)


@cache
def sound_audit(craft: str) -> Audit:
    """What the rule book says of a sound craft."""
    return audit(dump_of(craft), sheet=sheet_of(craft))


def edited_audit(edit: Mapping[str, Any]) -> Audit:
    """What the rule book says after an edit; it is asked once of each that is told apart."""
    name = told(edit)
    if name not in _SAID:
        dump, sheet = edited(edit)
        _SAID[name] = audit(dump, sheet=sheet)
    return _SAID[name]


_SAID: Final[dict[str, Audit]] = {}
