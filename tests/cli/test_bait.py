"""A stranger's repository is data: no command imports anything from the folder it stands in."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from cfgaudit.cli import COMMANDS
from tests.cli import sweep
from tests.cli.calling import CORPUS, run
from tests.cli.repository import PROGRAM, Repo, new_repo
from tests.cli.sweep import EVERY_COMMAND

OTHERS = (
    "atomicwrites",
    "click",
    "deepdiff",
    "interegular",
    "jinja2",
    "lark",
    "markupsafe",
    "networkx",
    "numpy",
    "rapidfuzz",
    "regex",
    "rich",
    "sitecustomize",
    "tomlkit",
    "usercustomize",
    "yaml",
)


def bait(folder: Path, *, package: bool = False, standard: bool = True) -> Path:
    """Files that leave a trace if anybody imports them; and where the trace would be."""
    trace = folder.parent / "trace"
    code = f"open({str(trace)!r}, 'a').write(__name__ + '\\n')\n"
    for name in sorted({*(sys.stdlib_module_names if standard else ()), *OTHERS}):
        (folder / f"{name}.py").write_text(code, encoding="utf-8")
    if package:
        (folder / "cfgaudit").mkdir()
        (folder / "cfgaudit" / "__init__.py").write_text(code, encoding="utf-8")
        (folder / "cfgaudit" / "__main__.py").write_text(code, encoding="utf-8")
    record = folder / "bait-1.0.dist-info"
    record.mkdir()
    lines = "[cfgaudit.rules]\nbait = bait_rules:RULES\n"
    (record / "entry_points.txt").write_text(lines, encoding="utf-8")
    (folder / "bait_rules.py").write_text(code + "RULES = ()\n", encoding="utf-8")
    return trace


def traced(trace: Path) -> str:
    return trace.read_text(encoding="utf-8") if trace.exists() else ""


@pytest.fixture(scope="module")
def strange(tmp_path_factory: pytest.TempPathFactory) -> tuple[Repo, Path]:
    """A repository with two dumps, a sheet, the dialects, and bait."""
    repo = new_repo(tmp_path_factory.mktemp("strange"), install=False)
    shutil.copy(CORPUS / "dipper.build.toml", repo.top)
    shutil.copy(CORPUS / "faulty" / "dipper-after-repair.dump", repo.top / "other.dump")
    return repo, bait(repo.top)


@pytest.mark.parametrize("command", COMMANDS)
def test_no_command_imports_from_the_folder_it_stands_in(
    strange: tuple[Repo, Path], command: str
) -> None:
    """In a process for each command, which has nothing loaded that another one wanted."""
    repo, trace = strange
    done = subprocess.run(
        [sys.executable, "-P", sweep.__file__, str(repo.top), command],
        cwd=repo.top,
        env=repo.env,
        capture_output=True,
        timeout=900,
        check=False,
    )
    assert traced(trace) == ""
    answers = json.loads(done.stdout)
    assert answers
    for arguments, _, out, err in answers:
        assert "Traceback" not in err
        assert out or arguments[0] in ("report", "page"), (arguments, err)


@pytest.mark.parametrize("way", ["as usual", "an empty word"])
def test_the_processes_of_a_fleet_import_nothing_from_there(tmp_path: Path, way: str) -> None:
    # the console script's way to begin: Python is not told to leave the folder alone. An empty
    # word in PYTHONPATH is in force before our first line, so what Python begins with is no bait
    repo = new_repo(tmp_path, install=False)
    usual = way == "as usual"
    trace = bait(repo.top, package=True, standard=usual)
    script = tmp_path / "script.py"
    script.write_text(
        "from cfgaudit.__main__ import run\n\nif __name__ == '__main__':\n    run()\n"
    )
    for name in () if usual else ("usercustomize.py", "sitecustomize.py"):
        (repo.top / name).unlink()
    for name in () if usual else ("multiprocessing", "concurrent", "pickle", "signal"):
        (repo.top / f"{name}.py").write_text((repo.top / "click.py").read_text("utf-8"), "utf-8")
    path = repo.env["PYTHONPATH"] + ("" if usual else os.pathsep)
    done = subprocess.run(
        [sys.executable, str(script), "fleet", ".", "--workers", "2"],
        cwd=repo.top,
        env=repo.env | {"PYTHONPATH": path},
        capture_output=True,
        text=True,
        timeout=900,
        check=False,
    )
    assert traced(trace) == ""
    assert "craft audited" in done.stdout, done.stderr


def test_every_command_is_called() -> None:
    assert {arguments[0] for arguments in EVERY_COMMAND} == set(COMMANDS)


@pytest.mark.parametrize("way", ["-m", "an empty word"])
def test_the_folder_is_taken_off_the_import_path(tmp_path: Path, way: str) -> None:
    # before our first line Python itself has imported some of its own library from there: that no
    # program can help; from our first line on nothing comes from there
    repo = new_repo(tmp_path, install=False)
    trace = bait(repo.top, standard=False)
    env = repo.env
    if way != "-m":
        env = env | {"PYTHONPATH": env["PYTHONPATH"] + os.pathsep}
    flags = () if way == "-m" else ("-P",)
    (repo.top / "usercustomize.py").unlink()  # Python's own business likewise
    (repo.top / "sitecustomize.py").unlink()
    answer = run("check", "craft.dump", "--format", "sarif", cwd=repo.top, env=env, flags=flags)
    assert (traced(trace), answer.status) == ("", 0)


@pytest.mark.parametrize("program", ["", PROGRAM], ids=["as usual", "as told"])
def test_git_runs_nothing_of_the_working_tree(tmp_path: Path, program: str) -> None:
    repo = new_repo(tmp_path, install=False)
    repo.ours("install", *(["--program", program] if program else []))
    repo.commit("told git")
    trace = bait(repo.top, package=True)
    repo.replace(("cell_low = 350", "cell_low = 345"))
    shown = repo.git("diff").out
    assert traced(trace) == ""
    assert "+warn_cell = 3.45 V" in shown  # it is our filter that ran
    repo.git("commit", "-qam", "a lower call")
    repo.git("checkout", "-q", "-b", "side", "HEAD~1")
    repo.replace(("cell_low = 350", "cell_low = 340"))
    repo.git("commit", "-qam", "another")
    repo.git("merge", "-q", "main", status=None)
    repo.git("log", "-p")
    repo.git("status")
    assert traced(trace) == ""


def test_an_old_installation_is_told_and_healed(tmp_path: Path) -> None:
    repo = new_repo(tmp_path, install=False)
    repo.ours("install", "--program", PROGRAM.replace(" -P", ""))
    said = repo.ours("status")
    assert said.status == 1
    assert "takes code from the working tree, whoever wrote it: run `cfgaudit git" in said.out
    assert repo.ours("install").status == 0
    command = repo.git("config", "diff.cfgaudit.textconv").out
    assert " -I -m cfgaudit git textconv" in command
    assert "working tree" not in repo.ours("status").out
