"""The bench page in a real browser: the list to work through, dialects it is taught or given."""

import json
import shutil
import time
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser

from cfgaudit.settings import Settings
from cfgaudit.teach.asking import Question, answer_from
from cfgaudit.work.record import read_record
from tests.cli.calling import CORPUS, call
from tests.reports.bench_pages import (
    DIPPER,
    FAULTY,
    BenchPage,
    ShownPage,
    page_for,
)
from tests.teach.measure import Case, cases, plain, reader_of


def test_the_list_is_recorded_saved_and_gone_on_with_in_another_page(
    chromium: Browser, bench: BenchPage, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    made = ShownPage(chromium, bench.file)
    made.give(DIPPER)
    made.page.get_by_role("button", name="It is so (propellers-off)").click()
    made.page.locator("[data-step=propellers-off].done").wait_for()
    made.page.get_by_role("button", name="It is not so (joints)").click()
    made.page.locator("[data-step=joints].failed").wait_for()
    record = tmp_path / "dipper.bench.toml"
    record.write_bytes(made.saved("Save the record"))
    made.page.close()
    found = [(entry.step, entry.outcome.value) for entry in read_record(record.read_text())]
    assert found == [("propellers-off", "done"), ("joints", "failed")]
    again = ShownPage(chromium, bench.file)
    again.give(DIPPER)
    again.give(record)
    assert again.page.locator("[data-step=joints].failed").count() == 1
    again.page.get_by_role("button", name="Take back (joints)").click()
    again.page.locator("[data-step=joints].open").wait_for()
    again.page.close()
    # the command line reads the same record to the same end
    work = tmp_path / "work"
    shutil.copytree(bench.folder, work)
    shutil.copy(record, work)
    said = call(
        monkeypatch, ["bench", "--format", "json", "dipper.build.toml", "dipper.dump"], cwd=work
    )
    assert '"failed": 1' in said.out


# What comes before the first step that asks for a value, the voltage of a switched rail.
OPENING: Final = (
    "propellers-off", "joints", "antenna-video", "antenna-receiver", "bridge-video", "polarity",
    "continuity", "motor-screws", "bells", "propeller-balance",
)  # fmt: skip


def test_a_measured_value_is_asked_for_and_judged(
    chromium: Browser, bench: BenchPage, tmp_path: Path
) -> None:
    record = tmp_path / "dipper.bench.toml"
    with pytest.MonkeyPatch.context() as patch:
        work = tmp_path / "work"
        shutil.copytree(bench.folder, work)
        for step in OPENING:
            done = ["bench", "dipper.build.toml", "dipper.dump", "--done", step]
            assert call(patch, done, cwd=work).status == 0
        shutil.copy(work / record.name, record)
    made = ShownPage(chromium, bench.file)
    made.give(DIPPER)
    made.give(record)
    asks = made.page.locator(".bench li.open", has=made.page.locator("input[type=text]")).first
    asks.locator("input").fill("no idea")
    asks.get_by_role("button", name="Record").click()
    asks.get_by_role("alert").filter(has_text="no idea").wait_for()
    asks.locator("input").fill("-99999")
    id_of = asks.get_attribute("data-step")
    asks.get_by_role("button", name="Record").click()
    made.page.locator(f"[data-step='{id_of}'].failed").wait_for()
    made.page.close()


def test_a_dropped_dialect_and_sheet_are_used(
    chromium: Browser, tmp_path: Path, bench: BenchPage, shared: Path
) -> None:
    """A page made for an empty folder learns both from what it is given."""
    (tmp_path / "empty").mkdir()
    page = page_for(tmp_path / "empty", tmp_path / "bench.html", shared)
    with pytest.MonkeyPatch.context() as patch:
        wanted = call(patch, ["check", "--format", "json", FAULTY.name], cwd=bench.folder).out
    made = ShownPage(chromium, page)
    made.give(FAULTY)
    assert "No dialect" in made.text("#b-report")
    made.give(CORPUS / "dialects" / "sedge.toml")
    assert "sedge 2.4.1" in made.text("#b-report")
    assert "No build sheet" in made.text("#b-report")
    made.give(CORPUS / "dipper.build.toml")
    assert made.saved("Save the audit as JSON").decode() == wanted
    made.page.close()


TAUGHT: Final = [case for case in cases() if case.name in ("quillwort", "starwort")]


def _answered(made: ShownPage, case: Case, known: Settings) -> None:
    """One question of the page answered, as a builder would who knows some settings."""
    form = made.page.locator("form.question")
    path, line = form.get_attribute("data-path") or "", form.get_attribute("data-line")
    number = int(form.locator("h3").inner_text().split()[1].rstrip(","))
    if line:
        said = reader_of(case, plain(case.truth))(int(line))
        told = "; ".join(f"{answer.path} = {answer.value}" for answer in said)
        label = f"What does line {line} say?"
    else:
        told = answer_from(known, Question(path, "", "", (), 0, 0)).value
        label = f"{path}:"
    if told:
        made.page.get_by_label(label).fill(told)
        made.page.get_by_role("button", name="See what that makes of it").click()
        made.page.get_by_role("button", name="That is right").click()
    else:
        made.page.get_by_role("button", name="I don't know it").click()
    made.page.locator(".question h3", has_text=f"Question {number + 1},").wait_for()


@pytest.mark.parametrize("case", TAUGHT, ids=lambda case: case.name)
def test_a_dump_that_no_dialect_knows_is_taught_audited_mended_and_its_dialect_saved(
    chromium: Browser, bench: BenchPage, case: Case, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Check value: the command line, with the dialect that the page saved."""
    dump = case.dump.name
    shutil.copy(case.dump, tmp_path)
    made = ShownPage(chromium, bench.file)
    made.give(tmp_path / dump)
    assert "was not audited" in made.text("#b-report .verdict")
    from_here = time.monotonic()
    made.page.get_by_role("button", name="Ask me what is missing").click()
    made.page.locator("form.question").wait_for()
    print(f"\nfirst question after {time.monotonic() - from_here:.2f} s")
    could = [int(made.page.locator(".running progress").get_attribute("value") or 0)]
    from_here = time.monotonic()
    for _ in range(10):
        _answered(made, case, plain(case.known))
        could.append(int(made.page.locator(".running progress").get_attribute("value") or 0))
    print(f"ten answers in {time.monotonic() - from_here:.2f} s, rules that can run: {could}")
    assert min(could) == could[0]  # a role may bring rules that want more
    assert could[-1] > could[0] or could[0] > 140  # nearly all of them
    made.page.get_by_role("button", name="Check the dump with it").click()
    made.answered()
    (tmp_path / "own.toml").write_bytes(made.saved("Save the dialect"))
    (tmp_path / "cfgaudit.toml").write_text(
        '[cfgaudit]\ndialects = ["own.toml"]\n', encoding="utf-8"
    )
    audit = made.saved("Save the audit as JSON").decode("utf-8")
    said = call(monkeypatch, ["check", "--format", "json", dump], cwd=tmp_path)
    assert json.loads(said.out)["dumps"][0]["dialect"] == case.name
    assert audit == said.out
    mend = call(monkeypatch, ["mend", "--format", "json", dump], cwd=tmp_path)
    typed = [line for file in json.loads(mend.out)["files"] for line in file["change"]["lines"]]
    copied = made.page.locator("#b-mends .copied")
    assert typed == (copied.first.inner_text().split("\n") if copied.count() else [])
    assert bool(typed) is (case.name == "starwort")  # nothing is wrong with the other one
    assert made.console == []
    assert made.asked == [bench.file.as_uri()]
    made.page.close()
