"""A stranger's file is read within bounds, each said in one line, all lifted by --no-limits."""

import json
from pathlib import Path

import pytest

from cfgaudit.cli import COMMANDS, group
from cfgaudit.reading.text import BOUNDS
from tests.cli.calling import call

READING = ("check", "diff", "compare", "show", "plain", "redact", "mend", "upgrade", "report")


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
    monkeypatch.setattr("cfgaudit.cli.options.BOUNDS", small)
    status, out, err = refused_or_read(monkeypatch, tmp_path)
    assert (status, out) == (2, "")
    assert "a.cfg is larger than 0 MB, and so no dump; --no-limits reads it" in err
    assert "larger" not in refused_or_read(monkeypatch, tmp_path, "--no-limits")[2]


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
    text = "[battery]\ncells = 4  # " + "a" * BOUNDS.line + "\n"
    (tmp_path / "a.cfg").write_text(text, encoding="utf-8")
    assert "a line of at most 10,000 characters" in " ".join(
        refused_or_read(monkeypatch, tmp_path)[1].split()
    )
    shown = call(monkeypatch, ["show", "a.cfg", "battery.cells", "--no-limits"], cwd=tmp_path)
    assert "battery.cells 4" in " ".join(shown.out.split())


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
    monkeypatch.setattr("cfgaudit.cli.options.BOUNDS", BOUNDS._replace(findings=3))
    status, out, err = refused_or_read(monkeypatch, tmp_path, "--format", "json")
    assert status == 1
    assert out.count('"fingerprint"') == 3
    assert "more findings left out, the least grave; --no-limits reports them all" in err
    more = json.loads(out)["dumps"][0]["left_out"]
    assert more >= 27
    assert f"a.cfg: {more} more" in err
    everything = refused_or_read(monkeypatch, tmp_path, "--format", "json", "--no-limits")
    assert everything[1].count('"fingerprint"') >= 30
    assert "left out" not in everything[2]


@pytest.fixture
def flooded(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A folder with two dumps that differ in 60 settings, each with 30 findings; 3 are reported."""
    for name, tail in (("a.cfg", ""), ("b.cfg", "x")):
        lines = [f"ports.u{n}{tail}.baud = -5" for n in range(30)]
        (tmp_path / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    monkeypatch.setattr("cfgaudit.cli.options.BOUNDS", BOUNDS._replace(findings=3))
    return tmp_path


LEFT_OUT = {
    "diff": (
        "a.cfg to b.cfg: 57 more changes left out, the least grave; --no-limits reports them all",
        "b.cfg: 27 more findings left out, the least grave; --no-limits reports them all",
        "a.cfg: 27 more findings left out, the least grave; --no-limits reports them all",
    ),
    "compare": (
        "a.cfg, b.cfg: 57 more settings left out, the least grave; --no-limits reports them all",
    ),
    "upgrade": (
        "a.cfg to b.cfg: 57 more settings left out, the least grave; --no-limits reports them all",
        "b.cfg: 27 more findings left out, the least grave; --no-limits reports them all",
        "a.cfg: 27 more findings left out, the least grave; --no-limits reports them all",
    ),
}


TOTAL = {"diff": "60 changes", "compare": "60 settings differ", "upgrade": "30 perhaps lost"}


@pytest.mark.parametrize("name", LEFT_OUT)
def test_what_two_dumps_differ_in_is_cut_as_findings_are(
    monkeypatch: pytest.MonkeyPatch, flooded: Path, name: str
) -> None:
    answer = call(monkeypatch, [name, "a.cfg", "b.cfg"], cwd=flooded)
    assert answer.err.splitlines() == list(LEFT_OUT[name])
    assert sum(line.lstrip("~+- ").startswith("ports.u") for line in _listed(answer.out)) == 3
    assert TOTAL[name] in answer.out
    every = call(monkeypatch, [name, "a.cfg", "b.cfg", "--no-limits"], cwd=flooded)
    assert every.err == ""
    assert sum(line.lstrip("~+- ").startswith("ports.u") for line in _listed(every.out)) == 60


def _listed(text: str) -> list[str]:
    """The lines that list one setting each, without what is said of it in findings."""
    told = (
        text.split("this change")[0]
        .split("Not to be brought back")[0]
        .replace("  safety    ", "  ")
    )
    return [line for line in told.splitlines() if " is not " not in line and " = " not in line]


@pytest.mark.parametrize("name", LEFT_OUT)
def test_json_of_what_two_dumps_differ_in_is_whole(
    monkeypatch: pytest.MonkeyPatch, flooded: Path, name: str
) -> None:
    answer = call(monkeypatch, [name, "a.cfg", "b.cfg", "--format", "json"], cwd=flooded)
    assert answer.err == ""
    made = json.loads(answer.out)
    assert len(made.get("changes") or made.get("rows") or made.get("settings")) == 60
    assert name == "compare" or len(made["findings_new"]) == 30


@pytest.mark.parametrize("form", ["sarif", "junit", "github"])
def test_a_review_of_a_change_is_cut_as_that_of_one_dump_is(
    monkeypatch: pytest.MonkeyPatch, flooded: Path, form: str
) -> None:
    answer = call(monkeypatch, ["diff", "a.cfg", "b.cfg", "--format", form], cwd=flooded)
    assert answer.err.splitlines() == list(LEFT_OUT["diff"][1:])
    assert answer.out.count("is not a number within") < 30


@pytest.mark.parametrize("only", ["--summary", "--stat"])
def test_a_count_alone_leaves_nothing_out(
    monkeypatch: pytest.MonkeyPatch, flooded: Path, only: str
) -> None:
    answer = call(monkeypatch, ["diff", "a.cfg", "b.cfg", only], cwd=flooded)
    assert answer.err == ""
    assert "60 changes, 30 findings brought, 30 findings cleared." in answer.out


def test_the_verdict_counts_the_findings_that_are_left_out(
    monkeypatch: pytest.MonkeyPatch, flooded: Path
) -> None:
    for form in ("terminal", "markdown"):
        answer = call(monkeypatch, ["check", "a.cfg", "--format", form], cwd=flooded)
        assert "30 errors, 1 note" in answer.out


def test_the_lines_that_bring_back_say_where_all_of_them_are(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, value in (("a.cfg", 3), ("b.cfg", 4)):
        lines = [f"ports.u{n}.baud = {value}00 Bd" for n in range(9)]
        (tmp_path / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    monkeypatch.setattr("cfgaudit.cli.options.BOUNDS", BOUNDS._replace(findings=3))
    told = call(monkeypatch, ["upgrade", "a.cfg", "b.cfg"], cwd=tmp_path).out
    every = call(monkeypatch, ["upgrade", "a.cfg", "b.cfg", "--lines"], cwd=tmp_path).out
    assert every.count("baud = 300 Bd") == 9
    assert f"and {len(every.splitlines()) - 3} more lines; --lines gives them all" in told


def test_a_page_is_cut_and_says_so_itself(monkeypatch: pytest.MonkeyPatch, flooded: Path) -> None:
    one = call(monkeypatch, ["report", "a.cfg"], cwd=flooded)
    said = "28 more findings left out, the least grave; --no-limits reports them all"
    assert one.err.splitlines() == [f"a.cfg: {said}"]
    assert f"{said}." in one.out
    assert "Findings (31)" in one.out
    assert "30 errors, 1 note" in one.out
    two = call(monkeypatch, ["report", "a.cfg", "b.cfg"], cwd=flooded)
    assert two.err.splitlines() == list(LEFT_OUT["diff"])
    for line in LEFT_OUT["diff"]:
        assert line.partition(": ")[2] in two.out
    assert two.out.count('<article class="finding') == 3
    every = call(monkeypatch, ["report", "a.cfg", "b.cfg", "--no-limits"], cwd=flooded)
    assert every.err == ""
    assert every.out.count('<article class="finding') == 30
    assert "left out, the least grave" not in every.out


@pytest.mark.parametrize("name", READING)
def test_every_command_that_reads_a_dump_takes_no_limits(name: str) -> None:
    assert name in COMMANDS
    import click

    command = group.get_command(click.Context(group), name)
    assert command is not None
    assert "--no-limits" in {option for p in command.params for option in p.opts}
