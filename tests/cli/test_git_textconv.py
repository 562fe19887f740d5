"""Dumps as git shows them: in settings, secrets hidden, and never a failure."""

import hashlib
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call, run
from tests.cli.repository import PROGRAM, Repo, new_repo
from tests.test_startup import HEAVY, loaded, ours


@pytest.fixture
def repo(tmp_path: Path) -> Repo:
    made = new_repo(tmp_path)
    made.replace(("cell_low = 350", "cell_low = 345"))
    return made


def changed(text: str) -> list[str]:
    """The lines that a diff takes out and puts in."""
    return [
        line for line in text.splitlines() if line[:1] in "+-" and line[:3] not in ("+++", "---")
    ]


LOW = "cell_low = 350"
WANTED = ["-warn_cell = 3.5 V", "+warn_cell = 3.45 V"]


def test_diff_speaks_in_settings_and_hides_secrets(repo: Repo) -> None:
    repo.replace(("keeper = weir-team", "keeper = M. Thorn"))
    text = repo.git("diff").out
    own = [line for line in changed(text) if "owner" in line]
    assert [line for line in changed(text) if line not in own] == WANTED
    # that the secret is another one now is told, not what it is
    assert [re.sub("[0-9a-f]{8}", "SIGN", line) for line in own] == [
        '-owner = "(hidden) SIGN"',
        '+owner = "(hidden) SIGN"',
    ]
    assert " [battery]\n" in text  # the section stands above the hunk
    assert "Thorn" not in text


def test_log_show_word_diff_and_blame_speak_in_settings(repo: Repo) -> None:
    repo.commit("a lower call")
    assert changed(repo.git("show", "--format=").out) == WANTED
    assert changed(repo.git("log", "-p", "-1", "--format=").out) == WANTED
    assert "warn_cell = [-3.5-]{+3.45+} V\n" in repo.git("show", "--word-diff", "--format=").out
    blamed = [
        line for line in repo.git("blame", "craft.dump").out.splitlines() if "_cell = " in line
    ]
    head = repo.git("rev-parse", "--short=8", "HEAD").out.strip()
    assert [line.startswith(head) for line in blamed] == ["warn_cell" in line for line in blamed]


def test_a_change_of_what_has_no_neutral_meaning_is_shown_too(repo: Repo) -> None:
    repo.git("checkout", "-q", ".")
    repo.replace(("hours_flown = 37", "hours_flown = 38"))
    assert changed(repo.git("diff").out) == [
        "-#   craft/hours_flown = 37",
        "+#   craft/hours_flown = 38",
    ]


@pytest.mark.parametrize("name", ["-h.dump", "--as=x.dump", "-", "two words.dump", "grüß #2.dump"])
def test_any_name_of_a_file_is_shown_by_setting(repo: Repo, name: str) -> None:
    repo.ours("install", "*", "--program", PROGRAM)
    repo.write((CORPUS / "dipper.dump").read_text("utf-8"), name)
    repo.commit("a dump of another name")
    repo.replace(("cell_low = 350", "cell_low = 345"), name=name)
    assert changed(repo.git("diff", "--", name).out) == WANTED


def test_what_is_secret_is_hidden_where_it_is_overruled_or_can_not_be_read(repo: Repo) -> None:
    repo.replace(("keeper = weir-team", 'keeper = A. Willow\nkeeper = M. Thorn\nkeeper = "B. Reed'))
    text = run("git", "textconv", "craft.dump", cwd=repo.top).out
    assert not any(name in text for name in ("Willow", "Thorn", "Reed"))
    assert '#   craft.owner = "(hidden)"\n' in text
    assert '#   keeper = "(hidden)' in text


def test_a_comment_an_idle_value_and_another_dump_of_the_file_are_shown(repo: Repo) -> None:
    both = repo.read()
    repo.write(both + both.replace("called = dipper", "called = ouzel"))
    repo.commit("two in one")
    at = repo.read().rindex("cell_low = ")
    text = repo.read()[:at] + "# CRACKED, do not fly\ncell_low = 340" + repo.read()[at + 14 :]
    repo.write(text.replace("hollow_q = 300", "hollow_q = 400", 1))
    assert changed(repo.git("diff").out) == [
        "-#   filters.gyro[hollow].q = 300",
        "+#   filters.gyro[hollow].q = 400",
        "-warn_cell = 3.45 V",
        "+warn_cell = 3.4 V",
        "+#   battery.warn_cell: # CRACKED, do not fly",
    ]


def test_a_row_more_of_an_unmapped_list_is_one_line(repo: Repo) -> None:
    lamps = "".join(f"lamp {n} {5 * n} 0 white wake\n" for n in range(97))
    repo.replace(("[craft]\n", f"{lamps}[craft]\n"))
    repo.commit("lamps")
    repo.replace(("[craft]\n", "lamp 3 99 0 amber wake\n[craft]\n"))
    assert changed(repo.git("diff").out) == ["+#   lamp 3 99 0 amber wake"]


@pytest.mark.parametrize("program", ["/nowhere/cfgaudit", "false", "sh -c 'kill -9 $$'"])
def test_of_a_dump_that_the_program_fails_on_git_shows_that_it_changed_and_no_more(
    repo: Repo, program: str
) -> None:
    repo.ours("install", "--no-cache", "--program", program)
    blobs = [repo.git("rev-parse", ":craft.dump").out, repo.git("hash-object", "craft.dump").out]
    done = repo.git("diff")
    assert changed(done.out) == [f"-{blobs[0].strip()}", f"+{blobs[1].strip()}"]
    assert "--no-textconv" in done.out
    assert "weir-team" not in done.out  # whose it is stands in the dump
    assert "+cell_low = 345\n" in repo.git("diff", "--no-textconv").out


def test_without_any_program_in_reach_the_shell_shows_no_line_and_never_twice_the_same(
    repo: Repo,
) -> None:
    repo.ours("install", "--program", "/nowhere/cfgaudit")
    held = repo.git("config", "diff.cfgaudit.textconv").out.rstrip("\n")

    def shown_as(name: str) -> list[str]:
        bare = subprocess.run(
            ["/bin/sh", "-c", f'{held} "$@"', "sh", name],
            cwd=repo.top,
            env={"PATH": "/nowhere"},
            capture_output=True,
            check=True,
        )
        return bare.stdout.decode().splitlines()

    assert shown_as("craft.dump")[1:] == ["craft.dump"]
    assert shown_as("cfgaudit.toml")[1:] == ["cfgaudit.toml"]


def test_what_git_kept_while_the_program_could_not_be_run_is_thrown_away(repo: Repo) -> None:
    program = repo.top.parent / "cfgaudit"
    program.write_text(f'#!/bin/sh\nexec {PROGRAM} "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    repo.ours("install", "--program", str(program))
    repo.commit("a lower call")
    program.rename(program.with_name("gone"))
    assert WANTED[1] not in changed(repo.git("show", "--format=").out)
    program.with_name("gone").rename(program)
    assert WANTED[1] not in changed(repo.git("show", "--format=").out)  # git has kept it
    assert "throw away git's cache" in repo.ours("install", "--program", str(program)).out
    assert changed(repo.git("show", "--format=").out) == WANTED


def test_where_the_dialects_changed_since_the_install_the_text_itself_tells_it(repo: Repo) -> None:
    repo.commit("a lower call")
    repo.git("show")  # git has kept what it showed, 345 * 0.01 V
    repo.replace(("cell_low = 345", "cell_low = 690"))
    low = ("battery.warn_cell: 0.01 V", "battery.warn_cell: 0.005 V")
    repo.replace(low, name="dialects/sedge.toml")
    told = changed(repo.git("diff", "--", "craft.dump").out)
    assert told == [
        "+# not as it should be shown: other dialects or another version since; "
        "run `cfgaudit git install`"
    ]
    repo.ours("install", "--program", PROGRAM)
    assert "not as it should" not in repo.git("diff", "--", "craft.dump").out


def test_a_program_named_without_its_folder_is_stored_with_it(repo: Repo) -> None:
    repo.ours("install", "--program", "sh -c true")
    held = repo.git("config", "diff.cfgaudit.textconv").out
    assert held.startswith(f"show() {{ {shutil.which('sh')} -c true git textconv ")


def test_lines_in_another_order_are_no_change(repo: Repo) -> None:
    repo.git("checkout", "-q", ".")
    repo.replace(("cell_low = 350\ncell_dry = 330\n", "cell_dry = 330\ncell_low = 350\n"))
    assert changed(repo.git("diff").out) == []


def test_gits_cache_is_renewed_by_an_install_after_a_dialect_changed(repo: Repo) -> None:
    repo.ours("install", "--cache", "--program", PROGRAM)
    repo.commit("a lower call")
    assert changed(repo.git("show", "--format=", "craft.dump").out) == WANTED
    assert repo.git("rev-parse", "--verify", "refs/notes/textconv/cfgaudit").out
    pair = ("{battery.warn_cell: 0.01 V}", "{battery.warn_cell: 0.011 V}")
    repo.replace(pair, name="dialects/sedge.toml")
    out = repo.ours("install", "--program", PROGRAM).out
    assert "throw away git's cache" in out
    assert changed(repo.git("show", "--format=", "HEAD", "--", "craft.dump").out) == [
        "-warn_cell = 3.85 V",  # 350 x 0.011
        "+warn_cell = 3.795 V",
    ]
    repo.ours("uninstall")
    repo.git("rev-parse", "--verify", "-q", "refs/notes/textconv/cfgaudit", status=1)


def test_an_install_with_a_cache_leaves_git_nothing_to_ask(repo: Repo) -> None:
    repo.commit("a lower call")
    repo.ours("install", "--no-cache", "--program", PROGRAM)
    plain = repo.git("log", "-p").out
    repo.git("rev-parse", "--verify", "-q", "refs/notes/textconv/cfgaudit", status=1)
    assert "kept for git: 2 versions" in repo.ours("install", "--cache", "--program", PROGRAM).out
    held = repo.git("rev-parse", "refs/notes/textconv/cfgaudit").out
    assert repo.git("log", "-p").out == plain
    # git adds to its cache what it had to ask for
    assert repo.git("rev-parse", "refs/notes/textconv/cfgaudit").out == held


@pytest.mark.parametrize("path", sorted((CORPUS / "broken").iterdir()), ids=lambda path: path.name)
def test_it_never_fails_whatever_the_bytes(path: Path, tmp_path: Path) -> None:
    answer = run_raw(path)
    assert answer[0] == 0
    assert answer[1] or not path.read_bytes()
    assert answer[2] == b""


def run_raw(path: Path, cwd: Path = CORPUS) -> tuple[int, bytes, bytes]:
    import subprocess

    done = subprocess.run(
        [sys.executable, "-m", "cfgaudit", "git", "textconv", str(path)],
        cwd=cwd,
        capture_output=True,
        timeout=900,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize(
    "data",
    [
        b"\x00\x01\xff\xfe\n",
        b"",
        b"a text of the weir\n\n  and more\n",
        b"<<<<<<< ours\n[craft]\nname = a\n",
    ],
    ids=["binary", "empty", "prose", "unfinished merge"],
)
def test_what_is_no_dump_is_passed_through_to_the_byte(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "x").write_bytes(data)
    assert run_raw(tmp_path / "x") == (0, data, b"")


def test_of_what_is_too_large_for_a_dump_nothing_but_its_digest_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "[battery]\ncells = 4\n" + "# a\n" * 4_000_000
    (tmp_path / "a.cfg").write_bytes(text.encode())
    answer = call(monkeypatch, ["git", "textconv", "a.cfg"], cwd=tmp_path)
    digest = hashlib.sha256(text.encode()).hexdigest()
    assert answer.out == f"# 16000020 bytes that can't be shown, sha256 {digest}\n"
    assert answer.err == "cfgaudit: a.cfg is shown by line: it is larger than 16 MB\n"


def test_broken_settings_of_the_folder_let_the_text_through_and_say_why(tmp_path: Path) -> None:
    (tmp_path / "cfgaudit.toml").write_text("[cfgaudit\n", encoding="utf-8")
    (tmp_path / "a.dump").write_text("[pack]\ncells = 4\n", encoding="utf-8")
    status, out, err = run_raw(tmp_path / "a.dump", tmp_path)
    assert (status, out) == (0, b"[pack]\ncells = 4\n")
    assert b"a.dump is shown by line: " in err


def test_a_file_that_is_not_there_is_no_failure_either(tmp_path: Path) -> None:
    answer = run("git", "textconv", "nowhere.dump", cwd=tmp_path)
    assert (answer.status, answer.out) == (0, "")
    assert "no such file" in answer.err


def test_the_text_hangs_on_the_bytes_and_on_no_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = (CORPUS / "dipper.dump").read_bytes()
    texts = set()
    for name in ("one.dump", "another"):
        (tmp_path / name).write_bytes(data)
        texts.add(call(monkeypatch, ["git", "textconv", str(tmp_path / name)]).out)
    assert len(texts) == 1


def test_it_loads_neither_rules_nor_audit() -> None:
    modules = loaded("git", "textconv", "dipper.dump")
    assert modules & HEAVY == set()
    floors = {name.split(".")[1] for name in ours(modules) if "." in name}
    assert floors & {"changes", "audit", "rules", "physics"} == set()
    assert "subprocess" not in modules


@pytest.mark.parametrize("base", [False, True])
def test_during_a_conflict_git_shows_both_sides_as_settings_and_no_more_than_differs(
    tmp_path: Path, base: bool
) -> None:
    repo = new_repo(tmp_path)
    ours, theirs = ("home_height = 300", "home_height = 500")
    middle = "||||||| base\nhome_height = 400\n" * base
    marks = f"<<<<<<< ours\n{ours}\n{middle}=======\n{theirs}\n>>>>>>> side"
    repo.replace(("home_height = 400", marks))
    said = repo.git("diff").out.splitlines()
    changed = [line for line in said if line[:1] in "+-" and line[:3] not in ("+++", "---")]
    assert "-altitude = 40 m" in changed
    assert "+altitude = 30 m" in changed
    assert "+#   +home.altitude = 50 m" in changed
    assert len(changed) < 10
