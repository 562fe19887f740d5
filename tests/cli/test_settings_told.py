"""What a folder's settings change of an audit is told in every report, and can be passed by."""

import json
import shutil
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call

LAX = """
[cfgaudit]
dialects = ["dialects"]
fail_on = "never"

[limits]
battery.warn_gap = "0.01 V"

[[waive]]
rule = "failsafe/throttle-held"
because = "so it is"
until = 2030-01-01

[[limit]]
setting = "home.ceiling"
at_most = "120 m"
because = "the team's rule"
"""
SAID = (
    "cfgaudit.toml changes the audit: fail_on is never, limits moved: 1, limits added: 1, waived: 1"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    shutil.copy(CORPUS / "faulty" / "dipper-after-repair.dump", tmp_path / "bad.dump")
    shutil.copy(CORPUS / "dipper.dump", tmp_path)
    from cfgaudit.rules.rule import usual_limits

    name, limit = next((n, one) for n, one in usual_limits().items() if one.unit)
    moved = f'{name} = "{limit.value} {limit.unit}"'
    (tmp_path / "cfgaudit.toml").write_text(LAX.replace('battery.warn_gap = "0.01 V"', moved))
    strict = '[cfgaudit]\ndialects = ["dialects"]\n'
    (tmp_path / "strict.toml").write_text(strict)
    return tmp_path


def told(text: str) -> bool:
    flat = " ".join(text.replace("\\", "").replace("<!-- -->", "").split())
    return SAID in flat.replace("\\_", "_")


@pytest.mark.parametrize(
    "arguments",
    [
        *(["check", "bad.dump", "--format", form]
          for form in ("terminal", "json", "sarif", "junit", "github", "markdown")),
        ["fleet", "."],
        ["report", "bad.dump"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_every_report_of_an_audit_says_it_in_one_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path, arguments: list[str]
) -> None:
    answer = call(monkeypatch, arguments, cwd=folder)
    assert told(answer.out + (answer.err if arguments[0] == "fleet" else "")), answer


def test_other_settings_can_be_named_or_none_at_all(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    asked = ["check", "bad.dump"]
    lax = call(monkeypatch, asked, cwd=folder)
    strict = call(monkeypatch, [*asked, "--settings", "strict.toml"], cwd=folder)
    assert (lax.status, strict.status) == (0, 1)
    assert not told(strict.out)
    without = call(monkeypatch, [*asked, "--no-settings", "--format", "json"], cwd=folder)
    assert without.status == 2  # and so no dialect knows it
    (dump,) = json.loads(without.out)["dumps"]
    assert dump["dialect"] is None


def test_settings_that_say_nothing_of_the_audit_are_not_told(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    shutil.copy(folder / "strict.toml", folder / "cfgaudit.toml")
    assert "changes the audit" not in call(monkeypatch, ["check", "bad.dump"], cwd=folder).out


def test_settings_further_up_that_nearer_ones_keep_from_being_used_are_told(folder: Path) -> None:
    near = folder / "near"
    near.mkdir()
    shutil.copy(folder / "dipper.dump", near)
    (near / "cfgaudit.toml").write_text('[cfgaudit]\ndialects = ["../dialects"]\n')
    path = str(near / "dipper.dump")
    said = "cfgaudit.toml further up is not"
    with pytest.MonkeyPatch.context() as patch:
        assert said in " ".join(call(patch, ["check", path], cwd=folder).out.split())
        named = call(patch, ["check", path, "--settings", str(folder / "strict.toml")], cwd=folder)
        assert said not in " ".join(named.out.split())
