"""`cfgaudit fleet`: all the craft of a folder at once."""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, Answer, call
from tests.reports.schemas import validate

CRAFT = ["dipper", "goosander", "sandpiper", "wagtail"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The team's four dumps, their dialects, and a text that is no dump."""
    for name in CRAFT:
        shutil.copy(CORPUS / f"{name}.dump", tmp_path)
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    (tmp_path / "cfgaudit.toml").write_text('[cfgaudit]\ndialects = ["dialects"]\n', "utf-8")
    (tmp_path / "notes.txt").write_text("the weir job is put off\n", "utf-8")
    return tmp_path


def fleet(monkeypatch: pytest.MonkeyPatch, folder: Path, *more: str) -> Answer:
    return call(monkeypatch, ["fleet", *(more or (".",))], cwd=folder)


def machine(monkeypatch: pytest.MonkeyPatch, folder: Path, *more: str) -> dict[str, Any]:
    answer = fleet(monkeypatch, folder, *(more or (".",)), "--format", "json")
    said: dict[str, Any] = json.loads(answer.out)
    validate(said, "fleet")
    return said


def edit(folder: Path, name: str, old: str, new: str) -> None:
    text = (folder / name).read_text("utf-8")
    assert old in text
    (folder / name).write_text(text.replace(old, new, 1), "utf-8")


def test_each_craft_has_a_line_and_what_is_no_dump_is_passed_over(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    answer = fleet(monkeypatch, folder)
    assert answer.status == 0
    heads = [line.split()[0] for line in answer.out.splitlines()[1:5]]
    assert heads == ["dipper", "Goosander", "sandpiper", "Wagtail"]
    assert "2 files are passed over: no dialect knows them: cfgaudit.toml, notes.txt." in answer.out
    said = machine(monkeypatch, folder)
    assert said["craft"] == ["dipper", "Goosander", "sandpiper", "Wagtail 3"]
    assert said["passed_over"] == ["cfgaudit.toml", "notes.txt"]


def test_findings_are_told_by_rule_with_the_craft_that_have_them_and_decide_the_status(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    edit(folder, "dipper.dump", "cell_low = 350", "cell_low = 425")
    edit(folder, "wagtail.dump", "warn_at 350", "warn_at 425")
    answer = fleet(monkeypatch, folder)
    assert answer.status == 1
    lines = [line.split() for line in answer.out.splitlines()]
    assert ["ERROR", "battery/threshold-order", "dipper,", "Wagtail", "3"] in lines
    assert fleet(monkeypatch, folder, ".", "--fail-on", "never").status == 0
    last = " ".join(answer.out.rpartition("In all: ")[2].split())
    assert last.startswith("4 errors, ")  # out of order, and above what the cells bear, twice
    assert "Do not fly before the errors are cleared. A clean audit is no proof" in last


def test_the_last_line_tells_of_all_craft_and_of_what_is_waived(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    assert fleet(monkeypatch, folder).out.splitlines()[-1].startswith("In all: 12 notes. ")
    waiver = '[[waive]]\nrule = "filter/delay"\nbecause = "flown so"\nuntil = 2026-12-24\n'
    with (folder / "cfgaudit.toml").open("a", encoding="utf-8") as file:
        file.write(waiver)
    out = fleet(monkeypatch, folder, ".", "--today", "2026-11-25").out
    assert " ".join(out.rpartition("In all: ")[2].split()).endswith("Waived: 4.")


def test_a_file_that_was_named_and_no_dialect_knows_is_said_not_to_be_audited(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    alone = fleet(monkeypatch, folder, "notes.txt").out
    assert alone.endswith("No dialect knows notes.txt, so it was not audited.\n")
    beside = fleet(monkeypatch, folder, "notes.txt", "dipper.dump").out
    assert "No dialect knows notes.txt, so it was not audited.\nIn all: 4 notes." in beside


def test_one_that_stands_alone_is_told_with_what_the_others_have(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    def odd() -> dict[str, dict[str, Any]]:
        return {row["path"]: row for row in machine(monkeypatch, folder)["odd"]}

    assert "battery.cells" not in odd()
    edit(folder, "goosander.dump", "cells,4,", "cells,3,")
    row = odd()["battery.cells"]
    assert row["odd"] == 1
    assert row["values"] == [4, 3, 4, 4]
    screen = fleet(monkeypatch, folder).out
    alone = screen.partition("Goosander alone has")[2].partition("alone has")[0]
    assert ["battery.cells", "3;", "the", "others", "4"] in [
        ln.split() for ln in alone.splitlines()
    ]


def test_a_craft_that_lacks_a_setting_is_neither_odd_nor_in_the_way(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    before = machine(monkeypatch, folder)["odd"]
    shutil.copy(CORPUS / "wagtail-esc.dump", folder)
    after = machine(monkeypatch, folder)
    assert after["craft"][-2:] == ["wagtail-esc.dump", "Wagtail 3"]
    assert {row["path"] for row in after["odd"]} == {row["path"] for row in before}


def test_a_further_dump_of_a_craft_is_no_craft_of_its_own(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    shutil.copy(CORPUS / "wagtail-esc.dump", folder)
    said = machine(monkeypatch, folder, ".", "--with", "wagtail.dump=wagtail-esc.dump")
    assert said["craft"] == ["dipper", "Goosander", "sandpiper", "Wagtail 3"]
    assert said["dumps"][3]["with"] == ["wagtail-esc.dump"]


def test_pictures_are_listed_by_frequency_with_the_nearest_other(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    """Stated in the dumps: Wagtail 5731, Sandpiper 5755, Dipper 5815, Goosander 5848 MHz."""
    video = machine(monkeypatch, folder)["video"]
    assert [(one["craft"], one["mhz"], one["nearest"], one["apart_mhz"]) for one in video] == [
        (3, 5731, 2, 24),
        (2, 5755, 3, 24),
        (0, 5815, 1, 33),
        (1, 5848, 0, 33),
    ]
    assert "33 MHz from dipper, the nearest" in fleet(monkeypatch, folder).out


def test_what_the_craft_do_to_one_another_is_told(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "twin.dump").write_text(
        (folder / "dipper.dump").read_text("utf-8").replace("called = dipper", "called = ouzel"),
        "utf-8",
    )
    answer = fleet(monkeypatch, folder)
    assert answer.status == 1
    assert "fleet/same-frequency" in answer.out.partition("Together")[2]


def test_only_files_of_the_names_asked_for_are_looked_at(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    said = machine(monkeypatch, folder, ".", "--match", "*per.dump", "--match", "wag*")
    assert said["craft"] == ["dipper", "sandpiper", "Wagtail 3"]
    assert said["passed_over"] == []


def test_a_dump_may_be_named_in_a_folders_place_and_none_counts_twice(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    said = machine(monkeypatch, folder, "dipper.dump", "notes.txt", ".")
    assert said["craft"][:2] == ["dipper", "notes.txt"]
    assert sorted(said["craft"]).count("dipper") == 1


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16-le", "utf-16-be"])
def test_a_file_is_known_by_its_top_and_a_known_one_is_read_whole(
    monkeypatch: pytest.MonkeyPatch, folder: Path, encoding: str
) -> None:
    monkeypatch.setattr("cfgaudit.cli.fleet._TOP", 12_000)
    before = machine(monkeypatch, folder, "dipper.dump")["dumps"][0]
    text = (folder / "dipper.dump").read_text("utf-8")
    mark = b"" if encoding == "utf-8" else "\ufeff".encode(encoding)
    (folder / "dipper.dump").write_bytes(mark + text.encode(encoding))
    (folder / "photo.jpg").write_bytes(bytes(range(255, 0, -1)) * 100)
    said = machine(monkeypatch, folder)
    assert "photo.jpg" in said["passed_over"]
    assert said["dumps"][0]["settings"] == before["settings"]


def test_a_dialect_that_is_named_knows_what_it_reads_settings_of(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "cfgaudit.toml").unlink()
    assert fleet(monkeypatch, folder).status == 2
    said = machine(monkeypatch, folder, ".", "--dialect", "dialects/sedge.toml")
    assert said["craft"][0] == "dipper"
    assert {"dipper", "sandpiper"} <= set(said["craft"])
    assert "notes.txt" in said["passed_over"]


def test_secrets_stay_hidden(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    for form in ("terminal", "json"):
        assert "weir-team" not in fleet(monkeypatch, folder, ".", "--format", form).out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["dialects"], "no dialect knows any file in dialects"),
        (["nowhere"], "nowhere can't be read: no such file or directory"),
        ([".", "--match", "*.bin"], "no dialect knows any file in ."),
        ([".", "--with", "esc.dump"], "whose dump is esc.dump?"),
    ],
)
def test_what_can_t_be_done_is_said_in_a_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path, arguments: list[str], says: str
) -> None:
    answer = fleet(monkeypatch, folder, *arguments)
    assert answer.status == 2
    assert answer.out == ""
    assert says in answer.err
    assert "Traceback" not in answer.err


def test_a_file_that_is_named_as_the_dumps_are_and_not_audited_is_never_green(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    assert fleet(monkeypatch, folder).status == 0
    (folder / "heron.dump").write_text("MOT 1 dir=L\nMOT 2 dir=R\n", "utf-8")
    answer = fleet(monkeypatch, folder)
    assert answer.status == 2
    assert "was not audited: heron.dump." in " ".join(answer.out.split())
    assert machine(monkeypatch, folder)["not_audited"] == ["heron.dump"]
