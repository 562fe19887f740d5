"""For those who write rules: fixture files, and what a rule does otherwise than its file says."""

from cfgaudit.testing.fixtures import (
    Case,
    Fixture,
    FixtureError,
    case_problems,
    fixture_files,
    load_fixture,
    problems,
)

__all__ = [
    "Case",
    "Fixture",
    "FixtureError",
    "case_problems",
    "fixture_files",
    "load_fixture",
    "problems",
]
