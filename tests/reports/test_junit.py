"""JUnit: what fails, what is skipped, and that the counts are true."""

import json
from pathlib import Path
from xml.etree import ElementTree as Tree  # of our own output

import pytest

from tests.cli.calling import call
from tests.reports.reviewed import DUMP, FAULTY, WAIVER, folder, told

ORDER = "battery/threshold-order"


def suites(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str], cwd: Path | None = None
) -> list[Tree.Element]:
    said = (
        told(monkeypatch, "junit", arguments, cwd) if cwd else told(monkeypatch, "junit", arguments)
    )
    return list(Tree.fromstring(said))


def case(suite: Tree.Element, rule: str) -> Tree.Element:
    (found,) = [entry for entry in suite.findall("testcase") if entry.get("name") == rule]
    return found


def test_one_suite_a_dump_one_case_a_rule_and_true_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    dumps = ["dipper.dump", "wagtail-esc.dump"]
    every = suites(monkeypatch, ["check", *dumps])
    assert [suite.get("name") for suite in every[:2]] == dumps
    assert len(every) == 3  # the last is the two together
    said = json.loads(call(monkeypatch, ["check", *dumps, "--format", "json"]).out)
    for suite, dump in zip(every, said["dumps"], strict=False):
        cases = suite.findall("testcase")
        assert suite.get("tests") == str(len(cases))
        unfit = dump["not_applicable"]
        assert len(cases) == dump["checked"] + len(dump["not_checked"]) + len(unfit)
        assert suite.get("failures") == str(len(suite.findall("testcase/failure")))
        skipped = [c.get("name") for c in cases if c.find("skipped") is not None]
        assert suite.get("skipped") == str(len(skipped))
        assert skipped == sorted(entry["rule"] for entry in [*dump["not_checked"], *unfit])


def test_what_fails_goes_by_the_level_that_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    said = json.loads(call(monkeypatch, ["check", FAULTY, "--format", "json"]).out)
    found = said["dumps"][0]["findings"]
    levels = {"never": [], "error": ["error"], "warning": ["error", "warning"]}
    for fail_on, failing in levels.items():
        (suite,) = suites(monkeypatch, ["check", FAULTY, "--fail-on", fail_on])
        failures = [failure.get("type") for failure in suite.findall("testcase/failure")]
        assert sorted(map(str, failures)) == sorted(
            finding["level"] for finding in found if finding["level"] in failing
        )


def test_a_finding_below_that_level_is_told_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    (suite,) = suites(monkeypatch, ["check", FAULTY, "--fail-on", "never"])
    out = case(suite, "failsafe/throttle-closes").findtext("system-out") or ""
    assert out.startswith("error\nOn link loss the throttle channel 3 goes to 900 us, closed, ")


def test_a_skipped_rule_says_what_it_lacked(monkeypatch: pytest.MonkeyPatch) -> None:
    (suite,) = suites(monkeypatch, ["check", "wagtail-esc.dump"])
    skipped = case(suite, "failsafe/none").find("skipped")
    assert skipped is not None
    assert "failsafe.action" in (skipped.get("message") or "")


def test_a_waived_finding_does_not_fail_and_says_why(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    where = folder(tmp_path, dipper=DUMP)
    (suite,) = suites(monkeypatch, ["check", "dipper.cfg"], where)
    assert case(suite, ORDER).find("failure") is not None
    folder(tmp_path, waiver=WAIVER)
    (suite,) = suites(monkeypatch, ["check", "dipper.cfg"], where)
    assert case(suite, ORDER).find("failure") is None
    out = case(suite, ORDER).findtext("system-out") or ""
    assert "waived until 2026-12-31: old packs, for the bench alone" in out


def test_a_diff_fails_on_what_it_brings_alone(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    worse = DUMP.replace("cells = 4", "cells = 4\nfull_cell = 3.4 V")
    where = folder(tmp_path, old=DUMP, new=DUMP + "craft.serial = 1\n", worse=worse)
    (suite,) = suites(monkeypatch, ["diff", "old.cfg", "new.cfg"], where)
    assert suite.findall("testcase/failure") == []
    (suite,) = suites(monkeypatch, ["diff", "new.cfg", "old.cfg"], where)
    assert suite.get("failures") == "0"
    (suite,) = suites(monkeypatch, ["diff", "/dev/null", "old.cfg"], where)
    assert case(suite, ORDER).find("failure") is not None
