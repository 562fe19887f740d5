"""The merge driver, called by the real git in everyday work."""

import re
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call, run
from tests.cli.repository import PROGRAM, Repo, new_repo

LOW, DRY = "cell_low = 350", "cell_dry = 330"
# git tells the names of the sides from 2.44 on
MARKED = re.compile(
    r"^<<<<<<< (ours|HEAD)\ncell_low = 345\n=======\ncell_low = 340\n>>>>>>> (theirs|other)\n", re.M
)


@pytest.fixture
def repo(tmp_path: Path) -> Repo:
    """Main has another low call than the branch side, whose line is a neighbour's."""
    made = new_repo(tmp_path)
    made.git("checkout", "-q", "-b", "side")
    made.replace((DRY, "cell_dry = 320"))
    made.commit("drier")
    made.git("checkout", "-q", "main")
    made.replace((LOW, "cell_low = 345"))
    made.commit("lower")
    return made


def clash(repo: Repo) -> None:
    """A branch that has changed the low call as well."""
    repo.git("checkout", "-q", "-b", "other", "main~1")
    repo.replace((LOW, "cell_low = 340"))
    repo.commit("lower still")
    repo.git("checkout", "-q", "main")


def is_merged(repo: Repo) -> bool:
    return "cell_low = 345\ncell_dry = 320\n" in repo.read() and "<<<" not in repo.read()


def test_without_us_git_calls_neighbouring_lines_a_conflict(repo: Repo) -> None:
    repo.ours("uninstall")
    repo.git("merge", "-q", "side", status=1)


def test_merge_and_its_undoing(repo: Repo) -> None:
    before = repo.read()
    repo.git("merge", "-q", "side")
    assert is_merged(repo)
    repo.git("reset", "-q", "--hard", "HEAD~1")
    assert repo.read() == before


def test_rebase(repo: Repo) -> None:
    repo.git("rebase", "-q", "main", "side")
    assert is_merged(repo)


def test_cherry_pick(repo: Repo) -> None:
    repo.git("cherry-pick", "side")
    assert is_merged(repo)


def test_revert_of_a_neighbours_change(repo: Repo) -> None:
    repo.git("merge", "-q", "side")
    repo.git("revert", "--no-edit", "HEAD~1")
    assert LOW in repo.read()
    assert "cell_dry = 320" in repo.read()


def test_stash_pop(repo: Repo) -> None:
    repo.replace(("cells = 4", "cells = 3"))
    repo.git("stash", "-q")
    repo.git("merge", "-q", "side")
    repo.git("stash", "pop", "-q")
    assert "cells = 3\n" in repo.read()
    assert is_merged(repo)


def test_a_worktree_and_a_clone(repo: Repo) -> None:
    repo.git("worktree", "add", "-q", "../pool", "side")
    pool = Repo(repo.top.parent / "pool")
    pool.git("merge", "-q", "main")
    assert is_merged(pool)
    repo.git("clone", "-q", str(repo.top), "../copy")
    copy = Repo(repo.top.parent / "copy")
    assert copy.ours("install", "--program", PROGRAM).out.count("set ") == 5
    copy.git("merge", "-q", "origin/side~0")
    assert is_merged(copy)


def test_a_conflict_stops_the_merge_is_marked_and_can_be_resolved(repo: Repo) -> None:
    clash(repo)
    answer = repo.git("merge", "other", status=1)
    assert "craft.dump: both sides set differently:\n  battery.warn_cell\n" in answer.err
    assert MARKED.search(repo.read())
    assert repo.read().count("<<<<<<<") == 1
    assert repo.git("diff", "--name-only", "--diff-filter=U").out == "craft.dump\n"
    told = run("check", "craft.dump", cwd=repo.top, env=repo.env)
    assert "merge" in told.out
    repo.git("checkout", "--ours", "craft.dump")
    repo.git("add", "craft.dump")
    repo.git("commit", "-q", "--no-edit")
    assert "cell_low = 345\n" in repo.read()


def test_a_conflict_in_a_rebase_can_be_resolved_and_goes_on(repo: Repo) -> None:
    clash(repo)
    repo.git("rebase", "main", "other", status=1)
    assert "<<<<<<<" in repo.read()
    repo.git("checkout", "--theirs", "craft.dump")
    repo.git("add", "craft.dump")
    repo.git("rebase", "--continue")
    assert "cell_low = 340\n" in repo.read()


def test_the_users_conflict_style_shows_the_base(repo: Repo) -> None:
    clash(repo)
    repo.git("config", "merge.conflictStyle", "diff3")
    repo.git("merge", "other", status=1)
    assert "\n||||||| base\ncell_low = 350\n=======\n" in repo.read()


def test_mergetool_is_offered_the_file(repo: Repo) -> None:
    clash(repo)
    repo.git("merge", "other", status=1)
    repo.git("config", "mergetool.pick.cmd", 'cp "$REMOTE" "$MERGED"')
    repo.git("config", "mergetool.pick.trustExitCode", "true")
    repo.git("mergetool", "--tool=pick", "--no-prompt")
    assert "cell_low = 340\n" in repo.read()
    assert repo.git("ls-files", "-u").out == ""


def test_both_sides_added_the_file(repo: Repo) -> None:
    head, *lines = ["# sedge 2.4.1 on HB-7 rev C, built 2026-03-18", "[pack]", "cells = 4"]
    repo.write("\n".join([head, *lines, "cell_low = 350", ""]), "new.dump")
    repo.commit("one")
    repo.git("checkout", "-q", "side")
    repo.write("\n".join([head, *lines, "cell_dry = 330", ""]), "new.dump")
    repo.commit("two")
    repo.git("merge", "-q", "main")
    assert sorted(repo.read("new.dump").splitlines()[2:]) == [DRY, LOW, "cells = 4"]


def test_a_file_renamed_on_one_side_is_merged_under_its_new_name(repo: Repo) -> None:
    repo.git("mv", "craft.dump", "dipper.dump")
    repo.commit("it has a name")
    repo.git("merge", "-q", "side")
    assert "cell_low = 345\ncell_dry = 320\n" in repo.read("dipper.dump")


def test_what_the_merged_craft_brings_is_told(tmp_path: Path) -> None:
    repo = new_repo(tmp_path)
    repo.git("checkout", "-q", "-b", "side")
    repo.replace((DRY, "cell_dry = 345"))
    repo.commit("a floor just under the call")
    repo.git("checkout", "-q", "main")
    repo.replace((LOW, "cell_low = 340"))
    repo.commit("a later call")
    # each is in order alone: 3.45 under 3.50, 3.30 under 3.40; together the floor is above the call
    answer = repo.git("merge", "side")
    assert "merged, this craft has what neither side had:" in answer.err
    assert "battery/" in answer.err
    assert "cfgaudit check craft.dump" in answer.err


def test_what_the_merged_craft_brings_is_told_with_a_conflict_elsewhere(tmp_path: Path) -> None:
    repo = new_repo(tmp_path)
    repo.git("checkout", "-q", "-b", "side")
    repo.replace((DRY, "cell_dry = 345"), ("stars = 8", "stars = 9"))
    repo.commit("a floor just under the call")
    repo.git("checkout", "-q", "main")
    repo.replace((LOW, "cell_low = 340"), ("stars = 8", "stars = 7"))
    repo.commit("a later call")
    answer = repo.git("merge", "side", status=1)
    assert "position.min_satellites" in answer.err
    assert "merged, this craft has what neither side had:" in answer.err
    assert "battery/threshold-order" in answer.err


def test_the_merged_craft_is_held_against_its_build_sheet(tmp_path: Path) -> None:
    repo = new_repo(tmp_path)
    repo.write((CORPUS / "dipper.build.toml").read_text("utf-8"), "dipper.build.toml")
    craft = '\n[craft.dipper]\nbuild = "dipper.build.toml"\n'
    repo.write(repo.read("cfgaudit.toml") + craft, "cfgaudit.toml")
    repo.commit("what was soldered")
    repo.git("checkout", "-q", "-b", "side")
    repo.replace(("amps_zero = -12", "amps_zero = 400"))
    repo.commit("another zero")
    repo.git("checkout", "-q", "main")
    repo.replace(("amps_slope = 264", "amps_slope = 380"))
    repo.commit("another sensor")
    # of 3.3 V the one leaves 3312 mV / 38 mV/A = 87 A, the other 2900 / 26.4 = 110 A, and both
    # together 2900 / 38 = 76 A, where the sheet says that 82 A are drawn
    answer = repo.git("merge", "side")
    assert "WARNING  battery/current-saturates" in answer.err


@pytest.mark.parametrize(
    "program", ["/nowhere/cfgaudit", "false", "sh -c 'exit 3'", "sh -c 'kill -9 $$'"]
)
def test_a_program_that_fails_leaves_git_to_merge_the_text(repo: Repo, program: str) -> None:
    clash(repo)
    repo.ours("install", "--program", program)
    repo.git("merge", "other", status=1)
    assert "<<<<<<<" in repo.read()
    assert "cell_low = 345\n" in repo.read()
    assert "cell_low = 340\n" in repo.read()


def test_a_program_that_fails_leaves_git_to_merge_what_is_free_of_conflict(repo: Repo) -> None:
    repo.git("checkout", "-q", "-b", "far", "main~1")
    repo.replace(("speed = 576", "speed = 1152"))
    repo.commit("quicker")
    repo.git("checkout", "-q", "main")
    repo.ours("install", "--program", "/nowhere/cfgaudit")
    repo.git("merge", "-q", "far")
    assert "speed = 576\n" not in repo.read()
    assert "cell_low = 345\n" in repo.read()


@pytest.mark.parametrize("broken", ["cfgaudit.toml", "dialects/sedge.toml"])
def test_broken_settings_of_a_folder_do_not_stop_a_merge(repo: Repo, broken: str) -> None:
    clash(repo)
    repo.write("[cfgaudit\n", broken)
    answer = repo.git("merge", "other", status=1)
    assert "is merged as text: " in answer.err
    assert f"{broken}:" in answer.err
    assert "report" not in answer.err  # it is no fault of ours
    assert "<<<<<<<" in repo.read()


@pytest.mark.parametrize("size", [1, 2, 9])
def test_a_conflict_is_marked_once_whatever_the_size_of_its_marks(repo: Repo, size: int) -> None:
    clash(repo)
    repo.write(f"*.dump conflict-marker-size={size}\n", ".git/info/attributes")
    repo.git("merge", "other", status=1)
    assert len(re.findall(f"^{'<' * size} ", repo.read(), re.M)) == 1
    was = (CORPUS / "dipper.dump").read_text("utf-8")
    assert len(repo.read().splitlines()) == len(was.splitlines()) + 4


@pytest.mark.parametrize(
    ("start", "end"), [("\ufeff", "\n"), ("", "\r"), ("", "\r\n")], ids=["mark first", "cr", "crlf"]
)
def test_a_conflict_is_marked_once_whatever_stands_before_it(
    repo: Repo, start: str, end: str
) -> None:
    def firmware(version: str) -> None:
        head = f"# sedge {version} on HB-7 rev C, built 2026-03-18"
        repo.write(start + end.join([head, "[pack]", "cells = 4", LOW, ""]), "new.dump")
        repo.commit(version)

    firmware("2.4.1")
    repo.git("checkout", "-q", "-b", "newer")
    firmware("2.4.3")
    repo.git("checkout", "-q", "main")
    firmware("2.4.2")
    answer = repo.git("merge", "newer", status=1)
    assert "firmware.version" in answer.err
    assert repo.read("new.dump").startswith(f"{start}<<<<<<< ")
    assert repo.read("new.dump").count("<<<<<<<") == 1


def test_old_marks_in_the_file_do_not_pass_for_those_of_a_failed_merge(repo: Repo) -> None:
    repo.write("<<<<<<< left\nbehind\n", "left.dump")
    repo.commit("left behind")
    repo.git("checkout", "-q", "-b", "worse")
    repo.write("<<<<<<< left\nbehind\na = 1\n", "left.dump")
    repo.commit("worse")
    repo.git("checkout", "-q", "main")
    repo.write("<<<<<<< left\nbehind\nb = 1\n", "left.dump")
    repo.commit("and worse")
    repo.ours("install", "--program", "false")
    repo.git("merge", "worse", status=1)
    assert "a = 1\n" in repo.read("left.dump")


def three(folder: Path, *texts: str) -> list[str]:
    for name, text in zip(("base", "ours", "theirs"), texts, strict=True):
        (folder / name).write_bytes(text.encode())
    return ["base", "ours", "theirs"]


def test_the_exit_status_is_1_for_a_conflict_and_0_for_none(tmp_path: Path) -> None:
    files = three(tmp_path, "a = 1\nb = 1\n", "a = 2\nb = 1\n", "a = 1\nb = 2\n")
    assert run("git", "merge", *files, cwd=tmp_path).status == 0
    assert (tmp_path / "ours").read_bytes() == b"a = 2\nb = 2\n"
    files = three(tmp_path, "a = 1\n", "a = 2\n", "a = 3\n")
    answer = run("git", "merge", *files, "--size=11", "--theirs-name=weir", cwd=tmp_path)
    assert answer.status == 1
    assert (tmp_path / "ours").read_bytes() == (
        b"<<<<<<<<<<< ours\na = 2\n===========\na = 3\n>>>>>>>>>>> weir\n"
    )


def test_a_result_that_can_not_be_written_leaves_the_file_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    files = three(tmp_path, "a = 1\n", "a = 2\n", "a = 3\n")
    monkeypatch.setattr("os.fsync", full)
    answer = call(monkeypatch, ["git", "merge", *files], cwd=tmp_path)
    assert answer.status == 2
    assert "no space left" in answer.err
    assert (tmp_path / "ours").read_bytes() == b"a = 2\n"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["base", "ours", "theirs"]


def test_a_merge_of_two_craft_stops_and_says_so(repo: Repo) -> None:
    repo.git("checkout", "-q", "-b", "other")
    repo.replace(("called = dipper", "called = plover"), ("RS-0412", "RS-0413"))
    repo.commit("the wrong file")
    repo.git("checkout", "-q", "main")
    repo.replace(("amps_slope = 264", "amps_slope = 265"))
    repo.commit("another sensor")
    answer = repo.git("merge", "other", status=1)
    assert (
        "craft.dump is not merged: the sides are of different craft, by craft.serial" in answer.err
    )
    assert repo.git("diff", "--name-only", "--diff-filter=U").out == "craft.dump\n"
    repo.git("checkout", "--ours", "craft.dump")
    assert "amps_slope = 265\n" in repo.read()
