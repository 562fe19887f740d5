"""check --baseline: what is new is reported, what is known is not, what is gone is told."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import Answer, call
from tests.reports.reviewed import DUMP, TODAY, WAIVER, folder
from tests.reports.schemas import validate

ORDER = "battery/threshold-order"
MENDED = DUMP.replace("3.3 V", "3.6 V")
CASES = DUMP.replace("cells = 4", "cells = 4\n[craft]\nowner = somebody\n[battery]")


def check(
    monkeypatch: pytest.MonkeyPatch, where: Path, *arguments: str, known: str = "known.json"
) -> Answer:
    return call(monkeypatch, ["check", *arguments, "--baseline", known, *TODAY], cwd=where)


def said(monkeypatch: pytest.MonkeyPatch, where: Path, *arguments: str) -> dict[str, Any]:
    report = json.loads(check(monkeypatch, where, *arguments, "--format", "json").out)
    validate(report, "check")
    assert isinstance(report, dict)
    return report


def written(where: Path, name: str = "known.json") -> list[dict[str, Any]]:
    entries: list[dict[str, Any]] = json.loads((where / name).read_text("utf-8"))["findings"]
    return entries


@pytest.fixture
def where(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A folder with a faulty dump and a baseline that knows it."""
    folder(tmp_path, dipper=DUMP)
    answer = check(monkeypatch, tmp_path, "dipper.cfg", "--update-baseline")
    assert answer.status == 0
    assert re.search(
        r"^written: known.json: \d known, \d of them new, 0 taken out$", answer.err, re.M
    )
    return tmp_path


def test_a_known_finding_neither_counts_nor_is_listed(
    monkeypatch: pytest.MonkeyPatch, where: Path
) -> None:
    assert call(monkeypatch, ["check", "dipper.cfg"], cwd=where).status == 1
    answer = check(monkeypatch, where, "dipper.cfg")
    assert answer.status == 0
    assert ORDER not in answer.out
    told = " ".join(answer.out.split())
    # what a baseline knows fails nothing, and is as wrong as it was
    assert "Nothing new found, 2 in the baseline, 1 error among them. Do not fly " in told


def test_what_stands_in_the_baseline_is_told_to_a_reviewer_and_in_the_sum_of_all(
    monkeypatch: pytest.MonkeyPatch, where: Path
) -> None:
    github = check(monkeypatch, where, "dipper.cfg", "--format", "github").out
    assert re.search(r"^::warning [^:]*title=in the baseline::.*1 error", github, re.M)
    assert (
        "1 error among them" in check(monkeypatch, where, "dipper.cfg", "--format", "markdown").out
    )
    (where / "wagtail.cfg").write_text(DUMP, "utf-8")
    both = check(monkeypatch, where, "dipper.cfg", "wagtail.cfg", "--update-baseline")
    last = " ".join(both.out.split()).rpartition("In all: ")[2]
    assert last.startswith("nothing new found, ")
    assert "Do not fly " in last


def test_machine_output_marks_it_instead(monkeypatch: pytest.MonkeyPatch, where: Path) -> None:
    report = said(monkeypatch, where, "dipper.cfg")
    marks = {f["rule"]: f["baselined"] for f in report["dumps"][0]["findings"]}
    assert marks[ORDER] is True
    assert report["baseline"] == {"file": "known.json", "gone": [], "unsure": []}
    without = json.loads(
        call(monkeypatch, ["check", "dipper.cfg", "--format", "json"], cwd=where).out
    )
    assert without["baseline"] is None
    assert {f["baselined"] for f in without["dumps"][0]["findings"]} == {False}


@pytest.mark.parametrize("form", ["sarif", "junit", "github", "markdown"])
def test_reports_for_review_do_not_fail_on_it(
    monkeypatch: pytest.MonkeyPatch, where: Path, form: str
) -> None:
    answer = check(monkeypatch, where, "dipper.cfg", "--format", form)
    assert answer.status == 0
    if form == "sarif":
        results = json.loads(answer.out)["runs"][0]["results"]
        assert {result["baselineState"] for result in results} == {"unchanged"}
    elif form == "junit":
        assert "<failure" not in answer.out
        assert "error, in the baseline" in answer.out
    else:
        assert ORDER not in answer.out


def test_a_new_finding_is_reported(monkeypatch: pytest.MonkeyPatch, where: Path) -> None:
    (where / "dipper.cfg").write_text(DUMP + "cells = 400\n", encoding="utf-8")
    answer = check(monkeypatch, where, "dipper.cfg", "--fail-on", "note")
    assert answer.status == 1
    assert "dump/said-twice" in answer.out


def test_lines_may_move(monkeypatch: pytest.MonkeyPatch, where: Path) -> None:
    (where / "dipper.cfg").write_text("# moved\n\n" + DUMP, encoding="utf-8")
    assert check(monkeypatch, where, "dipper.cfg").status == 0
    assert not [key for entry in written(where) for key in entry if key in ("line", "places")]


def test_it_holds_no_line_numbers(monkeypatch: pytest.MonkeyPatch, where: Path) -> None:
    twice = DUMP.replace("cells = 4", "cells = 4\ncells = 3")
    assert twice != DUMP
    folder(where, dipper=twice)
    assert "cells is stated twice: 4 (line " in " ".join(
        call(monkeypatch, ["check", "dipper.cfg", *TODAY], cwd=where).out.split()
    )
    check(monkeypatch, where, "dipper.cfg", "--update-baseline")
    (entry,) = [e for e in written(where) if "is stated twice" in e["message"]]
    assert entry["message"].endswith("cells is stated twice: 4, 3.")


def test_another_value_is_another_finding(monkeypatch: pytest.MonkeyPatch, where: Path) -> None:
    (where / "dipper.cfg").write_text(DUMP.replace("3.3 V", "3.2 V"), encoding="utf-8")
    answer = check(monkeypatch, where, "dipper.cfg")
    assert answer.status == 1
    assert "found no more" in answer.out


def test_the_same_finding_in_another_dump_is_new(
    monkeypatch: pytest.MonkeyPatch, where: Path
) -> None:
    folder(where, other=DUMP)
    assert check(monkeypatch, where, "other.cfg").status == 1


def test_what_is_gone_is_told_and_taken_out(monkeypatch: pytest.MonkeyPatch, where: Path) -> None:
    folder(where, dipper=MENDED)
    answer = check(monkeypatch, where, "dipper.cfg")
    assert answer.status == 0
    assert "In the baseline, and found no more" in answer.out
    assert ORDER in answer.out
    gone = said(monkeypatch, where, "dipper.cfg")["baseline"]["gone"]
    assert [entry["rule"] for entry in gone] == [ORDER]
    sarif = json.loads(check(monkeypatch, where, "dipper.cfg", "--format", "sarif").out)
    notices = sarif["runs"][0]["invocations"][0]["toolExecutionNotifications"]
    assert [n["descriptor"]["id"] for n in notices].count("baseline") == 1
    assert ORDER in check(monkeypatch, where, "dipper.cfg", "--format", "markdown").out
    assert "1 taken out" in check(monkeypatch, where, "dipper.cfg", "--update-baseline").err
    assert ORDER not in {entry["rule"] for entry in written(where)}


def test_what_can_t_be_checked_any_more_is_not_called_gone(
    monkeypatch: pytest.MonkeyPatch, where: Path
) -> None:
    folder(
        where, dipper=DUMP.replace("warn_cell = 3.3 V\n", "").replace("empty_cell = 3.5 V\n", "")
    )
    baseline = said(monkeypatch, where, "dipper.cfg")["baseline"]
    assert [entry["rule"] for entry in baseline["unsure"]] == [ORDER]
    assert ORDER not in {entry["rule"] for entry in baseline["gone"]}
    check(monkeypatch, where, "dipper.cfg", "--update-baseline")
    assert ORDER in {entry["rule"] for entry in written(where)}


def test_entries_of_other_dumps_stay_and_are_not_called_gone(
    monkeypatch: pytest.MonkeyPatch, where: Path
) -> None:
    folder(where, other=DUMP)
    assert said(monkeypatch, where, "other.cfg")["baseline"]["gone"] == []
    check(monkeypatch, where, "other.cfg", "--update-baseline")
    dumps = {name for entry in written(where) for name in entry["dumps"]}
    assert dumps == {"dipper.cfg", "other.cfg"}
    assert check(monkeypatch, where, "dipper.cfg").status == 0


def test_a_baseline_written_twice_is_the_same_bytes_and_sorted(
    monkeypatch: pytest.MonkeyPatch, where: Path
) -> None:
    folder(where, a=CASES)
    check(monkeypatch, where, "dipper.cfg", "a.cfg", "--update-baseline")
    once = (where / "known.json").read_bytes()
    check(monkeypatch, where, "a.cfg", "dipper.cfg", "--update-baseline")
    assert (where / "known.json").read_bytes() == once
    keys = [(entry["dumps"], entry["rule"], entry["paths"]) for entry in written(where)]
    assert keys == sorted(keys)
    assert once.isascii()


def test_dumps_are_named_from_the_baseline_s_own_folder(
    monkeypatch: pytest.MonkeyPatch, where: Path
) -> None:
    (where / "sub").mkdir()
    known = str(where / "known.json")
    assert check(monkeypatch, where / "sub", "../dipper.cfg", known=known).status == 0
    assert check(monkeypatch, where, str(where / "dipper.cfg"), known=known).status == 0


def test_what_several_craft_do_to_one_another_can_be_known(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    one = "[craft]\nname = A\n[video.transmitter]\nenabled = on\nfrequency = 5800 MHz\n"
    where = folder(tmp_path, a=one, b=one.replace("A", "B"))
    before = json.loads(
        call(monkeypatch, ["check", "a.cfg", "b.cfg", "--format", "json"], cwd=where).out
    )
    assert before["fleet"]["findings"]
    check(monkeypatch, where, "a.cfg", "b.cfg", "--update-baseline")
    report = said(monkeypatch, where, "b.cfg", "a.cfg")
    assert {finding["baselined"] for finding in report["fleet"]["findings"]} == {True}
    alone = said(monkeypatch, where, "a.cfg")["baseline"]
    assert (alone["gone"], alone["unsure"]) == ([], [])


def test_a_waived_finding_is_not_written_and_an_expired_waiver_never_known(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    where = folder(tmp_path, waiver=WAIVER, dipper=DUMP)
    check(monkeypatch, where, "dipper.cfg", "--update-baseline")
    assert ORDER not in {entry["rule"] for entry in written(where)}
    folder(where, waiver=WAIVER.replace("2026-12-31", "2026-01-31"))
    check(monkeypatch, where, "dipper.cfg", "--update-baseline")
    answer = check(monkeypatch, where, "dipper.cfg")
    assert answer.status == 1
    assert "waiver/expired" in answer.out


FAULTS = {
    "{": "known.json:1:2: no JSON: expecting property name enclosed in double quotes",
    "[]": "known.json: an object with version and findings is expected",
    '{"version": 2}': "known.json: version 2 is unknown here; this cfgaudit knows version 1",
    '{"version": 1}': "known.json: findings must be a list",
    '{"version": 1, "findings": [1]}': "known.json: findings[0]: an object is expected",
    '{"version": 1, "findings": [{}]}': "known.json: findings[0]: exactly these are expected: "
    "dumps, rule, level, paths, message, fingerprint",
    '{"version": 1, "findings": [{"dumps": [1], "rule": "", "level": "", "paths": [], '
    '"message": "", "fingerprint": ""}]}': "known.json: findings[0].dumps: a list of texts is "
    "expected",
    '{"version": 1, "findings": [{"dumps": [], "rule": 1, "level": "", "paths": [], '
    '"message": "", "fingerprint": ""}]}': "known.json: findings[0].rule: a text is expected",
    "\xff": "known.json: no JSON that can be read",
}


@pytest.mark.parametrize("text", FAULTS, ids=list(FAULTS.values()))
def test_a_fault_in_the_file_is_one_clear_line(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str
) -> None:
    where = folder(tmp_path, dipper=DUMP)
    (where / "known.json").write_bytes(text.encode("latin-1"))
    for more in ([], ["--update-baseline"]):
        answer = check(monkeypatch, where, "dipper.cfg", *more)
        assert (answer.status, answer.out) == (2, "")
        assert answer.err == f"Error: {FAULTS[text]}\n"
    assert (where / "known.json").read_bytes() == text.encode("latin-1")


def test_a_baseline_that_is_not_there_is_said_to_be_made_how(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    answer = check(monkeypatch, folder(tmp_path, dipper=DUMP), "dipper.cfg")
    assert answer.status == 2
    assert answer.err == "Error: there is no baseline known.json; --update-baseline makes one\n"


def test_updating_wants_to_know_which(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    where = folder(tmp_path, dipper=DUMP)
    answer = call(monkeypatch, ["check", "dipper.cfg", "--update-baseline"], cwd=where)
    assert answer.status == 2
    assert "--update-baseline wants to know which: --baseline FILE" in answer.err
