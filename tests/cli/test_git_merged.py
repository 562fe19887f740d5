"""What a merge brought that no side had, told by the hook behind the real git's merge."""

import subprocess
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, Answer
from tests.cli.repository import PROGRAM, Repo, new_repo

HEAD = "merged, this craft has what neither side had:"


@pytest.fixture
def repo(tmp_path: Path) -> Repo:
    """Dipper with its build sheet, which one side changes while the other changes the dump.

    Of 3.3 V there is room for 3312 mV / 38 mV/A = 87 A, and for 125 A of the sensor before; the
    sheet says 82 A on the one side and 98 A on the other.
    """
    made = new_repo(tmp_path)
    made.write((CORPUS / "dipper.build.toml").read_text("utf-8"), "dipper.build.toml")
    craft = '\n[craft.dipper]\nbuild = "dipper.build.toml"\n'
    made.write(made.read("cfgaudit.toml") + craft, "cfgaudit.toml")
    made.write("first flight in May\n", "notes.txt")
    made.commit("what was soldered")
    made.git("checkout", "-q", "-b", "side")
    made.replace(("peak_current = 82", "peak_current = 98"), name="dipper.build.toml")
    made.write("first flight in June\n", "notes.txt")
    made.commit("larger motors")
    made.git("checkout", "-q", "main")
    made.replace(("amps_slope = 264", "amps_slope = 380"))
    made.commit("another sensor")
    return made


def test_a_dump_of_one_side_and_a_build_sheet_of_the_other_are_judged_together(repo: Repo) -> None:
    answer = repo.git("merge", "side")
    assert f"craft.dump: {HEAD}\n" in answer.err
    assert "WARNING  battery/current-saturates" in answer.err
    again = repo.ours("merged")
    assert (again.status, again.out in answer.err) == (1, True)


def test_a_merge_that_stopped_at_a_conflict_elsewhere_is_judged_as_it_is_committed(
    repo: Repo,
) -> None:
    repo.write("first flight in April\n", "notes.txt")
    repo.commit("earlier")
    assert HEAD not in repo.git("merge", "side", status=1).err
    repo.write("first flight in June\n", "notes.txt")
    repo.git("add", "notes.txt")
    assert "WARNING  battery/current-saturates" in repo.git("commit", "--no-edit").err


def test_what_a_side_had_already_is_not_told(repo: Repo) -> None:
    repo.replace(("peak_current = 82", "peak_current = 99"), name="dipper.build.toml")
    repo.commit("larger motors here, too")  # 99 A of 87 A, before the merge
    repo.git("checkout", "-q", "side")
    repo.replace(("cell_low = 350", "cell_low = 345"))
    repo.commit("a lower call")
    repo.git("checkout", "-q", "main")
    repo.git("merge", "-q", "-X", "ours", "side")
    assert repo.ours("merged").out == ""
    assert repo.ours("merged").status == 0


def test_an_ordinary_commit_and_a_merge_without_a_commit_tell_nothing(repo: Repo) -> None:
    repo.git("checkout", "-q", "side")
    repo.replace(("amps_slope = 264", "amps_slope = 380"))  # 98 A of 87 A, on one side alone
    said = repo.git("commit", "-q", "-a", "-m", "the same sensor").err
    repo.git("checkout", "-q", "-b", "old", "main~1")
    said += repo.git("merge", "-q", "side").err
    assert said == ""


@pytest.mark.parametrize(
    ("commit", "answer"),
    [
        (
            "main",
            Answer(0, "main is no merge (`merged main SIDE...` holds it against others).\n", ""),
        ),
        ("x", Answer(2, "", "Error: there is no commit x\n")),
    ],
)
def test_what_is_no_merge_is_said_to_be_none(repo: Repo, commit: str, answer: Answer) -> None:
    assert repo.ours("merged", commit) == answer


def test_what_craft_do_to_one_another_is_told(tmp_path: Path) -> None:
    repo = new_repo(tmp_path)
    text = "[craft]\nname = {}\n[video.transmitter]\nenabled = on\nfrequency = {} MHz\nend\n"
    repo.write(text.format("avocet", 5800), "avocet.cfg")
    repo.write(text.format("bittern", 5865), "bittern.cfg")
    repo.ours("install", "*.dump", "*.cfg", "--program", PROGRAM)
    repo.commit("two that fly together")
    repo.git("checkout", "-q", "-b", "side")
    repo.replace(("5800", "5740"), name="avocet.cfg")
    repo.commit("away from the others")
    repo.git("checkout", "-q", "main")
    repo.replace(("5865", "5740"), name="bittern.cfg")
    repo.commit("away from the others, too")
    answer = repo.git("merge", "side")
    assert "merged, its craft do to one another what they did on no side:" in answer.err
    assert "ERROR  fleet/same-frequency" in answer.err


def test_a_merge_of_what_is_no_dump_is_not_looked_at(repo: Repo) -> None:
    repo.git("checkout", "-q", "-b", "other", "main~1")
    repo.write("first flight in July\n", "notes.txt")
    repo.commit("later")
    repo.git("checkout", "-q", "main")
    assert repo.git("merge", "-q", "other").err == ""


def test_a_hook_of_somebody_s_own_is_left_alone_and_told_of(tmp_path: Path) -> None:
    repo = new_repo(tmp_path, install=False)
    hook = repo.top / ".git" / "hooks" / "post-merge"
    hook.parent.mkdir(exist_ok=True)
    hook.write_text("#!/bin/sh\necho ours\n", encoding="utf-8")
    repo.ours("install", "--program", PROGRAM)
    status = repo.ours("status")
    assert status.status == 0
    assert "post-merge is somebody's own: what a merge brought is told by" in status.out
    assert "post-commit" not in status.out
    repo.ours("uninstall")
    assert hook.read_text(encoding="utf-8") == "#!/bin/sh\necho ours\n"
    assert not hook.with_name("post-commit").exists()


def test_no_hook_is_written_where_the_user_keeps_hooks_for_several_repositories(
    tmp_path: Path,
) -> None:
    repo = new_repo(tmp_path, install=False)
    shared = tmp_path / "hooks"
    shared.mkdir()
    repo.git("config", "core.hooksPath", str(shared))
    repo.ours("install", "--program", PROGRAM)
    assert list(shared.iterdir()) == []
    assert f"{shared}/post-merge is not there: what a merge" in repo.ours("status").out


def test_a_tree_whose_names_lead_out_of_it_is_not_laid_out(repo: Repo) -> None:
    blob = repo.git("hash-object", "-w", "craft.dump").out.strip()
    tree = _made_tree(repo, f"100644 blob {blob}\tout.toml\n")
    for _ in range(3):  # out of the merge's folder, of the one for all sides, and of git's
        tree = _made_tree(repo, f"040000 tree {tree}\t..\n")
    parents = ["-p", "main", "-p", "side"]
    strange = repo.git("commit-tree", tree, *parents, "-m", "out").out.strip()
    assert repo.ours("merged", strange).err == ""
    assert list(repo.top.parent.rglob("out.toml")) == []


def _made_tree(repo: Repo, row: str) -> str:
    done = subprocess.run(
        ["git", "mktree"],
        cwd=repo.top,
        env=repo.env,
        input=row.encode(),
        capture_output=True,
        check=True,
    )
    return done.stdout.decode().strip()


def test_a_squash_is_judged_before_it_is_committed_and_by_name_after_it(repo: Repo) -> None:
    answer = repo.git("merge", "--squash", "side")
    assert "WARNING  battery/current-saturates" in answer.err
    again = repo.ours("merged")
    assert (again.status, again.out in answer.err) == (1, True)
    repo.git("commit", "-q", "-m", "as one")
    assert "is no merge" in repo.ours("merged").out
    assert repo.ours("merged", "HEAD", "HEAD^", "side") == again
    assert repo.ours("merged", "HEAD", "side", "HEAD").out == ""  # a side has it


def test_any_two_commits_are_held_against_each_other(repo: Repo) -> None:
    repo.git("checkout", "-q", "side")
    repo.replace(("amps_slope = 264", "amps_slope = 380"))
    repo.commit("another sensor here")
    answer = repo.ours("merged", "side", "side^")
    assert "WARNING  battery/current-saturates" in answer.out
    assert repo.ours("merged", "side", "none").err == "Error: there is no commit none\n"


@pytest.mark.parametrize("broken", ["dipper.build.toml", "cfgaudit.toml"])
def test_what_can_not_be_judged_is_said_by_the_commit_s_own_path(repo: Repo, broken: str) -> None:
    repo.git("merge", "-q", "side")
    good = repo.read(broken)
    repo.write(good + "[[\n", broken)
    repo.git("commit", "-q", "-a", "--amend", "-m", "a slip of the keyboard")
    repo.write(good, broken)
    answer = repo.ours("merged")
    assert (answer.status, answer.out) == (2, "")
    first, *more = answer.err.splitlines()
    assert first.startswith(f"Error: the merge was not audited: HEAD:{broken}")
    assert ".git" not in answer.err
    assert not any(line.startswith("Usage") for line in more)


def test_settings_that_a_merge_brings_nearer_to_a_dump_are_told(repo: Repo) -> None:
    repo.git("checkout", "-q", "side")
    (repo.top / "near").mkdir()
    repo.git("mv", "craft.dump", "near/craft.dump")
    repo.write('[cfgaudit]\ndialects = ["../dialects"]\n', "near/cfgaudit.toml")
    repo.commit("settings beside the dump")
    repo.git("checkout", "-q", "main")
    told = "cfgaudit: near/cfgaudit.toml is used, and cfgaudit.toml further up is not\n"
    assert told in repo.git("merge", "side").err
    repo.git("checkout", "-q", "side")
    repo.write("first flight in May\n", "notes.txt")
    repo.commit("as it was")
    repo.git("checkout", "-q", "main")
    assert "further up" not in repo.git("merge", "side").err  # both sides have it
