"""`why`: from what is seen to what was found of it, could not be checked, and is left by hand."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, call
from tests.reports.schemas import validate

FAULTY = "faulty/dipper-after-repair.dump"


def said(patch: pytest.MonkeyPatch, *arguments: str, status: int = 0) -> dict[str, Any]:
    answer = call(patch, ["why", *arguments, "--format", "json"])
    assert (answer.status, answer.err) == (status, "")
    data: dict[str, Any] = json.loads(answer.out)
    validate(data, "why")
    return data


def found(data: dict[str, Any]) -> set[str]:
    return {finding["rule"] for finding in data["findings"]}


def test_of_a_symptom_that_the_dump_explains_the_findings_are_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # the repair turned two motors about, and left telemetry without a port
    assert "motor/neighbours-alike" in found(said(monkeypatch, "flips on take-off", FAULTY))
    telemetry = said(monkeypatch, "no telemetry", FAULTY)
    assert found(telemetry) == {"serial/wired-elsewhere", "telemetry/enabled-unassigned"}


def test_of_a_symptom_that_the_dump_does_not_explain_nothing_is_found_and_hands_are_wanted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    data = said(monkeypatch, "no picture", FAULTY)
    assert data["findings"] == []
    assert data["by_hand"]
    assert "video/plan-mismatch" in data["quiet"]


def test_what_could_not_be_checked_of_it_is_told_with_what_it_lacks(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    # a dump of nothing but two ports says nothing of a switch that arms
    (tmp_path / "bare.cfg").write_text("ports.uart1.roles = receiver\nports.uart2.roles = none\n")
    data = said(monkeypatch, "will not arm", str(tmp_path / "bare.cfg"))
    assert data["not_checked"]
    ids = {entry["rule"] for entry in data["not_checked"]}
    assert not ids & {*data["quiet"], *found(data)}


def test_errors_come_before_warnings(monkeypatch: pytest.MonkeyPatch) -> None:
    levels = [f["level"] for f in said(monkeypatch, "falls on link loss", FAULTY)["findings"]]
    assert levels == sorted(levels, key=["error", "warning", "note"].index)
    assert levels[0] == "error"


def test_without_a_dump_the_rules_about_it_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    data = said(monkeypatch, "it won't arm")
    assert (data["symptom"], data["file"]) == ("will not arm", None)
    assert "switch/no-arm" in {rule["rule"] for rule in data["rules"]}


def test_without_a_symptom_all_are_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [entry["name"] for entry in said(monkeypatch)["symptoms"]]
    assert "no picture" in names
    assert len(set(names)) == len(names)


def test_what_nobody_says_is_refused_with_the_way_to_the_list(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answer = call(monkeypatch, ["why", "the weather", FAULTY])
    assert answer.status == 2
    assert "`cfgaudit why` alone lists them" in answer.err


def test_the_screen_says_that_nothing_found_rules_nothing_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answer = call(monkeypatch, ["why", "no picture", FAULTY], cwd=CORPUS)
    assert "Nothing was found in the dump that would do this." in answer.out
    assert "That rules nothing out that is not in the dump." in " ".join(answer.out.split())


def test_a_motor_that_does_not_turn_is_no_craft_that_turns(monkeypatch: pytest.MonkeyPatch) -> None:
    assert said(monkeypatch, "my motors do not turn")["symptom"] == "motors do not spin"


def test_a_dump_without_a_symptom_is_told_what_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["why", FAULTY])
    assert answer.status == 2
    assert f'`cfgaudit why "will not arm" {FAULTY}`' in answer.err


def test_where_no_rule_could_look_nothing_is_said_to_be_in_order(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    # a dump of the motors' poles alone says nothing of a lost link
    (tmp_path / "bare.cfg").write_text("motors.poles = 14\n")
    answer = call(monkeypatch, ["why", "falls on link loss", str(tmp_path / "bare.cfg")])
    assert "Nothing of this could be looked for in the dump." in answer.out
    assert "found nothing" not in answer.out
    assert "could not be checked" in answer.out


def test_without_a_dump_each_rule_is_told_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    text = " ".join(call(monkeypatch, ["why", "hot motors"]).out.split())
    assert "A filter's cutoff is at or above half of the rate it runs at." in text
    assert "Gyro filters run at the gyro's sample rate" not in text


def test_lines_that_move_it_are_told_though_nothing_is_wrong_in_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    data = said(monkeypatch, "yaw washes out in turns", "wagtail.dump")
    assert data["findings"] == []
    dump = (CORPUS / "wagtail.dump").read_text().splitlines()
    # bank 2 is not in use, and roll's gains don't hold the yaw
    assert {path for path in data["lines"] if ".gains." in path} == {
        f"banks.1.gains.yaw.{term}" for term in ("p", "i", "d", "ff")
    }
    p = data["lines"]["banks.1.gains.yaw.p"]
    assert p["text"] in dump[p["line"] - 1]


def test_without_a_dump_no_lines_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    assert said(monkeypatch, "yaw washes out")["lines"] == {}


def test_a_file_whose_name_says_a_symptom_is_a_file(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "drifts-after-a-crash.dump").write_text("motors.poles = 14\n")
    assert call(monkeypatch, ["why", str(tmp_path / "drifts-after-a-crash.dump")]).status == 2
