"""upgrade as the user meets it: screens, machine output, lines, the status."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cfgaudit.work.upgrade import Fate
from tests.cli.calling import CORPUS, Answer, call
from tests.reports.schemas import validate

Upgrade = Callable[..., Answer]
DIPPER = ("upgrades/dipper-2.3.0.dump", "dipper.dump")
BOARDS = ("--old-factory", "factory/sedge-2.3.0.dump", "--new-factory", "factory/sedge-2.4.1.dump")
PAIRS = [
    DIPPER,
    ("upgrades/sandpiper-2.3.0.dump", "sandpiper.dump"),
    ("upgrades/goosander-1.11.0.dump", "goosander.dump"),
    ("upgrades/wagtail-6.9.0.dump", "wagtail.dump"),
    ("dipper.dump", "wagtail.dump"),
]


@pytest.fixture
def upgrade(monkeypatch: pytest.MonkeyPatch) -> Upgrade:
    return lambda *arguments: call(monkeypatch, ["upgrade", *arguments])


def machine(answer: Answer) -> dict[str, Any]:
    assert answer.err == ""
    said: dict[str, Any] = json.loads(answer.out)
    validate(said, "upgrade")
    return said


@pytest.mark.parametrize(("old", "new"), PAIRS)
@pytest.mark.parametrize("more", [(), ("--everything",), ("--everything", "--secrets")])
def test_the_machine_output_keeps_its_schema_and_counts_what_it_lists(
    upgrade: Upgrade, old: str, new: str, more: tuple[str, ...]
) -> None:
    said = machine(upgrade(old, new, "--format", "json", *more))
    assert sum(said["counts"].values()) == len(said["settings"]) + said["left_out"]
    assert said["left_out"] == 0 or "--everything" not in more
    order = [fate.value for fate in Fate]
    ranks = [order.index(entry["fate"]) for entry in said["settings"]]
    assert ranks == sorted(ranks)
    names = [(entry["raw"], entry["path"]) for entry in said["settings"]]
    assert len(names) == len(set(names))


def test_the_screen_begins_with_what_was_lost_and_ends_with_a_summary(upgrade: Upgrade) -> None:
    out = upgrade(*DIPPER).out
    lines = out.splitlines()
    titles = [line for line in lines if line[:1].isupper()]
    assert titles[0] == "Lost: yours before, the factory's now"
    at = lines.index(titles[0])
    assert lines[at + 1 : at + 3] == [
        "  safety    failsafe.detect_after  0.3 s to 0.4 s",
        "  power     battery.empty_cell  3.4 V to 3.3 V",
    ]
    assert "    [lost]\n    notice = 3\n    [pack]\n    cell_dry = 340\n" in out
    assert "            it was called cell_murmur\n" in out
    assert max(len(line) for line in lines) <= 80
    assert " ".join(lines[-2:]).startswith("2 lost, 4 held while it moved, 5 said otherwise")


def test_lines_alone_can_be_pasted_and_bring_back_what_was_lost(
    upgrade: Upgrade, tmp_path: Path
) -> None:
    lines = upgrade(*DIPPER, "--lines").out
    assert lines == "[lost]\nnotice = 3\n[pack]\ncell_dry = 340\n"
    text = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
    end = "-- the reeds are quiet --"
    assert text.count(end) == 1
    pasted = tmp_path / "pasted.dump"
    pasted.write_text(text.replace(end, f"{lines}{end}"), encoding="utf-8")
    dialect = str(CORPUS / "dialects/sedge.toml")
    again = machine(upgrade(DIPPER[0], str(pasted), "--dialect", dialect, "--format", "json"))
    assert again["counts"]["lost"] == 0
    nothing = {"lines": "", "saves": True, "brings": [], "refused": []}
    assert again["bring_back"] == nothing


def test_the_status_tells_of_losses_only_when_asked(upgrade: Upgrade) -> None:
    assert upgrade(*DIPPER).status == 0
    assert upgrade(*DIPPER, "--exit-code").status == 1
    assert upgrade("dipper.dump", "dipper.dump", "--exit-code").status == 0


def test_what_may_be_lost_counts_as_lost_for_the_status(upgrade: Upgrade, tmp_path: Path) -> None:
    for name, idle in (("old", "5"), ("new", "6")):
        (tmp_path / f"{name}.cfg").write_text(f"esc.idle = {idle} %\n", encoding="utf-8")
    answer = upgrade(str(tmp_path / "old.cfg"), str(tmp_path / "new.cfg"), "--exit-code")
    assert answer.status == 1
    out = " ".join(answer.out.split())
    assert "No factory value of an unknown firmware is known" in out
    assert "Perhaps lost: no factory value is known that would tell" in out
    assert "esc.idle = 5 %" in answer.out


def test_the_dumps_of_untouched_boards_are_named(upgrade: Upgrade) -> None:
    out = upgrade(*DIPPER, *BOARDS).out
    assert "of sedge 2.3.0, from factory/sedge-2.3.0.dump" in " ".join(out.split())
    swapped = " ".join(upgrade(*DIPPER, "--new-factory", "factory/osier-7.2.0.dump").out.split())
    assert "Note factory/osier-7.2.0.dump is of the firmware osier 7.2.0, but" in swapped


def test_a_lost_secret_is_neither_shown_nor_written_unless_asked_for(
    upgrade: Upgrade, tmp_path: Path
) -> None:
    text = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
    new = tmp_path / "new.dump"
    new.write_text(text.replace("keeper = weir-team", "keeper = nobody"), encoding="utf-8")
    factory = tmp_path / "factory.dump"
    factory.write_text(
        "# sedge 2.4.1 on HB-7 rev C, built 2026-03-18\n[craft]\nkeeper = nobody\n", "utf-8"
    )
    dialect = ("--dialect", str(CORPUS / "dialects/sedge.toml"))
    boards = ("--old-factory", str(factory), "--new-factory", str(factory))
    asked = ("dipper.dump", str(new), *dialect, *boards)
    out = upgrade(*asked).out
    assert "craft.owner" in out
    assert "weir-team" not in out
    assert "weir-team" not in upgrade(*asked, "--lines").out
    assert "weir-team" not in upgrade(*asked, "--format", "json").out
    assert "keeper = weir-team" in upgrade(*asked, "--lines", "--secrets").out


def test_the_findings_that_the_change_brings_and_clears_are_told(
    upgrade: Upgrade, tmp_path: Path
) -> None:
    plain = (CORPUS / "dipper.cfg").read_text(encoding="utf-8")
    old = "battery.warn_cell = 3.5 V"
    (tmp_path / "new.cfg").write_text(plain.replace(old, "battery.warn_cell = 99 V"), "utf-8")
    new = str(tmp_path / "new.cfg")
    there = machine(upgrade("dipper.cfg", new, "--format", "json"))
    assert "dump/value-impossible" in [f["rule"] for f in there["findings_new"]]
    assert "this change clears" in upgrade(new, "dipper.cfg").out
