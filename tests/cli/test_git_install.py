"""`git install`, `uninstall` and `status`: ours alone, twice the same, and gone without a trace."""

from pathlib import Path

import pytest

from tests.cli.calling import run
from tests.cli.repository import PROGRAM, Repo, new_repo


@pytest.fixture
def repo(tmp_path: Path) -> Repo:
    return new_repo(tmp_path, install=False)


def files_of(repo: Repo) -> dict[str, bytes]:
    """Every file that install could touch: the tree's, the configuration, git's own attributes."""
    tree = [p for p in repo.top.rglob("*") if p.is_file() and ".git" not in p.parts]
    own = [repo.top / ".git" / name for name in ("config", "info/attributes", "info/exclude")]
    named = {p.relative_to(repo.top).as_posix(): p for p in (*tree, *own) if p.is_file()}
    return {name: path.read_bytes() for name, path in named.items()}


def test_a_dry_run_prints_the_plan_and_does_nothing(repo: Repo) -> None:
    before = files_of(repo)
    answer = repo.ours("install", "--dry-run", "--program", PROGRAM)
    assert answer.status == 0
    lines = answer.out.splitlines()
    assert all(line.startswith("would ") for line in lines)
    assert [line.split(" = ")[0] for line in lines[:5]] == [
        "would set diff.cfgaudit.textconv",
        "would set diff.cfgaudit.cachetextconv",
        "would set diff.cfgaudit.xfuncname",
        "would set merge.cfgaudit.name",
        "would set merge.cfgaudit.driver",
    ]
    assert lines[5].endswith(".gitattributes: *.dump")
    assert files_of(repo) == before


def test_a_second_install_changes_nothing(repo: Repo) -> None:
    repo.ours("install", "*.dump", "craft notes/*.txt", "--program", PROGRAM)
    first = files_of(repo)
    again = repo.ours("install", "--program", PROGRAM)
    assert (again.status, again.out) == (0, "nothing to change\n")
    assert files_of(repo) == first
    assert b'\n"craft notes/*.txt" diff=cfgaudit merge=cfgaudit\n' in first[".gitattributes"]


@pytest.mark.parametrize(
    "held",
    [None, b"", b"*.txt text\n", b"*.txt text", b"\xef\xbb\xbf*.txt text\r\n*.png binary\r\n"],
    ids=["none", "empty", "lines", "no last newline", "bom and crlf"],
)
@pytest.mark.parametrize("way", ["--shared", "--private"])
def test_uninstall_leaves_every_byte_as_it_was(repo: Repo, held: bytes | None, way: str) -> None:
    name = ".gitattributes" if way == "--shared" else ".git/info/attributes"
    if held is not None:
        (repo.top / name).write_bytes(held)
    repo.git("config", "diff.other.textconv", "cat")
    before = files_of(repo)
    assert repo.ours("install", way, "--cache", "--program", PROGRAM).status == 0
    if held:
        assert held.removeprefix(b"\xef\xbb\xbf") in (repo.top / name).read_bytes()
    assert repo.ours("uninstall").status == 0
    assert files_of(repo) == before
    assert repo.ours("uninstall").out == "nothing to change\n"


def test_what_the_user_adds_to_the_file_in_the_meantime_stays(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    path = repo.top / ".gitattributes"
    path.write_bytes(path.read_bytes() + b"*.png binary\n")
    repo.ours("uninstall")
    assert path.read_bytes() == b"*.png binary\n"


def test_the_users_own_lines_overrule_ours(repo: Repo) -> None:
    repo.write("old.dump -diff\n", ".gitattributes")
    repo.ours("install", "--program", PROGRAM)
    said = repo.git("check-attr", "diff", "old.dump", "craft.dump").out
    assert said == "old.dump: diff: unset\ncraft.dump: diff: cfgaudit\n"


def test_private_moves_the_block_out_of_the_shared_file(repo: Repo) -> None:
    repo.ours("install", "*.cfg", "--program", PROGRAM)
    repo.ours("install", "--private", "--program", PROGRAM)
    assert not (repo.top / ".gitattributes").exists()
    assert b"*.cfg diff=cfgaudit" in (repo.top / ".git/info/attributes").read_bytes()
    # without a word the place stays
    assert repo.ours("install", "--program", PROGRAM).out == "nothing to change\n"


def test_install_works_from_a_folder_below_and_in_a_worktree(repo: Repo) -> None:
    assert repo.ours("install", "--program", PROGRAM, folder="dialects").status == 0
    assert (repo.top / ".gitattributes").exists()
    repo.git("worktree", "add", "-q", "../other", "-b", "side")
    other = Repo(repo.top.parent / "other")
    assert other.ours("install", "--private", "--program", PROGRAM).status == 0
    assert (repo.top / ".git/info/attributes").exists()


@pytest.mark.parametrize("pattern", ["!old.dump", "", "a\nb", "[attr]dump"], ids=repr)
def test_a_pattern_that_attributes_can_not_hold_is_refused(repo: Repo, pattern: str) -> None:
    before = files_of(repo)
    answer = repo.ours("install", pattern, "--program", PROGRAM)
    assert (answer.status, answer.out) == (2, "")
    assert files_of(repo) == before


def test_a_block_that_somebody_cut_up_is_not_guessed_at(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    path = repo.top / ".gitattributes"
    path.write_bytes(path.read_bytes().replace(b"# cfgaudit ends\n", b""))
    answer = repo.ours("uninstall")
    assert answer.status == 2
    assert "cut up" in answer.err


def test_outside_of_a_repository_it_says_so(tmp_path: Path) -> None:
    answer = run("git", "status", cwd=tmp_path)
    assert answer.status == 2
    assert "no git repository" in answer.err


def test_status_tells_what_is_set_and_that_it_runs(repo: Repo) -> None:
    bare = repo.ours("status")
    assert bare.status == 1
    assert "! patterns   none" in bare.out
    repo.ours("install", "--program", PROGRAM)
    answer = repo.ours("status")
    assert answer.status == 0, answer
    assert f"program    {PROGRAM} runs: cfgaudit " in answer.out
    assert "files      1 tracked" in answer.out


def test_status_tells_a_program_that_can_not_be_run(repo: Repo) -> None:
    repo.ours("install", "--program", "/nowhere/cfgaudit")
    answer = repo.ours("status")
    assert answer.status == 1
    assert "! program    /nowhere/cfgaudit can't be run: " in answer.out


def test_status_tells_when_a_dialect_has_changed_since(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    repo.replace(
        ("cell_low = {battery.warn_cell", "cell_lo = {battery.warn_cell"),
        name="dialects/sedge.toml",
    )
    answer = repo.ours("status")
    assert answer.status == 1
    assert "run `cfgaudit git install`" in answer.out
    assert "set diff.cfgaudit.textconv" in repo.ours("install", "--program", PROGRAM).out
    assert repo.ours("status").status == 0


def test_a_folder_that_names_dialects_of_its_own_is_remembered(tmp_path: Path) -> None:
    repo = new_repo(tmp_path, install=False)
    (repo.top / "fleet").mkdir()
    for name in ("cfgaudit.toml", "dialects"):
        (repo.top / name).rename(repo.top / "fleet" / name)
    assert repo.ours("install", "--program", PROGRAM, folder="fleet").status == 0
    assert " --beside=fleet -- " in repo.git("config", "diff.cfgaudit.textconv").out
    repo.commit("the fleet has a folder")
    repo.replace(("cell_low = 350", "cell_low = 345"))
    assert "+warn_cell = 3.45 V\n" in repo.git("diff").out
    assert repo.ours("status").status == 0


def test_uninstall_leaves_no_head_behind_a_comment_in_the_configuration(repo: Repo) -> None:
    config = repo.top / ".git" / "config"
    with config.open("ab") as file:
        file.write(b"# whose boats these are: the weir team\n")
    before = config.read_bytes()
    repo.ours("install", "--cache", "--program", PROGRAM)
    with config.open("ab") as file:
        file.write(b"# and theirs\n[rerere]\n\tenabled = true\n")
    repo.git("config", "diff.cfgaudit.binary", "true")  # somebody's own, so it stays
    repo.ours("uninstall")
    more = b'[diff "cfgaudit"]\n\tbinary = true\n# and theirs\n[rerere]\n\tenabled = true\n'
    assert config.read_bytes() == before + more


def test_a_second_install_changes_nothing_where_git_has_given_the_file_its_line_ends(
    repo: Repo,
) -> None:
    repo.ours("install", "--program", PROGRAM)
    path = repo.top / ".gitattributes"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert repo.ours("install", "--program", PROGRAM).out == "nothing to change\n"
    assert repo.ours("uninstall").status == 0
    assert not path.exists()


def test_why_git_refuses_a_repository_is_told(repo: Repo) -> None:
    bare = Repo(repo.top.parent / "bare")
    repo.git("clone", "-q", "--bare", ".", str(bare.top))
    answer = bare.ours("status")
    assert answer.status == 2
    assert "no git repository with a working tree is here (git: " in answer.err


def test_status_tells_a_text_filter_that_takes_some_names_for_options(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    held = repo.git("config", "diff.cfgaudit.textconv").out.strip()
    repo.git("config", "diff.cfgaudit.textconv", held.replace(' -- "$1" ||', ' "$1" ||'))
    answer = repo.ours("status")
    assert answer.status == 1
    assert "run `cfgaudit git install`" in answer.out


def test_status_tells_attributes_that_are_overruled(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    repo.write("*.dump -merge\n", ".git/info/attributes")
    answer = repo.ours("status")
    assert answer.status == 1
    assert (
        "! files      0 tracked; other attributes overrule ours, in part or whole, for craft"
        in (answer.out)
    )
    repo.write("*.dump -merge -diff\n", ".git/info/attributes")
    assert repo.ours("status").status == 1


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("merge.cfgaudit.driver", "cfgaudit git merge %O %A %B"),
        ("diff.cfgaudit.textconv", "cfgaudit git textconv --"),
        ("diff.cfgaudit.xfuncname", "^x"),
    ],
)
def test_status_tells_a_driver_that_was_altered(repo: Repo, key: str, value: str) -> None:
    repo.ours("install", "--program", PROGRAM)
    repo.git("config", key, value)
    answer = repo.ours("status")
    assert answer.status == 1
    assert "run `cfgaudit git install`" in answer.out


def test_status_tells_a_configuration_that_overrules_ours(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    repo.git("config", "extensions.worktreeConfig", "true")
    repo.git("config", "--worktree", "diff.cfgaudit.textconv", "cat")
    answer = repo.ours("status")
    assert answer.status == 1
    assert "diff.cfgaudit.textconv is overruled by a configuration besides this one" in answer.out


def test_status_tells_a_dump_whose_dialect_is_out_of_reach(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    (repo.top / "fleet").mkdir()
    for name in ("cfgaudit.toml", "dialects", "craft.dump"):
        (repo.top / name).rename(repo.top / "fleet" / name)
    repo.commit("a folder of its own")
    repo.ours("install", "--program", PROGRAM)
    answer = repo.ours("status")
    assert answer.status == 1
    assert "in no dialect that the text filter looks at: fleet/craft.dump" in answer.out
    repo.ours("install", "--program", PROGRAM, folder="fleet")
    assert repo.ours("status").status == 0


def test_status_tells_a_clone_that_was_never_told(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    repo.commit("attributes for all")
    repo.git("clone", "-q", str(repo.top), "../copy")
    answer = Repo(repo.top.parent / "copy").ours("status")
    assert answer.status == 1
    assert "this clone was never told" in answer.out


def test_a_pattern_of_no_file_is_told_with_what_it_replaces(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    answer = repo.ours("install", "nope/*.x", "--program", PROGRAM)
    assert answer.status == 0
    assert answer.out.splitlines()[0].endswith(".gitattributes: nope/*.x (in place of *.dump)")
    assert answer.err == "no file here is called by the pattern nope/*.x\n"
    status = repo.ours("status")
    assert status.status == 1
    assert "! files      0 tracked: by these patterns git shows and merges nothing" in status.out
    assert repo.ours("install", "*.dump", "--program", PROGRAM).err == ""


def test_a_hook_that_may_not_be_run_is_told_and_mended(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    hook = repo.top / ".git" / "hooks" / "post-merge"
    hook.chmod(0o644)
    status = repo.ours("status")
    assert (status.status, f"{hook} may not be run" in status.out) == (1, True)
    assert repo.ours("install", "--program", PROGRAM).out == f"write {hook}\n"
    assert repo.ours("status").status == 0
    hook.write_bytes(hook.read_bytes() + b"# older\n")
    assert "is another version's" in repo.ours("status").out


def test_uninstall_says_whose_the_attributes_are(repo: Repo) -> None:
    repo.ours("install", "--program", PROGRAM)
    assert "the team's" not in repo.ours("uninstall", "--dry-run").out
    repo.commit("dumps are shown by setting")
    assert "(it is tracked, so the team's: commit" in repo.ours("uninstall", "--dry-run").out
