"""plain --check and --write: what is said, what is written, what is refused."""

from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call

LOOSE = "battery.cells = 4\ncraft.owner = river team  # ours\n"
NEAT = '[craft]\nowner = "river team"  # ours\n\n[battery]\ncells = 4\nend\n'


def test_check_names_the_file_and_its_first_line_that_differs(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a.cfg").write_text(LOOSE, encoding="utf-8")
    (tmp_path / "b.cfg").write_text(NEAT, encoding="utf-8")
    answer = call(monkeypatch, ["plain", "--check", "b.cfg", "a.cfg"], cwd=tmp_path)
    assert answer.status == 1
    assert answer.out == "a.cfg:1: not in the one form (cfgaudit plain --write)\n"
    assert (tmp_path / "a.cfg").read_text(encoding="utf-8") == LOOSE


def test_write_puts_it_in_order_secrets_and_all_and_then_has_nothing_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "a.cfg"
    file.write_text(LOOSE, encoding="utf-8")
    file.chmod(0o640)
    answer = call(monkeypatch, ["plain", "--write", "a.cfg"], cwd=tmp_path)
    assert (answer.status, answer.out, answer.err) == (0, "", "written: a.cfg\n")
    assert file.read_text(encoding="utf-8") == NEAT
    assert file.stat().st_mode & 0o777 == 0o640
    was = file.stat().st_mtime_ns
    answer = call(monkeypatch, ["plain", "--write", "a.cfg"], cwd=tmp_path)
    assert (answer.status, answer.out, answer.err) == (0, "", "")
    assert file.stat().st_mtime_ns == was
    assert call(monkeypatch, ["plain", "--check", "a.cfg"], cwd=tmp_path).status == 0


def test_a_dump_in_another_form_is_refused_and_the_others_are_still_done(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a.cfg").write_text(LOOSE, encoding="utf-8")
    dump = str(CORPUS / "dipper.dump")
    answer = call(monkeypatch, ["plain", "--write", dump, "a.cfg"], cwd=tmp_path)
    assert answer.status == 2
    assert "is not in the plain form" in answer.err
    assert (tmp_path / "a.cfg").read_text(encoding="utf-8") == NEAT


@pytest.mark.parametrize(
    "arguments",
    [
        ["--write", "--check", "dipper.cfg"],
        ["--write", "-"],
        ["--check", "dipper.cfg", "--output", "x"],
        ["--write", "dipper.cfg", "--secrets"],
        ["dipper.cfg", "wagtail.cfg"],
    ],
    ids=" ".join,
)
def test_what_does_not_go_together_is_refused(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    answer = call(monkeypatch, ["plain", *arguments])
    assert (answer.status, answer.out) == (2, "")
    assert answer.err


def test_several_dumps_in_one_file_are_not_mixed_into_one(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "two.cfg"
    texts = [(CORPUS / f"{name}.cfg").read_bytes() for name in ("dipper", "goosander")]
    file.write_bytes(b"".join(text + b"end\n" for text in texts))
    before = file.read_bytes()
    for name in ("two.cfg", "two.cfg#2"):
        answer = call(monkeypatch, ["plain", "--write", name], cwd=tmp_path)
        assert answer.status == 2
        assert "each wants a file of its own" in answer.err
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]
