"""Which settings move by themselves is told by the dialect, and marked when a dump is read."""

from pathlib import Path

import pytest

from cfgaudit.changes.diff import diff
from cfgaudit.dialects.dialect import DialectError, build_dialect
from cfgaudit.vocabulary.paths import covers, vocabulary
from tests.dialects.demo import DUMPS, FACTORY, dialects, opened, read


@pytest.mark.parametrize(
    ("pattern", "name", "fits"),
    [
        ("craft/hours", "craft/hours", True),
        ("craft/hours", "craft/hours_flown", False),
        ("tally", "tally wakes", True),
        ("tally wakes", "tally", False),
        ("drive */tally", "drive fore_left/tally.hours", True),
        ("drive */tally", "drive/tally.hours", False),
        ("sensors.*.trim", "sensors.accelerometer.trim.roll", True),
        ("*", "", True),
        ("spin/nought-*", "spin/nought-x", True),
        ("spin/nought-*", "spin/nought", False),
        ("a*a", "a", False),
    ],
)
def test_a_pattern_covers_a_name_and_all_below_it(pattern: str, name: str, fits: bool) -> None:
    assert covers(pattern, name) is fits


@pytest.mark.parametrize("of", dialects(), ids=lambda of: of.name)
def test_every_pattern_of_a_demo_dialect_covers_a_line_of_its_dumps(of: object) -> None:
    patterns = next(entry.volatile for entry in dialects() if entry is of)
    names = {
        name
        for path in (*DUMPS, *FACTORY)
        if opened(path).dialect is of
        for name in (*opened(path).settings.stated, *opened(path).settings.raw)
    }
    assert patterns
    for pattern in patterns:
        assert any(covers(pattern, name) for name in names), pattern


MOVES = {  # what counts or is learnt at rest, as one reads it in the dumps
    "dipper": {"craft/hours_flown", "craft/sorties"},
    "sandpiper": {"craft/hours_flown", "craft/sorties"},
    "wagtail-esc": {
        f"drive {arm}/tally.{what}"
        for arm in ("fore_left", "fore_right", "aft_left", "aft_right")
        for what in ("hours", "stalls")
    },
    "goosander": {"craft/hours", "craft/outings"}
    | {f"tallies/{what}" for what in ("wakes", "minutes", "furthest", "highest", "amp-hours")}
    | {f"spin/gyro-nought-{axis}" for axis in "xyz"}
    | {f"feelers/{what}-nought-{axis}" for what in ("north", "weight") for axis in "xyz"},
}


@pytest.mark.parametrize("path", [p for p in DUMPS if p.stem in MOVES], ids=lambda p: p.stem)
def test_what_moves_by_itself_is_marked_and_nothing_else(path: Path) -> None:
    found = opened(path).settings
    assert {key for key, raw in found.raw.items() if raw.volatile} == MOVES[path.stem]
    assert not [path for path, stated in found.stated.items() if stated.volatile]


def test_a_dialect_marks_a_neutral_path_too() -> None:
    of = build_dialect(
        {
            "name": "small",
            "volatile": ["battery.capacity", "tally"],
            "lines": [{"map": ["holds = {battery.capacity: mAh}", "cells = {battery.cells}"]}],
        },
        "small.toml",
    )
    old = read("holds = 1500\ncells = 4\ntally = 1\nnote = a\n", of)
    new = read("holds = 1400\ncells = 6\ntally = 2\nnote = b\n", of)
    assert {change.path: change.volatile for change in diff(old, new)} == {
        "battery.capacity": True,
        "battery.cells": False,
        "tally": True,
        "note": False,
    }


def test_the_vocabulary_marks_what_moves_whatever_the_firmware() -> None:
    assert [entry.pattern for entry in vocabulary() if entry.traits.volatile] == [
        "sensors.accelerometer.trim.roll",
        "sensors.accelerometer.trim.pitch",
        "home.place",
    ]


def test_a_list_that_is_none_is_refused() -> None:
    with pytest.raises(DialectError, match=r"small\.toml: volatile: a list of texts is expected"):
        build_dialect({"name": "small", "volatile": "tally"}, "small.toml")
