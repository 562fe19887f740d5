"""A dialect is data: nothing in one, or in a dump, acts on the machine or holds it up."""

import builtins
import io
import socket
import subprocess
from pathlib import Path
from typing import NoReturn

import pytest

from cfgaudit.dialects.dialect import DialectError, load_dialect
from cfgaudit.dialects.opening import open_dump
from tests.dialects.demo import DUMPS, dialect, dialects

LINES = 'name = "x"\n[[lines]]\nmap = ["a {{{}}}"]\n'
REFUSED = {
    "lists in lists": 'name = "x"\nabout = ' + "[" * 5_000 + "]" * 5_000,
    "a scale without end": LINES.format("battery.warn_cell: 1e99999999 V"),
    "an offset without end": LINES.format("battery.warn_cell: V + 1e-99999999 V"),
    "a first number of many digits": LINES.format("battery.cells: from " + "9" * 9_000),
    "a file to take in": 'name = "x"\ninclude = "/etc/passwd"\n',
    "code": "name = \"x\"\ncode = \"__import__('os').system('true')\"\n",
    "a pattern": 'name = "x"\n[look]\npattern = "(a+)+$"\n',
}


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused_by_name(tmp_path: Path, name: str) -> None:
    file = tmp_path / "x.toml"
    file.write_text(REFUSED[name], encoding="utf-8")
    with pytest.raises(DialectError, match=r"x\.toml"):
        assert load_dialect(file).root


def test_what_looks_like_a_regular_expression_is_text(tmp_path: Path) -> None:
    file = tmp_path / "x.toml"
    file.write_text(
        'name = "x"\n[look]\nhead = ["(a+)+$ {firmware.version}"]\nignore = ["(x*)+"]\n'
        '[[lines]]\nmap = ["(.+)+ {battery.cells}"]\n',
        encoding="utf-8",
    )
    found = open_dump("a", b"(a+)+$ 2.4\n(.+)+ 4\n" + b"a" * 5_000 + b"!\n", [load_dialect(file)])
    assert found.dialect.name == "x"
    assert found.settings["firmware.version"].value == "2.4"
    assert found.settings["battery.cells"].value == 4


@pytest.mark.parametrize("text", [
    "include = /etc/passwd", "source /etc/passwd", "dialect = ../../x.toml", "!cat /etc/passwd",
    "$(touch x)", "`touch x`", "import os", "factory = /etc/passwd", "| sh", "file:///etc/passwd",
    "@/etc/passwd", "#include </etc/passwd>", "<<<<<<< /etc/passwd",
])  # fmt: skip
def test_a_dump_opens_no_file_no_process_and_no_connection(
    monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    known = dialects()
    for entry in known:
        assert entry.root  # compiled before anything is forbidden

    def forbidden(*_: object, **__: object) -> NoReturn:
        raise AssertionError("the dump acts on the machine")

    data = (DUMPS[0].read_text(encoding="utf-8") + text + "\n").encode()
    open_dump("a.dump", DUMPS[0].read_bytes(), known)  # whatever is loaded once is loaded
    with monkeypatch.context() as patch:
        for owner, what in ((builtins, "open"), (io, "open"), (Path, "open"), (Path, "read_text"),
                            (subprocess, "Popen"), (socket, "socket")):  # fmt: skip
            patch.setattr(owner, what, forbidden)
        found = open_dump("a.dump", data, known)
    assert found.dialect.name


DIGITS = "9" * 5_000


@pytest.mark.parametrize("line", [
    f"[travel {DIGITS}]\nspans = 1000..2000", "[travel ²]\nspans = 1000..2000", "[travel --5]",
    f"[lost channel {DIGITS}]\ngives = 1500", f"[pack]\ncells = {DIGITS}", "[pack]\ncells = ²",
    f"[lever wake]\nworks = ch{DIGITS} 60-80", "[arm bow_port]\noutlet = ²",
])  # fmt: skip
def test_a_number_of_any_length_or_script_is_no_fault(line: str) -> None:
    head = "# sedge 2.4.1 on HB-7 rev C, built 2026-03-18\n"
    found = open_dump("a.dump", f"{head}{line}\n".encode(), [dialect("sedge")])
    assert found.settings["firmware.name"].value == "sedge"
