"""Troubles of a dump, and the order in which its parts are put together."""

import tomllib

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.settings import Origin, Settings, TroubleKind
from cfgaudit.vocabulary.kinds import Filter, SwitchRange
from tests.dialects.demo import CORPUS, dialect, read

HEAD = "# sedge 2.4.1 on HB-7 rev C, built 2026-03-18\n"
END = "-- the reeds are quiet --\n"


def sedge_kinds(text: str) -> list[TroubleKind]:
    return [trouble.kind for trouble in read(text, dialect("sedge")).troubles]


def test_a_dump_without_its_end_mark_is_truncated() -> None:
    body = HEAD + "[pack]\ncell_low = 350\n"
    assert sedge_kinds(body + END) == []
    found = read(body, dialect("sedge"))
    (trouble,) = found.troubles
    assert trouble.kind is TroubleKind.TRUNCATED
    assert trouble.message == "the dump lacks its end mark, '-- the reeds are quiet --'"
    assert trouble.place is not None
    assert trouble.place.line == 3


def test_a_dump_that_stops_inside_a_block_names_it() -> None:
    found = read("begin pack\nwarn-cell,70,V,0.05\n", dialect("marl"))
    (trouble,) = found.troubles
    assert (trouble.kind, trouble.message) == (
        TroubleKind.TRUNCATED,
        "the dump stops inside of pack",
    )


def test_a_setting_said_twice_is_kept_with_both_places() -> None:
    found = read(HEAD + "[pack]\ncell_low = 350\ncell_low = 340\n" + END, dialect("sedge"))
    ((holds, first),) = found.repeats
    assert (holds.value, first.value) == (3.4, 3.5)
    assert found["battery.warn_cell"] == holds
    assert holds.place is not None
    assert first.place is not None
    assert (first.place.line, holds.place.line) == (3, 4)


def test_a_factory_value_that_stands_in_is_no_repeat() -> None:
    found = read(HEAD + "[pack]\ncell_low = 350\n" + END, dialect("sedge"))
    assert not found.repeats
    assert found["battery.warn_cell"].origin is Origin.DUMP


@pytest.mark.parametrize(("text", "factor"), [("35000", "100 times or more too large"),
                                              ("3.5", "100 times or more too small")])  # fmt: skip
def test_a_value_off_by_a_power_of_ten_is_suspected_of_its_unit(text: str, factor: str) -> None:
    # by hand: 35000 hundredths are 350 V, 3.5 hundredths are 0.035 V; a cell is at 3.5 V
    found = read(HEAD + f"[pack]\ncell_low = {text}\n" + END, dialect("sedge"))
    (trouble,) = found.troubles
    assert trouble.kind is TroubleKind.UNIT
    assert trouble.path == "battery.warn_cell"
    assert factor in trouble.message
    assert found["battery.warn_cell"].doubt


def test_a_value_of_another_kind_is_impossible_and_states_nothing() -> None:
    found = read(HEAD + "[pack]\ncell_low = often\nmade_of = cheese\n" + END, dialect("alder"))
    assert not found.stated
    found = read("# x\n[pack]\ncell_low = often\nmade_of = cheese\n" + END, dialect("sedge"))
    assert [trouble.kind for trouble in found.troubles] == [TroubleKind.IMPOSSIBLE] * 2
    assert "'often' is not a number" in found.troubles[0].message
    assert "none of the dialect's words for packs" in found.troubles[1].message


def test_a_word_is_not_listed_where_the_list_has_not_all_of_ours() -> None:
    some = {"name": "bulrush", "words": {"packs": {"lp": "lipo"}}}
    for spec in (": words packs", ""):  # without a list the firmware's words may be others, too
        lines = [{"map": [f"made_of = {{battery.chemistry{spec}}}"]}]
        found = read("made_of = cheese\n", build_dialect({**some, "lines": lines}, "a.toml"))
        assert [trouble.kind for trouble in found.troubles] == [TroubleKind.NOT_LISTED]


def test_an_unknown_key_names_the_nearest_known_one() -> None:
    found = read(HEAD + "[pack]\ncell_lo = 350\n" + END, dialect("sedge"))
    raw = found.raw["pack/cell_lo"]
    assert (raw.known, raw.near) == (False, "cell_low")


def test_stages_stand_in_the_order_of_the_dump() -> None:
    lines = ["hollow_at = 210", "hollow_q = 350", "gyro_1 = gentle 150"]
    hollow, gentle = Filter("notch", 210.0, 3.5), Filter("pt1", 150.0)
    for order, expected in ((lines, (hollow, gentle)), (lines[::-1], (gentle, hollow))):
        found = read(HEAD + "\n".join(["[sieve]", *order]) + "\n" + END, dialect("sedge"))
        assert found["filters.gyro"].value == expected


def test_ranges_of_one_function_come_together_from_their_lines() -> None:
    found = read("when wake ch5 32 48\nwhen wake ch8 40 48\n", dialect("osier"))
    # by hand: 900 + 25 x 32 = 1700, 900 + 25 x 40 = 1900, 900 + 25 x 48 = 2100
    assert found["switches.arm"].value == (
        SwitchRange(5, 1700.0, 2100.0),
        SwitchRange(8, 1900.0, 2100.0),
    )


def test_a_group_line_holds_until_the_next_one() -> None:
    text = "bank 1\ngain lean 40 70 25 60\nbank 2\ngain lean 50 70 25 60\nwarn_at 350\n"
    found = read(text, dialect("osier"))
    assert found["banks.1.gains.roll.p"].value == 40.0
    assert found["banks.2.gains.roll.p"].value == 50.0
    assert found["battery.warn_cell"].value == 3.5


_SMALL = """
name = "small"
[look]
head = ["# small {firmware.version} on {board.name}"]
[[lines]]
map = ["board = {board.name}", "turn {board.rotation.yaw: deg}"]
"""


def test_what_the_head_line_says_again_is_said_once() -> None:
    """The firmware writes the head line by itself: nobody typed a board's name twice."""
    small = build_dialect(tomllib.loads(_SMALL), "small.toml")
    head = "# small 1.0 on Reed 4\n"
    assert read(head + "board = Reed 4\n", small).repeats == ()
    assert len(read(head + "board = Reed 5\n", small).repeats) == 1
    assert len(read(head + "turn 90\nturn 90\n", small).repeats) == 1


def test_a_key_is_not_told_as_the_nearest_to_itself() -> None:
    small = build_dialect(tomllib.loads(_SMALL), "small.toml")
    dump = read("# small 1.0 on Reed 4\nturn sideways fast\nbaord = x\n", small)
    (found,) = [f for f in audit(dump).findings if f.rule.id == "dump/unknown-setting"]
    assert "turn (nearest" not in found.message
    assert "baord (nearest: board)" in found.message


def test_a_word_that_the_dialect_lacks_may_be_the_dialect_s_fault() -> None:
    (found,) = [
        f
        for f in audit(
            read("# small 1.0 on Reed 4\nturn far\n", build_dialect(tomllib.loads(_SMALL), "s"))
        ).findings
        if f.rule.id == "dump/value-impossible"
    ]
    assert "the dialect lacks that word" in found.advice


def test_a_firmware_that_calls_one_word_as_we_do_calls_the_others_so_too() -> None:
    # what a dialect lists was seen in some dump; esc.protocol has both words in the vocabulary
    lines = [{"map": ["signal: {esc.protocol: words signals}"]}]
    seen = {"name": "seen", "lines": lines, "words": {"signals": {"dshot600": "dshot600"}}}
    found = read("signal: dshot300\n", build_dialect(seen, "seen.toml"))
    assert found.stated["esc.protocol"].value == "dshot300"
    other = {**seen, "words": {"signals": {"swift": "dshot600"}}}
    found = read("signal: dshot300\n", build_dialect(other, "other.toml"))
    assert "esc.protocol" not in found.stated
    assert [trouble.kind for trouble in found.troubles] == [TroubleKind.NOT_LISTED]
    (fault,) = [f for f in audit(found).findings if f.rule.id == "dump/value-impossible"]
    assert "add it to the dialect's list" in fault.advice
    assert "Correct the value" not in fault.advice  # the craft may be set just right


_SIX_ARMS = """
[arm port]
reach = 0 -90
outlet = 4
turns = widdershins
lift = 1000
lean = 1000
nod = 0
swing = -1000

[arm starboard]
reach = 0 90
outlet = 5
turns = sunwise
lift = 1000
lean = -1000
nod = 0
swing = 1000

# what the blades are told
"""


def six_armed() -> Settings:
    """The demo craft with six arms, two of which the dialect has no words for."""
    text = (CORPUS / "dipper.dump").read_text().replace("shape = cross", "shape = six_cross")
    for arm, was, now in (("stern_port", "-", ""), ("stern_starboard", "", "-")):
        head, body = text.split(f"[arm {arm}]")
        turn = {"-": "widdershins", "": "sunwise"}
        body = body.replace(f"turns = {turn[was]}", f"turns = {turn[now]}", 1)
        body = body.replace(f"swing = {was}1000", f"swing = {now}1000", 1)
        text = f"{head}[arm {arm}]{body}"
    text = text.replace("\n# what the blades are told\n", _SIX_ARMS, 1)
    return read(text, dialect("sedge"), (2, 4, 1))


def test_an_arm_that_the_dialect_has_no_word_for_is_told_as_not_read() -> None:
    troubles = [one for one in six_armed().troubles if one.kind is TroubleKind.NO_WORD]
    assert [one.path for one in troubles] == ["motors.port", "motors.starboard"]
    text = (CORPUS / "dipper.dump").read_text().splitlines()
    first = text.index("# what the blades are told") + 1  # the block stands in its place
    assert [one.place and one.place.line for one in troubles] == [first, first + 9]


def test_nothing_that_is_reckoned_over_all_motors_is_said_where_two_were_not_read() -> None:
    found = audit(six_armed())
    assert "dump/unread" in {finding.rule.id for finding in found.findings}
    assert not [one for one in found.findings if one.rule.area in ("motor", "frame")]
    lacking = {entry.rule.id: entry.lacks for entry in found.not_checked}
    for rule in ("count", "yaw-unbalanced", "neighbours-alike", "mixer-rank", "control-sign"):
        assert "motors.port" in lacking[f"motor/{rule}"]
