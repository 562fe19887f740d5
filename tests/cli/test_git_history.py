"""git history as the user meets it: real commits, renamed files, branches, merges."""

import json
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, Answer, call
from tests.git.repositories import ALONE, Team, begun
from tests.reports.schemas import validate

DUMP = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
History = Callable[..., Answer]


@pytest.fixture
def team(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Team:
    for name, value in ALONE.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("HOME", str(tmp_path))
    made = begun(tmp_path / "craft")
    made.write("dipper.dump", DUMP)
    made.commit("Dipper as it flies")
    return made


@pytest.fixture
def history(team: Team, monkeypatch: pytest.MonkeyPatch) -> History:
    def ask(*arguments: str, cwd: Path | None = None) -> Answer:
        where = team.folder if cwd is None else cwd
        return call(monkeypatch, ["git", "history", *arguments], cwd=where)

    return ask


def steps(answer: Answer) -> list[dict[str, Any]]:
    assert answer.status == 0, answer.err
    said = json.loads(answer.out)
    validate(said, "git-history")
    found: list[dict[str, Any]] = said["steps"]
    return found


def told(answer: Answer) -> list[tuple[str, list[tuple[str, Any, Any]]]]:
    """For each commit its subject, and what it changed."""
    return [
        (step["subject"], [(c["path"], c["old"], c["new"]) for c in step["changes"]])
        for step in steps(answer)
    ]


def test_each_change_is_told_with_its_commit_author_and_date(team: Team, history: History) -> None:
    team.edit("dipper.dump", "cell_low = 350", "cell_low = 340")
    name = team.commit("Warn later", author="Marsh Tit")
    newest, first = steps(history("dipper.dump", "--format", "json"))
    assert newest["commit"] == name
    assert (newest["author"], newest["email"]) == ("Marsh Tit", "team@example.org")
    # 1,780,000,000 s = 20,601 days and 73,600 s after 1970: 2026-05-28, 20:26:40 UTC; the second
    # commit comes two hours later, and its zone is two hours ahead
    assert newest["date"] == "2026-05-29T00:26:40+02:00"
    (change,) = newest["changes"]
    assert (change["path"], change["old"], change["new"]) == ("battery.warn_cell", 3.5, 3.4)
    assert (first["began"], first["changes"]) == (True, [])


def test_the_findings_that_came_and_went_are_told(team: Team, history: History) -> None:
    team.edit("dipper.dump", "cell_low = 350", "cell_low = 320")
    team.commit("Too low")
    team.edit("dipper.dump", "cell_low = 320", "cell_low = 350")
    team.commit("Back again")
    back, low, _ = steps(history("dipper.dump", "--format", "json"))
    brought = {finding["rule"] for finding in low["findings_new"]}
    assert brought
    assert all(rule.startswith("battery/") for rule in brought)
    assert {finding["rule"] for finding in back["findings_cleared"]} == brought
    screen = history("dipper.dump").out
    assert screen.count("  brings  ") >= 1
    assert screen.count("  clears  ") >= 1


def test_a_finding_that_can_t_be_looked_for_any_more_is_only_perhaps_cleared(
    team: Team, history: History
) -> None:
    high = "[battery]\nchemistry = lipo\nwarn_cell = 4.5 V\nfull_cell = 4.2 V\n"
    for name, text in (
        ("lost", high.partition("warn")[0]),
        ("high", high),
        ("mended", high.replace("4.5", "3.5")),
    ):
        team.write("a.cfg", text)
        team.commit(name)
    team.write("b.cfg", high)
    team.commit("high again")
    team.write("b.cfg", high.partition("warn")[0])
    team.commit("lost")
    mended, lost = (history(name, "--limit", "1") for name in ("a.cfg", "b.cfg"))
    assert "  clears  error  battery/threshold-order" in mended.out
    assert "  perhaps clears  error  battery/threshold-order" in lost.out
    (step,) = steps(history("b.cfg", "--limit", "1", "--format", "json"))
    lacks = {finding["rule"]: finding["lacks"] for finding in step["findings_cleared"]}
    assert lacks["battery/threshold-order"] == ["battery.warn_cell", "battery.full_cell"]


def test_a_renamed_dump_is_followed(team: Team, history: History) -> None:
    team.edit("dipper.dump", "trickle = 550", "trickle = 560")
    team.commit("Idle up")
    (team.folder / "craft").mkdir()
    team.git("mv", "dipper.dump", "craft/ouzel.dump")
    team.edit("craft/ouzel.dump", "trickle = 560", "trickle = 570")
    team.commit("Another name, idle up")
    team.edit("craft/ouzel.dump", "trickle = 570", "trickle = 580")
    team.commit("Idle up again")
    found = told(history("ouzel.dump", "--format", "json", cwd=team.folder / "craft"))
    assert found == [
        ("Idle up again", [("esc.idle", 5.7, 5.8)]),
        ("Another name, idle up", [("esc.idle", 5.6, 5.7)]),
        ("Idle up", [("esc.idle", 5.5, 5.6)]),
        ("Dipper as it flies", []),
    ]


def test_another_craft_under_the_old_name_is_not_told(team: Team, history: History) -> None:
    team.git("mv", "dipper.dump", "ouzel.dump")
    team.commit("Another name")
    team.write("dipper.dump", (CORPUS / "sandpiper.dump").read_text(encoding="utf-8"))
    team.commit("A new craft")
    team.edit("dipper.dump", "sorties = 61", "sorties = 62")
    team.commit("It flew")
    subjects = [step["subject"] for step in steps(history("ouzel.dump", "--format", "json"))]
    assert subjects == ["Dipper as it flies"]


@contextmanager
def on_the_side(team: Team) -> Iterator[None]:
    """On a branch `side` of its own, and on main again afterwards."""
    team.git("checkout", "-q", "-b", "side")
    yield
    team.git("checkout", "-q", "main")


def test_a_change_on_a_branch_is_told_once_and_the_merge_tells_its_own(
    team: Team, history: History
) -> None:
    with on_the_side(team):
        team.edit("dipper.dump", "trickle = 550", "trickle = 560")
        team.commit("On the side", author="Marsh Tit")
    team.edit("dipper.dump", "\nnotice = 4\n", "\nnotice = 5\n")
    team.commit("On main")
    team.git("merge", "-q", "--no-commit", "--no-ff", "side")
    team.edit("dipper.dump", "stars = 8", "stars = 9")
    team.commit("Together")
    found = dict(told(history("dipper.dump", "--format", "json")))
    assert found["Together"] == [("position.min_satellites", 8, 9)]
    assert found["On the side"] == [("esc.idle", 5.5, 5.6)]
    assert found["On main"] == [("failsafe.detect_after", 0.4, 0.5)]


def test_a_merge_without_a_change_of_its_own_tells_nothing(team: Team, history: History) -> None:
    with on_the_side(team):
        team.edit("dipper.dump", "trickle = 550", "trickle = 560")
        team.commit("On the side")
    team.edit("dipper.dump", "\nnotice = 4\n", "\nnotice = 5\n")
    team.commit("On main")
    team.git("merge", "-q", "--no-edit", "side")
    subjects = [subject for subject, _ in told(history("dipper.dump", "--format", "json"))]
    assert sorted(subjects) == ["Dipper as it flies", "On main", "On the side"]


def test_a_path_narrows_it_down_to_where_the_setting_came_from(
    team: Team, history: History
) -> None:
    team.edit("dipper.dump", "trickle = 550", "trickle = 560")
    team.commit("Idle up")
    team.edit("dipper.dump", "cell_low = 350", "cell_low = 340")
    team.commit("Warn later")
    assert told(history("dipper.dump", "battery.*_cell", "--format", "json")) == [
        ("Warn later", [("battery.warn_cell", 3.5, 3.4)]),
        (
            "Dipper as it flies",
            [
                ("battery.full_cell", None, 4.2),
                ("battery.warn_cell", None, 3.5),
                ("battery.empty_cell", None, 3.3),
                ("battery.detect_cell", None, 4.3),
            ],
        ),
    ]


def test_what_moves_by_itself_is_counted_and_listed_on_request(
    team: Team, history: History
) -> None:
    team.edit("dipper.dump", "hours_flown = 37", "hours_flown = 38")
    team.commit("Flew")
    newest, _ = steps(history("dipper.dump", "--format", "json"))
    assert (newest["changes"], newest["left_out"]) == ([], 1)
    said = " ".join(history("dipper.dump").out.split())
    assert "1 change of what moves by itself (--everything)" in said
    assert told(history("dipper.dump", "--everything", "--format", "json"))[0] == (
        "Flew",
        [("craft/hours_flown", "37", "38")],
    )


def test_the_order_and_the_number_of_commits_are_as_asked(team: Team, history: History) -> None:
    for trickle in (560, 570, 580):
        team.edit("dipper.dump", f"trickle = {trickle - 10}", f"trickle = {trickle}")
        team.commit(f"Idle {trickle}")
    every = [subject for subject, _ in told(history("dipper.dump", "--format", "json"))]
    assert every == ["Idle 580", "Idle 570", "Idle 560", "Dipper as it flies"]
    back = told(history("dipper.dump", "--reverse", "--format", "json"))
    assert [subject for subject, _ in back] == every[::-1]
    two = told(history("dipper.dump", "--limit", "2", "--reverse", "--format", "json"))
    assert [subject for subject, _ in two] == ["Idle 570", "Idle 580"]


def test_a_removed_dump_still_has_its_history(team: Team, history: History) -> None:
    team.edit("dipper.dump", "trickle = 550", "trickle = 560")
    team.commit("Idle up")
    (team.folder / "dipper.dump").unlink()
    team.commit("Lost in the weir")
    newest, idle, _ = steps(history("dipper.dump", "--format", "json"))
    assert (newest["ended"], newest["changes"]) == (True, [])
    assert [change["path"] for change in idle["changes"]] == ["esc.idle"]


def test_names_and_messages_are_data_and_secrets_are_hidden(team: Team, history: History) -> None:
    team.edit("dipper.dump", "keeper = weir-team", "keeper = nobodys-business")
    team.commit("Red \x1b[31m herring", author="Evil \x1b]0;title\x07 Twin")
    for arguments in (
        ("--everything",),
        ("--everything", "--format", "json"),
        ("craft.owner", "--everything"),
    ):
        out = history("dipper.dump", *arguments).out
        assert "\x1b" not in out
        assert "\x07" not in out
        assert "weir-team" not in out
        assert "nobodys-business" not in out
        assert "craft.owner" in out
    assert "nobodys-business" in history("dipper.dump", "--everything", "--secrets").out


def test_any_bytes_in_any_version_are_read(team: Team, history: History) -> None:
    for name in sorted((CORPUS / "broken").iterdir()):
        (team.folder / "dipper.dump").write_bytes(name.read_bytes())
        team.commit(name.name)
    team.write("dipper.dump", DUMP)
    team.commit("Whole again")
    subjects = [step["subject"] for step in steps(history("dipper.dump", "--format", "json"))]
    assert subjects[0] == "Whole again"
    assert subjects[-1] == "Dipper as it flies"


def test_a_link_in_the_dumps_place_is_no_dump(team: Team, history: History) -> None:
    (team.folder / "dipper.dump").unlink()
    (team.folder / "dipper.dump").symlink_to("elsewhere.dump")
    team.commit("A link")
    assert steps(history("dipper.dump", "--format", "json"))[0]["ended"]


@pytest.mark.parametrize(
    ("dump", "why"),
    [("nothing.dump", "no commit touches nothing.dump"), ("../out.dump", "is outside of the")],
)
def test_a_dump_without_a_history_is_refused(history: History, dump: str, why: str) -> None:
    answer = history(dump)
    assert answer.status == 2
    assert why in answer.err or "no git repository" in answer.err


def test_a_folder_that_is_no_repository_is_refused(
    tmp_path: Path, history: History, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path))
    answer = history("dipper.dump", cwd=tmp_path)
    assert answer.status == 2
    assert "no git repository with a working tree is here" in answer.err


def test_the_users_own_settings_of_git_change_nothing(
    team: Team, history: History, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    team.edit("dipper.dump", "trickle = 550", "trickle = 560")
    team.commit("Idle up")
    plain = history("dipper.dump").out
    (tmp_path / "own").write_text(
        "[color]\nui = always\n[log]\nshowSignature = true\ndate = relative\nfollow = true\n"
        "[diff]\nrenames = false\nnoprefix = true\n[core]\nquotePath = true\n"
        "[format]\npretty = oneline\n",
        encoding="utf-8",
    )
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", str(tmp_path / "own"))
    assert history("dipper.dump").out == plain


@pytest.mark.parametrize("renamed_on", ["main", "side"])
def test_a_merge_of_a_rename_with_an_edit_loses_neither(
    team: Team, history: History, renamed_on: str
) -> None:
    other = {"main": "side", "side": "main"}[renamed_on]
    team.git("branch", "side")
    team.git("checkout", "-q", other)
    team.edit("dipper.dump", "trickle = 550", "trickle = 560")
    team.commit("Idle up")
    team.git("checkout", "-q", renamed_on)
    team.git("mv", "dipper.dump", "ouzel.dump")
    team.commit("Another name")
    team.git("checkout", "-q", "main")
    team.git("merge", "-q", "--no-edit", "side")
    team.edit("ouzel.dump", "trickle = 560", "trickle = 570")
    team.commit("Idle up again")
    found = told(history("ouzel.dump", "--format", "json"))
    assert [entry for entry in found if entry[1]] == [
        ("Idle up again", [("esc.idle", 5.6, 5.7)]),
        ("Idle up", [("esc.idle", 5.5, 5.6)]),
    ]
    assert found[-1] == ("Dipper as it flies", [])


def test_a_merge_that_renames_and_edits_has_both_names_behind_it(
    team: Team, history: History
) -> None:
    with on_the_side(team):
        team.edit("dipper.dump", "trickle = 550", "trickle = 560")
        team.commit("On the side")
    team.edit("dipper.dump", "stars = 8", "stars = 9")
    team.commit("On main")
    team.git("merge", "-q", "--no-edit", "--no-commit", "side")
    team.git("mv", "dipper.dump", "ouzel.dump")
    team.edit("ouzel.dump", "cell_low = 350", "cell_low = 340")
    team.commit("Together")
    assert dict(told(history("ouzel.dump", "--format", "json"))) == {
        "Together": [("battery.warn_cell", 3.5, 3.4)],
        "On main": [("position.min_satellites", 8, 9)],
        "On the side": [("esc.idle", 5.5, 5.6)],
        "Dipper as it flies": [],
    }


@pytest.fixture
def built(team: Team) -> Team:
    """Dipper with its build sheet."""
    shutil.copy(CORPUS / "dipper.build.toml", team.folder)
    settings = (team.folder / "cfgaudit.toml").read_text(encoding="utf-8")
    team.write("cfgaudit.toml", settings + '[craft]\nbuild = "dipper.build.toml"\n')
    team.commit("What was soldered")
    return team


def test_each_version_is_held_against_the_build_sheet_of_its_own_commit(
    built: Team, history: History
) -> None:
    # of 3.3 V there is room for 3312 mV / 38 mV/A = 87 A; the sheet says that 82 A are drawn
    built.edit("dipper.dump", "amps_slope = 264", "amps_slope = 380")
    built.commit("Another sensor")
    # and now 2900 / 38 = 76 A
    built.edit("dipper.dump", "amps_zero = -12", "amps_zero = 400")
    built.commit("Another zero")
    found = {
        step["subject"]: {finding["rule"] for finding in step["findings_new"]}
        for step in steps(history("dipper.dump", "--format", "json"))
    }
    assert "battery/current-saturates" in found["Another zero"]
    assert "battery/current-saturates" not in found["Another sensor"]


def test_a_commit_that_changes_the_build_sheet_alone_is_told_with_what_it_brings(
    built: Team, history: History
) -> None:
    sheet = (built.folder / "dipper.build.toml").read_text(encoding="utf-8")
    old = next(line for line in sheet.splitlines() if line.startswith("cells ="))
    assert sheet.count(old) == 1
    built.edit("dipper.build.toml", old, "cells = 6")
    name = built.commit("A larger pack")
    newest = steps(history("dipper.dump", "--format", "json"))[0]
    assert (newest["commit"], newest["of_sheet"], newest["changes"]) == (name, True, [])
    assert any(finding["rule"].startswith("battery/") for finding in newest["findings_new"])


def test_a_merge_of_one_side_s_dump_with_the_other_s_build_sheet_tells_what_that_brings(
    built: Team, history: History
) -> None:
    # of 3.3 V there is room for 3312 mV / 38 mV/A = 87 A, and for 125 A of the sensor before; the
    # sheet says 82 A on the one side and 98 A on the other
    with on_the_side(built):
        built.edit("dipper.build.toml", "peak_current = 82", "peak_current = 98")
        built.commit("Larger motors")
    built.edit("dipper.dump", "amps_slope = 264", "amps_slope = 380")
    built.commit("Another sensor")
    built.git("merge", "-q", "--no-edit", "side")
    found = steps(history("dipper.dump", "--format", "json"))
    brought = {step["subject"]: {f["rule"] for f in step["findings_new"]} for step in found}
    (merge,) = (subject for subject in brought if subject.startswith("Merge"))
    assert "battery/current-saturates" in brought[merge]
    assert all("battery/current-saturates" not in brought[s] for s in brought.keys() - {merge})
    (step,) = (step for step in found if step["subject"] == merge)
    assert (step["of_sheet"], step["changes"]) == (False, [])


def test_a_build_sheet_that_can_not_be_read_is_told_and_judges_nothing(
    built: Team, history: History
) -> None:
    good = (built.folder / "dipper.build.toml").read_text(encoding="utf-8")
    built.write("dipper.build.toml", good + "[[\n")
    built.commit("A slip")
    # of 3.3 V there is room for 3312 mV / 50 mV/A = 66 A; the sheet says that 82 A are drawn
    built.edit("dipper.dump", "amps_slope = 264", "amps_slope = 500")
    built.commit("Another sensor")
    built.write("dipper.build.toml", good)
    built.commit("Mended")
    answer = history("dipper.dump", "--format", "json")
    assert answer.status == 2
    found = steps(replace(answer, status=0))
    faults = {step["subject"]: step["sheet_fault"] for step in found}
    line = good.count("\n") + 1
    assert [s for s, fault in faults.items() if fault is None] == [
        "What was soldered",
        "Dipper as it flies",
    ]
    assert str(faults["A slip"]).startswith(f"dipper.build.toml:{line}:")
    assert faults["Mended"] == faults["A slip"]
    assert all(not step["findings_new"] + step["findings_cleared"] for step in found[:-2])
    told = history("dipper.dump", "--finding", "battery/current-saturates")
    assert (told.status, told.out.count("What it brings is not known")) == (2, 3)


def test_a_build_sheet_has_no_history_of_its_own(built: Team, history: History) -> None:
    answer = history("dipper.build.toml")
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.startswith("Error: dipper.build.toml is no dump.")


def test_another_craft_s_dump_is_told_above_what_differs(team: Team, history: History) -> None:
    team.edit("dipper.dump", "called = dipper", "called = ouzel")
    team.edit("dipper.dump", "RS-0412", "RS-0099")
    team.commit("A slip")
    said = 'Another craft\'s dump: craft.serial, craft.name "dipper" to "ouzel".'
    assert said in " ".join(history("dipper.dump").out.split())


def test_the_border_of_a_shallow_clone_is_blamed_for_nothing(
    team: Team, history: History, tmp_path: Path
) -> None:
    for trickle in (560, 570):
        team.edit("dipper.dump", f"trickle = {trickle - 10}", f"trickle = {trickle}")
        team.commit(f"Idle {trickle}")
    team.git("clone", "-q", "--depth", "2", team.folder.as_uri(), str(tmp_path / "clone"))
    newest, border = steps(history("dipper.dump", "--format", "json", cwd=tmp_path / "clone"))
    assert (newest["subject"], newest["border"]) == ("Idle 570", False)
    assert (border["subject"], border["border"], border["began"]) == ("Idle 560", True, False)
    assert (border["changes"], border["findings_new"]) == ([], [])
    assert "git fetch --unshallow" in history("dipper.dump", cwd=tmp_path / "clone").out


@pytest.mark.parametrize(
    ("path", "hint"),
    [
        ("battery.warn_cel", "did you mean battery.warn_cell"),
        ("motors.front_lft.spin", "did you mean motors.front_left.spin"),
        ("battery/threshold-order", "--finding battery/threshold-order"),
    ],
)
def test_a_path_that_no_version_has_is_an_error(history: History, path: str, hint: str) -> None:
    answer = history("dipper.dump", path)
    assert (answer.status, answer.out) == (2, "")
    assert hint in answer.err
    assert history("dipper.dump", "craft/hours_flown").status == 0
    assert history("dipper.dump", "battery").status == 0


def test_a_finding_is_followed_to_who_brought_and_who_cleared_it(
    team: Team, history: History
) -> None:
    rule = "battery/threshold-order"
    for low in (320, 350, 325):  # 3.3 V is the floor: 3.2 and 3.25 V would warn below it
        old = (team.folder / "dipper.dump").read_text(encoding="utf-8")
        at = old.index("cell_low = ")
        team.write("dipper.dump", old[:at] + f"cell_low = {low}" + old[at + 14 :])
        team.commit(f"Warn at {low}")
        team.edit("dipper.dump", "notice = 4", "notice = 5") if low == 320 else None
        team.commit("Notice later") if low == 320 else None
        team.git("mv", "dipper.dump", "ouzel.dump") if low == 350 else None
        team.git("commit", "-q", "-m", "Renamed") if low == 350 else None
        team.git("mv", "ouzel.dump", "dipper.dump") if low == 350 else None
    answer = history("dipper.dump", "--finding", rule, "--format", "json")
    assert json.loads(answer.out)["finding"] == rule
    found = [
        (step["subject"], len(step["findings_new"]), len(step["findings_cleared"]), step["changes"])
        for step in steps(answer)
    ]
    assert found == [
        ("Warn at 325", 1, 0, []), ("Warn at 350", 0, 1, []), ("Warn at 320", 1, 0, []),
    ]  # fmt: skip
    wrong = history("dipper.dump", "--finding", "battery/treshold-order")
    assert wrong.status == 2
    assert rule in wrong.err


def test_every_dump_of_a_file_has_a_history(team: Team, history: History) -> None:
    other = DUMP.replace("called = dipper", "called = ouzel")
    team.write("two.dump", DUMP + other)
    team.commit("Two in one")
    team.write("two.dump", DUMP + other.replace("cell_low = 350", "cell_low = 340"))
    team.commit("The second one warns later")
    newest, _ = steps(history("two.dump", "--format", "json"))
    (change,) = newest["changes"]
    assert (change["path"], change["dump"], change["new"]) == ("battery.warn_cell", 2, 3.4)
    assert "in dump 2 of the file:" in history("two.dump").out


def test_what_belongs_to_the_craft_its_secrets_and_comments_are_told(
    team: Team, history: History
) -> None:
    team.edit("dipper.dump", "magnets = 14", "magnets = 12")
    team.edit("dipper.dump", "keeper = weir-team", "keeper = M. Thorn")
    team.edit("dipper.dump", "cell_low = 350", "# CRACKED, do not fly: M. Thorn\ncell_low = 350")
    team.commit("Other motors")
    newest, _ = steps(history("dipper.dump", "--format", "json"))
    assert {(c["path"], c["old"], c["new"]) for c in newest["changes"]} == {
        ("motors.poles", 14, 12),
        ("craft.owner", "(hidden)", "(hidden)"),
    }
    (comment,) = newest["comments"]["added"]
    assert comment["about"] == "battery.warn_cell"
    assert comment["text"] == "CRACKED, do not fly: (hidden)"
    assert "CRACKED" in history("dipper.dump").out
