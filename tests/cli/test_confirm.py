"""What is not confirmed, or not done, is never green: status 2, with the line that is at fault."""

import json
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call
from tests.reports.schemas import validate

RIGHT = "home.altitude = 40 m"  # as corpus/dipper.dump has it: home_height = 400, in 0.1 m
FAULTS = {
    "a key misspelt": "home.altitud = 40 m",
    "a value that is none": "arming.max_tilt = many",
    "a value out of bounds": "receiver.channels = -3",
}


@pytest.mark.parametrize("before", [0, 1, 3])
@pytest.mark.parametrize("line", FAULTS.values(), ids=FAULTS)
def test_an_intended_line_that_is_not_understood_is_named_and_hides_no_other(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, line: str, before: int
) -> None:
    right = [RIGHT, "home.speed = 1 m/s", "loop.rate = 1 Hz"][:before]
    (tmp_path / "wanted.cfg").write_text("\n".join([*right, line]) + "\n")
    asked = ["confirm", str(tmp_path / "wanted.cfg"), "dipper.dump", "--format", "json"]
    answer = call(monkeypatch, asked)
    said = json.loads(answer.out)
    validate(said, "confirm")
    assert answer.status == 2
    assert [one["place"]["line"] for one in said["not_confirmed"]] == [before + 1]
    wrong = line.partition(" = ")[0]
    assert sum(one["path"] != wrong for one in said["settings"]) == before
    for more in ([], ["--lines"], ["--dialect", "sedge"]):
        answer = call(monkeypatch, [*asked[:3], *more])
        assert answer.status == 2
        assert f"wanted.cfg:{before + 1}" in "".join((answer.out + answer.err).split())


@pytest.mark.parametrize("data", [b"", bytes(range(256)) * 4, b"# a remark\n"])
def test_nothing_that_is_intended_is_nothing_confirmed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, data: bytes
) -> None:
    (tmp_path / "some.bin").write_bytes(data)
    answer = call(monkeypatch, ["confirm", str(tmp_path / "some.bin"), "dipper.dump"])
    assert answer.status == 2
    assert "states no setting that could be confirmed" in " ".join(answer.out.split())


@pytest.mark.parametrize(
    "asked",
    [
        ["carry", "EMPTY", "dipper.dump"],
        ["carry", "dipper.dump", "EMPTY"],
        ["upgrade", "dipper.dump", "EMPTY"],
        ["upgrade", "EMPTY", "dipper.dump"],
        ["dialect", "new", "EMPTY"],
    ],
)
def test_where_a_dump_states_nothing_nothing_is_done_and_that_is_said(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, asked: list[str]
) -> None:
    (tmp_path / "empty.dump").write_bytes(b"\n")
    named = [str(tmp_path / "empty.dump") if word == "EMPTY" else word for word in asked]
    answer = call(monkeypatch, named)
    assert (answer.status, answer.out) == (2, "")
    assert "empty.dump" in answer.err


def test_what_took_whole_is_green(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "wanted.cfg").write_text(f"{RIGHT}\n")
    for dump in (str(tmp_path / "wanted.cfg"), str(CORPUS / "dipper.dump")):
        assert call(monkeypatch, ["confirm", dump, "dipper.dump"]).status == 0


def test_a_few_lines_as_they_are_typed_are_read_in_the_dialect_of_what_was_read_back(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    mended = call(monkeypatch, ["mend", "faulty/dipper-after-repair.dump", "--lines"]).out
    assert "[arm bow_port]" in mended
    (tmp_path / "typed.txt").write_text(mended, "utf-8")
    for dump, status in (("dipper.dump", 0), ("faulty/dipper-after-repair.dump", 1)):
        asked = ["confirm", str(tmp_path / "typed.txt"), dump, "--format", "json"]
        answer = call(monkeypatch, asked)
        said = json.loads(answer.out)
        assert answer.status == status
        paths = {one["path"] for one in said["settings"]}
        assert {"motors.front_left.spin", "motors.front_right.spin", "ports.uart2.roles"} <= paths
    took = call(monkeypatch, ["confirm", str(tmp_path / "typed.txt"), "dipper.dump"]).out
    assert "the firmware's own" not in took


def test_what_has_no_line_to_type_is_told_beside_the_lines(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dialect = tmp_path / "small.toml"
    dialect.write_text(
        'name = "small"\nabout = "a few lines"\n[words.acts]\n"drop" = "motors_off"\n'
        '[[lines]]\nmap = ["last {failsafe.action: words acts}"]\n'
    )
    (tmp_path / "read.dump").write_text("last drop\n")
    (tmp_path / "want.cfg").write_text("failsafe.action = land\n")
    done = call(
        monkeypatch,
        ["confirm", "want.cfg", "read.dump", "--lines", "--dialect", "small.toml"],
        cwd=tmp_path,
    )
    assert (done.status, done.out) == (1, "")
    assert "failsafe.action can't be written: the dialect has no word for land" in done.err
