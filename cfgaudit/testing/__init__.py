"""For those who write rules: fixture files, and what a rule does otherwise than its file says."""

from cfgaudit.testing.checks import case_problems, problems
from cfgaudit.testing.fixtures import Case, Fixture, FixtureError, fixture_files, load_fixture

__all__ = [
    "Case",
    "Fixture",
    "FixtureError",
    "case_problems",
    "fixture_files",
    "load_fixture",
    "problems",
]
