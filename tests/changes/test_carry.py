"""Settings are carried as far as the other craft can say them; what is its own stays."""

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.changes.diff import meaning
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.opening import joined, open_dump
from cfgaudit.dialects.plain import PLAIN
from cfgaudit.settings import Settings
from cfgaudit.work.carry import _WIRED, Carried, carry, carry_soundly, is_named
from tests.dialects.demo import CORPUS, dialects, opened

# within a dialect, and into each dialect from another one
PAIRS = (
    ("dipper", "sandpiper"), ("dipper", "wagtail"), ("wagtail", "goosander"),
    ("goosander", "dipper"),
)  # fmt: skip
OWN = {
    "craft.name", "craft.owner", "craft.serial", "motors.poles", "battery.divider",
    "battery.current_scale", "battery.current_offset", "sensors.accelerometer.calibrated",
    "board.name", "board.revision",
}  # fmt: skip


def carried(source: str, target: str, *only: str) -> Carried:
    found = opened(CORPUS / f"{source}.dump").settings
    return carry(found, (opened(CORPUS / f"{target}.dump"),), only)


@pytest.mark.parametrize(("source", "target"), PAIRS)
def test_what_is_carried_is_there_and_everything_else_is_as_it_was(
    source: str, target: str
) -> None:
    done = carried(source, target)
    before = opened(CORPUS / f"{target}.dump")
    data = done.after[0].document.to_bytes()
    after = open_dump("again.dump", data, dialects(), before.dialect).settings
    theirs = opened(CORPUS / f"{source}.dump").settings
    moved = {move.path for move in done.moves}
    assert moved
    for path in moved:
        assert meaning(after[path].value) == meaning(theirs[path].value)
    for path in {*after.stated, *before.settings.stated} - moved:
        assert after.stated[path].value == before.settings.stated[path].value, path
    assert not moved & OWN
    assert not any(path.startswith("firmware.") for path in moved)
    assert all(entry.why for entry in done.stays)
    # nothing that could be said is forgotten
    again = carry(theirs, done.after)
    assert again.moves == ()
    assert {entry.path for entry in again.stays} == {entry.path for entry in done.stays}


def test_a_craft_carried_to_itself_changes_nothing() -> None:
    done = carried("dipper", "dipper")
    assert (done.moves, done.stays, done.own) == ((), (), ())
    assert done.after[0].document.to_bytes() == done.before[0].document.to_bytes()


def test_only_what_is_named_is_carried() -> None:
    done = carried("dipper", "sandpiper", "banks.1.rates", "home.altitude")
    assert {move.path for move in done.moves} == {
        "banks.1.rates.pitch.max",
        "banks.1.rates.roll.max",
        "home.altitude",
    }


def test_names_take_prefixes_and_patterns() -> None:
    assert is_named("ports.uart1.baud", ())
    assert is_named("ports.uart1.baud", ("ports.uart1",))
    assert is_named("ports.uart1.baud", ("ports.*.baud",))
    assert not is_named("ports.uart10.baud", ("ports.uart1",))


def test_a_port_a_pad_and_an_arm_that_the_other_craft_lacks_stay() -> None:
    source = open_dump(
        "a.cfg",
        b"[ports.uart9]\nroles = telemetry\n[pads.z1]\nuse = free\n[motors.front]\noutput = 5\n",
        (),
        PLAIN,
    ).settings
    asked = ("ports", "pads", "motors")
    done = carry(source, (opened(CORPUS / "dipper.dump"),), asked)
    assert {entry.path: entry.why for entry in done.stays} == {
        "ports.uart9.roles": "that craft has no port uart9",
        "pads.z1.use": "that craft has no pad z1",
        "motors.front.output": "that craft has no arm front",
    }


def test_a_setting_that_the_firmware_does_not_know_or_can_t_say_stays_with_the_reason() -> None:
    source = open_dump(
        "a.cfg", b"[battery]\nwarn_cell = 3.52 V\n[receiver]\nsmoothing = 90 Hz\n", (), PLAIN
    ).settings
    whys = {
        entry.path: entry.why for entry in carry(source, (opened(CORPUS / "goosander.dump"),)).stays
    }
    assert "steps of 0.05 V" in whys["battery.warn_cell"]
    whys = {
        entry.path: entry.why for entry in carry(source, (opened(CORPUS / "wagtail.dump"),)).stays
    }
    assert "receiver.smoothing" in whys


def test_what_belongs_to_the_craft_as_it_is_built_is_left_unless_it_is_asked_for() -> None:
    done = carried("dipper", "sandpiper")
    built = {"motors.front_left.output", "board.rotation.yaw", "pads.a1.use"}
    assert built <= set(done.left)
    assert not any(move.built for move in done.moves)
    assert "banks.1.rates.roll.max" in {move.path for move in done.moves}
    done = carried("dipper", "sandpiper", "motors.front_left.output", "board.rotation", "pads.a1")
    assert built == {move.path for move in done.moves if move.built}
    assert done.left == ()


@pytest.mark.parametrize(
    "path",
    ["battery.cells", "battery.capacity", "receiver.link", "video.transmitter.frequency",
     "video.plan.river", "ports.uart1.roles", "motors.front_left.output", "board.rotation.yaw",
     "camera.control", "camera.standard", "receiver.map.roll", "sensors.compass.enabled",
     "esc.pulse_max", "video.transmitter.enabled", "overlay.enabled"],
)  # fmt: skip
def test_pack_link_and_frequencies_belong_to_the_craft_as_it_is_built(path: str) -> None:
    assert path.startswith(_WIRED)


@pytest.mark.parametrize(
    ("told", "built"),
    [
        ("battery.warn_cell = 3.1 V\nbattery.empty_cell = 2.8 V\n", "battery.chemistry = liion\n"),
        ("receiver.low = 1010 us\nreceiver.high = 1990 us\n", "receiver.ends.1.low = 1010 us\n"),
        ("home.altitude = 61 m\n", "position.enabled = off\n"),
    ],
)
def test_what_means_nothing_without_a_part_of_the_craft_stays_with_it(
    told: str, built: str
) -> None:
    """Cells of another kind are empty at another voltage; ends of a travel go by channel."""
    own, leader = ({line.split(" ")[0] for line in text.splitlines()} for text in (told, built))
    (lead,) = leader
    dumps = (opened(CORPUS / "dipper.dump"),)
    done = carry(open_dump("a.cfg", (told + built).encode(), (), PLAIN).settings, dumps)
    assert (done.moves, done.left) == ((), (lead,))
    assert {entry.path for entry in done.held} == own
    assert all(lead in entry.why for entry in done.held)
    alone = carry(open_dump("a.cfg", told.encode(), (), PLAIN).settings, dumps)
    assert {move.path for move in alone.moves} == own  # where both crafts have the same part


def test_what_brings_an_error_by_itself_is_left_and_its_sequence_with_it() -> None:
    """To do nothing on link loss is an error (truth of the trade); the rest of it goes by that."""
    text = b"failsafe.action = none\nfailsafe.hold_for = 0.7 s\nesc.idle = 6 %\n"
    source = open_dump("a.cfg", text, (), PLAIN).settings
    done = carry_soundly(source, (opened(CORPUS / "sandpiper.dump"),), audit)
    assert [move.path for move in done.moves] == ["esc.idle"]
    whys = {entry.path: entry.why for entry in done.held}
    assert set(whys) == {"failsafe.action", "failsafe.hold_for"}
    assert "would bring an error, failsafe/" in whys["failsafe.action"]


def test_what_is_excepted_is_not_carried() -> None:
    whole = {move.path for move in carried("dipper", "sandpiper").moves}
    source, target = opened(CORPUS / "dipper.dump"), opened(CORPUS / "sandpiper.dump")
    done = carry(source.settings, (target,), (), ("home", "banks.*.rates"))
    assert {move.path for move in done.moves} == {
        path for path in whole if not path.startswith("home.") and ".rates." not in path
    }


def test_settings_are_carried_into_the_dump_that_states_them() -> None:
    source = open_dump("a.cfg", b"esc.idle = 6 %\nhome.speed = 6 m/s\n", (), PLAIN).settings
    dumps = (
        open_dump("b.cfg", b"home.speed = 4 m/s\n", (), PLAIN),
        open_dump("c.cfg", b"esc.idle = 5 %\n", (), PLAIN),
    )
    done = carry(source, dumps)
    assert [dump.document.to_bytes() for dump in done.after] == [
        b"home.speed = 6 m/s\n",
        b"esc.idle = 6 %\n",
    ]
    assert joined(done.after)["esc.idle"].value == 6.0


def test_a_version_is_as_old_in_writing_as_it_is_in_reading() -> None:
    # 2.4 is 2.4.0: such a dump has today's key, and gets it
    of = build_dialect(
        {
            "name": "small",
            "look": {"head": ["small {firmware.version}"]},
            "lines": [{"map": ["poles = {motors.poles}", "low = {battery.warn_cell: V}"]}],
            "versions": [{"before": "2.4.0", "renames": {"low": "pk_lo"}}],
        },
        "small.toml",
    )
    for version, key in (("2.4", "low"), ("2.4.0", "low"), ("2.3", "pk_lo")):
        dump = open_dump("a.dump", f"small {version}\npoles = 14\n".encode(), [of])
        source = open_dump("b.cfg", b"battery.warn_cell = 3.4 V\n", [], PLAIN).settings
        done = carry(source, (dump,))
        assert done.stays == ()
        text = done.after[0].document.to_bytes().decode()
        assert text == f"small {version}\npoles = 14\n{key} = 3.4\n"


def of_size(diameter: int) -> Settings:
    text = f"[propulsion]\ndiameter = {diameter}\n".encode()
    return read_sheet(text, "a.build.toml")


_TUNED_LINES = (
    "banks.1.gains.roll.p = 61\nfilters.gyro = pt1 210 Hz\nnotches.motor.low = 120 Hz\n"
    "esc.idle = 7.5 %\nbanks.1.rates.roll.max = 555 deg/s\n"
)


@pytest.mark.parametrize(
    ("diameters", "one_size"),
    # 3, 5 and 5.1 inches; between the last two there is nothing to tune anew
    [((76, 127), False), ((127, 76), False), ((130, 127), True)],
)
def test_what_is_tuned_to_a_size_stays_where_the_propellers_differ(
    diameters: tuple[int, int], one_size: bool
) -> None:
    source = open_dump("a.cfg", _TUNED_LINES.encode(), (), PLAIN).settings
    dumps = (opened(CORPUS / "dipper.dump"),)
    there, here = map(of_size, diameters)
    done = carry(source, dumps, sheets=(there, here))
    assert done.one_size is one_size
    tuned = set(source.stated) - {"banks.1.rates.roll.max"}
    held = {entry.path for entry in done.held}
    assert held == (set() if one_size else tuned)
    assert "banks.1.rates.roll.max" in {move.path for move in done.moves}  # the pilot's, not its
    for entry in done.held:
        assert f"propellers of {diameters[0]} mm there" in entry.why
    asked = carry(source, dumps, ("banks.*.gains",), sheets=(there, here))
    assert [move.path for move in asked.moves] == ["banks.1.gains.roll.p"]


@pytest.mark.parametrize(
    "size",
    ["battery.cells = 6\n", "frame.layout = hex_x\n",
     "frame.arms.front_left.x = 150 mm\nframe.arms.front_left.y = -150 mm\n"],
)  # fmt: skip
def test_dumps_alone_tell_another_size(size: str) -> None:
    """The demo craft has 4 cells, 4 motors, and its motors 78 and 78 mm from its axes."""
    source = open_dump("a.cfg", f"esc.idle = 7.5 %\n{size}".encode(), (), PLAIN).settings
    done = carry(source, (opened(CORPUS / "dipper.dump"),))
    assert done.one_size is False
    assert [entry.path for entry in done.held] == ["esc.idle"]


def test_a_place_that_dump_and_sheet_both_tell_is_one_place() -> None:
    """78 and 78 mm in the demo craft's dump and in its sheet: 110 mm, as there."""
    sheet = read_sheet(b'[frame.arms.front_left]\nx = "78 mm"\ny = "-78 mm"\n', "a.build.toml")
    lines = b"esc.idle = 7.5 %\nframe.arms.front_left.x = 78 mm\nframe.arms.front_left.y = -78 mm\n"
    source = open_dump("a.cfg", lines, (), PLAIN).settings
    done = carry(source, (opened(CORPUS / "dipper.dump"),), sheets=(None, sheet))
    assert done.one_size is True


@pytest.mark.parametrize(("there", "here", "stays"), [(34, 40, True), (34, 35, False)])
def test_the_landing_s_throttle_goes_with_the_one_that_hovers(
    there: int, here: int, stays: bool
) -> None:
    source = open_dump("a.cfg", b"failsafe.throttle = 1240 us\n", (), PLAIN).settings
    sheets = [f"[propulsion]\nhover_throttle = {hover}\n".encode() for hover in (there, here)]
    one, other = (read_sheet(text, "a.build.toml") for text in sheets)
    done = carry(source, (opened(CORPUS / "dipper.dump"),), sheets=(one, other))
    assert [entry.why for entry in done.held] == (
        ["it goes with the throttle that hovers: 34 % there, 40 % here"] if stays else []
    )


def test_where_nothing_tells_the_size_it_is_not_known() -> None:
    source = open_dump("a.cfg", b"esc.idle = 7.5 %\n", (), PLAIN).settings
    done = carry(source, (opened(CORPUS / "dipper.dump"),))
    assert done.one_size is None
    assert [move.path for move in done.moves] == ["esc.idle"]


def test_link_loss_of_a_craft_without_a_position_stays_with_it() -> None:
    text = b"failsafe.action = motors_off\nposition.enabled = off\n"
    source = open_dump("a.cfg", text, (), PLAIN).settings
    done = carry(source, (opened(CORPUS / "dipper.dump"),))  # which comes home
    assert [entry.path for entry in done.held] == ["failsafe.action"]


@pytest.mark.parametrize(("board", "stays"), [("HB-9", True), ("HB-7", False)])
def test_what_another_board_may_not_bear_stays(board: str, stays: bool) -> None:
    text = f"board.name = {board}\nesc.protocol = dshot150\nloop.rate = 2000 Hz\n".encode()
    source = open_dump("a.cfg", text, (), PLAIN).settings
    done = carry(source, (opened(CORPUS / "dipper.dump"),))  # of an HB-7
    assert [entry.path for entry in done.held] == (["esc.protocol", "loop.rate"] if stays else [])


def test_packs_of_unlike_size_tell_unlike_craft_and_a_bank_goes_whole_or_not_at_all() -> None:
    text = b"battery.capacity = 8400 mAh\nbanks.4.gains.roll.p = 40\nbanks.4.rates.roll.max = 300\n"
    source = open_dump("a.cfg", text, (), PLAIN).settings
    target = open_dump("b.cfg", b"battery.capacity = 850 mAh\nbattery.cells = 4\n", (), PLAIN)
    done = carry(source, (target,))
    assert done.one_size is False
    assert [entry.path for entry in done.held] == [
        "banks.4.gains.roll.p", "banks.4.rates.roll.max",
    ]  # fmt: skip


def test_the_places_on_the_screen_go_with_its_standard() -> None:
    text = b"overlay.standard = pal\noverlay.grid.rows = 16\noverlay.elements.speed.row = 14\n"
    source = open_dump("a.cfg", text, (), PLAIN).settings
    target = open_dump("b.cfg", b"overlay.standard = ntsc\noverlay.grid.rows = 13\n", (), PLAIN)
    done = carry(source, (target,))
    assert {entry.path for entry in done.held} == {
        "overlay.grid.rows", "overlay.elements.speed.row",
    }  # fmt: skip


def test_what_is_stated_twice_with_different_values_is_not_carried() -> None:
    text = b"failsafe.detect_after = 0.5 s\nfailsafe.detect_after = 1 s\n"
    source = open_dump("a.cfg", text, (), PLAIN).settings
    done = carry(source, (opened(CORPUS / "dipper.dump"),))
    assert [(entry.path, entry.why) for entry in done.stays] == [
        ("failsafe.detect_after", "it is stated more than once there, on lines 1 and 2")
    ]
