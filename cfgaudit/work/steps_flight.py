"""The working list from motors, ports and switches to the first hover and what is done after it."""

from collections.abc import Iterator
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft, is_servo
from cfgaudit.craft.link_loss import arm_on_loss, receiver_on_loss
from cfgaudit.craft.sheet import Sheet
from cfgaudit.craft.switches import Switch, SwitchPosition, switch_table
from cfgaudit.physics.allocation import BEARINGS_DEG, expected_spins, rotation_has_meaning
from cfgaudit.rules.geometry import SPINS, TURN_WORDS, spins
from cfgaudit.rules.rule import listed
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import PRIMARY
from cfgaudit.vocabulary.sheet import Device
from cfgaudit.vocabulary.units import number_text
from cfgaudit.work.allot import described, want_of
from cfgaudit.work.steps import (
    FLYING,
    HEIGHT,
    LITHIUM,
    PACK,
    SPINNING,
    STANDING,
    Ask,
    BenchStep,
    Known,
    find_out,
    named,
)
from cfgaudit.work.steps_power import charge, devices, pack_volts

MOTOR: Final = "motor-"  # how the steps of one motor each begin
_WORDS = {turn: word for word, turn in SPINS.items()}  # +1: cw


class ArmFacts(NamedTuple):
    """One arm: its output by dump and by sheet, and `cw` or `ccw`, empty where not told.

    `turn` is the one that is wanted, `seen` the one that the sheet says was seen.
    """

    arm: str
    output: int | None
    sheet_output: int | None
    turn: str
    seen: str

    @property
    def turn_words(self) -> str:
        """The turn in words: clockwise or anticlockwise."""
        return TURN_WORDS[SPINS[self.turn]]


def arms_of(known: Known) -> list[ArmFacts]:
    """Every arm that dump or sheet names, in the dump's order, else in the sheet's; no servo's."""
    craft, sheet = known.craft, known.sheet
    names = dict.fromkeys((*craft.motors.arms.names(), *sheet.motors.names()))
    for servo in _servos(known):
        names.pop(servo, None)
    if not names:
        names = dict.fromkeys(_by_frame(known))
    return [
        ArmFacts(
            arm,
            known.told(lambda arm=arm: craft.motors.arms[arm].output),  # type: ignore[misc]
            known.told(lambda arm=arm: sheet.motors[arm].output),  # type: ignore[misc]
            _turn(known, arm),
            known.told(lambda arm=arm: sheet.motors[arm].turns) or "",  # type: ignore[misc]
        )
        for arm in names
    ]


def _servos(known: Known) -> list[str]:
    craft = known.craft
    return [arm for arm in craft.motors.arms.names() if is_servo(craft, arm)]


def _by_frame(known: Known) -> dict[str, int]:
    """The turns by layout and rotation, of the dump or else the sheet; perhaps none."""
    frames: tuple[Craft | Sheet, ...] = (known.craft, known.sheet)
    for part in frames:
        try:
            layout, rotation = part.frame.layout, part.frame.rotation
        except NotStated:
            continue
        if layout in BEARINGS_DEG and rotation_has_meaning(layout):
            return expected_spins(layout, rotation)
    return {}


def _turn(known: Known, arm: str) -> str:
    """The turn that the mixer takes for granted, else the frame's."""
    by_mixer = known.told(lambda: spins(known.craft, [arm])[arm])
    turn = _by_frame(known).get(arm) if by_mixer is None else by_mixer
    return "" if turn is None else _WORDS[turn]


def motors(known: Known) -> Iterator[BenchStep]:
    """A step for each arm: which motor turns, and which way."""
    arms = arms_of(known)
    if not arms:
        lacks = ["sheet.frame.layout", "sheet.frame.rotation", "sheet.motors.ARM.output"]
        yield find_out(known, "motors", "motors", lacks, ("warm",))
    lacks = [f"motors.{one.arm}.spin" for one in arms if not one.turn]
    lacks += [f"sheet.motors.{one.arm}.output" for one in arms if _output(one) is None]
    if lacks:
        yield find_out(known, "motors", "motors", lacks, ("warm",))
    for one in arms:
        yield _motor(known, one, ("warm", "console", *(("find-out-motors",) if lacks else ())))
    for arm in _servos(known):
        yield _servo(arm)


def _output(one: ArmFacts) -> int | None:
    return one.sheet_output if one.output is None else one.output


# What says which way the motors must turn, and who makes them.
_TURNING: Final = ("frame.layout", "frame.rotation", "sheet.frame.layout", "sheet.frame.rotation",
                   "esc.protocol", "esc.reversible_thrust")  # fmt: skip


def _motor(known: Known, one: ArmFacts, after: tuple[str, ...]) -> BenchStep:
    output = _output(one)
    which = f"Spin output {output} alone" if output is not None else "Spin one output alone"
    expect = f"The {named(one.arm)} motor turns and no other"
    if one.turn:
        expect += f", {one.turn_words} seen from above"
    differ = ""
    if None not in (one.output, one.sheet_output) and one.output != one.sheet_output:
        differ = f" The sheet has it on output {one.sheet_output}: one of the two is wrong."
    if one.turn and one.seen not in ("", one.turn):
        differ += " The sheet says that it was seen to turn the other way."
    return BenchStep(
        f"{MOTOR}{one.arm}", "motors",
        f"Propellers off: look now. {which}, at the lowest throttle; a strip of tape on the bell "
        "shows the turn.",
        f"{expect}.{differ}",
        after,
        STANDING,
        Ask("turn", arm=one.arm, turn=one.turn, sample="ARM cw or ccw"),
        (
            f"motors.{one.arm}", f"esc.{one.arm}", f"sheet.motors.{one.arm}", *_TURNING,
            *(f"motors.{arm}.mix" for arm in known.craft.motors.arms.names()),
        ),
    )  # fmt: skip


def _servo(arm: str) -> BenchStep:
    """Whether the servo that holds the heading tilts its rotor the right way."""
    return BenchStep(
        f"servo-{arm}", "motors",
        "Propellers off: look now. Transmitter on, disarmed; arm only if the servo stands still "
        "else. Move the yaw stick right and let it go; then turn the craft by hand to the right.",
        f"Stick right: the servo {named(arm)} tilts its rotor so that its wind goes right and the "
        "tail left. Let go: it stands upright. Turned right by hand: it tilts the other way. It "
        "binds nowhere.",
        ("warm", "console"),
        STANDING,
        watches=(f"motors.{arm}", "receiver.map.yaw"),
    )  # fmt: skip


def propellers(known: Known, before: tuple[str, ...]) -> Iterator[BenchStep]:
    """Which propeller goes where, and that it stays there. Everything else comes first."""
    arms = [one for one in arms_of(known) if one.turn]
    where = "; ".join(f"{named(one.arm)} {one.turn_words}" for one in arms)
    size = known.told(lambda: known.sheet.propulsion.diameter)
    blades = known.told(lambda: known.sheet.propulsion.blades)
    kind = f"{blades} blades, " if blades else ""
    kind += f"{size:g} mm, " if size else ""
    yield BenchStep(
        "propellers-on", "propellers",
        f"Pack unplugged. Put on the propellers ({kind}none chipped or bent), each for its arm's "
        f"turn{f': {where}' if where else ''}.",
        "The raised edge of each blade leads in the motor's turn, and all push air down.",
        before,
        SPINNING,
        watches=(
            "motors.*.output", "motors.*.spin", "motors.*.mix.*", "esc.*.direction", *_TURNING,
            "sheet.motors", "sheet.propulsion.diameter", "sheet.propulsion.blades",
        ),
    )  # fmt: skip
    yield BenchStep(
        "nuts", "propellers",
        "Tighten every nut or screw; hold the bell, not the blade, and try to turn the propeller.",
        "None turns on its shaft, and none touches frame, wire or antenna when turned by hand.",
        ("propellers-on",),
        SPINNING,
    )  # fmt: skip
    yield BenchStep(
        "balance", "propellers",
        "Strap the pack in, unplugged. Lift the craft with two fingers at the middle between its "
        "arms.",
        "It hangs level, nose to tail and side to side; pack and wires stay in place when shaken.",
        ("nuts",),
        SPINNING,
        watches=("sheet.propulsion.all_up_weight", "sheet.battery"),
    )  # fmt: skip


_HAND_S: Final = 1.0  # what a stopwatch in the hand and a handset going off are off by

_SEEN: Final = {
    "receiver": "The channels move when the sticks move",
    "telemetry": "The handset or ground station shows the craft's values",
    "position": "Under open sky the satellites count up, and the place is right",
    "video_transmitter": "The transmitter takes a new channel when it is told one",
    "camera": "The camera's menu can be worked",
    "esc_reports": "Each motor's speed or temperature is shown",
    "flight_log": "A log is there after a minute of recording",
    "range_finder": "A hand moved below it changes the height shown",
    "optical_flow": "A picture moved below it changes the movement shown",
}


def ports(known: Known, rails: tuple[str, ...]) -> Iterator[BenchStep]:
    """The console, what hangs on each port, which way up it thinks it is, and the sticks."""
    version = known.told(lambda: known.craft.firmware.version)
    name = known.told(lambda: known.craft.firmware.name)
    which = f"It names {name} {version}, as the dump does." if name and version else (
        "It answers and names its firmware."
    )  # fmt: skip
    yield BenchStep(
        "console", "ports", "Connect the settings console.", which, rails,
        watches=("firmware.name", "firmware.version", "board.name", "sheet.board.name"),
    )  # fmt: skip
    ready = "console"
    if not known.has_dump:
        yield BenchStep(
            "read-dump", "ports",
            "Read a dump out of the craft, and give it behind the build sheet: "
            "`cfgaudit bench BUILD DUMP`.",
            "The list then tells what to expect of switches, failsafe, motors and voltage.",
            ("console",),
        )  # fmt: skip
        ready = "read-dump"
    yield BenchStep(
        "audit", "ports",
        "Run `cfgaudit check DUMP --build BUILD`.",
        "No error is left. This is worked out each time the list is made, and never ticked.",
        (ready,),
        ask=Ask("audit"),
    )  # fmt: skip
    yield from _attitude(known)
    for part in devices(known):
        if part.states("port") and part.states("kind") and part.role():
            yield _device(known, part)
        elif part.states("kind") and part.kind in _ON_A_PAD:
            yield _on_a_pad(known, part)
    yield from _telemetry(known)
    yield from _sticks(known)


_LEVEL: Final = ("sensors.accelerometer", "board.rotation", "sheet.board.turned")
_COMPASS: Final = ("sensors.compass", "board.rotation", "sheet.board.turned", "sheet.compass")


def _attitude(known: Known) -> Iterator[BenchStep]:
    ready = ("console",)
    if known.told(lambda: known.craft.sensors.accelerometer.enabled) is not False:
        yield BenchStep(
            "calibrate-accelerometer", "ports",
            "Lay the craft level and still, and let the firmware calibrate its accelerometer.",
            "It says that it is calibrated; laid down as before, it shows level.",
            ready,
            watches=_LEVEL,
        )  # fmt: skip
        ready = ("calibrate-accelerometer",)
    yield BenchStep(
        "level", "ports",
        "Hold the craft level, then right side down, then nose up, and watch what it shows.",
        "Level shows level; right side down shows a roll to the right; nose up shows nose up.",
        ready,
        watches=_LEVEL,
    )  # fmt: skip
    compass = known.told(lambda: known.craft.sensors.compass.enabled)
    if compass is None and known.has_dump:
        yield find_out(known, "compass", "ports", ["sensors.compass.enabled"], ("console",))
    if compass:
        yield BenchStep(
            "calibrate-compass", "ports",
            "Outside, away from iron, cars and cables: let the firmware calibrate the compass, and "
            "turn the craft about every axis while it asks for it.",
            "It says that it is calibrated, with small deviations.",
            ("level",),
            watches=_COMPASS,
        )  # fmt: skip
        yield BenchStep(
            "compass", "ports",
            "Away from iron, point the nose north, then turn it east.",
            "The heading shown goes to about 0, then to about 90 degrees.",
            ("calibrate-compass",),
            watches=_COMPASS,
        )  # fmt: skip


def _device(known: Known, part: Device) -> BenchStep:
    want = want_of(part)
    says = [want.protocol] if want.protocol else []
    says += [described(want)] if want.rate is not None else []
    how = f" ({', '.join(says)})" if says else ""
    return BenchStep(
        f"port-{part.name}", "ports",
        f"Look at {named(part.name)} on {known.place(part.port)}{how}.",
        f"{_SEEN[part.kind]}.",
        ("console",),
        watches=(
            f"sheet.devices.{part.name}", f"sheet.ports.{part.port}", f"ports.{part.port}",
            *_WORKS_BY.get(part.kind, ()),
        ),
    )  # fmt: skip


# What the dump says of a device, whatever port or pad it is on.
_WORKS_BY: Final = {
    "receiver": ("receiver.link", "receiver.channels"),
    "telemetry": ("telemetry",),
    "position": ("position",),
    "video_transmitter": ("video.transmitter.enabled", "video.transmitter.control",
                          "video.transmitter.half_duplex"),
    "camera": ("camera.control", "switches.camera_menu"),
    "esc_reports": ("esc.reports",),
    "flight_log": ("flight_log",),
    "buzzer": ("finder", "switches.buzzer"),
    "led": ("finder.led",),
}  # fmt: skip
_ON_A_PAD: Final = {
    "buzzer": (
        "Let the buzzer sound: by its switch, by the console, or as the pack is plugged in.",
        "It is loud enough to be found by in high grass.",
    ),
    "led": ("Look at the lamps.", "Each of them lights, and from the colour you know the nose."),
    "camera": (
        "Open the camera's menu over its pad, and move through it.",
        "Each key of the menu does what it should, and no other.",
    ),
}


def _on_a_pad(known: Known, part: Device) -> BenchStep:
    """A device that no port serves."""
    do, expect = _ON_A_PAD[part.kind]
    pad = part.pad if part.states("pad") else ""
    return BenchStep(
        f"pad-{part.name}", "ports",
        f"{do[:-1]} ({named(part.name)}, pad {known.place(pad)})." if pad else do,
        expect,
        ("console",),
        watches=(
            f"sheet.devices.{part.name}", *([f"pads.{pad}"] if pad else []), *_WORKS_BY[part.kind],
        ),
    )  # fmt: skip


def _telemetry(known: Known) -> Iterator[BenchStep]:
    """Telemetry that goes back in the receiver's own link, and so has no port to be looked at."""
    parts = [p for p in devices(known) if p.states("kind") and p.kind == "telemetry"]
    if any(part.states("port") for part in parts):
        return
    if not parts and not known.told(lambda: known.craft.telemetry.enabled):
        return
    after = [f"port-{p.name}" for p in devices(known) if _is_receiver(p)]
    yield BenchStep(
        "telemetry", "ports",
        "Look at the handset while the pack is plugged in.",
        f"{_SEEN['telemetry']}; the pack's voltage is the meter's.",
        tuple(after or ["console"]),
        watches=("telemetry", "receiver.link", *(f"sheet.devices.{p.name}" for p in parts)),
    )  # fmt: skip


def _sticks(known: Known) -> Iterator[BenchStep]:
    receiver = known.craft.receiver
    channels = {word: receiver.map.stated().get(word) for word in PRIMARY}
    after = [f"port-{part.name}" for part in devices(known) if _is_receiver(part)]
    lacks = [receiver.map.path(word) for word, channel in channels.items() if channel is None]
    if lacks:
        if known.has_dump:
            yield find_out(known, "sticks", "ports", lacks, ("console",))
            after.append("find-out-sticks")
        else:
            after.append("read-dump")
    moved = ", ".join(f"{word} channel {n}" for word, n in channels.items() if n is not None)
    low, high = known.told(lambda: receiver.low), known.told(lambda: receiver.high)
    ends = f" from {number_text(low)} to {number_text(high)} us" if low and high else ""
    yield BenchStep(
        "sticks", "ports",
        "Move one stick after the other to its ends: right, forward, throttle up, turn right.",
        f"One channel moves for each{f': {moved}' if moved else ''}; its pulse goes up{ends} and "
        "rests in the middle, the throttle's at the bottom.",
        tuple(after or ["console"]),
        watches=("receiver", *(f"sheet.devices.{p.name}" for p in devices(known)
                               if _is_receiver(p))),
    )  # fmt: skip


def _is_receiver(part: Device) -> bool:
    return part.states("kind") and part.kind == "receiver" and part.states("port")


def switches(known: Known) -> Iterator[BenchStep]:
    """A step for each switch, as the sweep predicts its positions."""
    table = switch_table(known.craft)
    for switch in table.switches:
        yield _switch(known, switch, table.armed_by_switch)
    lacks = [path for _, path in table.lacking]
    lacks += [known.craft.switches.path_of(word) for word in table.untrusted]
    if not table.switches and not lacks and table.armed_by_switch is not False:
        lacks = ["switches.arm"]
    if lacks and known.has_dump:
        yield find_out(known, "switches", "switches", lacks, ("console",))
    if table.armed_by_switch is False:
        yield BenchStep(
            "stick-arming", "switches",
            "Propellers off: look now. Arm and disarm with the sticks, as the handset's mode has "
            "it.",
            "It arms and disarms, and does neither by a small movement.",
            ("sticks",), STANDING, watches=("arming", "switches.arm", *_CHANNELS),
        )  # fmt: skip


def _switch(known: Known, switch: Switch, by_switch: bool | None) -> BenchStep:
    told = "; ".join(_position(position) for position in switch.positions) or "no travel"
    arms = any("arm" in position.active for position in switch.positions)
    expect = f"{told}."
    if switch.carried is False:
        expect = f"Nothing: the receiver link carries no channel {switch.channel}."
    rest = next((p for p in switch.positions if switch.rests_in(p)), None)
    if arms and by_switch is not False and rest is not None and "arm" in rest.active:
        expect += " ARMED while nobody touches it: put that right before anything else."
    bare = "Propellers off: look now. " if arms else ""
    number = switch.channel
    control = f" ({switch.control})" if switch.control else ""
    mine = [
        known.craft.switches.path_of(word)
        for word, spans in known.craft.switches.ranges.stated().items()
        if any(span.channel == number for span in spans)
    ]
    return BenchStep(
        f"switch-{switch.channel}", "switches",
        f"{bare}Work the switch of channel {switch.channel}{control}, position by "
        "position.",
        expect,
        ("sticks",),
        STANDING if arms else "",
        watches=(*mine, *_CHANNELS, f"receiver.ends.{number}", "arming.by", "switches_join"),
    )  # fmt: skip


_CHANNELS: Final = ("receiver.low", "receiver.centre", "receiver.high", "receiver.link",
                    "receiver.channels", "receiver.map")  # fmt: skip


def _position(position: SwitchPosition) -> str:
    what = listed([named(word) for word in position.active]) if position.active else "nothing"
    return f"{position.low}..{position.high} us {what}"


_ACTIONS: Final = {
    "motors_off": "the motors stop",
    "land": "it takes itself to be landing: the throttle goes to its landing value",
    "return_home": "it takes the way home: the motors may speed up",
}


def failsafe(known: Known, before: tuple[str, ...]) -> Iterator[BenchStep]:
    """What happens when the handset is switched off."""
    part = known.craft.failsafe
    leaves = ("action", "detect_after", "hold_for")
    lacks = [part.path(leaf) for leaf in leaves if not part.states(leaf)]
    after = before if known.has_dump else (*before, "read-dump")
    if lacks and known.has_dump:
        yield find_out(known, "failsafe", "failsafe", lacks, ("console",))
        after = (*after, "find-out-failsafe")
    action = known.told(lambda: part.action)
    if action in ("hold_inputs", "none"):
        told = "the motors stop. By the dump nothing would: set failsafe.action first"
        yield _failsafe(told, after, Ask(), "")
        return
    told = _ACTIONS.get(action or "", "what was set happens, and soon")
    waits = [known.told(lambda: part.detect_after), known.told(lambda: part.hold_for)]
    seconds = round(sum(wait for wait in waits if wait is not None), 2)
    ask = Ask()
    if action and None not in waits:
        told = f"after about {number_text(seconds)} s {told}"
        low, high = max(0.0, seconds - _HAND_S), seconds + _HAND_S
        ask = Ask("number", "s", round(low, 2), round(high, 2), sample="N s")
    land_for = known.told(lambda: part.land_for)
    if action == "land" and land_for is not None:
        told += f", and after {number_text(land_for)} s more the motors stop"
    held = known.told(lambda: [taken.pulse is None for taken, _ in arm_on_loss(known.craft)])
    if held and all(held):
        told += ". The arm channel holds what came last: it stays armed until then"
    if known.told(lambda: receiver_on_loss(known.sheet)) is None:
        told += (
            ". If nothing happens, the receiver goes on sending and the board notices nothing: "
            "write what it sends into the sheet, on_loss of the receiver"
        )
    yield _failsafe(told, after, ask, _TEST.get(action or "", ""))


# How the test shows what the action does.
_TEST: Final = {
    "return_home": "outside, with a position fix and its home set, for without them it knows no "
    "way home and does something else",
    "land": "the throttle well above that of its landing, so that you hear it go there",
}


def _failsafe(told: str, after: tuple[str, ...], ask: Ask, how: str) -> BenchStep:
    how = f" ({how})" if how else ""
    return BenchStep(
        "failsafe", "failsafe",
        f"Propellers off, craft held down: look now. Arm, raise the throttle a little{how}, then "
        "switch the handset off and count the seconds until something happens.",
        f"{told[:1].upper()}{told[1:]}. Then switch it on again and disarm, or unplug.",
        after,
        STANDING,
        ask,
        (
            "failsafe", "switches.arm", "switches.failsafe", "receiver", "home", "arming",
            "sheet.devices.*.on_loss", "sheet.devices.*.kind",
        ),
    )  # fmt: skip


def hover(known: Known) -> Iterator[BenchStep]:
    """Place, pack, the hover itself, and when to land."""
    near, far = _distances(known)
    yield BenchStep(
        "place", "hover",
        f"Choose the place: open grass, no people, animals, roads or wires within {far} m, little "
        "wind.",
        "You may fly there, and nobody can walk in unseen.",
        ("balance",),
        HEIGHT,
        watches=_SIZE,
    )  # fmt: skip
    yield from _charged(known)
    yield from _levelling(known)
    satellites = known.told(lambda: known.craft.position.min_satellites)
    fix = f" Wait for {satellites} satellites, if it is to know its home." if satellites else ""
    yield BenchStep(
        "arm-outside", "hover",
        f"Craft on the ground, nose away from you. Plug in, step back {near} m, arm.{fix}",
        "It arms without a shake; the motors turn evenly, or rest until the throttle is raised.",
        ("place", "charged", "levelling"),
        SPINNING,
        watches=("arming", "switches.arm", "position.min_satellites", *_SIZE),
    )  # fmt: skip
    throttle = known.told(lambda: known.sheet.propulsion.hover_throttle)
    about = f" near {number_text(throttle)} % throttle" if throttle else ""
    yield BenchStep(
        "hover", "hover",
        "Rise to 1 or 2 m, no higher, for 30 seconds; then a little of each stick.",
        f"It hangs level{about} and answers each stick the right way, without shaking or "
        "drifting round. If it tips, shakes or turns by itself: throttle down, disarm.",
        ("arm-outside",),
        FLYING,
        watches=(
            "sheet.propulsion", "motors", "esc", "frame", "board.rotation", "sheet.board.turned",
            "loop", "gyro", "filters", "notches", "banks",
        ),
    )  # fmt: skip
    yield _land(known)


_SIZE: Final = ("sheet.propulsion.all_up_weight", "sheet.propulsion.diameter")
_LIGHT: Final = (250.0, 80.0)  # g and mm: up to both a craft is small (common practice)
_HEAVY: Final = (1500.0, 260.0)  # beyond one of them it is large (common practice)


def _distances(known: Known) -> tuple[int, int]:
    """How far off to stand, and others to be, in m; as for a large craft where nothing tells."""
    weight = known.told(lambda: known.sheet.propulsion.all_up_weight)
    size = known.told(lambda: known.sheet.propulsion.diameter)
    if weight is None or size is None or weight > _HEAVY[0] or size > _HEAVY[1]:
        return 10, 50
    return (3, 15) if weight <= _LIGHT[0] and size <= _LIGHT[1] else (5, 30)


def _levelling(known: Known) -> Iterator[BenchStep]:
    """Where the switch that levels is to stand, named before it is needed."""
    table = switch_table(known.craft)
    at = [
        f"channel {switch.channel} at {low}..{high} us"
        for switch in table.switches
        for low, high in switch.spans("self_level")
        if switch.carried is not False
    ]
    if at:
        do = f"Find the position of the switch that levels ({' or '.join(at)}); leave it there."
        expect = "You can name it without looking, and the craft says that it levels itself."
    else:
        do = (
            "No switch position is known that makes the craft level itself. Find out whether it "
            "does so by itself."
        )
        expect = "You know it. If it does not, only somebody who flies without it flies this hover."
    yield BenchStep(
        "levelling", "hover", do, expect, ("place",), FLYING,
        watches=("switches.self_level", "switches_join", *_CHANNELS, "receiver.ends"),
    )  # fmt: skip


def _charged(known: Known) -> Iterator[BenchStep]:
    pack = pack_volts(known)
    if pack is None:  # the step to find it out stands at first power
        yield BenchStep(
            "charged", "hover", "Take a pack that is full and whole.",
            "Its voltage is that of a full pack.", ("place", "find-out-pack"), LITHIUM,
        )  # fmt: skip
        return
    low, full = round(pack[2] * 0.97, 2), pack[2]
    yield BenchStep(
        "charged", "hover",
        "Take a full pack, not swollen, its leads whole; measure it.",
        f"{number_text(low)}..{number_text(full)} V.",
        ("place",),
        LITHIUM,
        Ask("number", "V", low, round(full * 1.005, 2), sample="N V"),
        PACK,
    )  # fmt: skip


def _land(known: Known) -> BenchStep:
    pack, cells = pack_volts(known), known.cells
    when = "at the first low-battery call"
    if pack is not None and cells:
        warn = pack[1]
        when = f"at {number_text(warn)} V ({number_text(round(warn / cells, 3))} V a cell)"
    return BenchStep(
        "land", "hover",
        f"Land after two minutes at the latest, or {when}, whichever comes first.",
        "It comes down by the throttle alone, disarms at once, and the motors stop.",
        ("hover",),
        SPINNING,
        watches=PACK,
    )  # fmt: skip


_EVERYTHING: Final = ("*",)


def after_hover(known: Known) -> Iterator[BenchStep]:
    """Temperatures, the charge, a second look, the dump."""
    yield BenchStep(
        "temperatures", "after",
        "Unplug the pack. Feel motors, speed controllers, pack and transmitter with the back of a "
        "finger.",
        "Warm at most, the motors alike. What can't be touched for three seconds is too hot.",
        ("land",),
        LITHIUM,
    )  # fmt: skip
    yield BenchStep(
        "look-over", "after",
        "Look at propellers, nuts, screws, antennas and the pack's strap again.",
        "Nothing cracked, loose or chafed.",
        ("land",),
        SPINNING,
    )  # fmt: skip
    yield from charge(known, ("temperatures",))
    yield BenchStep(
        "read-back", "after",
        "Propellers off. Read the dump again, and compare: `cfgaudit confirm` with what was meant.",
        "Everything that was changed at the bench is in it.",
        ("look-over",),
        SPINNING,
        watches=_EVERYTHING,
    )  # fmt: skip
    yield BenchStep(
        "keep", "after",
        "Keep the dump, the build sheet and this record together, under version control.",
        "The next change can be compared with a craft that flew.",
        ("read-back",),
        watches=_EVERYTHING,
    )  # fmt: skip
