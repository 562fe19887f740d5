"""Files as they are written: one hand at a time, whole, and where they seem to be."""

import os
import shutil
import stat
import sys
import threading
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call
from tests.cli.repository import new_repo

OTHERS = b"another hand's work\n"
LESSON = ["dialect", "learn", "a.dump", "b.dump", "--set", "battery.warn_cell=3.45 V"]
# every command that writes a file made from what it read, and that file
UPDATED = ["check", "bad.dump", "--update-baseline", "--baseline"]
WRITERS: dict[str, tuple[list[str], str]] = {
    "baseline": ([*UPDATED, "base.json"], "base.json"),
    "new baseline": ([*UPDATED, "x.json"], "x.json"),
    "mend": (["mend", "bad.dump", "--only", "serial", "--write"], "bad.dump"),
    "carry": (["carry", "dipper.dump", "bad.dump", "--write"], "bad.dump"),
    "plain": (["plain", "loose.cfg", "--write"], "loose.cfg"),
    "learn": ([*LESSON, "--into", "reed.toml"], "reed.toml"),
    "sheet": (["bench", "--new", "dipper.dump", "--into", "thin.build.toml"], "thin.build.toml"),
    "list": (["bench", "dipper.build.toml", "--done", "propellers-off"], "dipper.bench.toml"),
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The corpus' craft, and what each writer wants."""
    made = tmp_path / "bench"
    made.mkdir()
    for name in ("dipper.dump", "dipper.build.toml"):
        shutil.copy(CORPUS / name, made)
    shutil.copytree(CORPUS / "dialects", made / "dialects")
    shutil.copy(CORPUS / "cfgaudit.toml", made)
    shutil.copy(CORPUS / "faulty" / "dipper-after-repair.dump", made / "bad.dump")
    empty = '{"version": 1, "about": "", "findings": []}\n'
    (made / "base.json").write_text(empty)
    (made / "loose.cfg").write_text("battery.cells=4\nbattery.warn_cell = 3.50 V\n")
    (made / "a.dump").write_text("[pack]\ncalls = 350\ncells = 4\n")
    (made / "b.dump").write_text("[pack]\ncalls = 345\ncells = 4\n")
    (made / "reed.toml").write_text('name = "reed"\n')
    (made / "thin.build.toml").write_text("[battery]\ncells = 4\n")
    return made


@pytest.mark.parametrize("name", WRITERS)
def test_no_writer_loses_what_another_hand_wrote_meanwhile(
    monkeypatch: pytest.MonkeyPatch, folder: Path, name: str
) -> None:
    arguments, file = WRITERS[name]
    alone = shutil.copytree(folder, folder.parent / "alone")
    before = (alone / file).read_bytes() if (alone / file).exists() else None
    first = call(monkeypatch, arguments, cwd=alone)
    assert first.status in (0, 1), first.err
    assert (alone / file).read_bytes() != before  # it is a writer

    sync = os.fsync

    def meanwhile(held: int) -> None:
        sync(held)
        (folder / file).write_bytes(OTHERS)

    monkeypatch.setattr(os, "fsync", meanwhile)
    answer = call(monkeypatch, arguments, cwd=folder)
    assert answer.status == 2
    assert f"{file} has changed since it was read; nothing was written" in answer.err
    assert (folder / file).read_bytes() == OTHERS
    assert not [path for path in folder.iterdir() if ".cfgaudit-" in path.name]


@pytest.mark.skipif(sys.platform == "win32", reason="folders can't be locked there")
@pytest.mark.parametrize("name", WRITERS)
def test_a_writer_waits_for_another_one(
    monkeypatch: pytest.MonkeyPatch, folder: Path, name: str
) -> None:
    from cfgaudit.cli.files import locking

    arguments, file = WRITERS[name]
    before = (folder / file).read_bytes() if (folder / file).exists() else None
    seen: list[bytes | None] = []

    def look() -> None:
        seen.append((folder / file).read_bytes() if (folder / file).exists() else None)
        held.__exit__(None, None, None)

    held = locking(folder)
    held.__enter__()
    threading.Timer(4.0, look).start()
    answer = call(monkeypatch, arguments, cwd=folder)
    assert answer.status in (0, 1)
    assert seen == [before]  # nothing was written while the folder was held


def write(monkeypatch: pytest.MonkeyPatch, folder: Path, *more: str) -> str:
    answer = call(monkeypatch, ["plain", "dipper.dump", "--output", *more], cwd=folder)
    return f"{answer.status} {answer.err}"


def test_a_file_that_is_not_to_be_written_is_not_replaced_unless_forced(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    file = folder / "loose.cfg"
    before = file.read_bytes()
    file.chmod(0o444)
    for arguments in (
        ["plain", "loose.cfg", "--write"],
        ["show", "bad.dump", "--output", file.name],
    ):
        answer = call(monkeypatch, arguments, cwd=folder)
        assert (answer.status, file.read_bytes()) == (2, before)
        assert "loose.cfg is marked as not to be written; --force" in answer.err
    assert call(monkeypatch, ["plain", file.name, "--write", "--force"], cwd=folder).status == 0
    assert file.read_bytes() != before
    assert stat.S_IMODE(file.stat().st_mode) == 0o444


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="takes a root")
def test_owner_and_group_stay(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    os.chown(folder / "loose.cfg", 4711, 4712)
    assert call(monkeypatch, ["plain", "loose.cfg", "--write"], cwd=folder).status == 0
    now = (folder / "loose.cfg").stat()
    assert (now.st_uid, now.st_gid) == (4711, 4712)


def test_it_says_so_where_the_owner_can_t_be_kept(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(1, "not permitted")

    true = os.stat_result
    monkeypatch.setattr(os, "chown", refuse)
    file = folder / "loose.cfg"
    real = Path.stat

    def another(self: Path, **how: bool) -> os.stat_result:
        found = real(self, **how)
        if self.name != "loose.cfg":
            return found
        return true((*found[:4], found.st_uid + 1, *found[5:]))

    monkeypatch.setattr(Path, "stat", another)
    answer = call(monkeypatch, ["plain", "loose.cfg", "--write"], cwd=folder)
    assert answer.status == 0
    assert "loose.cfg is written, but its owner or group could not be kept" in answer.err
    assert file.exists()


def test_what_a_killed_run_left_behind_is_cleaned_by_the_next(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    from cfgaudit.cli import files

    monkeypatch.setattr(Path, "replace", lambda *_: os._exit(9))
    if os.fork() == 0:
        files.write_atomically(folder / "new.cfg", b"half")
    os.wait()
    monkeypatch.undo()
    left = [path.name for path in folder.iterdir() if ".cfgaudit-" in path.name]
    assert len(left) == 1
    assert write(monkeypatch, folder, "new.cfg").startswith("0")
    assert not [path for path in folder.iterdir() if ".cfgaudit-" in path.name]


@pytest.mark.parametrize("name", ["/dev/stdout", "/dev/fd/1"])
def test_the_name_of_standard_output_is_written_to_and_not_replaced(
    monkeypatch: pytest.MonkeyPatch, folder: Path, name: str
) -> None:
    plain = call(monkeypatch, ["plain", "dipper.dump"], cwd=folder)
    named = call(monkeypatch, ["plain", "dipper.dump", "--output", name], cwd=folder)
    assert named == plain


def test_other_names_of_a_file_are_told(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    os.link(folder / "loose.cfg", folder / "twin.cfg")
    before = (folder / "twin.cfg").read_bytes()
    answer = call(monkeypatch, ["plain", "loose.cfg", "--write"], cwd=folder)
    assert "loose.cfg had another name (hard links): there it stays what it was" in answer.err
    assert (folder / "twin.cfg").read_bytes() == before


def test_nothing_is_written_through_a_link_out_of_its_folder(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    outside = folder.parent / "outside.cfg"
    outside.write_bytes(b"battery.cells=4\n")
    (folder / "link.cfg").symlink_to(outside)
    for arguments in (
        ["plain", "link.cfg", "--write"],
        ["show", "bad.dump", "--output", "link.cfg"],
    ):
        answer = call(monkeypatch, arguments, cwd=folder)
        assert answer.status == 2
        assert "link.cfg is a link out of its folder" in answer.err
        assert outside.read_bytes() == b"battery.cells=4\n"


def test_git_attributes_that_are_a_link_are_not_written_through(tmp_path: Path) -> None:
    repo = new_repo(tmp_path, install=False)
    outside = tmp_path / "outside"
    outside.write_bytes(b"*.txt text\n")
    (repo.top / ".gitattributes").symlink_to(outside)
    answer = repo.ours("install", "--shared")
    assert answer.status == 2
    assert outside.read_bytes() == b"*.txt text\n"


@pytest.mark.parametrize("form", ["sarif", "junit", "github", "markdown"])
@pytest.mark.parametrize("what", ["dump", "settings", "dialect", "sheet", "other dump"])
def test_a_report_for_others_follows_no_link_out_of_the_repository(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, form: str, what: str
) -> None:
    repo = new_repo(tmp_path, install=False)
    inside = {
        "dump": repo.top / "craft.dump",
        "settings": repo.top / "cfgaudit.toml",
        "dialect": repo.top / "dialects" / "sedge.toml",
        "sheet": repo.top / "my.build.toml",
        "other dump": repo.top / "more.dump",
    }[what]
    shutil.copy(CORPUS / "dipper.build.toml", repo.top / "my.build.toml")
    shutil.copy(CORPUS / "dipper.dump", repo.top / "more.dump")
    shutil.move(inside, tmp_path / "hidden")
    inside.symlink_to(tmp_path / "hidden")
    asked = ["check", "craft.dump", "--build", "my.build.toml", "--with", "more.dump"]
    if what in ("settings", "dialect"):
        asked = ["check", "craft.dump"]
    answer = call(monkeypatch, [*asked, "--format", form], cwd=repo.top)
    assert (answer.status, answer.out) == (2, "")
    assert "is a link out of" in answer.err
    assert "is a link out of" not in call(monkeypatch, asked, cwd=repo.top).err


ENDLESS = {
    "settings": (["check", "dipper.dump"], "cfgaudit.toml"),
    "dialect": (["check", "dipper.dump"], "dialects/sedge.toml"),
    "sheet": (["bench", "dipper.build.toml"], "dipper.build.toml"),
    "baseline": (["check", "dipper.dump", "--baseline", "base.json"], "base.json"),
    "record": (["bench", "dipper.build.toml"], "dipper.bench.toml"),
    "dump": (["check", "dipper.dump"], "dipper.dump"),
    "answers": (
        ["dialect", "teach", "a.dump", "--output", "reed.toml", "--most", "0"],
        "reed.toml",
    ),
}


@pytest.mark.parametrize("name", ENDLESS)
def test_of_a_file_without_an_end_no_more_is_read_than_the_bound(
    monkeypatch: pytest.MonkeyPatch, folder: Path, name: str
) -> None:
    arguments, file = ENDLESS[name]
    with (folder / file).open("wb") as made:
        made.truncate(1 << 42)  # four terabytes of nothing, which take no room
    answer = call(monkeypatch, arguments, cwd=folder)
    assert answer.status == 2
    assert "larger than 16 mb" in answer.err.lower()


def test_textconv_tells_of_a_file_without_an_end_only_that(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    with (folder / "dipper.dump").open("wb") as made:
        made.truncate(1 << 42)
    answer = call(monkeypatch, ["git", "textconv", "dipper.dump"], cwd=folder)
    assert answer.status == 0
    assert "larger than 256 mb" in answer.err


@pytest.mark.parametrize("text", ["[" * 100_000, '{"version": ' + "9" * 5_000 + "}"])
def test_a_baseline_that_would_hold_the_machine_up_is_refused(
    monkeypatch: pytest.MonkeyPatch, folder: Path, text: str
) -> None:
    (folder / "base.json").write_bytes(text.encode())
    answer = call(monkeypatch, ["check", "dipper.dump", "--baseline", "base.json"], cwd=folder)
    assert answer.status == 2
    assert "base.json: no JSON that can be read" in answer.err
