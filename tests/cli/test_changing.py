"""mend, carry and confirm from the command line: screens, files, exit status, machine output."""

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from cfgaudit.cli import InputError
from cfgaudit.cli.files import write_together
from tests.cli.calling import CORPUS, call, run
from tests.reports.schemas import validate

REPAIRED = "faulty/dipper-after-repair.dump"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The corpus, to be written to."""
    return Path(shutil.copytree(CORPUS, tmp_path / "corpus"))


def test_mend_shows_the_lines_their_way_back_and_what_is_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = call(monkeypatch, ["mend", REPAIRED, "--only", "serial"])
    assert said.status == 1  # errors are left
    assert "MEND    serial/wired-elsewhere" in said.out
    # a line that the dump has, and the line in its place, by corpus/dialects/sedge.toml
    assert "The change, as lines of sedge\n    [port brook2]\n    jobs = 2\n" in said.out
    assert "To take it back\n    [port brook2]\n    jobs = 0\n" in said.out
    assert "Propellers off" in said.out
    words = " ".join(said.out.split())
    assert "is safe" not in words.replace("no proof that a craft is safe", "")
    assert all(len(line) <= 80 for line in said.out.splitlines())


def unmerged(folder: Path) -> Path:
    """The repaired craft's dump with a merge in it that nobody finished."""
    file = folder / REPAIRED
    head = "[port brook4]\njobs = 0\n"
    text = file.read_text(encoding="utf-8")
    assert text.count(head) == 1
    sides = "[port brook4]\n<<<<<<< ours\njobs = 2\n=======\njobs = 4\n>>>>>>> theirs\n"
    file.write_text(text.replace(head, sides), encoding="utf-8")
    return file


def test_nothing_is_mended_while_a_merge_is_unfinished(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    before = unmerged(folder).read_bytes()
    for options in ([], ["--write"], ["--lines"]):
        said = call(monkeypatch, ["mend", REPAIRED, *options], cwd=folder)
        assert (said.status, said.out) == (2, "")
        assert "Choose one side of each conflict" in " ".join(said.err.split())
    assert (folder / REPAIRED).read_bytes() == before
    assert not list(folder.glob("faulty/*.before"))


def test_check_tells_of_an_unfinished_merge_first_and_calls_nothing_else_sure(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    unmerged(folder)
    said = call(monkeypatch, ["check", REPAIRED, "--format", "json"], cwd=folder)
    (craft,) = json.loads(said.out)["dumps"]
    first, *others = craft["findings"]
    assert first["rule"] == "dump/merge-unfinished"
    assert any(other["level"] == "error" for other in others)
    assert not any(other["mend"] for other in others)
    assert craft["causes"] == []


def test_mend_writes_nothing_unasked_and_one_line_when_asked(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    file = folder / REPAIRED
    before = file.read_bytes()
    only = ["mend", REPAIRED, "--only", "serial"]
    call(monkeypatch, only, cwd=folder)
    assert file.read_bytes() == before
    said = call(monkeypatch, [*only, "--write"], cwd=folder)
    assert f"Written: {REPAIRED}" in " ".join(said.out.split())
    assert file.read_bytes() == before.replace(b"jobs = 0", b"jobs = 2", 1)
    again = call(monkeypatch, [*only, "--write"], cwd=folder)
    assert "Nothing to mend" in again.out
    assert file.read_bytes() == before.replace(b"jobs = 0", b"jobs = 2", 1)


def test_check_gives_the_edits_that_mend_makes(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    """The receiver's wires end at a spare port, which has another rate so far."""
    sheet = folder / "wagtail.build.toml"
    text = sheet.read_text(encoding="utf-8").replace('port = "uart1"', 'port = "uart5"', 1)
    sheet.write_text(text, encoding="utf-8")

    def told(command: str) -> Any:
        order = [command, "wagtail.dump", "--build", sheet.name, "--format", "json"]
        return json.loads(call(monkeypatch, order, cwd=folder).out)

    (checked,) = told("check")["dumps"]
    (mended,) = told("mend")["mended"]
    edits = {(edit["path"], edit["value"]) for edit in mended["edits"] if edit["needed"]}
    assert ("ports.uart5.baud", "420000 Bd") in edits
    marked = [finding["mend"] for finding in checked["findings"] if finding["mend"]]
    assert [{(edit["path"], edit["value"]) for edit in mend} for mend in marked] == [edits]
    (cause,) = checked["causes"]
    assert cause["sure"]
    assert {turn["path"] for turn in cause["turns"]} == {path for path, _ in edits}


def test_mend_of_one_rule_leaves_the_others_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    said = call(monkeypatch, ["mend", REPAIRED, "--only", "receiver", "--format", "json"])
    assert json.loads(said.out)["mended"] == []
    refused = call(monkeypatch, ["mend", REPAIRED, "--only", "failsafe/throttle-hold"])
    assert refused.status == 2
    assert "Did you mean failsafe/throttle-held?" in refused.err


def test_standard_input_is_read_and_never_written() -> None:
    data = (CORPUS / REPAIRED).read_bytes()
    said = run("mend", "-", "--stdin-name", "bench", stdin=data)
    assert "bench: 675 lines" in said.out
    refused = run("mend", "-", "--write", stdin=data)
    assert refused.status == 2
    assert "can't be edited in place" in refused.err


def test_carry_shows_what_is_carried_and_what_is_the_crafts_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = call(monkeypatch, ["carry", "dipper.dump", "sandpiper.dump", "--only", "home"])
    assert said.status == 0
    assert "home.altitude: 35 m -> 40 m" in said.out
    assert "[whereabouts]\n    home_height = 400\n" in said.out
    assert "home_height = 350" in said.out.partition("To take it back")[2]
    assert "Propellers off" in said.out
    assert all(len(line) <= 80 for line in said.out.splitlines())


def test_carry_writes_its_file_and_no_other(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    before = {name: (folder / name).read_bytes() for name in ("dipper.dump", "sandpiper.dump")}
    only = ["--only", "home.altitude", "--write"]
    call(monkeypatch, ["carry", "dipper.dump", "sandpiper.dump", *only], cwd=folder)
    assert (folder / "dipper.dump").read_bytes() == before["dipper.dump"]
    assert (folder / "sandpiper.dump").read_bytes() == before["sandpiper.dump"].replace(
        b"home_height = 350", b"home_height = 400"
    )


def test_carry_writes_nothing_that_its_own_audit_calls_an_error(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    """An action that does nothing on link loss is an error (truth of the trade)."""
    before = (folder / "sandpiper.dump").read_bytes()
    (folder / "bad.cfg").write_text("failsafe.action = none\n", encoding="utf-8")
    order = ["carry", "bad.cfg", "sandpiper.dump", "--write"]
    said = call(monkeypatch, [*order, "--format", "json"], cwd=folder)
    told = json.loads(said.out)
    assert [entry["path"] for entry in told["held_back"]] == ["failsafe.action"]
    assert (told["carried"], told["findings_new"]) == ([], [])
    said = call(monkeypatch, [*order, "--only", "failsafe"], cwd=folder)
    assert said.status == 2
    assert "--anyway" in said.err
    assert (folder / "sandpiper.dump").read_bytes() == before
    call(monkeypatch, [*order, "--anyway"], cwd=folder)
    assert (folder / "sandpiper.dump").read_bytes() != before


def lines_that_differ(before: bytes, after: bytes) -> list[tuple[int, bytes, bytes]]:
    pairs = zip(before.split(b"\n"), after.split(b"\n"), strict=True)
    return [(number, old, new) for number, (old, new) in enumerate(pairs, 1) if old != new]


def test_of_several_dumps_in_a_file_the_one_that_is_named_is_edited(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    file = folder / "pasted" / "several.dump"  # its second dump is at lines 460 to 1137
    before, names = file.read_bytes(), sorted(path.name for path in file.parent.iterdir())
    only = ["--only", "home.altitude", "--write", "--format", "json"]
    said = call(
        monkeypatch, ["carry", "sandpiper.dump", "pasted/several.dump#2", *only], cwd=folder
    )
    ((line, old, new),) = lines_that_differ(before, file.read_bytes())
    assert 460 <= line <= 1137
    assert (old, new) == (b"home_height = 400", b"home_height = 350")
    kept = file.with_name("several.dump.before")
    assert sorted(path.name for path in file.parent.iterdir()) == sorted([*names, kept.name])
    assert kept.read_bytes() == before
    assert json.loads(said.out)["files"][0]["written"] is True


def test_two_dumps_of_one_file_are_put_into_it_together(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    parts = [(folder / name).read_bytes() for name in ("sandpiper.dump", "dipper.dump")]
    file = folder / "both.dump"
    file.write_bytes(b"\n".join(parts))
    (folder / "high.cfg").write_text("home.altitude = 50 m\n", encoding="utf-8")
    of = ["--with", "both.dump#1=both.dump#2", "--only", "home", "--write"]
    said = call(monkeypatch, ["carry", "high.cfg", "both.dump#1", *of], cwd=folder)
    assert "Written: both.dump;" in said.out
    assert [
        (old, new) for _, old, new in lines_that_differ(b"\n".join(parts), file.read_bytes())
    ] == [
        (b"home_height = 350", b"home_height = 500"),
        (b"home_height = 400", b"home_height = 500"),
    ]


def test_where_one_of_several_files_can_t_be_written_none_is(tmp_path: Path) -> None:
    first = tmp_path / "a.dump"
    first.write_bytes(b"old")
    with pytest.raises(InputError, match=r"b\.dump can't be written: no such file"):
        write_together({first: b"new", tmp_path / "gone" / "b.dump": b"new"})
    assert first.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [first]


def test_carry_goes_by_the_build_sheets_of_both(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "small.cfg").write_text("esc.idle = 7.5 %\n")
    (folder / "small.build.toml").write_text("[propulsion]\ndiameter = 76\n")
    order = ["carry", "small.cfg", "sandpiper.dump", "--format", "json"]
    of = ["--build", "small.cfg=small.build.toml"]  # sandpiper's, of 127 mm, is its folder's
    data = json.loads(call(monkeypatch, [*order, *of], cwd=folder).out)
    assert (data["one_size"], data["carried"]) == (False, [])
    assert "76 mm there" in data["held_back"][0]["why"]
    assert json.loads(call(monkeypatch, order, cwd=folder).out)["one_size"] is None


def test_carry_of_what_nobody_states_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    said = call(monkeypatch, ["carry", "dipper.dump", "sandpiper.dump", "--only", "home.altitud"])
    assert said.status == 2
    assert "Did you mean home.altitude?" in said.err


def test_confirm_tells_what_took_and_what_did_not(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    file = folder / "wanted.cfg"
    file.write_text("[battery]\nwarn_cell = 3.5 V\n[home]\naltitude = 40.02 m\n", encoding="utf-8")
    took = call(monkeypatch, ["confirm", "wanted.cfg", "dipper.dump"], cwd=folder)
    assert took.status == 0
    assert "the firmware's step is 0.1 m" in took.out
    assert "All 2 intended settings took." in took.out
    file.write_text("battery.warn_cell = 3.6 V\n", encoding="utf-8")
    amiss = call(monkeypatch, ["confirm", "wanted.cfg", "dipper.dump"], cwd=folder)
    assert amiss.status == 1
    assert "intended 3.6 V, read back 3.5 V" in amiss.out
    assert "Propellers off" in amiss.out


@pytest.mark.parametrize("dump", ["wagtail.dump", "dipper.dump"])
def test_confirm_counts_the_settings_that_show_counts(
    monkeypatch: pytest.MonkeyPatch, dump: str
) -> None:
    said = " ".join(call(monkeypatch, ["confirm", dump, dump]).out.split())
    shown = " ".join(call(monkeypatch, ["show", dump]).out.split())
    (took,) = re.findall(r"All (\d+) intended settings took\.", said)
    (more,) = re.findall(r"(\d+) more are the firmware's own to write, or hidden\.", said)
    (settings,) = re.findall(r", (\d+) settings", shown)
    assert int(took) + int(more) == int(settings)


def test_confirm_hides_secrets_unless_asked(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    (folder / "wanted.cfg").write_text('[craft]\nserial = "RS-9999"\n', encoding="utf-8")
    calls = ["confirm", "wanted.cfg", "dipper.dump"]
    hidden, shown = (call(monkeypatch, [*calls, *more], cwd=folder) for more in ([], ["--secrets"]))
    assert "RS-" not in hidden.out
    assert "RS-9999" in shown.out


@pytest.mark.parametrize(
    "arguments",
    [
        ["mend", REPAIRED],
        ["mend", "broken/no-dialect.dump"],
        ["carry", "dipper.dump", "sandpiper.dump"],
        ["carry", "dipper.dump", "wagtail.dump", "--only", "battery"],
        ["confirm", "dipper.cfg", "dipper.dump"],
        ["confirm", "wagtail.dump", "dipper.dump"],
    ],
    ids=" ".join,
)
def test_machine_output_is_as_its_schema_says(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    said = call(monkeypatch, [*arguments, "--format", "json"])
    assert said.status in (0, 1, 2)
    validate(json.loads(said.out), arguments[0])


TYPED = (
    ("mend", REPAIRED, "--only", "serial"),
    ("allot", "dipper.build.toml", REPAIRED),
    ("confirm", "dipper.dump", REPAIRED),
    ("carry", "dipper.dump", REPAIRED, "--only", "battery.warn_cell", "--only", "failsafe"),
    ("upgrade", "upgrades/dipper-2.3.0.dump", "dipper.dump"),
)


@pytest.mark.parametrize("arguments", TYPED, ids=lambda arguments: arguments[0])
def test_lines_to_type_begin_and_end_as_the_firmware_wants_it_or_that_is_said_to_be_unknown(
    monkeypatch: pytest.MonkeyPatch, folder: Path, arguments: tuple[str, ...]
) -> None:
    unknown = call(monkeypatch, [*arguments, "--lines"], cwd=folder)
    assert "How sedge keeps what is typed is not known" in " ".join(unknown.err.split())
    said = call(monkeypatch, list(arguments), cwd=folder)
    assert "How sedge keeps what is typed is not known" in " ".join(said.out.split())
    dialect = folder / "dialects/sedge.toml"
    opens_and_saves = '[typing]\nbefore = ["wake up"]\nafter = ["back to bank 1", "keep it"]\n'
    dialect.write_text(dialect.read_text("utf-8") + opens_and_saves, "utf-8")
    known = call(monkeypatch, [*arguments, "--lines"], cwd=folder)
    assert known.out == f"wake up\n{unknown.out}back to bank 1\nkeep it\n"
    assert known.err == ""
    said = call(monkeypatch, list(arguments), cwd=folder)
    assert "is not known" not in said.out
    assert "    keep it\n" in said.out
    data = call(monkeypatch, [*arguments, "--format", "json"], cwd=folder)
    assert '"saves": true' in data.out


UART2 = "uart2: brook2 in sedge, T2 on the board"
STERN = "uart2: stern in osier, brook2 in sedge"
REVIEW = ("sarif", "github", "junit", "markdown")


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The corpus, with a sheet that tells what is printed beside a port and a pad."""
    folder = Path(shutil.copytree(CORPUS, tmp_path_factory.mktemp("printed") / "corpus"))
    sheet = folder / "dipper.build.toml"
    text = sheet.read_text("utf-8")
    for head, name in (("[ports.uart2]", "T2"), ("[pads.b2]", "HORN")):
        assert head in text
        text = text.replace(head, f'{head}\nprinted = "{name}"\n')
    sheet.write_text(text, "utf-8")
    return folder


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("check", REPAIRED), ["ports.uart2.roles none (brook2 in sedge, T2 on the board)"]),
        (("check", REPAIRED, "--long"), [UART2]),
        (("why", "no telemetry", REPAIRED), ["none (brook2 in sedge, T2 on the board)"]),
        (
            ("report", REPAIRED),
            [
                "none (brook2 in sedge, T2 on the board)",
                f"<dt>Called</dt><dd>{UART2}",
                f"{UART2}; uart3: brook3 in sedge",
            ],
        ),
        (("mend", REPAIRED), [UART2]),
        (("diff", "dipper.dump", REPAIRED), [UART2]),
        (("allot", "dipper.build.toml", REPAIRED), [UART2]),
        (("allot", "dipper.build.toml"), ["uart2: T2 on the board"]),
        (
            ("bench", "dipper.build.toml", REPAIRED),
            ["on uart2 (brook2 in sedge, T2 on the board)", "pad b2 (HORN on the board))."],
        ),
        (("carry", "wagtail.dump", REPAIRED), [STERN]),
        (("show", REPAIRED, "ports.uart2"), [UART2]),
        (("report", "dipper.dump", REPAIRED), [f"uart2.roles ({UART2.removesuffix(' board')}"]),
        (("compare", REPAIRED, "wagtail.dump"), [f"{STERN}, T2 on dipper's board"]),
        (
            ("fleet", REPAIRED, "wagtail.dump", "sandpiper.dump"),
            [f"{STERN}, T2 on dipper's board"],
        ),
        *((("check", REPAIRED, "--format", form), [UART2]) for form in REVIEW),
        *(
            (("diff", "dipper.dump", REPAIRED, "--format", form), [UART2.removesuffix(" board")])
            for form in REVIEW
        ),
    ],
    ids=lambda told: " ".join(told[:2]) if isinstance(told, tuple) else "",
)
def test_a_port_is_named_as_the_board_and_the_firmware_name_it(
    monkeypatch: pytest.MonkeyPatch, printed: Path, arguments: tuple[str, ...], told: list[str]
) -> None:
    # brook2 and stern are the dialects' own words for it; what is printed the sheet tells
    said = " ".join(call(monkeypatch, arguments, cwd=printed).out.split())
    assert [one for one in told if one not in said] == []


def test_the_plain_form_is_no_firmware_that_names_a_port(
    monkeypatch: pytest.MonkeyPatch, printed: Path
) -> None:
    assert " in plain" not in call(monkeypatch, ["check", "dipper.cfg", "--long"], cwd=printed).out


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", REPAIRED),
        ("diff", "dipper.dump", REPAIRED),
        ("compare", "dipper.dump", REPAIRED),
        ("fleet", REPAIRED, "dipper.dump", "--dialect", "sedge"),
        ("mend", REPAIRED),
        ("confirm", "dipper.dump", REPAIRED),
        ("carry", "dipper.dump", REPAIRED),
        ("upgrade", "dipper.dump", REPAIRED),
        ("allot", "dipper.build.toml", REPAIRED),
        ("why", "no telemetry", REPAIRED),
        ("show", REPAIRED),
    ],
    ids=lambda told: told[0],
)
def test_data_names_a_port_beside_its_path(
    monkeypatch: pytest.MonkeyPatch, printed: Path, arguments: tuple[str, ...]
) -> None:
    said = json.loads(call(monkeypatch, [*arguments, "--format", "json"], cwd=printed).out)
    validate(said, arguments[0])
    told = [one for one in _objects(said) if "ports.uart2.roles" in one.get("paths", [])]
    told += [one for one in _objects(said) if one.get("path") == "ports.uart2.roles"]
    told += [one for one in _objects(said) if "uart2" in one.get("ports", [])]
    told += [said] if "ports.uart2.roles" in said.get("settings", ()) else []
    assert {one["called"].get("uart2") for one in told} == {"brook2 in sedge, T2 on the board"}
    others = [one for one in _objects(said) if one.get("path", "").startswith("switches.")]
    assert all(one["called"] == {} for one in others)


def _objects(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
    for below in node.values() if isinstance(node, dict) else node:
        if isinstance(below, dict | list):
            yield from _objects(below)


def test_a_line_with_tabs_in_it_is_given_with_its_tabs(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    dump = folder / "goosander.dump"
    text = dump.read_text("utf-8")
    there = "b2\thooter\tc9\td0\n"
    assert there in text
    dump.write_text(text.replace(there, "b2\tspare\tc9\td0\n"), "utf-8")
    lines = call(monkeypatch, ["mend", "goosander.dump", "--lines"], cwd=folder)
    assert lines.out == f"begin pads\n{there}end pads\n"
    assert f"    {there}" in call(monkeypatch, ["mend", "goosander.dump"], cwd=folder).out
    found = call(monkeypatch, ["check", "goosander.dump"], cwd=folder)
    # a tab can't be seen: in a sentence it is named
    assert "b2<tab>hooter<tab>c9<tab>d0" in found.out


def test_of_two_faults_of_one_cause_both_are_told_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ports = "ports.c.roles = none\nports.d.roles = none\nports.e.roles = console\n"
    (tmp_path / "a.cfg").write_text(f"receiver.link = sbus\ntelemetry.enabled = on\n{ports}")
    told = " ".join(call(monkeypatch, ["check", str(tmp_path / "a.cfg")]).out.split())
    assert "2 errors from 1 cause" in told
    assert "Do Give a free port the receiver role: c, d." in told
    assert "Also Telemetry is on, but no port carries it. Give a free port the telemetry" in told


_MALLOW = """
name = "mallow"
about = "sentences with a value behind each colon"

[[lines]]
map = [
  "socket {ID: words ports} does nothing at:{ports.ID.baud: Bd} {ports.ID.roles = none}",
  "socket {ID: words ports} does {ports.ID.roles: words roles} at:{ports.ID.baud: Bd}",
  "hears {receiver.link: words links}",
  "motor {ARM: words arms} turns:{motors.ARM.spin: words turns} on:{motors.ARM.output}",
  "frame {frame.layout}",
]
[words.ports]
s1 = "uart1"
s2 = "uart2"
"7" = "uart3"
[words.roles]
talk = "telemetry"
stick = "receiver"
[words.links]
twoway = "crsf"
[words.arms]
fl = "front_left"
fr = "front_right"
rl = "rear_left"
rr = "rear_right"
[words.turns]
sun = "cw"
moon = "ccw"
"""


def _as_mallow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, dump: str) -> str:
    (tmp_path / "mallow.toml").write_text(_MALLOW, "utf-8")
    (tmp_path / "a.dump").write_text(dump, "utf-8")
    asked = ["check", "a.dump", "--dialect", "mallow.toml"]
    said = call(monkeypatch, asked, cwd=tmp_path)
    return " ".join(said.out.split())


def test_advice_names_ports_as_the_dump_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = _as_mallow(
        tmp_path,
        monkeypatch,
        "hears twoway\nsocket s1 does nothing at:9600\nsocket s2 does nothing at:420000\n"
        "socket 7 does nothing at:9600\n",
    )
    # a bare number says little in a sentence
    wanted = "s2, which is set to 420,000 Bd already; else s1, uart3 (7)."
    assert f"Do Give a free port the receiver role: {wanted}" in told


def test_advice_names_the_word_of_the_line_and_is_said_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    arms = {"fl": "sun", "fr": "moon", "rl": "sun", "rr": "sun"}
    motors = [f"motor {arm} turns:{way} on:{n}" for n, (arm, way) in enumerate(arms.items(), 1)]
    told = _as_mallow(tmp_path, monkeypatch, "\n".join(["hears twoway", "frame quad_x", *motors]))
    assert "With turns:moon on line 5, and its motor turning so, they do." in told
    assert "Also 3 propellers turn clockwise and 1 anticlockwise" in told
    assert told.count("Let the turns alternate round the craft") == 1
