"""Mends are tried before they are given out: what they clear stays cleared, nothing comes of it."""

from collections.abc import Iterator
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfgaudit.audit.engine import Audit, audit
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.editor import line_changes
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.patch import patched
from cfgaudit.dialects.plain import PLAIN, write_plain
from cfgaudit.rules.rule import Edit, Fires, Level, Rule, Yielded, rule
from cfgaudit.settings import Settings
from cfgaudit.work.mend import Mended, mend
from tests.audit.seeding import Fault, faults, opened, seeded, sheet_of
from tests.strategies_text import undone

# The rules that name a mend for at least one of their seeded faults.
WITH_MEND = frozenset(
    {
        "switch/needs-sensor",
        "motor/mixer-lopsided",
        "overlay/off-the-grid",
        "receiver/link-port-mismatch",
        "battery/no-alarm",
        "switch/no-finder",
        "esc/reversible-by-surprise",
        "position/assigned-disabled",
        "position/few-satellites",
        "receiver/frame-too-slow",
        "sensor/any-attitude-arming",
        "sensor/checks-waived",
        "serial/no-console-left",
        "telemetry/assigned-disabled",
        "video/control-disabled",
        "video/power-above-exempt",
        "video/full-power-on-bench",
        "serial/half-duplex-mismatch",
        "failsafe/home-without-position",
        "video/standard-mismatch",
    }
)
FAULTS = tuple(fault for fault in faults() if fault.rule in WITH_MEND)


def fault_id(fault: Fault) -> str:
    return f"{fault.dump}-{fault.rule}-{fault.new or fault.add or 'taken out'}"


@cache
def seeded_dump(fault: Fault) -> Opened:
    return opened(fault.dump, seeded(fault))


def in_plain_form(fault: Fault) -> Opened:
    text = write_plain(seeded_dump(fault).settings)
    return open_dump(f"{fault.dump}.cfg", text.encode(), (), PLAIN)


def errors(outcome: Audit) -> set[object]:
    return {finding.key for finding in outcome.findings if finding.level is Level.ERROR}


def hold_the_laws(before: Opened, sheet: Settings | None = None) -> Mended:
    """Check what is promised of every mend; gives it for more."""

    def judge(of: Settings) -> Audit:
        return audit(of, sheet=sheet)

    done = mend((before,), judge)
    # the edited bytes are read and audited anew
    data = done.after[0].document.to_bytes()
    after = open_dump("again", data, (), before.dialect).settings
    again = judge(after)
    still = {finding.key for finding in again.findings}
    assert not still & {taken.finding.key for taken in done.taken}
    assert errors(again) <= errors(done.first)
    assert done.brought == ()
    for change in line_changes(done.before, done.after):
        assert patched(data, "utf-8", b"", undone(change.hunks)) == before.document.to_bytes()
    second = mend(done.after, judge)
    assert second.taken == ()
    assert second.after[0].document.to_bytes() == data
    # no edit can be left out
    changed = {p for p, s in after.stated.items() if before.settings.stated.get(p) != s}
    assert {p for p in done.wanted if p in changed} == set(done.wanted)
    return done


# Why a mend may be left: it presumes what the build sheet does not have, brings something, keeps a
# rule from looking, the dialect has no line for it, or a builder may have chosen what is there.
NOT_SURE = (
    "takes for granted", "would bring", "would keep", "can't be written", "not clear", "licence",
)  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS, ids=fault_id)
def test_a_seeded_fault_with_a_mend_is_mended_in_its_dialect(fault: Fault) -> None:
    done = hold_the_laws(seeded_dump(fault), sheet_of(fault.dump))
    mendable = {finding.key for finding in done.first.findings if finding.mend}
    mended = {taken.finding.key for taken in done.taken}
    left = {entry.finding.key for entry in done.left}
    assert mendable <= mended | left | {finding.key for finding in done.cleared}
    assert all(any(why in entry.why for why in NOT_SURE) for entry in done.left)


ONE_EACH = tuple({fault.rule: fault for fault in FAULTS}.values())


@pytest.mark.parametrize("fault", ONE_EACH, ids=fault_id)
def test_a_seeded_fault_with_a_mend_is_mended_in_the_plain_form(fault: Fault) -> None:
    done = hold_the_laws(in_plain_form(fault), sheet_of(fault.dump))
    assert all(any(why in entry.why for why in NOT_SURE) for entry in done.left)
    mendable = {finding.key for finding in done.first.findings if finding.mend}
    gone = {finding.key for finding in done.cleared}
    assert mendable <= gone | {entry.finding.key for entry in done.left}


@settings(max_examples=12)
@given(data=st.data())
def test_several_faults_at_once_are_mended_by_the_same_laws(data: st.DataObject) -> None:
    dump = data.draw(st.sampled_from(("dipper", "wagtail", "goosander")))
    own = [fault for fault in FAULTS if fault.dump == dump and not fault.scene and not fault.under]
    chosen = data.draw(st.lists(st.sampled_from(own), min_size=2, max_size=4, unique=True))
    text = opened(dump).document.to_bytes().decode()
    for fault in chosen:
        new = fault.new if fault.add is None else f"{fault.old}\n{fault.add}"
        if new is not None and f"\n{fault.old}\n" in text:
            text = text.replace(f"\n{fault.old}\n", f"\n{new}\n", 1)
    hold_the_laws(opened(dump, text))


PLAIN_DUMP = b"[telemetry]\nrate = 4 Hz\ninverted = off\n[battery]\ncells = 4\nend\n"


def small(data: bytes = PLAIN_DUMP) -> Opened:
    return open_dump("small.cfg", data, (), PLAIN)


def fires(message: str, path: str, value: str, level: Level = Level.ERROR) -> Fires:
    return Fires(message, (path,), mend=(Edit(path, value),), level=level)


@rule("test/rate-low", Level.ERROR)
def rate_low(craft: Craft) -> Iterator[Yielded]:
    """A rate below 6 Hz.

    In the air: nothing.
    Mend: raise it.
    Source: common practice.
    """
    if craft.telemetry.rate < 6:
        yield fires("too low", "telemetry.rate", "6 Hz")


@rule("test/rate-very-low", Level.WARNING)
def rate_very_low(craft: Craft) -> Iterator[Yielded]:
    """A rate below 8 Hz.

    In the air: nothing.
    Mend: raise it.
    Source: common practice.
    """
    if craft.telemetry.rate < 8:
        yield fires("lower still", "telemetry.rate", "8 Hz", Level.WARNING)


@rule("test/rate-high", Level.WARNING)
def rate_high(craft: Craft) -> Iterator[Yielded]:
    """A rate above 3 Hz.

    In the air: nothing.
    Mend: lower it.
    Source: common practice.
    """
    if craft.telemetry.rate > 3:
        yield fires("too high", "telemetry.rate", "3 Hz", Level.WARNING)


@rule("test/off", Level.WARNING)
def off(craft: Craft) -> Iterator[Yielded]:
    """Telemetry's idle level is as it comes.

    In the air: nothing.
    Mend: put it on.
    Source: common practice.
    """
    if not craft.telemetry.inverted:
        yield fires("off", "telemetry.inverted", "on", Level.WARNING)


@rule("test/on-with-few-cells", Level.ERROR)
def on_with_few_cells(craft: Craft) -> Iterator[Yielded]:
    """Telemetry is on, though there are few cells.

    In the air: nothing.
    Mend: none.
    Source: common practice.
    """
    if craft.telemetry.inverted and craft.battery.cells == 4:
        yield Fires("few cells", ("battery.cells",))


@rule("test/mend-of-nothing", Level.NOTE)
def mend_of_nothing(craft: Craft) -> Iterator[Yielded]:
    """A mend that clears nothing.

    In the air: nothing.
    Mend: none.
    Source: common practice.
    """
    yield fires("whatever", "battery.cells", "6", Level.NOTE)


def judged(*rules: Rule) -> Mended:
    def judge(of: Settings) -> Audit:
        return audit(of, rules)

    return mend((small(),), judge)


def test_of_two_mends_that_agree_the_one_that_clears_both_holds() -> None:
    done = judged(rate_low, rate_very_low)
    assert done.wanted == {"telemetry.rate": 8.0}
    assert done.last.findings == ()
    assert b"rate = 8 Hz" in done.after[0].document.to_bytes()


@rule("test/few-cells-and-a-low-rate", Level.ERROR)
def few_cells_and_a_low_rate(craft: Craft) -> Iterator[Yielded]:
    """Few cells together with a low rate.

    In the air: nothing.
    Mend: six cells.
    Source: common practice.
    """
    if craft.battery.cells == 4 and craft.telemetry.rate < 6:
        yield fires("few and low", "battery.cells", "6", Level.ERROR)


def test_an_edit_that_a_later_one_makes_needless_is_dropped() -> None:
    """The error is mended first, by more cells; the rate's own mend then clears it by itself."""
    done = judged(few_cells_and_a_low_rate, rate_low)
    assert [taken.finding.rule.id for taken in done.taken] == [
        "test/few-cells-and-a-low-rate",
        "test/rate-low",
    ]
    assert done.wanted == {"telemetry.rate": 6.0}
    assert done.last.findings == ()
    assert done.after[0].document.to_bytes() == PLAIN_DUMP.replace(b"rate = 4 Hz", b"rate = 6 Hz")


def test_of_two_mends_that_conflict_the_graver_holds_and_the_other_is_told() -> None:
    done = judged(rate_high, rate_low)
    assert done.wanted == {"telemetry.rate": 6.0}
    (left,) = done.left
    assert left.finding.rule.id == "test/rate-high"
    assert "would bring back test/rate-low" in left.why


def test_a_mend_that_would_bring_an_error_is_not_taken() -> None:
    done = judged(off, on_with_few_cells)
    assert done.taken == ()
    assert done.after[0].document.to_bytes() == PLAIN_DUMP
    (left,) = done.left
    assert "would bring an error, test/on-with-few-cells: few cells" in left.why


def test_a_mend_that_another_one_makes_possible_is_taken() -> None:
    done = judged(off, on_with_few_cells, cells_few)
    assert done.wanted == {"battery.cells": 6, "telemetry.inverted": True}
    assert done.left == ()


@rule("test/cells-few", Level.NOTE)
def cells_few(craft: Craft) -> Iterator[Yielded]:
    """Fewer than six cells.

    In the air: nothing.
    Mend: six.
    Source: common practice.
    """
    if craft.battery.cells == 4:
        yield fires("few", "battery.cells", "6", Level.NOTE)


def test_a_mend_that_clears_nothing_is_left_and_told() -> None:
    done = judged(mend_of_nothing)
    assert done.taken == ()
    assert [left.why for left in done.left] == ["the mend that it names does not clear it here"]


def test_only_what_is_chosen_is_mended() -> None:
    done = mend(
        (small(),), lambda of: audit(of, (off, rate_low)), lambda f: f.rule.id == "test/off"
    )
    assert done.wanted == {"telemetry.inverted": True}
    assert [finding.rule.id for finding in done.last.findings] == ["test/rate-low"]


def test_of_two_dumps_of_one_craft_the_one_that_states_it_is_edited() -> None:
    second = open_dump("esc.cfg", b"[esc]\nidle = 5 %\n[telemetry]\nrate = 4 Hz\n", (), PLAIN)
    first = small(b"[telemetry]\ninverted = off\n")
    done = mend((first, second), lambda of: audit(of, (off, rate_low)))
    assert [dump.document.to_bytes() for dump in done.after] == [
        b"[telemetry]\ninverted = on\n",
        b"[esc]\nidle = 5 %\n[telemetry]\nrate = 6 Hz\n",
    ]


def test_a_port_that_is_given_a_role_gets_what_its_device_asks_for_as_well() -> None:
    """Hand reading of the sheet: telemetry hangs on uart2 and talks at 57,600 Bd, not inverted."""
    port = (
        'kind = "hardware"\nhighest_rate = 1000000\nclock = "36 MHz"\noversampling = 16\n'
        "inverter = true\none_wire = true\n"
    )
    sheet = read_sheet(
        f"[ports.uart1]\n{port}[ports.uart2]\n{port}[devices.handset]\n"
        'kind = "telemetry"\nport = "uart2"\nrate = 57600\ninverted = false\none_wire = false\n'
        'framing = "8N1"\nwires = "tx_to_rx"\n'.encode(),
        "x.toml",
    )
    text = (
        "[telemetry]\nenabled = on\n[ports.uart1]\nroles = telemetry\nbaud = 57.6 kBd\n"
        "[ports.uart2]\nroles = none\nbaud = 9600 Bd\ninverted = on\n"
    )
    before = open_dump("x.cfg", text.encode(), (), PLAIN)
    done = mend((before,), lambda of: audit(of, sheet=sheet))
    after = done.after[0].settings
    assert after["ports.uart2.roles"].value == frozenset({"telemetry"})
    assert (after["ports.uart2.baud"].value, after["ports.uart2.inverted"].value) == (57600, False)
    assert after["ports.uart2.half_duplex"].value is False
    assert after["ports.uart1.roles"].value == frozenset()


def test_crossed_ports_change_places_with_their_rates() -> None:
    """Hand reading of the sheet: the receiver is on uart4, the position on uart1."""
    sheet = read_sheet(
        b'[devices.rx]\nkind = "receiver"\nport = "uart4"\nrate = 420000\n'
        b'[devices.gnss]\nkind = "position"\nport = "uart1"\nrate = 115200\n',
        "x.toml",
    )
    text = (
        "[receiver]\nlink = crsf\n[switches]\nposition_hold = ch7 1700..2100 us\n"
        "[ports.uart1]\nroles = receiver\nbaud = 420000 Bd\n"
        "[ports.uart4]\nroles = position\nbaud = 115200 Bd\n"
    )
    done = mend((open_dump("x.cfg", text.encode(), (), PLAIN),), lambda of: audit(of, sheet=sheet))
    after = done.after[0].settings
    got = [
        (after[f"ports.{p}.roles"].value, after[f"ports.{p}.baud"].value)
        for p in ("uart1", "uart4")
    ]
    assert got == [(frozenset({"position"}), 115200), (frozenset({"receiver"}), 420000)]


def test_a_role_that_moves_leaves_its_old_port_though_no_rule_asks_for_it() -> None:
    sheet = read_sheet(b'[devices.speed]\nkind = "esc_reports"\nport = "uart6"\n', "x.toml")
    text = "[ports.uart3]\nroles = esc_reports\n[ports.uart6]\nroles = none\n"
    done = mend((open_dump("x.cfg", text.encode(), (), PLAIN),), lambda of: audit(of, sheet=sheet))
    after = done.after[0].settings
    assert after["ports.uart6.roles"].value == frozenset({"esc_reports"})
    assert after["ports.uart3.roles"].value == frozenset()
