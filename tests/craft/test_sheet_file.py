"""Reading a build sheet: every fault told, with file and line and what was perhaps meant."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.craft.sheet import SheetError, read_sheet
from cfgaudit.reading.text import Place
from cfgaudit.settings import Origin, Settings

CORPUS = Path(__file__).parents[2] / "corpus"
NAMES = ("dipper", "sandpiper", "wagtail", "goosander")
DIPPER = (CORPUS / "dipper.build.toml").read_text(encoding="utf-8")


def read(text: str) -> Settings:
    return read_sheet(text.encode(), "x.toml")


def faults(text: str) -> list[str]:
    with pytest.raises(SheetError) as told:
        read(text)
    assert str(told.value) == "\n".join(map(str, told.value.faults))
    return [str(fault) for fault in told.value.faults]


def test_a_number_is_in_the_vocabulary_s_unit_and_a_text_brings_its_own() -> None:
    sheet = read('[ports.uart1]\nclock = 36e6\n[ports.uart2]\nclock = "36 MHz"\n')
    assert sheet["sheet.ports.uart1.clock"].value == 36e6
    assert sheet["sheet.ports.uart2.clock"].value == 36e6


def test_each_setting_has_its_line_its_origin_and_its_text() -> None:
    stated = read('# mine\n\n[rails.5V]\nvoltage = "4900..5100 mV"\n')["sheet.rails.5V.voltage"]
    assert stated.place == Place("x.toml", 4)
    assert (stated.origin, stated.text) == (Origin.SHEET, "4.9..5.1 V")


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ('kind = "camera"', "camera"),
        ("rate = 57600", 57600.0),
        ('rate = "57.6 kBd"', 57600.0),
        ("one_wire = true", True),
        ('one_wire = "off"', False),
        ("supply = 5", (5.0, 5.0)),
        ('supply = "3.3 V"', (3.3, 3.3)),
        ("powers = [1, 25]", (1.0, 25.0)),
        ('powers = [1, "0.2 W"]', (1.0, 200.0)),
        ('powers = "1, 25 mW"', (1.0, 25.0)),
        ("powers = 25", (25.0,)),
        ('fed_by = ["usb", "pack"]', frozenset({"usb", "pack"})),
        ('fed_by = "pack, usb"', frozenset({"usb", "pack"})),
        ("fed_by = []", frozenset()),
        ("protocol = '''a \"b\"'''", 'a "b"'),
    ],
)
def test_a_value_is_read_by_its_kind(line: str, value: object) -> None:
    key = line.partition(" ")[0]
    assert read(f"[devices.a]\n{line}\n")[f"sheet.devices.a.{key}"].value == value


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "[motor.front_left]\noutput = 2",
            ":1: there is no motor in a build sheet; did you mean motors?",
        ),
        (
            "[motors.a]\n\nouput = 2",
            ":3: there is no motors.a.ouput in a build sheet; did you mean output?",
        ),
        (
            "[camera]\nlens = 2",
            ":2: there is no camera.lens in a build sheet; camera can hold standard",
        ),
        (
            "zebra = 1",
            ":1: there is no zebra in a build sheet; it can hold craft, frame",
        ),
        (
            "[motors]\npoles = 14",
            ":2: motors.poles must be a table: below motors comes a name, as in [motors.NAME]",
        ),
        ("battery = 4", ":1: [battery] must be a table"),
        (
            '[rails."3.3"]\nvoltage = 3.3',
            ":1: '3.3' can't be a name: letters, digits, _ and - make one",
        ),
        (
            '[motors.a]\nwires = "swaped"',
            ":2: motors.a.wires: 'swaped' is not one of straight, swapped; did you mean",
        ),
        (
            "[motors.a]\noutput = 2.5",
            ":2: motors.a.output: 2.5 is not a whole number from 1 to 32",
        ),
        (
            "[motors.a]\noutput = 33",
            ":2: motors.a.output: 33 is not a whole number from 1 to 32",
        ),
        (
            "[motors.a]\noutput = true",
            ":2: motors.a.output: true is not a whole number from 1 to 32",
        ),
        ("[motors.a]\nturns = 1", ":2: motors.a.turns: 1 is not one of cw, ccw"),
        (
            "[motors.a]\nturns = { a = 1 }",
            ":2: motors.a.turns: a table is not one of cw, ccw",
        ),
        ("[ports.a]\noversampling = 12", ":2: ports.a.oversampling: 12 is not one of 16, 8"),
        (
            '[ports.a]\nclock = "36 Mhz"',
            ":2: ports.a.clock: '36 Mhz': unknown unit 'Mhz'; did you mean MHz?",
        ),
        (
            '[ports.a]\nclock = "36 V"',
            ":2: ports.a.clock: '36 V': V measures voltage, where Hz (frequency) is wanted",
        ),
        ("[ports.a]\ninverter = 1", ":2: ports.a.inverter: 1 is not on or off"),
        (
            '[ports.a]\ninverter = "perhaps"',
            ":2: ports.a.inverter: 'perhaps' is not on or off",
        ),
        ("[pads.a]\ntimer = 2", ":2: pads.a.timer: 2 is not text, in quotes"),
        (
            '[pads.a]\ntimer = " "',
            ":2: pads.a.timer: is empty; leave the line out where it is not known",
        ),
        (
            "[devices.a]\ncurrent = nan",
            ":2: devices.a.current: nan is not a number within 0..500 A",
        ),
        (
            "[devices.a]\ncurrent = -1",
            ":2: devices.a.current: -1 A is not a number within 0..500 A",
        ),
        ("[devices.a]\ncurrent = 1" + "0" * 400, ":2: devices.a.current: 10000"),
        (
            "[devices.a]\ncurrent = 2020-01-01",
            ":2: devices.a.current: 2020-01-01 is not a number",
        ),
        (
            '[devices.a]\nsupply = "5.5..4.5 V"',
            ":2: devices.a.supply: '5.5..4.5 V' is not in order: its higher end comes first",
        ),
        (
            "[devices.a]\npowers = [25, true]",
            ":2: devices.a.powers: true is not a number within 0..10000 mW",
        ),
        ("[devices.a]\nfed_by = [1]", ":2: devices.a.fed_by: [1] is not words"),
        (
            '[devices.a]\nrail = "5v"\n[rails.5V]\nvoltage = 5',
            ":2: devices.a.rail: there is no [rails.5v]; did you mean 5V?",
        ),
        (
            '[devices.a]\nport = "x"\n[ports.uart1]\nkind = "usb"',
            ":2: devices.a.port: there is no [ports.x]; there are uart1",
        ),
        (
            '[motors.a]\npad = "q7"\n[pads.a1]\ntimer = "T1"',
            ":2: motors.a.pad: there is no [pads.q7]; there are a1",
        ),
        (
            "[rails.a]\nvoltage = 5\nchoice = 5",
            ":2: rails.a: either voltage, or choices and choice; it has both",
        ),
        (
            "[rails.a]\nchoices = [5, 9]\nchoice = 12",
            ":3: rails.a.choice: 12 V is none of the choices 5, 9 V",
        ),
        (
            "[a",
            ":1: is no TOML: expected ']' at the end of a table declaration before the end",
        ),
        ("[camera]\nstandard = \n", ":2:12: is no TOML: invalid value"),
        ("a = 1\na = 2", "is no TOML: cannot overwrite a value"),
        ("a = " + "[" * 5000, ":1: lists or tables lie too deep in each other"),
    ],
)
def test_a_fault_is_told_with_its_line_and_what_was_expected(text: str, told: str) -> None:
    (fault,) = faults(text)
    assert fault.startswith("x.toml:")
    assert told in fault


def test_all_faults_are_told_at_once_in_the_order_of_the_lines() -> None:
    text = '[motors.a]\noutput = 99\nwires = "bent"\n[battery]\ncell = 4\ncells = 0\n'
    assert [fault.split(": ")[0] for fault in faults(text)] == [
        "x.toml:2",
        "x.toml:3",
        "x.toml:5",
        "x.toml:6",
    ]


def test_a_table_that_is_misspelt_is_told_once_and_not_for_each_of_its_settings() -> None:
    assert len(faults("[batery]\ncells = 4\ncapacity = 3\n")) == 1


def test_what_is_not_text_is_told_with_its_line() -> None:
    with pytest.raises(SheetError, match=r"^x\.toml:2: is not UTF-8 text$"):
        read_sheet(b'[camera]\nstandard = "\xff"', "x.toml")


def test_a_byte_order_mark_and_other_line_ends_do_no_harm() -> None:
    sheet = read_sheet(b"\xef\xbb\xbf[battery]\r\ncells = 4\r\n", "x.toml")
    assert str(sheet["sheet.battery.cells"].place) == "x.toml:2"


def test_a_port_a_pad_or_a_rail_is_not_missed_while_none_is_stated() -> None:
    text = '[devices.a]\nport = "uart1"\npad = "b1"\nrail = "5V"\n[rails.5V]\n[ports.x]\n'
    assert len(read(text)) == 3


def test_a_device_may_say_that_it_draws_from_no_rail() -> None:
    text = '[devices.a]\nrail = "none"\n[rails.5V]\nvoltage = 5\n'
    assert read(text)["sheet.devices.a.rail"].value == "none"


@pytest.mark.parametrize("name", NAMES)
def test_a_sheet_of_the_corpus_is_read_whole(name: str) -> None:
    text = (CORPUS / f"{name}.build.toml").read_text(encoding="utf-8")
    assert len(read(text)) == _leaves(tomllib.loads(text))


def _leaves(table: object) -> int:
    return sum(map(_leaves, table.values())) if isinstance(table, dict) else 1


def notes(text: str) -> tuple[str, ...]:
    return read(text).dumps[0].notes


def test_a_named_table_that_is_empty_beside_others_is_told() -> None:
    text = '[devices.gps]\n[devices.rx]\nkind = "receiver"\n[motors.front_left]\n[ports.uart1]\n'
    assert notes(text) == ("nothing is stated in [devices.gps]: taken as not there",)
    many = "[motors.front_left]\n[motors.front_right]\noutput = 1\n[motors.rear_left]\n"
    assert notes(many) == (
        "nothing is stated in [motors.front_left], [motors.rear_left]: taken as not there",
    )


def test_an_empty_table_of_which_the_rules_tell_what_they_lack_needs_no_word() -> None:
    assert notes("[battery]\n[board.turned]\n[devices.gps]\n") == ()


def test_a_pad_is_there_though_nothing_more_is_said_of_it() -> None:
    assert notes('[pads.b1]\n[pads.b2]\ntimer = "T1"\n') == ()


@pytest.mark.parametrize("name", NAMES)
def test_the_corpus_sheets_have_nothing_odd(name: str) -> None:
    assert notes((CORPUS / f"{name}.build.toml").read_text(encoding="utf-8")) == ()


@given(st.data())
def test_a_spoilt_sheet_is_read_or_refused_and_nothing_else(data: st.DataObject) -> None:
    text = DIPPER[: data.draw(st.integers(0, 1500))]
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        more = data.draw(
            st.sampled_from(('"', "[", "]", "=", "\n", "{", "}", "0", "x", ".", "#", "'", "\x1b"))
        )
        text = text[:at] + more + text[at + data.draw(st.integers(0, 2)) :]
    stated, lines = outcome(text)
    if lines:
        assert 1 <= min(lines) <= max(lines) <= text.count("\n") + 1
    else:
        assert stated == _leaves(tomllib.loads(text))


def outcome(text: str) -> tuple[int, list[int]]:
    """How many settings are stated, or the lines of the faults."""
    try:
        return len(read(text)), []
    except SheetError as error:
        return 0, [fault.place.line for fault in error.faults]


def test_wires_in_the_words_of_before_are_read_with_a_note_that_gives_the_new_word() -> None:
    # Transmit to receive was "straight", transmit to transmit "crossed".
    sheet = read('[devices.a]\nwiring = "straight"\n[devices.b]\nwiring = "crossed"\n')
    assert sheet["sheet.devices.a.wires"].value == "tx_to_rx"
    assert sheet["sheet.devices.b.wires"].value == "tx_to_tx"
    assert sheet["sheet.devices.b.wires"].place == Place("x.toml", 4)
    assert sheet.dumps[0].notes == (
        "line 2: wiring = straight is now wires = tx_to_rx",
        "line 4: wiring = crossed is now wires = tx_to_tx",
    )


def test_wires_in_both_words_or_in_none_that_was_ever_one_are_refused() -> None:
    both = faults('[devices.a]\nwiring = "straight"\nwires = "tx_to_rx"\n')
    assert both == ["x.toml:2: devices.a.wiring says what wires says: leave wiring out"]
    (other,) = faults('[devices.a]\nwiring = "woven"\n')
    assert other.startswith("x.toml:2: devices.a.wiring: 'woven' is not one of tx_to_rx")


def test_the_sources_of_a_rail_are_a_list_each_with_its_line_and_perhaps_a_diode() -> None:
    text = '[[rails.5V.sources]]\nfrom = "pack"\n[[rails.5V.sources]]\nfrom = "usb"\ndiode = true\n'
    short = '[rails.5V]\nsources = [{ from = "pack" }, { from = "usb", diode = true }]\n'
    for written, lines in ((text, (2, 4, 5)), (short, (2, 2, 2))):
        stated = read(written).stated
        assert {path: entry.value for path, entry in stated.items()} == {
            "sheet.rails.5V.sources.1.from": "pack",
            "sheet.rails.5V.sources.2.from": "usb",
            "sheet.rails.5V.sources.2.diode": True,
        }
        assert tuple(entry.place.line for entry in stated.values() if entry.place) == lines
    assert faults("[rails.5V]\nsources = [1]\n") == [
        "x.toml:2: rails.5V.sources must be a list of tables"
    ]


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ('diameter = "127,5 mm"', "127.5 mm"),
        ('diameter = "5\\""', "127 mm"),
        ('diameter = "5 inches"', "127 mm"),
        ('diameter = "5,1 inch"', "129.54 mm"),
        ('kv = "2450 per volt"', "2450 rpm/V"),
        ('kv = "2450 KV"', "2450 rpm/V"),
    ],
)
def test_a_builder_s_spelling_is_answered_with_the_one_that_is_read(line: str, meant: str) -> None:
    """Published: an inch is 25.4 mm (the international yard of 1959); 5.1 × 25.4 = 129.54."""
    with pytest.raises(SheetError) as refused:
        read_sheet(f"[propulsion]\n{line}\n".encode(), "x.toml")
    assert f"did you mean {meant}?" in str(refused.value)
