"""The command line with rules of other packages, installed as a user would have them."""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.calling import Answer, environment, run

DOCUMENT = Path(__file__).resolve().parents[2] / "cfgaudit" / "rules" / "README.md"
SMALL = "[battery]\ncapacity = 850 mAh\n"
LARGE = "[battery]\ncapacity = 1500 mAh\n"
FLEET_RULES = '''
from cfgaudit.rules.rule import Fires, Level, rule


@rule("vole/packs-differ", Level.ERROR, fleet=True)
def packs_differ(fleet):
    """Two craft fly with packs of different size.

    In the air: one of them comes home first.
    Mend: give them the same pack.
    Source: invented for this test.
    """
    sizes = [craft.battery.capacity for craft in fleet]
    if len(set(sizes)) > 1:
        paths = ("battery.capacity",) * len(sizes)
        yield Fires("The packs differ.", paths, crafts=tuple(range(len(sizes))))


RULES = (packs_differ,)
'''


def example() -> dict[str, str]:
    """The files of the example in DEVELOPERS.md, by name."""
    _, _, rest = DOCUMENT.read_text(encoding="utf-8").partition(
        "## A rule in a package of your own"
    )
    section, _, _ = rest.partition("\n## ")
    blocks = re.findall(r"^```\w+\n# (\S+)\n(.*?)^```$", section, re.MULTILINE | re.DOTALL)
    return dict(blocks)


def python(*arguments: str, cwd: Path, path: Path | None = None) -> Answer:
    env = environment(PYTHONPATH=str(path)) if path else environment()
    done = subprocess.run(
        [sys.executable, "-m", *arguments],
        cwd=cwd,
        env=env,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=900,
        check=False,
    )
    return Answer(done.returncode, done.stdout, done.stderr)


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example, written down."""
    folder = tmp_path_factory.mktemp("source")
    for name, text in example().items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def site(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of its own that pip has installed the example into, without any network."""
    target = tmp_path_factory.mktemp("site")
    offline = ("--no-index", "--no-deps", "--no-build-isolation", "--disable-pip-version-check")
    done = python(
        "pip", "install", "-q", *offline, "--target", str(target), str(source), cwd=target
    )
    assert done.status == 0, done.err
    return target


@pytest.fixture
def dumps(tmp_path: Path) -> Path:
    (tmp_path / "small.cfg").write_text(SMALL, encoding="utf-8")
    (tmp_path / "large.cfg").write_text(LARGE, encoding="utf-8")
    return tmp_path


def hand_made(folder: Path, area: str, code: str) -> Path:
    """A package as an installer leaves it, made by hand."""
    site = folder / f"site-{area}"
    record = site / f"{area}_rules-1.0.dist-info"
    record.mkdir(parents=True)
    (site / f"{area}_rules.py").write_text(code, encoding="utf-8")
    text = f"[cfgaudit.rules]\n{area} = {area}_rules:RULES\n"
    (record / "entry_points.txt").write_text(text, encoding="utf-8")
    return site


def with_site(site: Path, cwd: Path, *arguments: str) -> Answer:
    return run(*arguments, cwd=cwd, env=environment(PYTHONPATH=str(site)))


def test_the_example_in_the_document_is_four_files_whose_own_test_passes(
    source: Path, site: Path, tmp_path: Path
) -> None:
    names = ["pyproject.toml", "survey_rules.py", "survey/pack-small.toml", "test_survey.py"]
    assert list(example()) == names
    tried = shutil.copytree(source, tmp_path / "tried")
    pytest_quiet = ("pytest", "-q", "-p", "no:cacheprovider")
    done = python(*pytest_quiet, cwd=tried, path=site)
    assert (done.status, "1 passed" in done.out) == (0, True)
    file = tried / "survey" / "pack-small.toml"
    file.write_text(file.read_text("utf-8").replace("1299 mAh", "1301 mAh"), encoding="utf-8")
    done = python(*pytest_quiet, cwd=tried, path=site)
    assert (done.status, "fires 'just below': it says nothing" in done.out) == (1, True)


def test_check_runs_an_installed_rule_behind_the_book(site: Path, dumps: Path) -> None:
    said = json.loads(with_site(site, dumps, "check", "small.cfg", "--format", "json").out)
    (found,) = [f for f in said["dumps"][0]["findings"] if f["rule"] == "survey/pack-small"]
    assert found["message"] == "The pack holds 850 mAh; a survey leg takes 1300 mAh."
    assert found["places"] == [{"file": "small.cfg", "line": 2, "column": 12}]
    assert found["figures"] == {"capacity_mah": 850, "least_mah": 1300}
    alone = json.loads(run("check", "small.cfg", "--format", "json", cwd=dumps).out)
    assert "survey/pack-small" not in json.dumps(alone)
    assert said["dumps"][0]["checked"] == alone["dumps"][0]["checked"] + 1
    screen = with_site(site, dumps, "check", "small.cfg", "--long")
    assert "WARNING survey/pack-small\n  The pack holds 850 mAh;" in screen.out
    assert screen.err == ""


def test_diff_tells_what_an_installed_rule_finds(site: Path, dumps: Path) -> None:
    answer = with_site(site, dumps, "diff", "large.cfg", "small.cfg", "--format", "json")
    assert "survey/pack-small" in {f["rule"] for f in json.loads(answer.out)["findings_new"]}


def test_compare_runs_an_installed_rule_over_several_craft(dumps: Path) -> None:
    site = hand_made(dumps, "vole", FLEET_RULES)
    for command in ("check", "compare"):
        answer = with_site(site, dumps, command, "small.cfg", "large.cfg", "--format", "json")
        found = [f for f in json.loads(answer.out)["fleet"]["findings"] if "vole" in f["rule"]]
        assert [f["crafts"] for f in found] == [[0, 1]]
    single = with_site(site, dumps, "check", "small.cfg", "--format", "json")
    assert "vole/packs-differ" not in single.out


def test_explain_knows_an_installed_rule(site: Path, dumps: Path) -> None:
    answer = with_site(site, dumps, "explain", "survey/pack-small")
    assert answer.out.startswith("survey/pack-small  warning\n\n  The pack holds less than")
    assert "### `survey/pack-small`: warning" in with_site(site, dumps, "explain", "--all").out
    near = with_site(site, dumps, "explain", "survey/pack-smal")
    assert "Did you mean survey/pack-small" in near.err


def test_an_installed_rule_can_be_waived(site: Path, dumps: Path) -> None:
    waiver = '[[waive]]\nrule = "survey/pack-small"\nbecause = "short legs"\nuntil = 2026-12-31\n'
    (dumps / "cfgaudit.toml").write_text(waiver, encoding="utf-8")
    check = ("check", "small.cfg", "--today", "2026-06-01", "--format", "json")
    said = json.loads(with_site(site, dumps, *check).out)
    (found,) = [f for f in said["dumps"][0]["findings"] if f["rule"] == "survey/pack-small"]
    assert found["waived"]["because"] == "short legs"
    refused = run(*check, cwd=dumps)
    assert (refused.status, "there is no rule 'survey/pack-small'" in refused.err) == (2, True)


BROKEN = {
    "an import that fails": ("import no_such_module", "ModuleNotFoundError: No module named"),
    "no rules": ("RULES = 5", "is of type int; a tuple of rules is expected"),
    "a list of no rules": ("RULES = ('a',)", "number 1 of vole_rules:RULES is of type str"),
    "an id of the book": (
        FLEET_RULES.replace("vole/packs-differ", "fleet/same-name"),
        "the id fleet/same-name is not vole/what-is-wrong",
    ),
    "a docstring that lacks a part": (
        FLEET_RULES.replace("Mend:", "Do:"),
        "ValueError: vole/packs-differ: the docstring lacks Mend",
    ),
    "a text that would act on the terminal": ("raise ValueError('\\x1b[31m')", "\\x1b[31m"),
}


@pytest.mark.parametrize(("code", "why"), BROKEN.values(), ids=BROKEN)
def test_a_broken_plug_in_is_one_line_and_the_audit_goes_on(
    dumps: Path, code: str, why: str
) -> None:
    site = hand_made(dumps, "vole", code)
    whole = run("check", "small.cfg", "large.cfg", cwd=dumps)
    answer = with_site(site, dumps, "check", "small.cfg", "large.cfg")
    assert (answer.status, answer.out) == (whole.status, whole.out)
    (line,) = answer.err.splitlines()
    assert line.startswith("cfgaudit: plug-in vole of vole-rules is left out: ")
    assert why in line


def test_two_packages_with_one_id_are_told_and_the_first_stays(dumps: Path) -> None:
    first = hand_made(dumps / "a", "vole", FLEET_RULES)
    second = first / "water_rules-1.0.dist-info"
    second.mkdir()
    (second / "entry_points.txt").write_text("[cfgaudit.rules]\nvole = vole_rules:RULES\n")
    answer = with_site(first, dumps, "compare", "small.cfg", "large.cfg")
    assert "vole/packs-differ" in answer.out
    assert answer.err == (
        "cfgaudit: plug-in vole of water-rules is left out: "
        "the id vole/packs-differ is taken, by vole-rules\n"
    )


def test_a_waiver_of_a_broken_plug_in_s_rule_does_not_stop_the_audit(dumps: Path) -> None:
    site = hand_made(dumps, "vole", "import no_such_module")
    waiver = '[[waive]]\nrule = "vole/packs-differ"\nbecause = "for now"\nuntil = 2026-12-31\n'
    (dumps / "cfgaudit.toml").write_text(waiver, encoding="utf-8")
    answer = with_site(site, dumps, "check", "large.cfg", "--today", "2026-06-01")
    assert answer.status in (0, 1)
    assert len(answer.err.splitlines()) == 1
    assert "waiver/" not in answer.out


def test_a_plug_in_s_rule_that_crashes_is_a_finding(dumps: Path) -> None:
    site = hand_made(dumps, "vole", FLEET_RULES.replace("len(set(sizes))", "sizes.count"))
    answer = with_site(site, dumps, "compare", "small.cfg", "large.cfg")
    assert (answer.status, answer.err) == (0, "")
    assert "The rule itself failed" in " ".join(answer.out.split())
