"""Start-up is a feature: what each way in loads, pinned in processes of their own."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, environment

HEAVY = {
    "rich",
    "deepdiff",
    "numpy",
    "scipy",
    "networkx",
    "jsonschema",
    "asyncio",
    "orjson",
}

# Runs the command line, then tells on standard error which modules came to be loaded.
_TELL = """
import sys
before = set(sys.modules)
from cfgaudit.cli import main
try:
    main(sys.argv[1:])
finally:
    print(*sorted(set(sys.modules) - before), file=sys.stderr)
"""


def loaded(*arguments: str, cwd: Path = CORPUS) -> set[str]:
    """The modules that one call loads; what it prints goes into a pipe."""
    done = subprocess.run(
        [sys.executable, "-c", _TELL, *arguments],
        cwd=cwd,
        env=environment(),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=900,
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    assert done.stdout
    return set(done.stderr.split())


def ours(modules: set[str]) -> set[str]:
    return {name for name in modules if name.partition(".")[0] == "cfgaudit"}


def reports(modules: set[str]) -> set[str]:
    """The names of the modules of reports among them."""
    names = (name.partition("cfgaudit.reports.")[2] for name in modules)
    return {name for name in names if name}


def test_importing_the_package_loads_nothing_else() -> None:
    code = (
        "import sys; before = set(sys.modules); import cfgaudit; "
        "print(*sorted(set(sys.modules) - before))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=900, check=True
    )
    assert done.stdout.split() == ["cfgaudit"]


@pytest.mark.parametrize("arguments", [["--version"], ["--help"]], ids=str)
def test_version_and_help_load_the_group_alone(arguments: list[str]) -> None:
    modules = loaded(*arguments)
    assert ours(modules) == {"cfgaudit", "cfgaudit.cli"}
    assert modules & (HEAVY | {"lark", "tomllib", "json", "difflib", "hashlib"}) == set()


def test_check_in_a_pipe_loads_nothing_heavy_to_draw_or_reckon_with() -> None:
    modules = loaded("check", "dipper.dump")
    assert modules & HEAVY == set()
    assert not [name for name in ours(modules) if name.startswith("cfgaudit.changes")]
    assert not [name for name in ours(modules) if "fleet" in name]
    assert reports(modules) == {"check", "data", "screen", "wording"}
    assert "importlib.metadata" not in modules, "only an installed plug-in is worth its time"


def test_check_loads_no_repairs_and_no_guesses_where_none_is_wanted() -> None:
    lazily = {"difflib", "cfgaudit.reading.repair"}
    assert loaded("check", "dipper.dump") & lazily == set()
    pasted = loaded("check", str(CORPUS / "pasted" / "forum-quote.dump"))
    assert "cfgaudit.reading.repair" in pasted


def test_no_cycles_are_sought_when_all_goes_with_the_process() -> None:
    """The search at the end took a tenth of a check's time."""
    code = (
        "import atexit, gc, sys; sys.argv[1:] = ['--version']; "
        "atexit.register(lambda: print(len(gc.get_objects()) < 100, gc.get_threshold()[0])); "
        "from cfgaudit.__main__ import run; run()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=900, check=True
    )
    assert done.stdout.split()[-2:] == ["True", "100000"]


def test_machine_output_of_check_loads_no_screen_of_any_command() -> None:
    modules = loaded("check", "dipper.dump", "--format", "json")
    assert modules & HEAVY == set()
    assert reports(modules) == {"check", "data", "screen", "wording"}


@pytest.mark.parametrize("form", ["sarif", "junit", "github", "markdown"])
def test_a_report_for_review_loads_itself_alone(form: str) -> None:
    modules = loaded("check", "dipper.dump", "--format", form)
    assert modules & HEAVY == set()
    of_their_own = {"sarif", "junit", "markdown"}
    assert reports(modules) & of_their_own == of_their_own & {form}
    assert ("xml.etree.ElementTree" in modules) == (form == "junit")


def test_a_baseline_is_loaded_where_one_is_named() -> None:
    modules = loaded("check", "dipper.dump")
    told = ("baseline", "review", "json_patch", "plain_format")
    assert not [name for name in ours(modules) if name.rpartition(".")[2] in told]


def test_several_dumps_are_what_the_fleet_rules_are_loaded_for() -> None:
    modules = loaded("check", "dipper.dump", "sandpiper.dump")
    assert modules & HEAVY == set()
    assert "cfgaudit.rules.fleet" in modules
    assert "cfgaudit.reports.fleet" not in modules


def test_colour_is_what_rich_is_loaded_for() -> None:
    assert loaded("check", "dipper.dump", "--color", "always") & HEAVY == {"rich"}


def test_plain_as_a_text_filter_loads_neither_rules_nor_changes() -> None:
    modules = loaded("plain", "dipper.dump")
    assert modules & HEAVY == set()
    floors = {name.split(".")[1] for name in ours(modules) if "." in name}
    assert floors & {"changes", "audit", "rules", "physics"} == set()


def test_explain_of_a_setting_loads_no_parser() -> None:
    assert loaded("explain", "battery.warn_cell") & (HEAVY | {"lark", "tomllib"}) == set()


def test_a_diff_of_plain_numbers_loads_no_deepdiff(tmp_path: Path) -> None:
    for name, volts in (("old", "3.5"), ("new", "3.4")):
        text = f"[battery]\ncells = 4\nwarn_cell = {volts} V\n"
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    assert loaded("diff", "old.cfg", "new.cfg", cwd=tmp_path) & HEAVY == set()


def test_a_diff_of_lists_is_what_deepdiff_is_loaded_for(tmp_path: Path) -> None:
    for name, cutoff in (("old", "150"), ("new", "160")):
        text = f"[filters]\ngyro = pt1 {cutoff} Hz\n"
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    assert "deepdiff" in loaded("diff", "old.cfg", "new.cfg", cwd=tmp_path)
