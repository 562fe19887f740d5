"""Every report says how blind the audit is; reports of a change say what stands in the end."""

import json
import re
from functools import cache
from typing import Any

import pytest

from tests.cli.calling import CORPUS, call
from tests.reports.pages import page
from tests.reports.reviewed import FAULTY, ask

BLIND = re.compile(
    r"Looked at (\d+) of (\d+) settings; of (\d+) safety settings a wrong value would be noticed "
    r"in (\d+)"
)


def flat(monkeypatch: pytest.MonkeyPatch, form: str, *args: str) -> str:
    """A report in one line; without a format the page of a craft or a change."""
    out = ask(monkeypatch, form, [*args]).out if form else page(monkeypatch, *args[1:])
    return " ".join(out.split())


@cache
def checked() -> dict[str, Any]:
    """What `check` says of the faulty dump, in JSON."""
    with pytest.MonkeyPatch.context() as patch:
        (dump,) = json.loads(ask(patch, "json", ["check", FAULTY]).out)["dumps"]
    found: dict[str, Any] = dump
    return found


@pytest.mark.parametrize(
    ("form", "args"),
    [
        ("terminal", ["check", FAULTY]),
        ("terminal", ["check", FAULTY, "--long"]),
        ("markdown", ["check", FAULTY]),
        ("sarif", ["check", FAULTY]),
        ("junit", ["check", FAULTY]),
        ("github", ["check", FAULTY]),
        ("terminal", ["fleet", FAULTY]),
        ("markdown", ["diff", "dipper.dump", FAULTY]),
        ("", ["report", FAULTY]),
        ("", ["report", "dipper.dump", FAULTY]),
    ],
    ids=lambda given: given if isinstance(given, str) else " ".join(given),
)
def test_every_report_says_how_blind_it_is(
    monkeypatch: pytest.MonkeyPatch, form: str, args: list[str]
) -> None:
    """The same numbers as `check` has in JSON."""
    dump = checked()
    blind, safety = dump["blind"], dump["blind"]["classes"]["safety"]
    looked = blind["stated"] - len(blind["not_looked_at"])
    noticed = safety["stated"] - len(safety["unnoticed"])
    (said,) = set(BLIND.findall(flat(monkeypatch, form, *args)))
    assert tuple(map(int, said)) == (looked, blind["stated"], safety["stated"], noticed)


def test_a_fleet_has_the_sum_of_its_craft(monkeypatch: pytest.MonkeyPatch) -> None:
    both = ["fleet", "dipper.dump", "sandpiper.dump"]
    found = json.loads(ask(monkeypatch, "json", both).out)["dumps"]
    stated = sum(dump["blind"]["stated"] for dump in found)
    safety = sum(dump["blind"]["classes"]["safety"]["stated"] for dump in found)
    (said,) = BLIND.findall(flat(monkeypatch, "terminal", *both).replace(",", ""))
    assert (int(said[1]), int(said[2])) == (stated, safety)


def test_what_could_be_checked_is_followed_by_what_was_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for form, args in (("terminal", ["check", "dipper.dump"]), ("", ["report", "dipper.dump"])):
        said = flat(monkeypatch, form, *args)
        assert re.search(r"could be checked; \d+ do not apply to such a craft\. Looked at", said)


def test_a_dump_that_was_not_audited_has_no_such_line(monkeypatch: pytest.MonkeyPatch) -> None:
    for form, args in (("markdown", ["check"]), ("", ["report"]), ("terminal", ["check"])):
        assert "Looked at" not in flat(monkeypatch, form, *args, "broken/no-dialect.dump")


def test_a_change_says_what_errors_stand_and_not_only_what_it_brings(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    dump = checked()
    levels = [finding["level"] for finding in dump["findings"]]
    counts = {level: levels.count(level) for level in ("error", "warning", "note")}
    assert counts["error"] > 1
    itself = ("diff", FAULTY, FAULTY)
    assert json.loads(ask(monkeypatch, "json", [*itself]).out)["standing"] == counts
    stand = f"{counts['error']} errors stand."
    assert f"No change. {stand}" in flat(monkeypatch, "terminal", *itself)
    assert f"No change. {stand}" in flat(monkeypatch, "markdown", *itself)
    told = flat(monkeypatch, "", "report", FAULTY, FAULTY)
    assert f"What changed: No change. {stand}" in told
    assert "Do not fly before the errors are cleared." in told
    assert '<p class="verdict error">' in told


def test_a_change_that_leaves_no_error_says_that_none_stands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = flat(monkeypatch, "terminal", "diff", FAULTY, "dipper.dump")
    assert said.endswith("findings cleared. No error stands.")


def test_a_change_to_a_dump_that_was_not_audited_does_not_say_what_stands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = flat(monkeypatch, "terminal", "diff", "dipper.dump", "broken/no-dialect.dump")
    assert said.endswith("What stands is not known: the craft was not audited.")


def test_the_book_says_how_many_of_its_rules_check_counts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    counts = re.search(r"All (\d+) rules that apply could be checked; (\d+) do not",
                       flat(monkeypatch, "terminal", "check", "dipper.dump"))  # fmt: skip
    book = call(monkeypatch, ["explain", "--all"], cwd=CORPUS).out
    told = re.search(r"(\d+) rules: (\d+) about one craft, (\d+) about several together, "
                     r"(\d+) about waivers\.", book)  # fmt: skip
    assert counts is not None
    assert told is not None
    assert int(counts[1]) + int(counts[2]) == int(told[2])
    assert int(told[1]) == sum(int(told[part]) for part in (2, 3, 4))
