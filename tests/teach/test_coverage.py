from cfgaudit.dialects.dialect import load_dialect
from cfgaudit.dialects.opening import open_dump
from cfgaudit.teach.coverage import Coverage, coverage
from tests.cli.calling import CORPUS

SEDGE = load_dialect(CORPUS / "dialects" / "sedge.toml")


def cover(text: str) -> Coverage:
    return coverage(open_dump("a.dump", text.encode(), [], SEDGE))


def test_lines_keys_and_failures_are_counted() -> None:
    found = cover("[pack]\ncell_low = 350\ncells = many\nmurmur = 3\nfeathers = 2\n")
    assert (found.lines, found.read, found.known) == (4, 1, 1)
    assert [raw.key for raw in found.unknown] == ["pack/feathers"]
    assert len(found.failed) == 1


def test_the_setting_for_which_most_rules_wait_comes_first() -> None:
    found = cover("[pack]\ncell_low = 350\n")
    counts = [len(wanted.rules) for wanted in found.wanted]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > 1
    assert found.checked < found.rules


def test_a_rule_that_waits_is_named_with_each_setting_it_misses() -> None:
    found = cover("[pack]\ncell_low = 350\n")
    empty = next(w for w in found.wanted if w.pattern == "battery.empty_cell")
    assert empty.rules
    more = cover("[pack]\ncell_low = 350\ncell_dry = 330\n")
    assert "battery.empty_cell" not in [wanted.pattern for wanted in more.wanted]


def test_a_golden_dump_leaves_next_to_nothing_to_map() -> None:
    opened = open_dump("d", (CORPUS / "dipper.dump").read_bytes(), [SEDGE])
    found = coverage(opened)
    assert found.unknown == ()
    assert found.failed == ()
