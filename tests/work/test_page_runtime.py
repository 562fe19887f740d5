"""What a page's Python is made of, as far as that needs no runtime."""

import importlib.util
import sys
from pathlib import Path

import pytest

from cfgaudit.work.page_bytecode import bytecode, compile_all
from cfgaudit.work.page_runtime import licences, tarred, untarred

FILES = {"cfgaudit/one.py": b'"""Says."""\nTOLD = __doc__\n', "other/two.py": b'"""Says."""\n'}


def test_a_tar_file_gives_back_its_files_and_is_the_same_each_time() -> None:
    files = {"b/c.txt": b"\0\xff", "a.txt": b""}
    assert untarred(tarred(files)) == files
    assert tarred(files) == tarred(dict(reversed(files.items())))


def test_modules_are_compiled_and_all_else_is_left(tmp_path: Path) -> None:
    given, made = tmp_path / "given.tar", tmp_path / "made.tar"
    given.write_bytes(tarred({**FILES, "other/data.lark": b"start:"}))
    compile_all(str(given), str(made))
    found = untarred(made.read_bytes())
    assert sorted(found) == ["cfgaudit/one.pyc", "other/data.lark", "other/two.pyc"]
    assert found["other/data.lark"] == b"start:"


@pytest.mark.parametrize(
    ("name", "says"),
    [("cfgaudit/rules/one.py", "Says."), ("cfgaudit/one.py", None), ("other/two.py", None)],
)
def test_bytecode_is_imported_without_its_source_and_ours_keeps_what_the_rule_book_reads(
    tmp_path: Path, name: str, says: str | None
) -> None:
    """Reference: Python's own import of a module that has no source beside it."""
    file = tmp_path / "compiled_for_a_test.pyc"
    file.write_bytes(bytecode(name, FILES[name.replace("rules/", "")]))
    spec = importlib.util.spec_from_file_location(file.stem, file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.__doc__ == says
    assert file.stem not in sys.modules


def test_the_terms_of_every_package_come_with_it() -> None:
    found = {name.split("/")[1].split(" ")[0]: text for name, text in licences().items()}
    for name in ("click", "deepdiff", "jinja2", "lark", "markupsafe"):
        assert b"opyright" in found[name]
