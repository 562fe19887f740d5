"""The hooks of .pre-commit-hooks.yaml, run by the real pre-commit in a real repository, offline.

A `language: python` hook is built with pip, which wants a network. So the user's file says
`language: system`, which pre-commit lets it: the hook is then the cfgaudit of this environment.
All else is as it is for a user: pre-commit clones the hooks' repository (here a folder), reads
the manifest and runs the entries on the staged files. Every proxy points nowhere.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from tests.cli.calling import CORPUS, environment

ROOT = CORPUS.parent
MANIFEST = ROOT / ".pre-commit-hooks.yaml"
IDS = ["cfgaudit-check", "cfgaudit-plain-check", "cfgaudit-plain"]
NOWHERE = "http://127.0.0.1:9"
NEAT = '[craft]\nname = "Dipper"\n\n[battery]\ncells = 4\nend\n'
LOOSE = "battery.cells = 4\ncraft.name = Dipper\n"


class Team:
    """A user's repository with dumps, and the repository of the hooks that it names."""

    def __init__(self, base: Path) -> None:
        self.home = base / "team"
        self.env = environment(
            PRE_COMMIT_HOME=str(base / "cache"),
            HOME=str(base),
            GIT_CONFIG_GLOBAL=os.devnull,
            GIT_CONFIG_NOSYSTEM="1",
            PATH=os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]]),
            **dict.fromkeys(("HTTP_PROXY", "HTTPS_PROXY", "http_proxy", "https_proxy"), NOWHERE),
            PIP_NO_INDEX="1",
        )
        hooks = base / "hooks"
        for folder in (self.home, hooks):
            folder.mkdir()
            self.run("git", "init", "-q", cwd=folder)
        shutil.copy(MANIFEST, hooks)
        rev = self.commit(hooks)
        chosen = [{"id": name, "language": "system"} for name in IDS[:2]]
        config = {"repos": [{"repo": str(hooks), "rev": rev, "hooks": chosen}]}
        self.write(".pre-commit-config.yaml", yaml.safe_dump(config))
        dialects = f"[cfgaudit]\ndialects = ['{CORPUS / 'dialects'}']\n"
        self.write("cfgaudit.toml", dialects)

    def run(self, *command: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            command, cwd=cwd or self.home, env=self.env, text=True, capture_output=True,
            encoding="utf-8", timeout=900, check=False,
        )  # fmt: skip

    def write(self, name: str, text: str) -> None:
        (self.home / name).write_text(text, encoding="utf-8")
        self.run("git", "add", name)

    def commit(self, folder: Path, *more: str) -> str:
        who = ["-c", "user.name=river team", "-c", "user.email=team@river.example"]
        self.run("git", "add", "-A", cwd=folder)
        done = self.run("git", *who, "commit", "-q", "-m", "dumps", *more, cwd=folder)
        assert done.returncode == 0, done.stderr
        return self.run("git", "rev-parse", "HEAD", cwd=folder).stdout.strip()

    def hooks(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return self.run(sys.executable, "-m", "pre_commit", "run", *arguments)


@pytest.fixture
def team(tmp_path: Path) -> Team:
    return Team(tmp_path)


def test_the_manifest_is_one_and_names_our_commands(team: Team) -> None:
    done = team.run(sys.executable, "-m", "pre_commit", "validate-manifest", str(MANIFEST))
    assert (done.returncode, done.stderr) == (0, "")
    hooks = yaml.safe_load(MANIFEST.read_text(encoding="utf-8"))
    assert [hook["id"] for hook in hooks] == IDS
    for hook in hooks:
        helped = team.run(*hook["entry"].split(), "--help")
        assert helped.returncode == 0, helped.stderr


def test_good_dumps_and_neat_files_pass(team: Team) -> None:
    team.write("dipper.dump", (CORPUS / "dipper.dump").read_text(encoding="utf-8"))
    team.write("dipper.cfg", NEAT)
    team.write("setup.cfg", "[metadata]\nname = no dump\n")
    done = team.hooks()
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("Passed") == 2


def test_a_faulty_dump_is_stopped_with_its_findings(team: Team) -> None:
    faulty = CORPUS / "faulty" / "dipper-after-repair.dump"
    team.write("dipper.dump", faulty.read_text(encoding="utf-8"))
    done = team.hooks("cfgaudit-check")
    assert done.returncode == 1
    assert "failsafe.channels.3" in done.stdout
    assert "Do not fly before the errors are cleared." in " ".join(done.stdout.split())


def test_a_loose_plain_file_is_stopped_and_the_formatter_mends_it(team: Team) -> None:
    team.write("dipper.cfg", LOOSE)
    done = team.hooks("cfgaudit-plain-check")
    assert done.returncode == 1
    assert "dipper.cfg:1: not in the one form" in done.stdout
    config = (team.home / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    team.write(".pre-commit-config.yaml", config.replace("cfgaudit-plain-check", "cfgaudit-plain"))
    done = team.hooks("cfgaudit-plain")
    assert done.returncode == 1
    assert "files were modified by this hook" in done.stdout
    assert (team.home / "dipper.cfg").read_text(encoding="utf-8") == NEAT
    team.run("git", "add", "dipper.cfg")
    assert team.hooks("cfgaudit-plain").returncode == 0


def test_installed_it_keeps_a_bad_commit_from_being_made(team: Team) -> None:
    assert team.run(sys.executable, "-m", "pre_commit", "install").returncode == 0
    team.write("dipper.cfg", LOOSE)
    with pytest.raises(AssertionError, match="not in the one form"):
        team.commit(team.home)
    team.write("dipper.cfg", NEAT)
    assert team.commit(team.home)
