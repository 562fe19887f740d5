"""The working list's ports, sensors, receiver, switches and failsafe."""

from collections.abc import Iterator
from typing import Final

from cfgaudit.bench.work import STANDING, Ask, Known, Step, find_out, named
from cfgaudit.bench.work_power import devices
from cfgaudit.craft.controls import PRIMARY
from cfgaudit.craft.sheet_devices import Device
from cfgaudit.craft.sweep import Position, Switch, switch_table
from cfgaudit.rules.wording import grouped, listed
from cfgaudit.units import number_text

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


def ports(known: Known, rails: tuple[str, ...]) -> Iterator[Step]:
    """The console, what hangs on each port, which way up it thinks it is, and the sticks."""
    version = known.told(lambda: known.craft.firmware.version)
    name = known.told(lambda: known.craft.firmware.name)
    which = f"It names {name} {version}, as the dump does." if name and version else (
        "It answers and names its firmware."
    )  # fmt: skip
    yield Step(
        "console", "ports", "Connect the settings console.", which, rails,
        against=f"{name} {version}" if version else "",
    )  # fmt: skip
    ready = "console"
    if not known.has_dump:
        yield Step(
            "read-dump", "ports",
            "Read a dump out of the craft, and give it behind the build sheet: "
            "`cfgaudit bench BUILD DUMP`.",
            "The list then tells what to expect of switches, failsafe, motors and voltage.",
            ("console",),
        )  # fmt: skip
        ready = "read-dump"
    yield Step(
        "audit", "ports",
        "Run `cfgaudit check DUMP --build BUILD`.",
        "No errors are left.",
        (ready,),
    )  # fmt: skip
    yield from _attitude(known)
    for part in devices(known):
        if part.states("port") and part.states("kind") and part.role():
            yield _device(part)
    yield from _sticks(known)


def _attitude(known: Known) -> Iterator[Step]:
    yield Step(
        "level", "ports",
        "Hold the craft level, then right side down, then nose up, and watch what it shows.",
        "Level shows level; right side down shows a roll to the right; nose up shows nose up.",
        ("console",),
    )  # fmt: skip
    compass = known.told(lambda: known.craft.sensors.compass.enabled)
    if compass is None and known.has_dump:
        yield find_out(known, "compass", "ports", ["sensors.compass.enabled"], ("console",))
    if compass:
        yield Step(
            "compass", "ports",
            "Away from iron, point the nose north, then turn it east.",
            "The heading shown goes to about 0, then to about 90 degrees.",
            ("level",),
        )  # fmt: skip


def _device(part: Device) -> Step:
    says = [f"{grouped(part.rate)} Bd"] if part.states("rate") else []
    if part.states("framing"):
        says.append(part.framing)
    if part.states("protocol"):
        says.insert(0, part.protocol)
    if part.states("inverted") and part.inverted:
        says.append("inverted")
    how = f" ({', '.join(says)})" if says else ""
    return Step(
        f"port-{part.name}", "ports",
        f"Look at {named(part.name)} on {part.port}{how}.",
        f"{_SEEN[part.kind]}.",
        ("console",),
        against=f"{part.port}{how}",
    )  # fmt: skip


def _sticks(known: Known) -> Iterator[Step]:
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
    yield Step(
        "sticks", "ports",
        "Move one stick after the other to its ends: right, forward, throttle up, turn right.",
        f"One channel moves for each{f': {moved}' if moved else ''}; its pulse goes up{ends} and "
        "rests in the middle, the throttle's at the bottom.",
        tuple(after or ["console"]),
        against=moved + ends,
    )  # fmt: skip


def _is_receiver(part: Device) -> bool:
    return part.states("kind") and part.kind == "receiver" and part.states("port")


def switches(known: Known) -> Iterator[Step]:
    """A step for each switch, as the sweep predicts its positions."""
    table = switch_table(known.craft)
    for switch in table.switches:
        yield _switch(switch, table.armed_by_switch)
    lacks = [path for _, path in table.lacking]
    lacks += [known.craft.switches.path_of(word) for word in table.untrusted]
    if not table.switches and not lacks and table.armed_by_switch is not False:
        lacks = ["switches.arm"]
    if lacks and known.has_dump:
        yield find_out(known, "switches", "switches", lacks, ("console",))
    if table.armed_by_switch is False:
        yield Step(
            "stick-arming", "switches",
            "Arm and disarm with the sticks, as the handset's mode has it.",
            "It arms and disarms, and does neither by a small movement.",
            ("sticks",), STANDING,
        )  # fmt: skip


def _switch(switch: Switch, by_switch: bool | None) -> Step:
    told = "; ".join(_position(position) for position in switch.positions) or "no travel"
    arms = any("arm" in position.active for position in switch.positions)
    expect = f"{told}."
    if switch.carried is False:
        expect = f"Nothing: the receiver link carries no channel {switch.channel}."
    rest = next((p for p in switch.positions if switch.rests_in(p)), None)
    if arms and by_switch is not False and rest is not None and "arm" in rest.active:
        expect += " ARMED while nobody touches it: put that right before anything else."
    return Step(
        f"switch-{switch.channel}", "switches",
        f"Work the switch of channel {switch.channel}{_control(switch)}, position by position.",
        expect,
        ("sticks",),
        STANDING if arms else "",
        against=told,
    )  # fmt: skip


def _control(switch: Switch) -> str:
    return f" ({switch.control})" if switch.control else ""


def _position(position: Position) -> str:
    what = listed([named(word) for word in position.active]) if position.active else "nothing"
    return f"{position.low}..{position.high} us {what}"


_ACTIONS: Final = {
    "motors_off": "the motors stop",
    "land": "it takes itself to be landing: the throttle goes to its landing value",
    "return_home": "it takes the way home: the motors may speed up",
}


def failsafe(known: Known, before: tuple[str, ...]) -> Iterator[Step]:
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
        yield _failsafe(told, after, Ask(), action)
        return
    told = _ACTIONS.get(action or "", "what was set happens, and soon")
    waits = [known.told(lambda: part.detect_after), known.told(lambda: part.hold_for)]
    seconds = round(sum(wait for wait in waits if wait is not None), 2)
    ask, against = Ask(), action or ""
    if action and None not in waits:
        told = f"after about {number_text(seconds)} s {told}"
        low, high = max(0.0, seconds - _HAND_S), seconds + _HAND_S
        ask = Ask("number", "s", round(low, 2), round(high, 2), sample="N s")
        against = f"{action}, {number_text(seconds)} s"
    land_for = known.told(lambda: part.land_for)
    if action == "land" and land_for is not None:
        told += f", and after {number_text(land_for)} s more the motors stop"
    yield _failsafe(told, after, ask, against)


def _failsafe(told: str, after: tuple[str, ...], ask: Ask, against: str) -> Step:
    return Step(
        "failsafe", "failsafe",
        "Propellers off, craft held down. Arm, raise the throttle a little, then switch the "
        "handset off and count the seconds until something happens.",
        f"{told[:1].upper()}{told[1:]}. Then switch it on again and disarm, or unplug.",
        after,
        STANDING,
        ask,
        against,
    )  # fmt: skip
