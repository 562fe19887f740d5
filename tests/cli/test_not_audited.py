"""A dump that could not be audited is never green: status 2, and each format says so."""

import json
import shutil
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from cfgaudit.dialects.dialect import load_dialect
from cfgaudit.dialects.opening import open_dump
from tests.cli.calling import CORPUS, Answer, call

FORMS = ("terminal", "json", "sarif", "junit", "github", "markdown")
UNKNOWN = "firmware kestrel\nmagnets: fourteen\nrate / 8 / of four\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Dipper as it should be, and what can become of a dump or of the folder's settings."""
    shutil.copy(CORPUS / "dipper.dump", tmp_path)
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    (tmp_path / "cfgaudit.toml").write_text('[cfgaudit]\ndialects = ["dialects"]\n')
    (tmp_path / "emptied.dump").write_bytes(b"")
    (tmp_path / "blank.dump").write_bytes(b"\n\n  \n")
    (tmp_path / "binary.dump").write_bytes(bytes(range(256)) * 8)
    (tmp_path / "unknown.dump").write_text(UNKNOWN)
    return tmp_path


LOST = ("emptied.dump", "blank.dump", "binary.dump", "unknown.dump")


def check(
    monkeypatch: pytest.MonkeyPatch, folder: Path, *dumps: str, form: str = "terminal"
) -> Answer:
    return call(monkeypatch, ["check", *dumps, "--format", form], cwd=folder)


def run_of(answer: Answer) -> Any:
    (run,) = json.loads(answer.out)["runs"]
    return run


@pytest.mark.parametrize("form", FORMS)
def test_a_dump_that_tells_nothing_is_a_failure_in_every_format(
    monkeypatch: pytest.MonkeyPatch, folder: Path, form: str
) -> None:
    assert check(monkeypatch, folder, "dipper.dump", form=form).status == 0
    for dump in LOST:
        assert check(monkeypatch, folder, dump, form=form).status == 2, dump


@pytest.mark.parametrize("form", FORMS)
def test_settings_that_lost_their_dialects_are_a_failure_in_every_format(
    monkeypatch: pytest.MonkeyPatch, folder: Path, form: str
) -> None:
    (folder / "cfgaudit.toml").write_text("[cfgaudit]\n")
    assert check(monkeypatch, folder, "dipper.dump", form=form).status == 2


@pytest.mark.parametrize("level", ["error", "never"])
def test_no_level_makes_it_green(monkeypatch: pytest.MonkeyPatch, folder: Path, level: str) -> None:
    asked = ["check", "unknown.dump", "--fail-on", level]
    assert call(monkeypatch, asked, cwd=folder).status == 2


def test_a_dialect_that_is_named_makes_no_craft_of_an_emptied_dump(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    for dump in ("emptied.dump", "binary.dump"):
        answer = call(monkeypatch, ["check", dump, "--dialect", "sedge"], cwd=folder)
        assert answer.status == 2, dump
        assert "The craft was not audited." in answer.out


def test_the_screen_says_what_to_do_next(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    said = " ".join(check(monkeypatch, folder, "unknown.dump").out.split())
    assert "No dialect knows this dump" in said
    assert "Next: `cfgaudit dialect teach unknown.dump`" in said
    assert said.endswith("The craft was not audited.")
    empty = " ".join(check(monkeypatch, folder, "emptied.dump").out.split())
    assert "The dump is empty: there is nothing to audit. Make it anew." in empty
    assert "dialect new" not in empty


@pytest.mark.parametrize("dump", LOST)
def test_it_is_a_failure_in_junit(monkeypatch: pytest.MonkeyPatch, folder: Path, dump: str) -> None:
    answer = check(monkeypatch, folder, dump, form="junit")
    (suite,) = ElementTree.fromstring(answer.out.encode())
    failed = [case.get("name") for case in suite if case.find("failure") is not None]
    assert "audited" in failed
    assert suite.get("failures") == str(len(failed))
    assert suite.get("tests") == str(len(suite.findall("testcase")))
    whole = check(monkeypatch, folder, "dipper.dump", form="junit")
    assert 'name="audited"' not in whole.out


@pytest.mark.parametrize("dump", LOST)
def test_it_is_no_successful_execution_in_sarif(
    monkeypatch: pytest.MonkeyPatch, folder: Path, dump: str
) -> None:
    (told,) = run_of(check(monkeypatch, folder, dump, form="sarif"))["invocations"]
    assert told["executionSuccessful"] is False
    notices = [
        notice
        for notice in told["toolExecutionNotifications"]
        if notice["descriptor"]["id"] == "not-audited"
    ]
    (notice,) = notices
    assert notice["level"] == "error"
    assert notice["message"]["text"].startswith(f"{dump} was not audited.")
    (whole,) = run_of(check(monkeypatch, folder, "dipper.dump", form="sarif"))["invocations"]
    assert whole["executionSuccessful"] is True


def test_it_is_an_error_s_line_on_github(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    lines = check(monkeypatch, folder, "unknown.dump", form="github").out.splitlines()
    assert [
        line for line in lines if line.startswith("::error file=unknown.dump,title=not audited")
    ]


def test_it_is_the_first_line_in_markdown(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    answer = check(monkeypatch, folder, "dipper.dump", "unknown.dump", form="markdown")
    assert answer.out.startswith("**Not audited: `unknown.dump`.** No dialect knows this dump")


@pytest.mark.parametrize("dumps", [("dipper.dump", "unknown.dump"), ("unknown.dump", "bad.dump")])
def test_of_several_dumps_the_others_are_audited_and_told(
    monkeypatch: pytest.MonkeyPatch, folder: Path, dumps: tuple[str, ...]
) -> None:
    shutil.copy(CORPUS / "faulty/dipper-after-repair.dump", folder / "bad.dump")
    other = next(dump for dump in dumps if dump != "unknown.dump")
    alone = json.loads(check(monkeypatch, folder, other, form="json").out)["dumps"][0]
    answer = check(monkeypatch, folder, *dumps, form="json")
    assert answer.status == 2
    told = {entry["file"]: entry for entry in json.loads(answer.out)["dumps"]}
    assert told[other]["findings"] == alone["findings"]
    assert told["unknown.dump"]["dialect"] is None


def test_another_dump_of_the_craft_that_is_known_hides_nothing(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    asked = ["check", "unknown.dump", "--with", "dipper.dump"]
    answer = call(monkeypatch, asked, cwd=folder)
    assert answer.status == 2
    assert "No dialect knows unknown.dump" in " ".join(answer.out.split())


def test_several_dumps_end_with_the_sum_of_all(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    shutil.copy(CORPUS / "faulty/dipper-after-repair.dump", folder / "bad.dump")
    dumps = ["dipper.dump", "bad.dump", "unknown.dump"]
    answer = check(monkeypatch, folder, *dumps)
    said = " ".join(answer.out.split())
    machine = json.loads(check(monkeypatch, folder, *dumps, form="json").out)
    found = [f for entry in machine["dumps"] for f in entry["findings"]]
    found += machine["fleet"]["findings"]
    errors = sum(finding["level"] == "error" for finding in found)
    assert errors
    last = said.rpartition("No dialect knows unknown.dump, so it was not audited. ")[2]
    assert last.startswith(f"In all: {errors} error")
    assert "In all" not in check(monkeypatch, folder, "bad.dump").out


def test_a_fleet_with_a_craft_that_was_named_and_not_audited_is_a_failure(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    assert call(monkeypatch, ["fleet", ".", "unknown.dump"], cwd=folder).status == 2
    assert call(monkeypatch, ["fleet", "."], cwd=folder).status == 2  # named as the others are
    for lost in LOST:
        (folder / lost).unlink()
    assert call(monkeypatch, ["fleet", "."], cwd=folder).status == 0


@pytest.mark.parametrize("form", ["sarif", "junit", "github", "markdown"])
def test_a_change_into_what_can_not_be_audited_is_a_failure_in_every_report_for_review(
    monkeypatch: pytest.MonkeyPatch, folder: Path, form: str
) -> None:
    asked = ["diff", "dipper.dump", "unknown.dump", "--format", form]
    answer = call(monkeypatch, asked, cwd=folder)
    assert answer.status == 2
    assert "not audited" in answer.out.lower()
    assert call(monkeypatch, [*asked[:2], "dipper.dump", *asked[3:]], cwd=folder).status == 0


def test_a_hook_audits_the_dumps_that_a_changed_sheet_or_settings_file_is_of(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    shutil.copy(CORPUS / "dipper.build.toml", folder)
    shutil.copy(CORPUS / "faulty/dipper-after-repair.dump", folder / "bad.dump")
    for dump in LOST:
        (folder / dump).unlink()
    for changed in ("cfgaudit.toml", "dipper.build.toml"):
        asked = ["check", "--around", "dipper.dump", changed, "--format", "json"]
        answer = call(monkeypatch, asked, cwd=folder)
        assert answer.status == 1
        told = {entry["file"] for entry in json.loads(answer.out)["dumps"]}
        assert told == {"dipper.dump", "bad.dump"}
    (folder / "none").mkdir()
    (folder / "none" / "cfgaudit.toml").touch()
    assert call(monkeypatch, ["check", "--around", "none/cfgaudit.toml"], cwd=folder).status == 0


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("second", "status"),
    [("dipper.dump", 0), ("faulty/dipper-after-repair.dump", 1), ("a dump of nobody", 2)],
)
def test_each_dump_of_a_file_counts_for_the_status(
    monkeypatch: pytest.MonkeyPatch, folder: Path, second: str, status: int, form: str
) -> None:
    first = (CORPUS / "dipper.dump").read_bytes()
    file = CORPUS / second
    rest = file.read_bytes() if file.is_file() else UNKNOWN.encode() * 3
    (folder / "two.dump").write_bytes(first + b"\n" + rest)
    answer = check(monkeypatch, folder, "two.dump", form=form)
    assert answer.status == status
    assert "two.dump#2" in answer.err


def test_what_is_hardly_a_text_is_asked_whether_it_is_a_dump_and_nobody_is_sent_to_teach_it(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    said = check(monkeypatch, folder, "binary.dump").out
    assert "Is it a dump?" in " ".join(said.split())
    assert "teach" not in said
    teach = ["dialect", "teach", "--answers", "dipper.dump"]
    for command in (["dialect", "new"], teach, ["upgrade", "dipper.dump"]):
        answer = call(monkeypatch, [*command, "binary.dump"], cwd=folder)
        assert (answer.status, "is it a dump?" in answer.err) == (2, True), command
    assert "teach" in check(monkeypatch, folder, "unknown.dump").out


@pytest.mark.parametrize(
    ("group", "said"),
    [
        ("failsafe", "what happens when the link is lost"),
        ("receiver", "the receiver"),
        ("battery", "the battery"),
    ],
)
def test_a_dump_without_all_of_what_a_first_flight_hangs_on_is_never_green(
    monkeypatch: pytest.MonkeyPatch, folder: Path, group: str, said: str
) -> None:
    (folder / "dipper.dump").write_bytes(_without(group))
    dialect = folder / "dialects" / "sedge.toml"
    assert check(monkeypatch, folder, "dipper.dump").status < 2  # its own values stand in for it
    dialect.write_text(dialect.read_text().partition("[factory.")[0])
    found = check(monkeypatch, folder, "dipper.dump")
    assert found.status == 2
    assert f"NOT READ, and a first flight hangs on it: {said}." in " ".join(found.out.split())


def test_a_part_of_a_dump_that_was_meant_is_audited_as_it_is(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    lines = _without("failsafe").splitlines(keepends=True)
    (folder / "dipper.dump").write_bytes(b"".join(lines[:40]))  # it states fewer than 60 settings
    found = check(monkeypatch, folder, "dipper.dump")
    assert found.status < 2
    assert "The craft was not audited" not in found.out


def _without(group: str) -> bytes:
    """A sound dump without the lines that state anything of a group of settings."""
    data = (CORPUS / "dipper.dump").read_bytes()
    dialects = [load_dialect(CORPUS / "dialects" / "sedge.toml")]
    stated = open_dump("dipper.dump", data, dialects).settings.stated
    out = {s.place.line for path, s in stated.items() if s.place and path.startswith(f"{group}.")}
    lines = data.splitlines(keepends=True)
    return b"".join(line for number, line in enumerate(lines, 1) if number not in out)
