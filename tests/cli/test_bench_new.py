"""`bench --new`: a build sheet to be filled in; `--into` adds to one and keeps all that it says."""

import re
import shutil
import tomllib
from math import cos, radians, sin
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.craft.sheet import Sheet, read_sheet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.physics.allocation import BEARINGS_DEG
from cfgaudit.reading.toml import CannotAdd, key_text, quoted
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.paths import declared_in_sheet, sheet_vocabulary
from cfgaudit.work.build_sheet import (
    added_to,
    new_sheet,
    proposal,
    toml_value,
)
from tests.audit.seeding import GOLDEN, settings_of, text_of
from tests.cli.calling import CORPUS, call
from tests.strategies import settings
from tests.test_startup import loaded

_EXAMPLE = re.compile(r"^#(?=[a-z_]+ = |\[)", re.MULTILINE)


def read(text: str) -> Settings:
    return read_sheet(text.encode(), "x.toml")


def written(craft: Settings) -> str:
    return new_sheet(proposal(craft))


def filled_in(text: str) -> str:
    """The sheet with the mark of every example taken away."""
    return _EXAMPLE.sub("", text)


def values_of(sheet: Settings) -> dict[str, object]:
    return {path: entry.value for path, entry in sheet.stated.items()}


@pytest.mark.parametrize("name", GOLDEN)
def test_a_new_sheet_of_a_craft_reads_back_without_a_fault(name: str) -> None:
    sheet = Sheet(read(written(settings_of(name))))
    craft = settings_of(name)
    assert sheet.motors["rear_left"].output == craft["motors.rear_left.output"].value
    assert sheet.motors["rear_left"].poles == 14
    assert sheet.battery.cells == 4
    assert sheet.frame.layout == "quad_x"
    assert sheet.frame.rotation == "inward"
    assert sheet.camera.standard == "pal"
    assert [device.port for device in sheet.devices_of("receiver")] == ["uart1"]
    assert [device.port for device in sheet.devices_of("video_transmitter")] == ["uart6"]
    assert sheet.ports["usb"].kind == "usb"


@pytest.mark.parametrize("name", GOLDEN)
def test_the_sheet_of_the_corpus_agrees_with_what_is_filled_in_from_its_dump(name: str) -> None:
    told = values_of(read(written(settings_of(name))))
    own = values_of(read((CORPUS / f"{name}.build.toml").read_text(encoding="utf-8")))
    places = {  # whatever a device is called there
        (own.get(f"sheet.devices.{word}.kind"), own.get(f"sheet.devices.{word}.{key}"))
        for word in Settings(read(text_of(name, sheet=True)).stated).below("sheet.devices")
        for key in ("port", "pad")
    }
    for path, value in told.items():
        if not path.startswith("sheet.devices."):
            assert own[path] == value, path
        elif not path.endswith(".kind"):
            assert (told[path.rpartition(".")[0] + ".kind"], value) in places, path


@pytest.mark.parametrize("craft", [Settings(), settings_of("dipper")], ids=["nothing", "dipper"])
def test_a_sheet_whose_examples_are_all_taken_reads_back_and_states_all_there_is(
    craft: Settings,
) -> None:
    sheet = read(filled_in(written(craft)))
    stated = {declared_in_sheet(path) for path in sheet}
    left = {entry.pattern for entry in sheet_vocabulary() if entry not in stated}
    never = {"sheet.rails.NAME.choices", "sheet.rails.NAME.choice"}  # in place of the voltage
    if not len(craft):
        never |= {
            "sheet.devices.NAME.pad",
            "sheet.devices.NAME.frequencies",
            "sheet.devices.NAME.powers",
            "sheet.motors.ARM.pad",
        }
    assert left == never


def test_no_example_is_stated_before_its_mark_is_taken_away() -> None:
    assert len(read(written(Settings()))) == 0
    sheet = read(written(settings_of("dipper")))
    for unseen in ("wires", "direction", "turns"):
        assert f"sheet.motors.front_left.{unseen}" not in sheet
    assert "sheet.board.turned.yaw" not in sheet
    assert "sheet.devices.receiver.rate" not in sheet


def test_every_line_is_explained_by_a_comment() -> None:
    for line in written(settings_of("dipper")).splitlines():
        if " = " in line and not line.startswith("# "):
            assert re.search(r"  # \S.{8,}$", line), line
            assert line.startswith("#") != ("  # the dump's; " in line), line


def test_what_the_dump_can_t_be_trusted_in_is_left_to_be_looked_up() -> None:
    craft = read_plain("motors.poles = 0\nbattery.cells = auto\nmotors.a.output = 99\n")
    sheet = read(written(craft))
    assert len(sheet) == 0
    assert "[motors.a]" in written(craft)


@pytest.mark.parametrize("layout", ["quad_x", "quad_plus", "hex_x", "hex_plus", "octo_x"])
def test_the_example_of_an_arm_s_place_is_on_the_side_where_its_layout_has_it(layout: str) -> None:
    # hand calculation: a bearing from the nose, clockwise from above, has its cosine forward and
    # its sine to the right; 0.01 is on the centre line
    places = {arm: (cos(radians(b)), sin(radians(b))) for arm, b in BEARINGS_DEG[layout].items()}
    craft = read_plain("".join(f"motors.{arm}.output = 1\n" for arm in places))
    sheet = Sheet(read(filled_in(written(craft))))
    for arm, place in places.items():
        there = sheet.frame.arms[arm]
        for mine, right in zip((there.x, there.y), place, strict=True):
            sign = 0 if abs(right) < 0.01 else 1 if right > 0 else -1
            assert mine * sign > 0 if sign else mine == 0, (arm, place)


def test_no_place_is_made_up_for_an_arm_whose_name_tells_none() -> None:
    text = written(read_plain("motors.a.output = 1\n"))
    assert "\n[frame.arms.a]\n\n" in text
    assert "# where a is: x, measure" in text


def test_two_devices_of_a_kind_have_names_of_their_own() -> None:
    craft = read_plain("ports.a.roles = telemetry\nports.b.roles = telemetry\n")
    sheet = Sheet(read(written(craft)))
    assert [(d.name, d.port) for d in sheet.devices] == [("telemetry", "a"), ("telemetry_2", "b")]


@given(settings(raw=False))
def test_a_sheet_of_any_craft_reads_back_and_goes_well_with_itself(craft: Settings) -> None:
    text = written(craft)
    sheet = read(text)
    read(filled_in(text))
    for path, entry in sheet.stated.items():
        same = path.removeprefix("sheet.")
        if path.startswith(("sheet.battery.", "sheet.frame.l", "sheet.camera.")):
            assert entry.value == craft[same].value
    assert added_to(text, proposal(craft), "x.toml") == (text, (), ())


OWN = """\
# my own sheet
[motors.front_left]   # mine
output = 2   # seen
#wires = "straight"   # to do

# about the rear
[motors.rear_left]

[rails.video]   # a bridge
choices = [
    5,  # as bought
    9,
]
choice = 9
[devices.gnss]
kind = "position"
port = "uart5"   # moved
[battery]
cells = 3
[board]
turned.yaw = 45"""


def added(text: str, name: str = "dipper") -> str:
    return added_to(text, proposal(settings_of(name)), "x.toml").text


def test_own_lines_comments_and_values_are_kept_and_what_is_missing_comes_between_them() -> None:
    text = added(OWN)
    lines = text.split("\n")
    kept = iter(lines)
    assert all(line in kept for line in OWN.split("\n")), "every line, in the same order"
    sheet = read(text)
    for path, entry in read(OWN).stated.items():
        assert sheet[path].value == entry.value
    assert sheet["sheet.motors.front_left.poles"].value == 14
    assert lines[lines.index("output = 2   # seen") + 1].startswith('pad = "a2"')
    assert lines[lines.index("[motors.rear_left]") + 1].startswith("output = 1")
    assert lines[lines.index("turned.yaw = 45") + 1].startswith('name = "HB-7"')
    assert sheet["sheet.battery.capacity"].value == 1550.0
    assert sheet["sheet.devices.receiver.port"].value == "uart1"


def test_a_table_keeps_its_comments_as_another_reader_sees_them() -> None:
    """Reference library: tomlkit, which keeps comments."""
    before, after = tomlkit.parse(OWN), tomlkit.parse(added(OWN))
    for table, key in (("motors", "front_left"), ("rails", "video"), ("devices", "gnss")):
        mine, theirs = before[table][key], after[table][key]
        assert mine.trivia.comment == theirs.trivia.comment
        for name in mine:
            assert mine[name].as_string() == theirs[name].as_string()
            assert mine[name].trivia.comment == theirs[name].trivia.comment


def test_a_device_under_a_name_of_the_builder_s_own_is_not_added_again() -> None:
    text = added(OWN)
    assert "[devices.position]" not in text
    assert read(text)["sheet.devices.gnss.port"].value == "uart5"
    assert "[rails.5V]" not in text


def test_a_name_that_stands_for_another_thing_is_left_alone() -> None:
    text = added('[devices.camera]\nkind = "other"\n')
    assert tomllib.loads(text)["devices"]["camera"] == {"kind": "other"}


def test_a_device_on_a_pad_gets_no_port() -> None:
    text = added('[devices.receiver]\npad = "b3"\n')
    assert tomllib.loads(text)["devices"]["receiver"] == {"pad": "b3", "kind": "receiver"}


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_what_is_added_ends_its_lines_as_the_sheet_does(end: str) -> None:
    own = OWN.replace("\n", end)
    text = added(own)
    assert text.count("\n") == text.count(end)
    assert added(text) == text
    assert read(text.replace("\r\n", "\n")).stated == read(text).stated


@pytest.mark.parametrize("name", GOLDEN)
def test_nothing_is_added_to_a_sheet_that_has_it_all(name: str) -> None:
    own = text_of(name, sheet=True)
    assert added(own, name) == own


def test_a_sheet_that_can_t_be_added_to_is_refused() -> None:
    with pytest.raises(CannotAdd, match=r"battery must have a head of its own, \[battery\]"):
        added("battery = { cells = 4 }\n")
    with pytest.raises(CannotAdd, match="does not go with it"):
        added("frame = { }\n")


def test_a_text_is_written_so_that_it_reads_back_and_can_t_act_on_a_screen() -> None:
    for text in ('a"b', "a\\b", "a\nb", "\x1b[31m", "\u202eab", "a\U000e0001b", "ä"):
        written = f"{key_text(text)} = {quoted(text)}"
        assert tomllib.loads(written) == {text: text}
        assert written.isprintable()
    assert toml_value(frozenset({"b", "a"})) == '["a", "b"]'


@given(st.text())
def test_any_text_reads_back(text: str) -> None:
    if text.encode("utf-8", "replace").decode() == text:
        assert tomllib.loads(f"a = {quoted(text)}") == {"a": text}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copy(CORPUS / "dipper.dump", tmp_path)
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    (tmp_path / "cfgaudit.toml").write_text('[cfgaudit]\ndialects = ["dialects"]\n')
    return tmp_path


def test_the_command_prints_the_sheet_or_writes_it(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    printed = call(monkeypatch, ["bench", "--new", "dipper.dump"], cwd=folder)
    assert printed.status == 0
    assert "# Build sheet of dipper:" in printed.out
    kept = call(monkeypatch, ["bench", "--new", "dipper.dump", "--output", "a.toml"], cwd=folder)
    assert (kept.status, kept.out, kept.err) == (0, "", "written: a.toml\n")
    assert (folder / "a.toml").read_text(encoding="utf-8") == printed.out
    assert call(monkeypatch, ["bench", "--new"], cwd=folder).out == written(Settings())


def test_a_new_sheet_says_above_a_port_what_the_firmware_calls_it(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    # corpus/dialects/sedge.toml: uart2 is brook2
    new = call(monkeypatch, ["bench", "--new", "dipper.dump"], cwd=folder).out
    assert "\n# brook2 in sedge\n[ports.uart2]\n" in new
    assert "\n\n[pads.b2]\n" in new  # its own word is ours


def test_a_file_that_is_there_is_replaced_only_when_told(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    mine = folder / "mine.toml"
    mine.write_text("# mine\n")
    asked = ["bench", "--new", "dipper.dump", "--output", "mine.toml"]
    answer = call(monkeypatch, asked, cwd=folder)
    assert (answer.status, mine.read_text()) == (2, "# mine\n")
    assert "mine.toml is there: add to it with --into, or say --overwrite" in answer.err
    assert call(monkeypatch, [*asked, "--overwrite"], cwd=folder).status == 0
    assert mine.read_text(encoding="utf-8").startswith("# Build sheet of dipper")
    # the sheet of the folder's settings, too, as it is no input of a new one
    more = '[craft.dipper]\nbuild = "mine.toml"\n'
    (folder / "cfgaudit.toml").write_text('[cfgaudit]\ndialects = ["dialects"]\n' + more)
    assert call(monkeypatch, [*asked, "--overwrite"], cwd=folder).status == 0


def test_into_tells_what_it_added_and_the_second_time_that_nothing_is_missing(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "own.toml").write_text(OWN)
    asked = ["bench", "--new", "dipper.dump", "--into", "own.toml"]
    answer = call(monkeypatch, asked, cwd=folder)
    assert (answer.status, answer.out) == (0, "")
    assert answer.err.startswith("written: own.toml\n")
    assert "  added [devices.receiver]\n" in answer.err
    assert "  added motors.front_left.poles\n" in answer.err
    text = (folder / "own.toml").read_text(encoding="utf-8")
    # above a port stands, besides, what the firmware calls it
    assert re.sub("# .* in sedge\n", "", text) == added(OWN)
    again = call(monkeypatch, asked, cwd=folder)
    assert (again.status, again.err) == (0, "own.toml: nothing is missing\n")
    assert (folder / "own.toml").read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "name the craft's build sheet; --new writes one"),
        (["dipper.dump"], "the build sheet comes first"),
        (["--new", "--into", "own.toml"], "--into FILE goes with a DUMP and without --output"),
        (["--new", "dipper.dump", "--into", "own.toml", "--output", "b"], "without --output"),
        (["--new", "dipper.dump", "--into", "none.toml"], "none.toml can't be read"),
        (["--new", "dipper.dump", "--into", "bad.toml"], "bad.toml:1: there is no motor in"),
        (["--new", "dipper.dump", "--into", "flat.toml"], "flat.toml: nothing was added: battery"),
        (["--new", "none.dump"], "none.dump can't be read"),
    ],
)
def test_what_can_t_be_done_is_said_and_nothing_is_written(
    monkeypatch: pytest.MonkeyPatch, folder: Path, arguments: list[str], told: str
) -> None:
    (folder / "own.toml").write_text(OWN)
    (folder / "bad.toml").write_text("[motor]\n")
    (folder / "flat.toml").write_text("battery = { cells = 4 }\n")
    before = {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    answer = call(monkeypatch, ["bench", *arguments], cwd=folder)
    assert (answer.status, answer.out) == (2, "")
    assert told in answer.err
    assert before == {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def test_a_dump_that_no_dialect_knows_is_said_to_tell_nothing(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "strange.txt").write_text("wobble; 3\nfrobnicate; 4\n")
    answer = call(monkeypatch, ["bench", "--new", "strange.txt"], cwd=folder)
    assert answer.status == 0
    assert answer.err == "strange.txt: no dialect knows this dump, so it tells nothing\n"
    assert answer.out == written(Settings())


def test_a_new_sheet_is_made_without_rules() -> None:
    floors = {name.split(".")[1] for name in loaded("bench", "--new", "dipper.dump") if "." in name}
    assert floors & {"rules", "audit", "changes"} == set()


@pytest.mark.parametrize(("link", "framing"), [("sbus", "8E2"), ("ibus", "8N1"), ("odd", "8N1")])
def test_the_example_of_a_receiver_s_framing_is_its_link_s_own(link: str, framing: str) -> None:
    """From the trade: sbus has a parity bit and two stop bits, ibus eight bits and no parity."""
    craft = read_plain(f"receiver.link = {link}\nports.uart1.roles = receiver\n")
    assert f'#framing = "{framing}"' in written(craft)


def test_a_table_whose_name_no_dump_tells_stands_behind_a_mark() -> None:
    text = written(read_plain("ports.uart1.roles = none\nmotors.poles = 14\n"))
    heads = [line for line in text.splitlines() if line.startswith(("[", "#["))]
    named = [h for h in heads if h.count(".") and not h.endswith(".turned]")]
    assert [head for head in named if not head.startswith("#")] == ["[ports.uart1]"]
    assert Sheet(read(text)).ports.names() == ["uart1"]


def test_of_a_device_that_is_switched_off_only_its_place_is_told() -> None:
    text = "ports.uart2.roles = video_control\nvideo.transmitter.enabled = "
    for state, stated in (("on", {"kind", "port"}), ("off", {"port"})):
        sheet = Sheet(read(written(read_plain(text + state))))
        assert {
            leaf for leaf in ("kind", "port") if sheet.devices["video_transmitter"].states(leaf)
        } == stated
