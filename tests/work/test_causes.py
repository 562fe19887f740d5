"""What is told of causes: lines that can be typed together, and nothing that only just does."""

from pathlib import Path

import pytest

from cfgaudit.audit.causes import Cause, Turn, likely
from cfgaudit.audit.engine import Audit, audit
from cfgaudit.audit.guesses import Ground
from cfgaudit.audit.incremental import Auditor
from cfgaudit.dialects.editor import line_changes
from cfgaudit.dialects.plain import read_plain
from cfgaudit.reports.causes import first_verdict, to_do
from cfgaudit.rules.book import book
from cfgaudit.settings import Settings
from cfgaudit.work.causes import ToldCause, kept_back, told
from cfgaudit.work.mend import mend, sure_only
from cfgaudit.work.record import RecordEntry, StepOutcome, disputed, working_list
from cfgaudit.work.steps import known_of
from tests.audit import sound
from tests.audit.seeding import opened, settings_of, sheet_of, text_of
from tests.cli.calling import CORPUS, call
from tests.work.test_record import AT

CRAFT = "wagtail"


def faulty(*changes: tuple[str, str]) -> str:
    """The craft's dump with lines changed."""
    text = text_of(CRAFT)
    for old, new in changes:
        assert text.count(f"\n{old}\n") == 1
        text = text.replace(f"\n{old}\n", f"\n{new}\n")
    return text


def judged(text: str, sheet: Settings | None) -> Audit:
    def judge(of: Settings) -> Audit:
        return audit(of, sheet=sheet)

    return sure_only(mend((opened(CRAFT, text),), judge), judge)


def told_of(text: str, sheet: Settings | None = None) -> tuple[ToldCause, ...]:
    own = sheet or sheet_of(CRAFT)
    found = judged(text, own)
    sure = {finding.key: finding.mend for finding in found.findings if finding.mend}
    causes = likely(found.settings, Auditor(book(), sheet=own).of_values, sure).causes
    return told(causes, (opened(CRAFT, text),), found.settings, set(sure))


def one(text: str) -> Cause:
    (only,) = told_of(text)
    return only.cause


def test_nothing_of_another_craft_s_sheet_is_believed() -> None:
    other = sheet_of("wagtail")
    done = mend((opened("dipper"),), lambda of: audit(of, sheet=other))
    assert done.taken == ()
    assert done.after == () or line_changes(done.before, done.after) == ()
    explained = likely(settings_of("dipper"), Auditor(book(), sheet=other).of_values)
    assert not [c for c in explained.causes if any(f.rule.sheet for f in c.findings)]
    assert not [c for c in explained.causes if {"craft.name", "board.name"} & set(c.paths)]
    assert "sheet/another-craft" in {finding.rule.id for finding in explained.left}


def test_the_findings_of_another_craft_s_sheet_ask_for_the_right_one() -> None:
    other = sheet_of("wagtail")

    def judge(of: Settings) -> Audit:
        return audit(of, sheet=other)

    found = sure_only(mend((opened("dipper"),), judge), judge).findings
    asked = [f for f in found if f.rule.sheet and f.rule.id != "sheet/another-craft"]
    assert asked
    assert all("sheet" in f.advice and "right one" in f.advice and not f.mend for f in asked)


def test_check_and_mend_say_the_same_of_a_power_that_is_not_there() -> None:
    """The sheet's transmitter has 1 and 25 mW; the nearest that it may have is 25."""
    for rest in ("1", "600"):
        text = faulty(("picture_power 25 rest=1", f"picture_power 600 rest={rest}"))
        (cause,) = told_of(text)
        own = sheet_of(CRAFT)
        done = mend((opened(CRAFT, text),), lambda of, own=own: audit(of, sheet=own))  # type: ignore[misc]
        assert cause.sure
        assert [put.text for put in cause.put] == ["picture_power 25 rest=1"]
        assert done.after[0].document.text.lines[cause.put[0].line - 1] == cause.put[0].text


def receiver_moved(*shared: tuple[str, str]) -> tuple[str, Settings]:
    """The receiver's wires end at the free port_side; the dump still has it on bow.

    With a line changed so that bow says more, the sheet has no telemetry radio.
    """
    sheet = text_of(CRAFT, sheet=True).replace('port = "uart1"', 'port = "uart5"', 1)
    if shared:
        start = sheet.index("[devices.telemetry]")
        sheet = sheet[:start] + sheet[sheet.index("[devices.position]") :]
    return faulty(*shared), sheet_of(CRAFT, sheet)


# Hand reading of corpus/dialects/osier.toml: receiver is 8, telemetry 1; the link wants 420,000 Bd.
MOVED = {
    "link bow 0 420000 turned=no one_wire=no crossed=no",
    "link port_side 8 420000 turned=no one_wire=no crossed=no",
}


@pytest.mark.parametrize(
    "shared",
    [
        (),
        (
            ("link bow 8 420000 turned=no one_wire=no crossed=no",
             "link bow 9 420000 turned=no one_wire=no crossed=no"),
            ("link stern 1 57600 turned=no one_wire=no crossed=no",
             "link stern 0 57600 turned=no one_wire=no crossed=no"),
            ("voice parcels 4 turned=no one_wire=no", "no voice"),
        ),
    ],
    ids=["alone", "telemetry beside it"],
)  # fmt: skip
def test_what_check_marks_as_a_mend_is_what_mend_does(shared: tuple[tuple[str, str], ...]) -> None:
    text, sheet = receiver_moved(*shared)
    marked = [cause for cause in told_of(text, sheet) if cause.sure]
    assert {put.text for cause in marked for put in cause.put} == MOVED
    done = mend((opened(CRAFT, text),), lambda of: audit(of, sheet=sheet))
    (change,) = line_changes(done.before, done.after)
    assert {line.rstrip("\n") for hunk in change.hunks for line in hunk.new} == MOVED
    assert not [f for f in judged(text, sheet).findings if "No single change" in f.advice]


def test_a_power_that_somebody_may_have_chosen_is_mended_only_when_asked_for() -> None:
    """The transmitter has 200 mW beside 25 mW: the first is no slip."""
    changed = [("plan_powers 1 25", "plan_powers 1 25 200"),
               ("picture_power 25 rest=1", "picture_power 200 rest=1")]  # fmt: skip
    text = faulty(*changed)
    own = sheet_of(CRAFT, text_of(CRAFT, sheet=True).replace("[1, 25]", "[1, 25, 200]"))

    def judge(of: Settings) -> Audit:
        return audit(of, sheet=own)

    (cause,) = told_of(text, own)
    assert not cause.sure
    assert "licence" in to_do(cause)[0]
    done = mend((opened(CRAFT, text),), judge)
    assert (done.taken, done.wanted) == ((), {})
    assert [left.finding.rule.id for left in done.left] == ["video/power-above-exempt"]
    asked = mend((opened(CRAFT, text),), judge, asked=lambda finding: True)
    assert asked.wanted == {"video.transmitter.power": 25.0}


def test_a_mend_lists_nothing_that_stays_as_it_is() -> None:
    """The telemetry radio wants 57,600 Bd, which its port keeps while it has lost its role."""
    text = faulty(
        ("link stern 1 57600 turned=no one_wire=no crossed=no",
         "link stern 0 57600 turned=no one_wire=no crossed=no"),
    )  # fmt: skip
    own = sheet_of(CRAFT)
    (taken,) = mend((opened(CRAFT, text),), lambda of: audit(of, sheet=own)).taken
    assert [edit.path for edit in taken.edits] == ["ports.uart2.roles"]


def test_causes_on_one_line_are_told_with_the_whole_line() -> None:
    found = told_of(faulty(("home_way 40 100", "home_way 400 1000")))
    assert [cause.cause.paths for cause in found] == [("home.altitude",), ("home.ceiling",)]
    (first,), (second,) = (cause.put for cause in found)
    assert first == second
    assert not {"400", "1000"} & set(first.text.split())


def test_no_line_is_told_that_would_be_typed_with_another_wrong_value_in_it() -> None:
    # the landing's throttle is flown while nobody steers, so no value of it is told; the time that
    # the landing takes stands on its line, and would be told: the firmware's own
    text = faulty(("lost homeward lift=1250 within=40", "lost settle lift=1700 within=5"))
    time, throttle = (cause.cause for cause in told_of(text))
    assert (time.paths, throttle.paths) == (("failsafe.land_for",), ("failsafe.throttle",))
    turn = time.turns[0]._replace(back=60.0)
    time = time._replace(turns=(turn,), ground=Ground.FACTORY)
    dump = opened(CRAFT, text)
    (alone,) = told([time], (dump,), dump.settings, ())
    assert len(alone.put) == 1
    both = told([time, throttle], (dump,), dump.settings, ())
    assert [cause.put for cause in both] == [(), ()]
    assert "failsafe.throttle" in both[0].refused


@pytest.mark.parametrize(
    ("craft", "wrong", "advice"),
    [
        # 10 % only just does, and 3.95 V of a full cell would clear it too
        ("bittern", {"loop.yaw_most": "5 %"}, "Let 25 to 50 % through."),
        ("gadwall", {"battery.full_cell": "4.35 V"}, "Set the 4.20 V that the cells are charged"),
        ("wigeon", {"esc.idle": "55 %"}, "lower it to where every motor still starts"),
    ],
)
def test_a_value_that_only_clears_is_not_told_where_the_rule_says_what_to_set(
    craft: str, wrong: dict[str, str], advice: str
) -> None:
    settings, sheet = sound.edited({"craft": craft, "set": wrong})
    (cause,) = likely(settings, Auditor(book(), sheet=sheet).of_values).causes
    assert cause.paths == tuple(wrong)
    assert kept_back(cause, settings)
    (said,) = to_do(ToldCause(cause, (), (), (), False, ""))
    assert advice in said
    assert "clears it" not in said


def test_the_firmware_s_own_value_comes_before_a_bare_limit() -> None:
    for old, new, path in (
        ("lift_below 1055", "lift_below 1300", "arming.throttle_below"),
        ("idle 58", "idle 0", "esc.idle"),
    ):
        cause = one(faulty((old, new)))
        (turn,) = cause.turns
        assert turn.back == settings_of(CRAFT).factory[path]
        assert cause.ground is Ground.FACTORY


def old_sheet() -> Settings:
    """Dipper's sheet from before two motors' wires changed about, output and pad."""
    text = text_of("dipper", sheet=True)
    for one, other in (('output = 1\npad = "a1"', 'output = 2\npad = "a2"'),):
        text = text.replace(one, "\0").replace(other, one).replace("\0", other)
    return sheet_of("dipper", text)


def test_nothing_is_sure_where_outputs_and_pads_of_the_dump_agree_against_the_sheet() -> None:
    own = old_sheet()
    done = mend((opened("dipper"),), lambda of: audit(of, sheet=own))
    assert {f.rule.id for f in done.first.findings} >= {
        "motor/wired-elsewhere",
        "pads/not-as-soldered",
    }
    assert done.wanted == {}
    causes = likely(done.first.settings, Auditor(book(), sheet=own).of_values).causes
    for cause in told(causes, (opened("dipper"),), done.first.settings, ()):
        assert not cause.sure
        assert "it may be the build sheet that is old" in " ".join(to_do(cause))


def test_what_hangs_on_a_place_that_a_sheet_has_twice_is_not_mended_nor_switched_off() -> None:
    text = text_of("dipper", sheet=True)
    at = text.index("[devices.telemetry]")
    own = sheet_of("dipper", text[:at] + text[at:].replace('"uart2"', '"uart3"', 1))
    dump = opened("dipper", text_of("dipper").replace("\njobs = 2\n", "\njobs = 0\n"))

    def judge(of: Settings) -> Audit:
        return audit(of, sheet=own)

    found = sure_only(mend((dump,), judge), judge)
    assert found.findings[0].rule.id == "sheet/place-twice"
    assert not any(finding.mend for finding in found.findings)
    (elsewhere,) = [f for f in found.findings if f.rule.id == "serial/wired-elsewhere"]
    assert elsewhere.advice.endswith("look, and correct the sheet first.")
    causes = likely(found.settings, Auditor(book(), sheet=own).of_values).causes
    assert [cause.paths for cause in causes] == [("telemetry.enabled",)]
    (one,) = told(causes, (dump,), found.settings, ())
    assert one.put == ()
    assert "Look first where its wires end" in " ".join(to_do(one))


def test_of_what_is_measured_on_the_craft_neither_a_stretch_nor_a_value_is_told() -> None:
    """Any scale down to nought clears it, and one alone is the sensor's."""
    (cause,) = told_of(faulty(("amps_by own_pin 264 9", "amps_by own_pin 2640 9")))
    assert cause.cause.paths == ("battery.current_scale",)
    assert cause.cause.within is None
    assert (cause.put, cause.sure) == ((), False)


def test_a_stretch_is_told_in_the_dump_s_own_numbers_and_either_end_of_it_is_clean() -> None:
    text = text_of("dipper").replace("\nslack = 3\n", "\nslack = 80\n")
    own = Auditor(book(), sheet=sheet_of("dipper")).of_values
    dump = opened("dipper", text)
    causes = likely(dump.settings, own).causes
    (found,) = told(causes, (dump,), dump.settings, ())
    (said,) = to_do(found)
    assert f"Anywhere from {found.ends[0]} to {found.ends[1]} clears it." in said
    before = {f.key for f in own.findings(settings_of("dipper"))}
    for line in found.ends:
        assert line.startswith("slack = ")
        tried = opened("dipper", text.replace("\nslack = 80\n", f"\n{line}\n"))
        assert {f.key for f in own.findings(tried.settings)} == before


def test_on_link_loss_no_throttle_is_told_but_the_last_one_held() -> None:
    """From the trade: any open value that clears the finding is one that somebody must fly."""
    wrong = read_plain(
        "failsafe.action = return_home\nfailsafe.hold_for = 1 s\nfailsafe.channels.3 = 1000 us\n"
        "failsafe.channels.1 = 1500 us\nfailsafe.channels.2 = 1500 us\n"
        "failsafe.channels.4 = 1500 us\nreceiver.map.throttle = 3\nreceiver.map.roll = 1\n"
        "receiver.map.pitch = 2\nreceiver.map.yaw = 4\nreceiver.low = 1000 us\n"
        "receiver.high = 2000 us\nreceiver.centre = 1500 us\n"
    )
    (cause,) = likely(wrong, Auditor(book()).of_values).causes
    (turn,) = cause.turns
    assert (turn.path, turn.back) == ("failsafe.channels.3", "hold")
    assert (cause.ground, cause.within) == (Ground.MEND, None)


def test_a_channel_that_the_plan_lacks_is_not_told_to_be_any_other_one() -> None:
    wrong = read_plain(
        "video.transmitter.band = A\nvideo.transmitter.channel = 5\n"
        "video.transmitter.frequency = 5740 MHz\nvideo.plan.A = 5860, 5840, 5820, 5800 MHz\n"
    )
    causes = likely(wrong, Auditor(book()).of_values).causes
    assert causes
    assert all(kept_back(cause, wrong) for cause in causes)


def test_what_others_of_a_kind_have_is_told_where_all_of_them_have_it() -> None:
    """Three arms of four with one protocol say what the fourth has; three roles say nothing."""
    arms = [f"esc.{arm}.protocol" for arm in ("first", "second", "third", "fourth")]
    alike = ("pwm", "dshot600", "dshot600", "dshot600")
    unlike = ("pwm", "dshot300", "dshot600", "dshot600")
    for protocols, refused in ((alike, ""), (unlike, "others of its kind differ")):
        craft = read_plain("".join(f"{a} = {p}\n" for a, p in zip(arms, protocols, strict=True)))
        turn = Turn(arms[0], craft.stated[arms[0]], "dshot600")
        assert kept_back(Cause((turn,), (), Ground.SIBLING), craft) == refused


def test_a_role_and_its_switch_that_are_both_gone_are_one_cause() -> None:
    text = faulty(
        ("link mast 32 115200 turned=no one_wire=no crossed=no",
         "link mast 0 115200 turned=no one_wire=no crossed=no"),
        ("star_watch", "no star_watch"),
    )  # fmt: skip
    assert set(one(text).paths) == {"ports.uart3.roles", "position.enabled"}


def test_two_ends_that_changed_places_are_said_to_have() -> None:
    cause = one(faulty(("reach 1000 1500 2000", "reach 2000 1500 1000")))
    assert set(cause.paths) == {"receiver.low", "receiver.high"}
    assert cause.ground is Ground.SWAPPED


def test_no_line_turns_a_motor_where_nothing_says_which_is_wrong() -> None:
    """The blade's direction is the one part that a dump alone can't tell the truth of."""
    text = text_of(CRAFT).replace(
        "blade fore_right 3 widdershins as_wound", "blade fore_right 3 sunwise as_wound"
    )
    assert text != text_of(CRAFT)
    found = likely(settings_of(CRAFT, text), Auditor(book()).of_values).causes
    turned = [c for c in found if any(p.endswith((".spin", ".direction")) for p in c.paths)]
    told_them = told(turned, (opened(CRAFT, text),), settings_of(CRAFT, text), ())
    assert told_them
    assert all(t.put == () for t in told_them if t.cause.ground > Ground.SHEET)
    assert all("line " not in " ".join(to_do(t)) for t in told_them)


def test_no_line_changes_the_sticks_about_before_they_are_seen_to_be() -> None:
    # the throttle's channel in place of yaw's: the values of link loss speak for it, no more
    causes = told_of(faulty(("stick swing 3", "stick swing 2"), ("stick lift 2", "stick lift 3")))
    (at_sticks,) = [one for one in causes if "receiver.map.throttle" in one.cause.paths]
    assert set(at_sticks.cause.paths) == {"receiver.map.throttle", "receiver.map.yaw"}
    assert at_sticks.put == ()
    assert to_do(at_sticks)[0].startswith("Propellers off: see which control each stick moves.")


def test_of_two_that_may_have_changed_places_one_alone_is_said_to_be_a_rival() -> None:
    (told_one,) = told_of(faulty(("warn_at 350", "warn_at 330"), ("dry_at 330", "dry_at 350")))
    assert {put.text for put in told_one.put} == {"warn_at 350", "dry_at 330"}
    (do,) = to_do(told_one)
    assert do.startswith("Look first; then, if they were changed about,")
    assert "battery.warn_cell alone" in do
    assert "battery.empty_cell alone" in do


def test_errors_are_only_said_to_come_from_causes_where_all_of_them_do() -> None:
    text = faulty(("lost homeward lift=1250 within=40", "lost settle lift=1700 within=5"))
    found, causes = judged(text, sheet_of(CRAFT)).findings, told_of(text)
    assert first_verdict(found, causes)[1].startswith("2 errors from 2 causes")
    assert first_verdict(found, causes[:1])[1].startswith("2 errors,")


def test_what_was_seen_at_the_bench_takes_the_sheet_s_word_away() -> None:
    """A motor's step that failed, or passed with another output than the sheet's."""
    sheet, text = sheet_of(CRAFT), text_of(CRAFT)
    crossed = text.replace(
        "blade fore_right 3 widdershins as_wound", "blade fore_right 6 widdershins as_wound"
    )
    assert crossed != text
    for dump, outcome in ((text, StepOutcome.FAILED), (crossed, StepOutcome.DONE)):
        steps = working_list(known_of(settings_of(CRAFT, dump), sheet))
        (step,) = [one for one in steps if one.id == "motor-front_right"]
        marked = disputed(sheet, [RecordEntry(step.id, AT, outcome, proves=step.proves)])
        assert marked["sheet.motors.front_right.output"].disputed
        assert [f for f in judged(crossed, sheet).findings if f.rule.id == "motor/wired-elsewhere"]
        (wired,) = [
            f for f in judged(crossed, marked).findings if f.rule.id == "motor/wired-elsewhere"
        ]
        assert wired.mend == ()
        assert "correct the sheet first" in wired.advice
        done = mend((opened(CRAFT, crossed),), lambda of, own=marked: audit(of, sheet=own))  # type: ignore[misc]
        assert "motors.front_right.output" not in done.wanted


def test_what_the_bench_confirms_or_the_sheet_corrects_is_not_disputed() -> None:
    sheet = sheet_of(CRAFT)
    steps = working_list(known_of(settings_of(CRAFT), sheet))
    (step,) = [one for one in steps if one.id == "motor-front_right"]
    done = RecordEntry(step.id, AT, StepOutcome.DONE, proves=step.proves)
    assert disputed(sheet, [done]) is sheet
    assert sheet["sheet.motors.front_right.output"].value == 4
    failed = done._replace(outcome=StepOutcome.FAILED)
    corrected = sheet_of(CRAFT, text_of(CRAFT, sheet=True).replace("output = 4", "output = 7"))
    assert not disputed(corrected, [failed])["sheet.motors.front_right.output"].disputed


def test_of_a_dump_that_is_cut_off_nothing_is_guessed_and_that_comes_first(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """What seems to lack may stand behind the end: no line is told that would only say it again."""
    whole = (CORPUS / "dipper.dump").read_text(encoding="utf-8").splitlines(keepends=True)
    cut = tmp_path / "dipper.dump"
    cut.write_text("".join(whole[:300]), encoding="utf-8")
    sedge = str(CORPUS / "dialects" / "sedge.toml")
    answer = call(monkeypatch, ["check", str(cut), "--dialect", sedge])
    assert answer.status == 1
    assert "a new line" not in answer.out
    errors = [line for line in answer.out.splitlines() if line.startswith("ERROR")]
    assert len(errors) > 1
    assert errors[0].split()[1] == "dump/truncated"


@pytest.mark.parametrize(
    ("old", "new", "paths", "says"),
    [
        # from the trade: each was told otherwise, and following it hurt
        ("when keep_level ch6 32 48", "when keep_level ch5 0 16", ["switches.self_level"],
         "Give self_level a channel of its own."),
        ("when keep_level ch6 32 48", "when keep_level ch6 48 32", ["switches.self_level"],
         "if it was turned round, line 133: when keep_level ch6 32 48"),
        ("home_pace 800 150", "home_pace 800 15", ["home.descent"],
         "So slow a way down is hardly meant"),
        ("loop 4", "loop 8", ["loop.rate"], "Or, as the firmware comes, line 194: loop 4."),
    ],
)  # fmt: skip
def test_what_is_told_does_not_put_a_function_to_rest_nor_give_up_what_is_wanted(
    old: str, new: str, paths: list[str], says: str
) -> None:
    more = [("signal figures_600 rate=480", "signal figures_150 rate=480")] * (new == "loop 8")
    (found, *_) = told_of(faulty((old, new), *more))
    assert list(found.cause.paths) == paths
    (said,) = to_do(found)
    assert says in said
    assert "keep_level ch6 0 16" not in said


def test_what_a_transmitter_taught_is_never_typed() -> None:
    (found,) = told_of(faulty(("reach_of 2 1000 1500 2000", "reach_of 2 1100 1500 1900")))
    (said,) = to_do(found)
    assert said.startswith("Set the low end of channel 3 lower in the transmitter")
    assert "reach_of" not in said


def test_no_value_on_link_loss_is_mended_of_a_channel_that_two_controls_have() -> None:
    text = faulty(("stick lift 2", "stick lift 3"))
    found = judged(text, sheet_of(CRAFT)).findings
    assert "receiver/map-clash" in {finding.rule.id for finding in found}
    assert not [f for f in found if any("channels" in edit.path for edit in f.mend)]


def test_gains_that_all_lost_their_point_are_one_cause_and_its_lines_are_whole() -> None:
    (found,) = told_of(
        faulty(
            ("gain lean 45 82 31 92", "gain lean 450 820 310 920"),
            ("gain dip 49 86 34 96", "gain dip 490 860 340 960"),
            ("gain swing 43 80 0 84", "gain swing 430 800 0 840"),
        )
    )
    assert len(found.cause.paths) == 11
    (said,) = to_do(found)
    assert "gain lean 42 78 29 88" in said
