"""Devices to ports: every constraint, what is preferred, who competes, what would free one."""

import pytest

from cfgaudit.craft.sheet import Sheet, read_sheet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.work.allot import (
    CONSOLE,
    Allotment,
    Want,
    Way,
    allot,
    console_of,
    dump_wants,
    fit,
    kept_roles,
    lower_rate,
    problem_of,
    sheet_edits,
    ways_of,
)

FULL = (
    'kind = "hardware"\nhighest_rate = 1000000\nclock = "36 MHz"\noversampling = 16\n'
    "inverter = true\none_wire = true\n"
)
PLAIN = FULL.replace("true", "false")
SOFT = 'kind = "software"\nhighest_rate = 19200\ninverter = true\none_wire = false\n'
USB = 'kind = "usb"\n'
TWO_WIRES = 'framing = "8N1"\ninverted = false\none_wire = false\n'


def sheet(ports: dict[str, str], devices: dict[str, str]) -> Sheet:
    text = "".join(f"[ports.{name}]\n{lines}" for name, lines in ports.items())
    text += "".join(f"[devices.{name}]\n{lines}" for name, lines in devices.items())
    return Sheet(read_sheet(text.encode(), "x.toml"))


def console_on(port: str) -> Settings | None:
    return read_plain(f"ports.{port}.roles = console\n") if port else None


def plan(ports: dict[str, str], devices: dict[str, str], console: str = "") -> Allotment:
    return allot(problem_of(sheet(ports, devices), console_on(console)))


def device(kind: str, rate: int, more: str = TWO_WIRES) -> str:
    return f'kind = "{kind}"\nrate = {rate}\n{more}'


RECEIVER = 'kind = "receiver"\nprotocol = "ibus"\none_wire = false\n'
TELEMETRY = device("telemetry", 57600)
POSITION = device("position", 115200)


def ways(ports: dict[str, str], devices: dict[str, str]) -> tuple[Way, ...]:
    built = sheet(ports, devices)
    return ways_of(allot(problem_of(built)), built)


def test_what_is_wired_stays_where_it_is() -> None:
    wired = {"telemetry": TELEMETRY + 'port = "c"\n', "position": POSITION + 'port = "b"\n'}
    found = plan({"a": FULL, "b": FULL, "c": FULL, "usb": USB}, wired)
    assert found.placed == {"telemetry": "c", "position": "b", CONSOLE: "usb"}
    assert found.free == ("a",)


def test_as_few_as_can_be_are_moved_and_the_edits_name_the_old_port() -> None:
    inverted = device("receiver", 100000, 'framing = "8E2"\ninverted = true\none_wire = false\n')
    wired = {"receiver": inverted + 'port = "b"\n', "telemetry": TELEMETRY + 'port = "a"\n'}
    built = sheet({"a": FULL, "b": PLAIN, "c": PLAIN, "usb": USB}, wired)
    found = allot(problem_of(built))
    assert found.placed == {"receiver": "a", "telemetry": "b", CONSOLE: "usb"}
    edits = sheet_edits(found, built.settings)
    assert [(e.path, e.old, e.new) for e in edits] == [
        ("devices.receiver.port", "b", "a"),
        ("devices.telemetry.port", "a", "b"),
    ]
    assert all(edit.place is not None and edit.place.file == "x.toml" for edit in edits)


def test_hardware_goes_before_software() -> None:
    slow = {"t": device("telemetry", 9600)}
    assert plan({"s": SOFT, "h": FULL, "usb": USB}, slow).placed["t"] == "h"


def test_software_serves_where_hardware_has_run_out_and_the_rate_allows_it() -> None:
    both = {"position": POSITION, "t": device("telemetry", 9600)}
    found = plan({"s": SOFT, "h": FULL, "usb": USB}, both)
    assert (found.placed["position"], found.placed["t"]) == ("h", "s")


@pytest.mark.parametrize(
    ("wants", "port", "kind"),
    [
        (device("position", 115200), SOFT, "rate-high"),
        (device("position", 115200), PLAIN.replace("36 MHz", "1 MHz"), "rate-off"),
        (device("other", 9600, TWO_WIRES.replace("= false", "= true", 1)), PLAIN, "inverter"),
        (device("other", 9600, TWO_WIRES.replace("wire = false", "wire = true")), SOFT,
         "one-wire"),
        (device("position", 9600), USB, "usb"),
    ],
    ids=["rate-high", "rate-off", "inverter", "one-wire", "usb"],
)  # fmt: skip
def test_a_port_is_excluded_for_one_reason_alone(wants: str, port: str, kind: str) -> None:
    built = sheet({"a": port, "b": FULL, "c": FULL}, {"d": wants + 'port = "b"\n'})
    problem = problem_of(built)
    assert [bar.kind for bar in problem.bars("d", "a")] == [kind]
    assert problem.bars("d", "b") == ()


def test_1_mhz_can_t_make_115200() -> None:
    """Hand calculation: 1e6 / 115200 = 8.68, but 16 is the least: 62,500 Bd, 45.75 % off."""
    port = sheet({"a": PLAIN.replace("36 MHz", "1 MHz")}, {"p": POSITION}).ports["a"]
    want = Want("p", "position", 115200.0, "8N1", inverted=False, one_wire=False)
    (bar,) = fit(want, port).bars
    assert "62,500 Bd" in bar.says
    assert "45.75 %" in bar.says
    # 1e6 / 57600 = 17.36, and 17 gives 58,824, 2.1 % off; 1e6 / 38400 = 26.04, 26 gives 0.16 %.
    assert lower_rate(want, port) == 38400.0


def test_what_the_sheet_does_not_tell_is_no_bar_and_is_told() -> None:
    problem = problem_of(sheet({"a": 'kind = "hardware"\n'}, {"t": 'kind = "telemetry"\n'}))
    assert problem.bars("t", "a") == ()
    leaves = ("rate", "framing", "inverted", "one_wire")
    assert set(problem.lacks) == {f"sheet.devices.t.{leaf}" for leaf in leaves}
    problem = problem_of(sheet({"a": 'kind = "hardware"\n'}, {"t": device("telemetry", 9600)}))
    assert set(problem.lacks) == {"sheet.ports.a.clock", "sheet.ports.a.highest_rate"}


def test_a_framing_not_stated_matters_only_between_the_two_allowances() -> None:
    """Hand calculation: 1e6 / 58823.53 = 17 exactly; 1.75 % beside it lies between 1.5 and 2 %."""
    port = sheet({"a": PLAIN.replace("36 MHz", "1 MHz")}, {"p": POSITION}).ports["a"]
    for rate, lacks in ((58823.53, []), (58823.53 / 1.0175, ["sheet.devices.p.framing"])):
        want = Want("p", "position", rate, "", inverted=False, one_wire=False)
        found = fit(want, port)
        assert found.bars == ()
        assert list(found.lacks) == lacks


def test_a_receiver_s_link_tells_what_its_device_does_not() -> None:
    """Common practice: sbus is 100,000 Bd 8E2, inverted."""
    sbus = 'kind = "receiver"\nprotocol = "sbus"\none_wire = false\n'
    found = plan({"a": PLAIN, "b": FULL, "usb": USB}, {"receiver": sbus})
    assert found.placed["receiver"] == "b"
    want = found.problem.want("receiver")
    assert (want.rate, want.framing, want.inverted, want.by_link) == (100000.0, "8E2", True, True)


def test_a_port_is_left_for_the_console_where_there_is_no_usb() -> None:
    found = plan({"a": FULL, "b": FULL}, {"telemetry": TELEMETRY})
    assert set(found.placed) == {"telemetry", CONSOLE}
    assert found.competing is None
    short = plan({"a": FULL}, {"telemetry": TELEMETRY})
    assert short.competing is not None
    assert set(short.competing.who) == {"telemetry", CONSOLE}
    assert short.placed == {"telemetry": "a"}


def test_the_console_stays_where_the_dump_has_it_if_there_is_no_usb() -> None:
    assert plan({"a": FULL, "b": FULL}, {"t": TELEMETRY}, "a").placed == {"t": "b", CONSOLE: "a"}


def test_telemetry_shares_a_one_way_receiver_s_port_only_where_it_must() -> None:
    both = {"receiver": RECEIVER, "telemetry": device("telemetry", 115200)}
    roomy = plan({"a": FULL, "b": FULL, "usb": USB}, both)
    assert roomy.shared == ()
    tight = plan({"a": FULL, "usb": USB}, both)
    assert tight.shared == (("receiver", "telemetry"),)
    assert tight.placed == {"receiver": "a", "telemetry": "a", CONSOLE: "usb"}
    assert tight.competing is None


def test_two_who_share_already_are_not_parted() -> None:
    both = {
        "receiver": RECEIVER + 'port = "a"\n',
        "telemetry": device("telemetry", 115200) + 'port = "a"\n',
    }
    found = plan({"a": FULL, "b": FULL, "usb": USB}, both)
    assert found.placed == {"receiver": "a", "telemetry": "a", CONSOLE: "usb"}


@pytest.mark.parametrize(
    ("receiver", "telemetry"),
    [
        (RECEIVER.replace("ibus", "crsf"), device("telemetry", 420000)),
        (RECEIVER, TELEMETRY),
        (RECEIVER, device("telemetry", 115200, TWO_WIRES.replace("8N1", "8E1"))),
        (RECEIVER, device("telemetry", 115200) + 'protocol = "crsf"\n'),
        (RECEIVER.replace("false", "true"), device("telemetry", 115200)),
        (RECEIVER.replace('protocol = "ibus"', "rate = 115200"), device("telemetry", 115200)),
    ],
    ids=["two-way", "rate", "framing", "own frames", "one wire", "link not told"],
)
def test_who_can_t_share_competes(receiver: str, telemetry: str) -> None:
    found = plan({"a": FULL, "usb": USB}, {"receiver": receiver, "telemetry": telemetry})
    assert found.competing is not None
    assert set(found.competing.who) == {"receiver", "telemetry"}
    assert found.placed["receiver"] == "a", "the receiver comes first"
    assert found.left_out == ("telemetry",)


def test_telemetry_in_the_frames_of_a_two_way_link_wants_no_port() -> None:
    crsf = RECEIVER.replace("ibus", "crsf")
    found = plan(
        {"a": FULL, "usb": USB},
        {"receiver": crsf, "telemetry": 'kind = "telemetry"\nprotocol = "crsf"\n'},
    )
    assert found.competing is None
    assert [aside.name for aside in found.problem.asides] == ["telemetry"]


def test_what_has_no_business_on_a_port_is_left_aside() -> None:
    found = plan(
        {"a": FULL, "usb": USB},
        {
            "t": TELEMETRY,
            "horn": 'kind = "buzzer"\npad = "p1"\n',
            "camera": 'kind = "camera"\npad = "p2"\n',
            "who": 'rail = "none"\n',
            "train": 'kind = "receiver"\nprotocol = "ppm"\n',
        },
    )
    assert {a.name for a in found.problem.asides} == {"horn", "camera", "who", "train"}
    assert set(found.placed) == {"t", CONSOLE}


def test_a_lower_rate_that_frees_a_port_is_told() -> None:
    some = ways({"a": FULL, "s": SOFT, "usb": USB}, {"position": POSITION, "telemetry": TELEMETRY})
    rates = {(way.devices[0], way.port): way for way in some if way.kind == "rate"}
    assert set(rates) == {("telemetry", "s"), ("position", "s")}
    assert "19,200 Bd" in rates["telemetry", "s"].says
    assert {way.left for way in rates.values()} == {0}


def test_no_lower_rate_is_told_of_a_link_that_has_its_own() -> None:
    some = ways({"a": FULL, "s": SOFT, "usb": USB}, {"receiver": RECEIVER, "position": POSITION})
    assert [way.devices for way in some if way.kind == "rate"] == [("position",)]


def test_an_inverter_is_told_where_it_alone_is_missing() -> None:
    sbus = 'kind = "receiver"\nprotocol = "sbus"\none_wire = false\n'
    some = ways({"a": PLAIN, "usb": USB}, {"receiver": sbus})
    assert [(w.port, w.left) for w in some if w.kind == "inverter"] == [("a", 0)]


def test_the_rate_at_which_telemetry_could_share_is_told() -> None:
    some = ways({"a": FULL, "usb": USB}, {"receiver": RECEIVER, "telemetry": TELEMETRY})
    (way,) = [way for way in some if way.kind == "share"]
    assert "115,200 Bd" in way.says
    assert way.left == 0


def test_doing_as_a_way_says_leaves_as_many_as_it_says() -> None:
    """Each rate way is put into the sheet and the plan is made anew."""
    ports = {"a": FULL, "s": SOFT, "usb": USB}
    devices = {"position": POSITION, "telemetry": TELEMETRY, "log": device("flight_log", 115200)}
    for way in ways(ports, devices):
        if way.kind == "rate":
            name = way.devices[0]
            lines = devices[name].replace("115200", "19200").replace("57600", "19200")
            found = plan(ports, {**devices, name: lines})
        elif way.kind == "leave-out":
            found = plan(ports, {n: d for n, d in devices.items() if n not in way.devices})
        else:
            assert way.kind == "new-port"
            found = plan({**ports, "more": FULL}, devices)
        assert len(found.left_out) == way.left, way


def test_no_way_is_told_where_all_have_a_port() -> None:
    assert ways({"a": FULL, "usb": USB}, {"t": TELEMETRY}) == ()


def test_a_sheet_without_ports_or_devices_is_not_allotted() -> None:
    with pytest.raises(NotStated, match="ports"):
        problem_of(sheet({}, {"t": TELEMETRY}))
    with pytest.raises(NotStated, match="devices"):
        problem_of(sheet({"a": FULL}, {}))


def test_a_port_that_software_times_by_the_dump_is_no_port_for_a_fast_device() -> None:
    """Limit: 19,200 Bd (common practice, rules/limits.txt)."""
    dump = read_plain("ports.a.software_driven = on\nports.a.roles = telemetry\n")
    ports = {"a": FULL.replace('kind = "hardware"\n', ""), "b": FULL, "usb": USB}
    for rate, at in ((57600, "b"), (19200, "a")):
        built = sheet(ports, {"t": device("telemetry", rate)})
        assert allot(problem_of(built, dump)).placed["t"] == at


def test_a_device_stays_where_the_dump_has_it_if_the_sheet_does_not_tell() -> None:
    ports, devices = {"a": FULL, "b": FULL, "usb": USB}, {"t": TELEMETRY}
    assert plan(ports, devices).placed["t"] == "a"
    dump = read_plain("ports.b.roles = telemetry\n")
    assert allot(problem_of(sheet(ports, devices), dump)).placed["t"] == "b"
    twice = read_plain("ports.b.roles = telemetry\nports.a.roles = telemetry\n")
    assert problem_of(sheet(ports, devices), twice).want("t").port == ""


def test_a_console_on_a_port_that_the_sheet_does_not_list_stays_there() -> None:
    found = plan({"a": FULL}, {"t": TELEMETRY}, "usb")
    assert found.competing is None
    assert found.placed == {"t": "a"}
    assert plan({"a": FULL}, {"t": TELEMETRY}).left_out == (CONSOLE,)


@pytest.mark.parametrize(
    ("wires", "at", "swapped", "wanted"),
    [
        ("tx_to_tx", "a", False, True),
        ("tx_to_tx", "a", True, True),
        ("tx_to_rx", "a", True, False),
        ("tx_to_tx", "c", True, False),  # it moves, and is soldered the usual way
    ],
)
def test_crossed_wires_want_the_pins_swapped(
    wires: str, at: str, swapped: bool, wanted: bool
) -> None:
    built = sheet({"a": FULL, "usb": USB}, {"t": f'{TELEMETRY}port = "a"\nwires = "{wires}"\n'})
    problem = problem_of(built)
    if at == "c":
        wants = tuple(w._replace(port="c") if w.name == "t" else w for w in problem.wants)
        problem = problem._replace(wants=wants)
    dump = read_plain(f"ports.a.pins_swapped = {'on' if swapped else 'off'}\n")
    assert dump_wants(allot(problem), dump).get("ports.a.pins_swapped") is wanted


def test_the_dump_gets_roles_and_rates_where_they_are_not_so_already() -> None:
    dump = read_plain(
        "ports.a.roles = receiver\nports.a.baud = 57600 Bd\nports.b.roles = telemetry\n"
        "ports.c.roles = flight_log\nports.usb.roles = console\n"
    )
    found = plan({"a": FULL, "b": FULL, "c": FULL, "usb": USB}, {"t": TELEMETRY + 'port = "a"\n'})
    assert console_of(dump) == "usb"
    wants = dict(dump_wants(found, dump))
    assert wants.pop("ports.a.baud") == 57600.0
    assert wants.pop("ports.a.inverted") is False
    assert wants.pop("ports.a.half_duplex") is False
    # b's telemetry has moved; c's log is nothing that the sheet tells of
    assert wants == {"ports.a.roles": frozenset({"telemetry"}), "ports.b.roles": frozenset()}


TWO_WAY = 'kind = "receiver"\nprotocol = "mavlink"\nrate = 57600\n' + TWO_WIRES
SHARED = "ports.a.roles = receiver, telemetry\nports.a.baud = 57600 Bd\nports.usb.roles = console\n"


@pytest.mark.parametrize(
    ("port", "wanted"),
    [
        ("a", {}),
        ("b", {"ports.a.roles": frozenset(), "ports.b.roles": frozenset({"receiver"})}),
    ],
)
def test_a_role_beside_the_receiver_stays_where_it_stays_and_is_left_on_no_bare_port(
    port: str, wanted: dict[str, frozenset[str]]
) -> None:
    """Telemetry goes in the frames of the two-way link; no device of the sheet is a radio."""
    found = plan({"a": FULL, "b": FULL, "usb": USB}, {"r": f'{TWO_WAY}port = "{port}"\n'})
    wants = dump_wants(found, read_plain(SHARED))
    assert {path: value for path, value in wants.items() if path.endswith("roles")} == wanted


def test_a_role_that_stays_on_a_port_without_a_device_is_told() -> None:
    dump = read_plain(
        "ports.a.roles = receiver\nports.b.roles = flight_log\nports.usb.roles = console\n"
    )
    found = plan({"a": FULL, "b": FULL, "usb": USB}, {"r": f'{TWO_WAY}port = "a"\n'})
    assert list(kept_roles(found, dump, dump_wants(found, dump))) == [("b", "flight_log")]
