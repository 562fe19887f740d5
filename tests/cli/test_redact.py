"""`redact`: the dump's bytes on standard output, what was hidden on standard error."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli import sweep
from tests.cli.calling import CORPUS, call, environment, run


def raw(*arguments: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "cfgaudit", *arguments],
        cwd=CORPUS, env=environment(), capture_output=True, timeout=900, check=False,
    )  # fmt: skip


def test_the_dump_goes_to_standard_output_and_the_list_to_standard_error() -> None:
    done = raw("redact", "dipper.dump")
    before = (CORPUS / "dipper.dump").read_bytes()
    wanted = before.replace(b"called = dipper", b"called = (hidden)")
    wanted = wanted.replace(b"weir-team", b"(hidden)").replace(b"RS-0412", b"(hidden)")
    assert (done.returncode, done.stdout) == (0, wanted)
    assert b"dipper.dump:9:10: craft.owner: " in done.stderr
    assert b"dipper.dump: 3 stretches hidden\n" in done.stderr
    assert b"weir-team" not in done.stderr
    assert b"RS-0412" not in done.stderr


def test_it_is_written_to_a_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    out = tmp_path / "out.dump"
    answer = call(monkeypatch, ["redact", "dipper.dump", "--keep-name", "--output", str(out)])
    assert (answer.status, answer.out) == (0, "")
    assert b"called = dipper" in out.read_bytes()
    assert call(monkeypatch, ["redact", "--check", "--keep-name", str(out)]).status == 0


def test_check_writes_nothing_and_says_by_its_status_whether_something_is_private(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    check = ["redact", "--check"]
    answer = call(monkeypatch, [*check, "dipper.dump"])
    assert (answer.status, answer.out) == (1, "")
    assert "3 stretches to hide" in answer.err
    assert call(monkeypatch, [*check, "wagtail-esc.dump"]).status == 0
    assert call(monkeypatch, [*check, "--output", "x", "dipper.dump"]).status == 2


@pytest.mark.parametrize("dump", sweep.dumps())
def test_every_file_of_the_corpus_is_redacted_without_a_fault(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, dump: str
) -> None:
    answer = call(monkeypatch, ["redact", dump, "--output", str(tmp_path / "out.dump")])
    assert answer.status == 0
    assert "internal fault" not in answer.err
    listed = [line for line in answer.err.splitlines() if not line.endswith("hidden")]
    assert all(line.isprintable() for line in listed)


def test_a_dump_among_several_is_named_by_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["show", "pasted/several.dump#2", "craft.name"])
    assert "dipper" in answer.out
    refused = call(monkeypatch, ["show", "pasted/several.dump#4"])
    assert refused.status == 2
    assert "pasted/several.dump holds 3 dumps; there is no number 4" in refused.err


def test_the_lines_on_which_somebody_s_own_words_stay_are_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dump = (CORPUS / "dipper.dump").read_text("utf-8")
    name, book = "called = dipper", 'notebook = "see the blue book, page 4"'
    lines = dump.replace(name, f"{name}  # Ann Smew's craft").splitlines()
    numbers = [lines.index(f"{name}  # Ann Smew's craft") + 1, lines.index(book) + 1]
    (tmp_path / "a.dump").write_text("\n".join(lines) + "\n", "utf-8")
    told = call(monkeypatch, ["redact", str(tmp_path / "a.dump")]).err
    (said,) = [line for line in told.splitlines() if "words stay that somebody wrote" in line]
    assert {str(number) for number in numbers} <= set(
        re.findall(r"\d+", said.rpartition(": words")[2])
    )


def test_what_stands_behind_a_private_word_that_a_line_begins_with_goes_with_it() -> None:
    """Once the word is hidden nobody can tell the line from one that a private text goes on in."""
    lines = ["# alder tells", 'keeper,"Ald no,Osier listens. Ask away.', "osier 7.2.0 for Lock 4"]
    once = run("redact", "-", stdin="\n".join(lines).encode()).out
    assert "Lock 4" not in once
    assert run("redact", "-", stdin=once.encode()).out == once
