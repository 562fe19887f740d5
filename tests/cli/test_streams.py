"""Standard input, standard output and files: what is read from where, what is written how."""

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call, environment, run

DIPPER = (CORPUS / "dipper.dump").read_bytes()


def test_a_dash_reads_standard_input_and_is_named_as_told() -> None:
    told = run("check", "-", "--stdin-name", "fresh.dump", "--format", "json", stdin=DIPPER)
    said = json.loads(told.out)["dumps"][0]
    assert (said["file"], said["dialect"]) == ("fresh.dump", "sedge")
    untold = json.loads(run("check", "-", "--format", "json", stdin=DIPPER).out)["dumps"][0]
    assert untold["file"] == "standard input"
    assert untold["settings"] == said["settings"] > 300


@pytest.mark.parametrize("arguments", [["diff", "-", "dipper.dump"], ["diff", "dipper.dump", "-"]])
def test_either_side_of_a_diff_can_be_standard_input(arguments: list[str]) -> None:
    answer = run(*arguments, "--exit-code", stdin=DIPPER)
    assert answer.status == 0
    assert "No change" in answer.out


def test_the_settings_for_standard_input_are_those_of_the_folder_one_is_in(tmp_path: Path) -> None:
    answer = run("check", "-", "--format", "json", cwd=tmp_path, stdin=DIPPER)
    assert json.loads(answer.out)["dumps"][0]["dialect"] is None


@pytest.mark.parametrize(
    "command",
    [
        ["check", "dipper.dump"],
        ["check", "dipper.dump", "--format", "json"],
        ["show", "dipper.dump"],
        ["plain", "dipper.dump"],
        ["diff", "dipper.dump", "sandpiper.dump"],
        ["diff", "dipper.dump", "sandpiper.dump", "--summary"],
        ["compare", "dipper.dump", "sandpiper.dump"],
        ["explain", "battery.warn_cell"],
    ],
    ids=" ".join,
)
def test_output_to_a_file_is_what_would_have_been_printed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, command: list[str]
) -> None:
    file = tmp_path / "out.txt"
    printed = call(monkeypatch, command)
    written = call(monkeypatch, [*command, "--output", str(file)])
    assert file.read_bytes().decode("utf-8") == printed.out
    assert (written.status, written.out) == (printed.status, "")
    assert list(tmp_path.iterdir()) == [file]


def test_a_file_that_is_there_is_replaced_whole_with_its_rights_kept(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "out.txt"
    file.write_text("OLD\n" * 100_000, encoding="utf-8")
    file.chmod(0o640)
    before = file.stat().st_ino
    call(monkeypatch, ["plain", "dipper.cfg", "--output", str(file)])
    assert file.read_text(encoding="utf-8").endswith("end\n")
    assert "OLD" not in file.read_text(encoding="utf-8")
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert file.stat().st_ino != before  # another file moved into its place in one step


def test_a_link_stays_a_link(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "real.txt").write_text("old", encoding="utf-8")
    (tmp_path / "link.txt").symlink_to("real.txt")
    call(monkeypatch, ["plain", "dipper.cfg", "--output", str(tmp_path / "link.txt")])
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text(encoding="utf-8").endswith("end\n")


def test_a_write_that_fails_leaves_the_old_file_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def fail(_: int) -> None:
        raise OSError(28, "No space left on device")

    file = tmp_path / "out.txt"
    file.write_text("old", encoding="utf-8")
    monkeypatch.setattr(os, "fsync", fail)
    answer = call(monkeypatch, ["plain", "dipper.cfg", "--output", str(file)])
    assert answer.status == 2
    assert "out.txt can't be written: no space left on device" in answer.err
    assert file.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [file]


def test_output_into_a_folder_that_is_missing_fails_and_leaves_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "missing" / "out.txt"
    answer = call(monkeypatch, ["check", "dipper.dump", "--output", str(file)])
    assert (answer.status, answer.out) == (2, "")
    assert "can't be written: no such file or directory" in answer.err
    assert list(tmp_path.iterdir()) == []


def test_a_folder_or_a_device_as_output_is_not_replaced(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    answer = call(monkeypatch, ["check", "dipper.dump", "--output", str(tmp_path)])
    assert (answer.status, tmp_path.is_dir(), list(tmp_path.iterdir())) == (2, True, [])
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with subprocess.Popen(["cat", str(pipe)], stdout=subprocess.PIPE) as reader:
        call(monkeypatch, ["explain", "battery.warn_cell", "--output", str(pipe)])
        out, _ = reader.communicate(timeout=900)
    assert b"battery.warn_cell" in out
    assert stat.S_ISFIFO(pipe.stat().st_mode)


@pytest.mark.parametrize(
    "command",
    [["check", "broken/unclosed-block.dump"], ["show", "dipper.dump", "--format", "json"]],
    ids=" ".join,
)
def test_a_closed_pipe_ends_quietly_with_the_status_of_the_command(command: list[str]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "cfgaudit", *command],
            cwd=CORPUS,
            env=environment(),
            stdout=writing,
            stderr=subprocess.PIPE,
            timeout=900,
            check=False,
        )
    finally:
        os.close(writing)
    assert done.stderr == b""
    assert done.returncode == run(*command).status


def test_a_reader_that_leaves_after_one_line_hears_nothing_more() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "cfgaudit", "show", "dipper.dump", "--format", "json"],
        cwd=CORPUS,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline() == b"{\n"
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait(timeout=900) == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_behind_standard_output_is_said() -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "cfgaudit", "show", "dipper.dump"],
            cwd=CORPUS,
            env=environment(),
            stdout=full,
            stderr=subprocess.PIPE,
            timeout=900,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == b"Error: standard output can't be written: no space left on device\n"


@pytest.mark.parametrize("encoding", ["", "ascii", "latin-1"])
def test_output_is_utf_8_whatever_the_locale(tmp_path: Path, encoding: str) -> None:
    file = tmp_path / "my.cfg"
    file.write_text('[craft]\nname = "Wasseramsel überm Bach"\n', encoding="utf-8")
    plain = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    env = environment(**plain, **({"PYTHONIOENCODING": encoding} if encoding else {}))
    answer = run("check", str(file), env=env)
    assert "Wasseramsel überm Bach ·" in answer.out
    assert answer == run("check", str(file), env=environment(LC_ALL="C.UTF-8"))
