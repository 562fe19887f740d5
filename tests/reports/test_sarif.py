"""SARIF: addresses, regions, fingerprints, suppressions, and what is said besides findings."""

import json
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest

from cfgaudit.reports.sarif import location_of, text
from cfgaudit.rules.book import find
from tests.cli.calling import CORPUS, call
from tests.reports.reviewed import DUMP, FAULTY, TODAY, WAIVER, folder, log, told

ORDER = "battery/threshold-order"


def result(run: dict[str, Any], rule: str) -> dict[str, Any]:
    (found,) = [entry for entry in run["results"] if entry["ruleId"] == rule]
    assert isinstance(found, dict)
    return found


def notices(run: dict[str, Any], name: str) -> list[str]:
    entries = run["invocations"][0]["toolExecutionNotifications"]
    return [e["message"]["text"] for e in entries if e["descriptor"]["id"] == name]


def test_levels_rules_and_fingerprints_are_those_of_the_json_report(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    run = log(monkeypatch, ["check", FAULTY])
    said = json.loads(call(monkeypatch, ["check", FAULTY, "--format", "json"]).out)
    assert [
        (entry["ruleId"], entry["level"], entry["partialFingerprints"]["cfgaudit/v1"])
        for entry in run["results"]
    ] == [(f["rule"], f["level"], f["fingerprint"]) for f in said["dumps"][0]["findings"]]
    for entry in run["results"]:
        assert run["tool"]["driver"]["rules"][entry["ruleIndex"]]["id"] == entry["ruleId"]


def test_a_region_holds_the_value_that_a_finding_is_about(monkeypatch: pytest.MonkeyPatch) -> None:
    run = log(monkeypatch, ["check", FAULTY])
    assert run["columnKind"] == "unicodeCodePoints"
    lines = (CORPUS / FAULTY).read_text(encoding="utf-8").splitlines()
    place = result(run, "switch/armed-at-failsafe-value")["relatedLocations"][0]
    region = place["physicalLocation"]["region"]
    line = lines[region["startLine"] - 1]
    assert line[region["startColumn"] - 1 : region["endColumn"] - 1] in line.split("=")[-1]


def test_columns_count_characters_whatever_their_bytes(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    # The value starts behind 20 characters, three of which are beyond ASCII (one beyond 16 bits).
    where = folder(tmp_path, a='craft.owner = "üéb 🐦"\nbattery.cells = 400\nbattery.cells = 4\n')
    run = log(monkeypatch, ["check", "a.cfg"], where)
    region = result(run, "dump/secret-present")["locations"][0]["physicalLocation"]["region"]
    assert region == {"startLine": 1, "startColumn": 15, "endColumn": 22}  # 7: quotes, 5 letters


@pytest.mark.parametrize("name", ["a b.dump", "50%.dump", "ä.dump", "a:b.dump", "a#b?.dump"])
def test_an_address_is_relative_and_percent_encoded(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, name: str
) -> None:
    (tmp_path / name).write_text(DUMP, encoding="utf-8")
    for given in (name, f"./{name}", str(tmp_path / name)):
        run = log(monkeypatch, ["check", given], tmp_path)
        address = result(run, ORDER)["locations"][0]["physicalLocation"]["artifactLocation"]
        assert unquote(address["uri"]) == name
        assert address["uri"].isascii()
        assert not set(address["uri"]) & set(" :#?ä")
        assert address["uriBaseId"] in run["originalUriBaseIds"]
        assert run["artifacts"][address["index"]]["location"]["uri"] == address["uri"]


def test_a_file_elsewhere_has_a_whole_address(tmp_path: Path) -> None:
    assert location_of("/far/a b.dump") == {"uri": "file:///far/a%20b.dump"}


def test_a_waived_finding_is_suppressed_with_reason_and_last_day(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    where = folder(tmp_path, waiver=WAIVER, dipper=DUMP)
    run = log(monkeypatch, ["check", "dipper.cfg"], where)
    assert result(run, ORDER)["suppressions"] == [
        {
            "kind": "external",
            "status": "accepted",
            "justification": "old packs, for the bench alone",
            "properties": {"until": "2026-12-31"},
        }
    ]
    others = [entry for entry in run["results"] if entry["ruleId"] != ORDER]
    assert others
    assert all(entry["suppressions"] == [] for entry in others)


def test_a_rule_has_its_help_and_its_markdown(monkeypatch: pytest.MonkeyPatch) -> None:
    run = log(monkeypatch, ["check", FAULTY])
    rule = find("failsafe/throttle-closes")
    assert rule is not None
    (said,) = [r for r in run["tool"]["driver"]["rules"] if r["id"] == rule.id]
    assert said["shortDescription"]["text"] == rule.doc.wrong
    assert said["defaultConfiguration"]["level"] == rule.level.value
    assert f"In the air: {rule.doc.air}\nMend: {rule.doc.mend}" in said["help"]["text"]
    assert f"**In the air**: {rule.doc.air}" in said["help"]["markdown"]


def test_figures_and_mend_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    run = log(monkeypatch, ["check", FAULTY])
    properties = result(run, "failsafe/throttle-closes")["properties"]
    assert properties["figures"]["channel"] == 3
    mend = result(run, "serial/wired-elsewhere")["properties"]["mend"]
    assert mend == [{"path": "ports.uart2.roles", "value": "telemetry"}]


def test_what_was_not_checked_is_a_notification_of_its_rule(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    run = log(monkeypatch, ["check", "wagtail-esc.dump"])
    said = json.loads(call(monkeypatch, ["check", "wagtail-esc.dump", "--format", "json"]).out)
    entries = run["invocations"][0]["toolExecutionNotifications"]
    rules = [e["associatedRule"]["id"] for e in entries if e["descriptor"]["id"] == "not-checked"]
    assert rules == [entry["rule"] for entry in said["dumps"][0]["not_checked"]]


def test_a_dump_without_a_dialect_is_said_not_to_be_audited(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    run = log(monkeypatch, ["check", "broken/no-dialect.dump"])
    assert notices(run, "not-audited")
    assert not notices(log(monkeypatch, ["check", "dipper.dump"]), "not-audited")


def test_a_diff_tells_what_it_brings_and_notes_what_it_clears(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = json.loads(call(monkeypatch, ["diff", "dipper.dump", FAULTY, "--format", "json"]).out)
    brought = [finding["rule"] for finding in said["findings_new"]]
    assert brought
    run = log(monkeypatch, ["diff", "dipper.dump", FAULTY])
    assert [entry["ruleId"] for entry in run["results"]] == brought
    assert {entry["baselineState"] for entry in run["results"]} == {"new"}
    back = log(monkeypatch, ["diff", FAULTY, "dipper.dump"])
    assert back["results"] == []
    assert [line.partition(":")[0] for line in notices(back, "cleared")] == brought


def test_the_same_call_gives_the_same_bytes_and_no_time(monkeypatch: pytest.MonkeyPatch) -> None:
    once = told(monkeypatch, "sarif", ["check", FAULTY])
    again = call(monkeypatch, ["check", FAULTY, "--format", "sarif", *TODAY]).out
    assert once == again
    assert "Utc" not in once
    assert str(CORPUS) not in once


def test_what_looks_like_a_link_or_a_hole_in_a_message_is_escaped() -> None:
    assert text("a [b](1) {0} [c] {d}") == {"text": "a \\[b](1) {{0}} [c] {d}"}
