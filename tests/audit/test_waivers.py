"""Waivers set findings apart until their day, and are watched over themselves."""

from datetime import date
from pathlib import Path

import pytest

from cfgaudit.audit.engine import Audit, Finding, audit
from cfgaudit.audit.fleet import audit_fleet
from cfgaudit.audit.waivers import RULES, Waiver, waive, waive_fleet
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.plain import read_plain
from cfgaudit.reading.text import Place
from cfgaudit.rules.book import book, find
from cfgaudit.rules.rule import Level, Rule
from tests.audit.seeding import CORPUS, dialects
from tests.audit.test_engine import crash

TODAY = date(2026, 11, 25)
LATER = date(2026, 12, 31)
PLACE = Place("cfgaudit.toml", 7)
ORDER = "battery/threshold-order"
DUMP = """
[craft]
name = Dipper
[battery]
cells = 4
empty_cell = 3.5 V
warn_cell = 3.3 V
full_cell = 4.2 V
"""


def waiver(
    rule_id: str = ORDER,
    *,
    until: date = LATER,
    at: str = "",
    craft: str = "",
    place: Place = PLACE,
) -> Waiver:
    return Waiver(rule_id, "looked at", until, place, at, craft)


def audited(text: str = DUMP, *rules: Rule) -> Audit:
    return audit(read_plain(text), rules or (chosen(ORDER),))


def chosen(rule_id: str) -> Rule:
    found = find(rule_id)
    assert found is not None
    return found


def told(outcome: Audit) -> list[str]:
    return [finding.rule.id for finding in outcome.findings]


def one(outcome: Audit, rule_id: str) -> Finding:
    (found,) = [finding for finding in outcome.findings if finding.rule.id == rule_id]
    return found


def test_a_waived_finding_is_set_apart_with_its_reason_and_day() -> None:
    before = audited()
    (after,) = waive([before], [waiver()], TODAY)
    assert told(before) == [ORDER]
    assert after.findings == ()
    (entry,) = after.waived
    assert (entry.finding, entry.because, entry.until) == (before.findings[0], "looked at", LATER)


@pytest.mark.parametrize(("until", "holds"), [(TODAY, True), (date(2026, 11, 24), False)])
def test_a_waiver_holds_to_the_end_of_its_day(until: date, holds: bool) -> None:
    (after,) = waive([audited()], [waiver(until=until)], TODAY)
    assert (ORDER not in told(after)) is holds
    assert ("waiver/expired" in told(after)) is not holds


def test_an_expired_waiver_is_an_error_at_its_place_and_waives_nothing() -> None:
    old = waiver(until=date(2026, 11, 20), at="battery.warn_cell")
    (after,) = waive([audited()], [old], TODAY)
    assert after.waived == ()
    found = one(after, "waiver/expired")
    assert (found.level, found.places) == (Level.ERROR, (PLACE,))
    assert f"{ORDER} at battery.warn_cell ended on 2026-11-20" in found.message
    assert dict(found.figures) == {"days_past": 5}  # 20 to 25 November
    assert told(after) == [ORDER, "waiver/expired"]


def test_an_expired_waiver_is_the_same_finding_the_day_after_and_on_another_line() -> None:
    def fingerprint(today: date, line: int) -> str:
        old = waiver(until=date(2026, 11, 20), place=Place("cfgaudit.toml", line))
        (after,) = waive([audited()], [old], today)
        return one(after, "waiver/expired").fingerprint

    assert fingerprint(TODAY, 7) == fingerprint(date(2026, 11, 26), 90)


def test_a_waiver_for_another_rule_path_or_craft_lets_the_finding_stand() -> None:
    others = [
        waiver("switch/no-arm"),
        waiver(at="battery.cells"),
        waiver(craft="Wagtail"),
    ]
    for other in others:
        (after,) = waive([audited()], [other], TODAY, tell=False)
        assert told(after) == [ORDER]
    for own in (waiver(at="battery.warn_cell"), waiver(craft="dipper")):
        (after,) = waive([audited()], [own], TODAY)
        assert after.findings == ()


def test_a_waiver_that_fits_nothing_is_a_warning_at_its_place() -> None:
    quiet = audited(DUMP.replace("3.3 V", "3.6 V"))
    (after,) = waive([quiet], [waiver()], TODAY)
    found = one(after, "waiver/matches-nothing")
    assert (found.level, found.places) == (Level.WARNING, (PLACE,))
    assert waive([quiet], [waiver()], TODAY, tell=False)[0].findings == ()


def test_a_waiver_for_another_craft_is_not_judged() -> None:
    quiet = audited(DUMP.replace("3.3 V", "3.6 V"))
    for until in (LATER, date(2020, 1, 1)):
        (after,) = waive([quiet], [waiver(craft="Wagtail", until=until)], TODAY)
        assert after.findings == ()


def test_a_waiver_whose_rule_could_not_be_checked_is_not_judged() -> None:
    unsure = audited("[craft]\nname = Dipper\n")
    assert [entry.rule.id for entry in unsure.not_checked] == [ORDER]
    (after,) = waive([unsure], [waiver(), waiver("switch/no-arm")], TODAY)
    assert after.findings == ()


def test_of_several_craft_one_that_fits_is_enough_and_a_fault_is_told_once() -> None:
    bad, good = audited(), audited(DUMP.replace("3.3 V", "3.6 V"))
    assert [told(after) for after in waive([good, bad], [waiver()], TODAY)] == [[], []]
    both = waive([good, good], [waiver()], TODAY)
    assert [told(after) for after in both] == [["waiver/matches-nothing"], []]


def test_a_rule_that_failed_itself_is_never_waived() -> None:
    outcome = audited(DUMP, crash)
    (after,) = waive([outcome], [waiver("trial/crash")], TODAY)
    assert [entry.finding.message for entry in after.waived] == ["One thing was found."]
    (left,) = after.findings
    assert left.failed


def test_a_finding_over_several_craft_is_waived_where_the_craft_is_among_them() -> None:
    text = "[craft]\nname = {}\n[video.transmitter]\nenabled = on\nfrequency = 5800 MHz\n"
    fleet = audit_fleet([read_plain(text.format(name)) for name in ("Dipper", "Wagtail")])
    same = "fleet/same-frequency"
    assert [finding.rule.id for finding in fleet.findings] == [same]
    for craft, kept in (("", 0), ("wagtail", 0), ("Goosander", 1)):
        after = waive_fleet(fleet, [waiver(same, craft=craft)], TODAY)
        assert (len(after.findings), len(after.waived)) == (kept, 1 - kept)


def test_the_rules_on_waivers_are_told_apart_from_the_book() -> None:
    assert [rule.id for rule in RULES] == ["waiver/expired", "waiver/matches-nothing"]
    assert not {rule.id for rule in RULES} & {rule.id for rule in book()}


FILES = sorted(file for file in CORPUS.rglob("*.dump") if file.stem not in ("bom", "utf16"))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_fingerprint_does_not_hang_on_line_numbers_and_tells_findings_apart(file: Path) -> None:
    data = file.read_bytes()
    known = dialects()
    before = audit(open_dump("a.dump", data, known).settings).findings
    after = audit(open_dump("b.dump", b"\n\n\n" + data, known).settings).findings
    prints = sorted((finding.rule.id, finding.fingerprint) for finding in before)
    assert prints == sorted((finding.rule.id, finding.fingerprint) for finding in after)
    assert len(set(prints)) == len(prints)
