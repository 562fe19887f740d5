"""Dumps that say a thing twice, or both sides of a merge: no command acts on half of them."""

from pathlib import Path

import pytest

from tests.cli.calling import call

WHOLE = "battery.cells = 4\nfailsafe.action = land\nfailsafe.hold_for = 1 s\n"
MERGING = (
    "battery.cells = 4\n<<<<<<< ours\nfailsafe.action = land\n=======\n"
    "failsafe.action = motors_off\n>>>>>>> theirs\nfailsafe.hold_for = 1 s\n"
)
TWICE = WHOLE + "failsafe.action = return_home\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in (("whole", WHOLE), ("merging", MERGING), ("twice", TWICE)):
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    "words",
    [
        ["plain", "merging.cfg"],
        ["carry", "merging.cfg", "whole.cfg"],
        ["carry", "whole.cfg", "merging.cfg"],
        ["confirm", "merging.cfg", "whole.cfg"],
        ["confirm", "whole.cfg", "merging.cfg"],
        ["mend", "merging.cfg"],
    ],
)
def test_an_unfinished_merge_is_no_source(
    monkeypatch: pytest.MonkeyPatch, folder: Path, words: list[str]
) -> None:
    answer = call(monkeypatch, words, cwd=folder)
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.startswith("Error: merging.cfg:2: a merge was left unfinished.")


@pytest.mark.parametrize("command", ["show", "compare"])
def test_what_shows_of_an_unfinished_merge_is_told(
    monkeypatch: pytest.MonkeyPatch, folder: Path, command: str
) -> None:
    others = ["whole.cfg"] if command == "compare" else []
    answer = call(monkeypatch, [command, "merging.cfg", *others], cwd=folder)
    assert "merging.cfg:2: a merge was left unfinished" in answer.err


def test_plain_refuses_what_is_stated_twice_and_carry_leaves_it(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    answer = call(monkeypatch, ["plain", "twice.cfg"], cwd=folder)
    assert (answer.status, answer.out) == (2, "")
    assert "failsafe.action is stated more than once, with different values, on lines 2 and 4" in (
        answer.err
    )
    answer = call(monkeypatch, ["carry", "twice.cfg", "whole.cfg", "--lines"], cwd=folder)
    assert (answer.status, answer.out) == (0, "")


def test_plain_names_each_line_that_it_does_not_hold(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "slips.cfg").write_text(
        WHOLE + "failsafe.acton = land\nbattery.full_cell = 4,2 V\n", encoding="utf-8"
    )
    answer = call(monkeypatch, ["plain", "slips.cfg"], cwd=folder)
    assert answer.status == 0
    assert "slips.cfg:4:18: failsafe.acton is no setting; it is not in the plain form" in answer.err
    assert "slips.cfg:5:" in answer.err
