"""The reading of fixture files."""

from pathlib import Path

import pytest

from cfgaudit.testing import Fixture, FixtureError, load_fixture

GOOD = """
rule = "serial/role-twice"
[[fires]]
name = "one"
dump = "a = 1"
paths = ["a"]
message = ["b"]
[[fires]]
name = "two"
dump = "a = 2"
paths = ["a"]
message = ["b"]
figures = { ports = 2 }
[[quiet]]
name = "one"
dump = "a = 1"
[[quiet]]
name = "two"
dump = "a = 2"
[[not_checked]]
name = "one"
dump = "a = 1"
lacks = ["a"]
"""


def load(folder: Path, text: str, name: str = "serial/role-twice.toml") -> Fixture:
    file = folder / name
    file.parent.mkdir(exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return load_fixture(file, fleet=name.startswith("fleet/"))


def test_a_whole_fixture_file_is_read(tmp_path: Path) -> None:
    fixture = load(tmp_path, GOOD)
    assert fixture.rule == "serial/role-twice"
    assert [case.kind for case in fixture.cases].count("fires") == 2
    assert fixture.cases[1].figures == (("ports", 2.0),)
    assert fixture.cases[-1].lacks == ("a",)


@pytest.mark.parametrize("kind", ["fires", "quiet", "not_checked"])
def test_a_fixture_file_without_one_kind_of_case_is_refused(tmp_path: Path, kind: str) -> None:
    first, *tables = GOOD.split("[[")
    rest = [table for table in tables if not table.startswith(kind)]
    with pytest.raises(FixtureError, match=kind):
        load(tmp_path, "[[".join([first, *rest]))


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("[[fires]]", "colour = 'rust'\n[[fires]]", "unknown key colour"),
        ('name = "two"', 'name = "two"\ncolour = "rust"', "unknown key colour"),
        ('message = ["b"]', "message = []", "the list is empty"),
        ('lacks = ["a"]', "lacks = []", "the list is empty"),
        ('lacks = ["a"]', "", "lacks lacks"),
        ('paths = ["a"]', "", "lacks paths"),
        ("{ ports = 2 }", "{ ports = true }", "numbers"),
        ("{ ports = 2 }", "{}", "numbers"),
        ('dump = "a = 2"', 'dump = "a = 2"\nlevel = "grave"', "warning"),
        ('dump = "a = 1"', 'dump = " "', "a text is expected"),
        ('name = "two"', 'name = "one"', "twice"),
        ('dump = "a = 1"', 'dump = "a = 1"\nfactory = { }', "a table of texts"),
        ('dump = "a = 1"', 'dump = "a = 1"\nfactory = { a = 1 }', "a text is expected"),
        ("[[fires]]", "[[fires", "line 3"),
    ],
)
def test_a_fixture_file_with_a_fault_is_refused(
    tmp_path: Path, old: str, new: str, told: str
) -> None:
    assert old in GOOD
    with pytest.raises(FixtureError, match=told):
        load(tmp_path, GOOD.replace(old, new, 1))


@pytest.mark.parametrize("kind", ["fires = []", "quiet = []", "not_checked = []"])
def test_a_fixture_file_with_an_empty_list_of_cases_is_refused(tmp_path: Path, kind: str) -> None:
    name = kind.partition(" ")[0]
    first, *tables = GOOD.split("[[")
    rest = [table for table in tables if not table.startswith(name)]
    with pytest.raises(FixtureError, match=f"at least . of ..{name}"):
        load(tmp_path, "[[".join([f"{first}{kind}\n", *rest]))


def test_a_fleet_rule_s_case_has_two_dumps_or_more_and_another_has_one(tmp_path: Path) -> None:
    name = "fleet/same-name.toml"
    text = GOOD.replace("serial/role-twice", "fleet/same-name")
    several = text.replace('dump = "a = 1"', 'dumps = ["a = 1", "a = 2"]').replace(
        'dump = "a = 2"', 'dumps = ["a = 2", "a = 2"]'
    )
    assert load(tmp_path, several, name).cases[0].dumps == ("a = 1", "a = 2")
    with pytest.raises(FixtureError, match="unknown key dump"):
        load(tmp_path, text, name)
    with pytest.raises(FixtureError, match="dumps: two or more"):
        load(tmp_path, several.replace('"a = 1", "a = 2"', '"a = 1"', 1), name)
    with pytest.raises(FixtureError, match="unknown key dumps"):
        load(tmp_path, several.replace("fleet/same-name", "serial/role-twice"))


@pytest.mark.parametrize("name", ["serial/role-thrice.toml", "video/role-twice.toml"])
def test_a_fixture_file_that_is_not_named_like_its_rule_is_refused(
    tmp_path: Path, name: str
) -> None:
    with pytest.raises(FixtureError, match="rule = "):
        load(tmp_path, GOOD, name)
