"""Rules of other packages: found by their records, taken whole or left out with a reason."""

import sys
from pathlib import Path

import pytest

from cfgaudit.audit.plugins import Plugins, installed, load_plugins

HEAD = """
from cfgaudit.rules.rule import Doc, Level, Rule, rule

def one(rule_id):
    @rule(rule_id, Level.NOTE)
    def check(craft):
        '''Something is wrong.

        In the air: nothing.
        Mend: nothing.
        Source: invented for this test.
        '''
        yield from ()
    return check

MADE = one("otter/one")
"""
TAKEN = {"serial", "house"}


class Site:
    """A folder of packages, first on the path of imports."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch) -> None:
        self.folder, self._patch = folder, patch
        patch.syspath_prepend(str(folder))

    def add(
        self, code: str, entry: str = "otter", name: str = "Otter_Rules", kind: str = "dist-info"
    ) -> None:
        """A package of one module, as an installer would leave it, without the rest."""
        module = f"{name}_{entry}".lower().replace(".", "_").replace("-", "_")
        (self.folder / f"{module}.py").write_text(HEAD + code, encoding="utf-8")
        self._patch.delitem(sys.modules, module, raising=False)
        text = f"[console_scripts]\nx = y:z\n\n[cfgaudit.rules]\n{entry} = {module}:RULES\n"
        self.record(text.encode(), name, kind)

    def record(self, text: bytes, name: str = "Otter_Rules", kind: str = "dist-info") -> None:
        record = self.folder / f"{name}-1.0.{kind}"
        record.mkdir(exist_ok=True)
        (record / "entry_points.txt").write_bytes(text)

    def load(self) -> Plugins:
        return load_plugins(installed([str(self.folder)]), TAKEN)


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Site:
    return Site(tmp_path, monkeypatch)


def test_a_package_without_the_group_offers_nothing(site: Site) -> None:
    site.record(b"[console_scripts]\nx = y:z\n")
    (site.folder / "empty-2.dist-info").mkdir()
    (site.folder / "file-2.dist-info").write_text("[cfgaudit.rules]")
    assert installed([str(site.folder), str(site.folder / "nowhere"), sys.executable]) == []


@pytest.mark.parametrize("kind", ["dist-info", "egg-info"])
def test_the_rules_of_a_package_are_taken_in_its_order(site: Site, kind: str) -> None:
    site.add("RULES = (one('otter/two'), MADE)", kind=kind)
    made = site.load()
    assert [rule.id for rule in made.rules] == ["otter/two", "otter/one"]
    assert made.left_out == ()


def test_packages_come_in_the_order_of_their_names_and_entries(site: Site) -> None:
    site.add("RULES = [one('otter/one')]", "otter", "b.rules")
    site.add("RULES = (one('vole/one'),)", "vole", "a.rules")
    assert [rule.id for rule in site.load().rules] == ["vole/one", "otter/one"]


def test_one_package_may_have_several_areas(site: Site) -> None:
    site.add("RULES = [MADE]")
    module = "otter_rules_otter"
    more = site.folder / f"{module}.py"
    more.write_text(f"{more.read_text()}\nMORE = (one('vole/one'),)\n", encoding="utf-8")
    site.record(f"[cfgaudit.rules]\notter={module}:RULES\nvole={module}:MORE\n".encode())
    assert [rule.id for rule in site.load().rules] == ["otter/one", "vole/one"]


def test_of_two_records_of_one_package_the_first_on_the_path_counts(site: Site) -> None:
    site.add("RULES = (MADE,)")
    older = site.folder / "older"
    (older / "otter.rules-0.9.dist-info").mkdir(parents=True)
    text = "[cfgaudit.rules]\notter = no_such_module:RULES\n"
    (older / "otter.rules-0.9.dist-info" / "entry_points.txt").write_text(text)
    records = installed([str(site.folder), str(older)])
    assert len(records) == 2
    made = load_plugins(records, TAKEN)
    assert ([rule.id for rule in made.rules], made.left_out) == (["otter/one"], ())


def test_rules_over_several_craft_are_told_apart(site: Site) -> None:
    site.add("RULES = (MADE, one('otter/all')._replace(fleet=True))")
    made = site.load()
    assert [rule.id for rule in made.single] == ["otter/one"]
    assert [rule.id for rule in made.fleet] == ["otter/all"]


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("import no_such_module", "can't be imported (ModuleNotFoundError: No module named 'no_s"),
        ("", "can't be imported (AttributeError: "),
        ("RULES = (", "can't be imported (SyntaxError: "),
        ("raise SystemExit(3)", "can't be imported (SystemExit: 3)"),
        ("raise ValueError('a\\nb')", "can't be imported (ValueError: a b)"),
        (
            "@rule('otter/bare', Level.NOTE)\ndef bare(craft):\n    '''Wrong.'''",
            "lacks In the air,",
        ),
        ("one('Otter')", "'Otter' is no rule id"),
        ("RULES = 'otter/one'", "is of type str; a tuple of rules is expected"),
        ("RULES = MADE", "is of type Rule; a tuple of rules is expected"),
        ("RULES = ()", "holds no rule"),
        ("RULES = (MADE, one)", "number 2 of otter_rules_otter:RULES is of type function;"),
        ("RULES = (one('serial/role-twice'),)", "the id serial/role-twice is not otter/what-is-wr"),
        ("RULES = (one('otter/x')._replace(id=7),)", "the id 7 is not otter/what-is-wrong"),
        ("RULES = (MADE, MADE)", "the id otter/one is there twice"),
        ("RULES = (MADE._replace(level='note'),)", "otter/one: the level 'note' is none of Level"),
        ("RULES = (MADE._replace(doc='x'),)", "otter/one: a text is expected in each part"),
        ("RULES = (MADE._replace(doc=Doc('x', ' ', 'x', 'x')),)", "a text is expected in each pa"),
        ("RULES = (MADE._replace(check=None),)", "otter/one: its check is no function"),
        ("RULES = (MADE._replace(limits=('otter.x',)),)", "otter/one: there is no limit otter.x"),
    ],
)
def test_a_plug_in_with_a_fault_is_left_out_whole_and_the_others_stay(
    site: Site, code: str, why: str
) -> None:
    site.add(code)
    site.add("RULES = (one('vole/one'),)", "vole", "vole")
    made = site.load()
    assert [rule.id for rule in made.rules] == ["vole/one"]
    ((area, package, told),) = made.left_out
    assert (area, package) == ("otter", "otter-rules")
    assert why in told
    assert "\n" not in told


@pytest.mark.parametrize(
    ("entry", "why"),
    [
        ("Otter", "an area of its own is expected"),
        ("otter-x", "an area of its own is expected"),
        ("serial", "serial is an area of cfgaudit's own; take another name"),
        ("house", "house is an area of cfgaudit's own; take another name"),
    ],
)
def test_an_area_that_is_none_or_is_taken_is_refused(site: Site, entry: str, why: str) -> None:
    site.add(
        f"RULES = (one('{entry}/one'),)" if entry.islower() and "-" not in entry else "", entry
    )
    (left_out,) = site.load().left_out
    assert left_out.area == entry
    assert why in left_out.why


def test_two_packages_may_share_an_area_but_no_id(site: Site) -> None:
    site.add("RULES = (MADE,)", name="a")
    site.add("RULES = (one('otter/two'),)", name="b")
    site.add("RULES = (one('otter/three'), MADE)", name="c")
    made = site.load()
    assert [rule.id for rule in made.rules] == ["otter/one", "otter/two"]
    assert made.left_out == (("otter", "c", "the id otter/one is taken, by a"),)


def test_a_list_of_entry_points_that_can_t_be_read_is_told(site: Site) -> None:
    site.record(b"[cfgaudit.rules]\n\xff = x:y\n")
    (left_out,) = site.load().left_out
    assert (left_out.area, left_out.package) == ("", "otter-rules")
    assert left_out.why.startswith("its list of entry points can't be read (UnicodeDecodeError: ")
