"""The dumps of invented firmwares, and what is written by hand of their meaning, agree."""

import json
from difflib import SequenceMatcher
from pathlib import Path
from typing import NamedTuple

import pytest

from cfgaudit.dialects.plain import read_plain
from cfgaudit.settings import Settings
from tests.cli.calling import call

HOMES = {
    path.name: path
    for folder in ("unknown", "held")
    for path in sorted(Path(__file__).with_name(folder).iterdir())
}
FIRMWARES = list(HOMES)
# Those of which each field was written down as well.
FIELDED = [name for name in HOMES if (HOMES[name] / "fields.json").exists()]
TWICE = [name for name in HOMES if (HOMES[name] / "second.dump").exists()]


class Field(NamedTuple):
    """One value of a dump that means something: where it stands, and which setting it states."""

    line: int
    column: int  # of the value's first letter; both from 1
    text: str
    path: str
    means: str


def craft_of(firmware: str) -> str:
    """The name of the firmware's first craft."""
    (dump,) = (path for path in HOMES[firmware].glob("*.dump") if path.stem != "second")
    return dump.stem


def lines_of(firmware: str, dump: str) -> list[str]:
    text = (HOMES[firmware] / f"{dump}.dump").read_text(encoding="utf-8")
    assert text.endswith("\n")
    return text.removesuffix("\n").split("\n")


def fields_of(firmware: str) -> list[Field]:
    text = (HOMES[firmware] / "fields.json").read_text(encoding="utf-8")
    return [Field(**entry) for entry in json.loads(text)]


def plain_of(firmware: str, name: str) -> Settings:
    path = HOMES[firmware] / f"{name}.cfg"
    return read_plain(path.read_text(encoding="utf-8"), path.name)


def test_there_are_firmwares_to_measure_by() -> None:
    assert len(FIRMWARES) >= 8


@pytest.mark.parametrize("firmware", FIELDED)
def test_each_field_stands_at_its_line_and_column(firmware: str) -> None:
    lines = lines_of(firmware, craft_of(firmware))
    elsewhere = [
        field
        for field in fields_of(firmware)
        if not field.text
        or not field.means
        or not lines[field.line - 1][field.column - 1 :].startswith(field.text)
    ]
    assert elsewhere == []


@pytest.mark.parametrize("firmware", FIELDED)
def test_the_fields_state_the_truth_and_nothing_else(firmware: str) -> None:
    truth = plain_of(firmware, craft_of(firmware))
    assert {field.path for field in fields_of(firmware)} == set(truth)


@pytest.mark.parametrize("firmware", FIRMWARES)
@pytest.mark.parametrize("known", [False, True], ids=["truth", "known"])
def test_the_plain_form_is_read_wholly(
    monkeypatch: pytest.MonkeyPatch, firmware: str, known: bool
) -> None:
    name = "known" if known else craft_of(firmware)
    settings = plain_of(firmware, name)
    assert [*settings.troubles, *settings.repeats, *settings.doubted] == []
    answer = call(monkeypatch, ["show", f"{name}.cfg", "--format", "json"], cwd=HOMES[firmware])
    assert (answer.status, answer.err) == (0, "")
    shown = json.loads(answer.out)
    assert (shown["unmapped"], shown["unread"]) == ({}, [])
    assert set(shown["settings"]) == set(settings)


@pytest.mark.parametrize("firmware", FIRMWARES)
def test_the_builder_knows_a_part_of_the_truth(firmware: str) -> None:
    truth, known = plain_of(firmware, craft_of(firmware)), plain_of(firmware, "known")
    assert 30 <= len(known) <= 120
    unlike = [path for path in known if path not in truth or known.need(path) != truth.need(path)]
    assert unlike == []


@pytest.mark.parametrize("firmware", TWICE)
def test_the_second_dump_differs_in_some_lines_only(firmware: str) -> None:
    first, second = lines_of(firmware, craft_of(firmware)), lines_of(firmware, "second")
    assert 400 <= len(first) <= 700
    differing = sum(
        max(end - start, other_end - other_start)
        for tag, start, end, other_start, other_end in SequenceMatcher(
            None, first, second, autojunk=False
        ).get_opcodes()
        if tag != "equal"
    )
    assert 10 <= differing <= 60
