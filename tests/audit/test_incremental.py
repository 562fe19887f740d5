"""Auditing one version after another finds what auditing each anew does."""

from dataclasses import replace

from hypothesis import given
from hypothesis import settings as budget
from hypothesis import strategies as st

from cfgaudit.audit.engine import audit
from cfgaudit.audit.incremental import Auditor, FleetAuditor
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.book import book
from cfgaudit.settings import Settings, Stated
from tests.audit.seeding import GOLDEN, counted, settings_of, sheet_of
from tests.dialects.demo import DUMPS, opened
from tests.strategies import settings as drawn
from tests.strategies import stated

CORPUS = [opened(path).settings for path in DUMPS]


def test_the_demo_craft_one_after_another_have_their_own_findings() -> None:
    auditor = Auditor(book())
    for settings in (*CORPUS, *reversed(CORPUS)):
        assert auditor.findings(settings) == audit(settings).findings


@given(
    start=st.sampled_from(CORPUS),
    changes=st.lists(st.lists(stated(), max_size=3), max_size=4),
    dropped=st.lists(st.integers(0, 10_000), max_size=4),
)
@budget(max_examples=25)
def test_any_change_of_a_demo_craft_is_seen(
    start: Settings, changes: list[list[Stated]], dropped: list[int]
) -> None:
    auditor = Auditor(book())
    table = dict(start.stated)
    for number, entries in enumerate(changes):
        table |= {entry.path: entry for entry in entries}
        if number < len(dropped):
            del table[list(table)[dropped[number] % len(table)]]
        settings = Settings(
            dict(table), start.repeats, start.raw, start.troubles, start.dumps, start.factory
        )
        assert auditor.findings(settings) == audit(settings).findings


@given(
    starts=st.lists(st.sampled_from(CORPUS), min_size=2, max_size=6),
    changes=st.lists(st.lists(stated(), max_size=3), min_size=6, max_size=6),
)
@budget(max_examples=25)
def test_each_craft_of_a_fleet_has_the_findings_of_a_plain_audit(
    starts: list[Settings], changes: list[list[Stated]]
) -> None:
    auditor = FleetAuditor(book())
    for start, entries in zip(starts, changes, strict=False):
        known = {entry.path: entry for entry in entries if entry.path in start.stated}
        for settings in (start, replace(start, stated={**start.stated, **known})):
            found, plain = auditor.outcome(settings), audit(settings)
            assert found.findings == plain.findings
            assert found.lacks == {entry.rule.id: entry.lacks for entry in plain.not_checked}


def test_a_build_sheet_is_looked_at_as_in_a_plain_audit() -> None:
    for name in GOLDEN:
        settings, sheet = settings_of(name), sheet_of(name)
        auditor = Auditor(book(), sheet=sheet)
        assert auditor.findings(settings) == audit(settings, sheet=sheet).findings
        assert any(path.startswith("sheet.") for path in auditor.looked_at())


def test_what_is_only_tried_leaves_the_next_audit_where_it_was() -> None:
    first = CORPUS[0]
    low = first.stated["battery.warn_cell"]._replace(value=2.9)
    other = replace(first, stated={**first.stated, "battery.warn_cell": low})
    auditor = Auditor(book())
    plain = auditor.findings(first)
    assert auditor.tried(other).findings == audit(other).findings != plain
    assert auditor.findings(first) == plain
    assert "battery.warn_cell" in auditor.read_by("battery/threshold-order")


@given(
    start=st.sampled_from(CORPUS),
    changes=st.lists(stated(), min_size=2, max_size=3),
    dropped=st.lists(st.integers(0, 10_000), max_size=1),
)
@budget(max_examples=25)
def test_changes_tried_alone_and_beside_each_other_are_found_as_by_a_plain_audit(
    start: Settings, changes: list[Stated], dropped: list[int]
) -> None:
    auditor = Auditor(book())
    auditor.findings(start)
    gone = [list(start.stated)[number % len(start.stated)] for number in dropped]
    edits = [{entry.path: entry} for entry in changes] + [{path: None} for path in gone]
    for some in (edits[:1], edits[1:2], edits[:2], edits[2:], edits[1:], edits, edits[:1]):
        table: dict[str, Stated | None] = dict(start.stated)
        for edit in some:
            table |= edit
        kept = {path: entry for path, entry in table.items() if entry is not None}
        settings = replace(start, stated=kept)
        found, plain = auditor.tried(settings), audit(settings)
        assert found.findings == plain.findings
        assert found.lacks == {entry.rule.id: entry.lacks for entry in plain.not_checked}


def test_a_rule_does_not_run_again_for_a_try_that_shows_it_what_one_before_did() -> None:
    runs: list[str] = []
    rules = [counted(rule, runs) for rule in book() if rule.area in ("battery", "video")]
    auditor = Auditor(rules)
    first = CORPUS[0]
    auditor.findings(first)
    low = first.stated["battery.warn_cell"]._replace(value=2.9)
    power = first.stated["video.transmitter.power"]._replace(value=1)

    def ran(*entries: Stated) -> set[str]:
        runs.clear()
        auditor.tried(replace(first, stated={**first.stated, **{e.path: e for e in entries}}))
        return set(runs)

    assert {rule.partition("/")[0] for rule in ran(low)} == {"battery"}
    assert {rule.partition("/")[0] for rule in ran(low, power)} == {"video"}
    assert ran(power) == ran(power, low) == set()


@given(st.lists(drawn(), min_size=2, max_size=4))
@budget(max_examples=25)
def test_settings_that_have_nothing_in_common_are_audited_anew(found: list[Settings]) -> None:
    auditor = Auditor(book())
    for settings in found:
        assert auditor.findings(settings) == audit(settings).findings


def test_a_rule_runs_again_only_where_what_it_read_has_changed() -> None:
    runs: list[str] = []
    rules = [counted(rule, runs) for rule in book() if rule.area in ("battery", "video")]
    auditor = Auditor(rules)
    first = CORPUS[0]
    auditor.findings(first)
    before = len(runs)
    auditor.findings(first)
    assert len(runs) == before
    moved = dict(first.stated)
    moved["battery.warn_cell"] = moved["battery.warn_cell"]._replace(value=3.6)
    auditor.findings(Settings(moved, raw=first.raw, dumps=first.dumps, factory=first.factory))
    again = runs[before:]
    assert any(rule.startswith("battery/") for rule in again)
    assert not [rule for rule in again if rule.startswith("video/")]
    assert len(again) < before


def test_settings_with_other_values_say_of_every_part_what_such_settings_made_anew_say() -> None:
    before = settings_of("dipper")
    asked = [("pads", "use"), ("pads", "timer"), ("ports", "roles")]
    for prefix, leaf in asked:
        assert before.each(prefix, leaf)  # what it says is kept, and taken over where it may be
    free, doubted = before["pads.a1.use"], before["pads.a2.use"]
    others = {
        "pads.a1.use": free._replace(value="free"),
        "pads.a2.use": doubted._replace(doubt="two words"),
    }
    made = before.with_values(others)
    anew = replace(before, stated={**before.stated, **others})
    assert made == anew
    for prefix, leaf in asked:
        assert made.each(prefix, leaf) == anew.each(prefix, leaf)
    assert made.each("pads", "use")["a1"] == "free"
    assert "a2" not in made.each("pads", "use")
    assert made.doubted == anew.doubted == ("pads.a2.use",)
    assert made.with_values({"pads.a1.use": free}).doubted == made.doubted


def test_a_line_that_nobody_understands_is_looked_at_by_those_alone_that_miss_something() -> None:
    lines = [f"pads.m{n}.use = motor {arm}" for n, arm in enumerate(("front_left", "front_right"))]
    lines = ["motors.rear_left.spin = cw", *lines]
    runs: list[str] = []
    auditor = Auditor([counted(rule, runs) for rule in book()])
    for more in ([], ["heron 2 = m2 rear left"], [*["\n"] * 40, "heron 2 = m2"]):
        settings = read_plain("\n".join([*lines, *more]))
        found, plain = auditor.findings(settings), audit(settings).findings
        assert [one.message for one in found] == [one.message for one in plain]
    dipper = settings_of("dipper")
    auditor.findings(dipper)
    for path, again in (("ports.uart1.roles", True), ("pads.a1.timer", False)):
        runs.clear()
        auditor.tried(dipper.with_values({path: dipper[path]._replace(value=frozenset())}))
        assert again == ("log/device-idle" in runs)  # that wants every port and no pad


def test_a_setting_that_a_rule_reads_of_every_part_is_looked_at_in_each() -> None:
    """Hand calculation: `each` looks for a use on every pad, also on one that states none."""
    settings = read_plain("pads.a1.use = motor\npads.a2.timer = T2\n")
    auditor = Auditor([rule for rule in book() if rule.id == "pads/used-twice"])
    auditor.findings(settings)
    assert auditor.looked_at() >= {"pads.a1.use", "pads.a2.use"}
    assert auditor.asks_for(["pads.a1.use"])
    assert not auditor.asks_for(["pads.a2.timer"])
