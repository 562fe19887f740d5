"""A stranger's file is read within bounds, each said in one line, all lifted by --no-limits."""

from pathlib import Path

import pytest

from cfgaudit.cli import COMMANDS, group
from cfgaudit.reading.bounds import BOUNDS
from tests.cli.calling import call

READING = ("check", "diff", "compare", "show", "plain", "redact", "mend", "upgrade")


def refused_or_read(
    monkeypatch: pytest.MonkeyPatch, folder: Path, *more: str
) -> tuple[int, str, str]:
    answer = call(monkeypatch, ["check", "a.cfg", *more], cwd=folder)
    return answer.status, answer.out, answer.err


def test_a_file_that_is_too_large_is_refused_in_one_line(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a.cfg").write_bytes(b"#" * 99 + b"\n")
    small = BOUNDS._replace(file_bytes=50)
    monkeypatch.setattr("cfgaudit.cli.limits.BOUNDS", small)
    status, out, err = refused_or_read(monkeypatch, tmp_path)
    assert (status, out) == (2, "")
    assert "a.cfg is larger than 0 MB, and so no dump; --no-limits reads it" in err
    assert refused_or_read(monkeypatch, tmp_path, "--no-limits")[0] == 0


def test_a_device_without_an_end_is_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    if not Path("/dev/zero").exists():
        pytest.skip("no such device here")
    answer = call(monkeypatch, ["check", "/dev/zero"], cwd=tmp_path)
    assert answer.status == 2
    assert "larger than 16 MB" in answer.err


def test_a_line_that_is_too_long_is_said_and_with_no_limits_read(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    text = "[battery]\ncells = 4\n[craft]\nname = " + "a" * BOUNDS.line + "\n"
    (tmp_path / "a.cfg").write_text(text, encoding="utf-8")
    assert "a line of at most 10,000 characters" in " ".join(
        refused_or_read(monkeypatch, tmp_path)[1].split()
    )
    shown = call(monkeypatch, ["show", "a.cfg", "craft.name", "--no-limits"], cwd=tmp_path)
    assert shown.out.replace("\n", "").replace(" ", "").count("a" * 1000) > 0


def test_blocks_that_lie_too_deep_are_said_once_and_with_no_limits_read(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    text = "a {\n" * 70 + "deep = 1\n" + "}\n" * 70 + "shallow = 2\n"
    (tmp_path / "a.cfg").write_text(text, encoding="utf-8")
    bounded = call(monkeypatch, ["show", "a.cfg"], cwd=tmp_path).out
    assert "shallow" in bounded
    assert "deep" not in bounded.replace("deeper", "")
    said = " ".join(refused_or_read(monkeypatch, tmp_path)[1].split())
    assert said.count("lie deeper than 64 in each other") == 1
    assert "deep" in call(monkeypatch, ["show", "a.cfg", "--no-limits"], cwd=tmp_path).out


def test_findings_beyond_the_bound_are_counted_and_still_decide_the_status(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    lines = [f"ports.u{n}.baud = -5" for n in range(30)]
    (tmp_path / "a.cfg").write_text("\n".join(lines) + "\n", encoding="utf-8")
    monkeypatch.setattr("cfgaudit.cli.limits.BOUNDS", BOUNDS._replace(findings=3))
    status, out, err = refused_or_read(monkeypatch, tmp_path, "--format", "json")
    assert status == 1
    assert out.count('"fingerprint"') == 3
    assert "more findings left out, the least grave; --no-limits reports them all" in err
    everything = refused_or_read(monkeypatch, tmp_path, "--format", "json", "--no-limits")
    assert everything[1].count('"fingerprint"') >= 30
    assert "left out" not in everything[2]


@pytest.mark.parametrize("name", READING)
def test_every_command_that_reads_a_dump_takes_no_limits(name: str) -> None:
    assert name in COMMANDS
    import click

    command = group.get_command(click.Context(group), name)
    assert command is not None
    assert "--no-limits" in {option for p in command.params for option in p.opts}
