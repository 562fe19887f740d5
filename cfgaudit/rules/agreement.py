"""Build sheet and dump, field by field: what somebody saw or soldered against what is set.

A pair names a setting of the sheet and one of the dump, how the two are held against each other,
and what is told where they differ. It stands with its rule.
"""

from collections.abc import Callable, Iterator
from math import hypot
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.serial import receiver_link
from cfgaudit.rules.rule import (
    Edit,
    Fires,
    Level,
    NotApplicable,
    Rule,
    Yielded,
    each,
    listed,
    rule,
)
from cfgaudit.rules.wiring import same
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.vocabulary.paths import declared_anywhere
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.vocabulary.sheet import Device

Agree = Callable[[Value, Value], bool]
_ROUNDING: Final = 1e-9
# Many state four fifths of the label, so that a pack is not emptied; hardly anybody more than it.
_CAPACITY_SHARES: Final = (0.7, 1.1)


def alike(sheet: Value, dump: Value) -> bool:
    """Equal; two texts but for capitals and outer blanks."""
    if isinstance(sheet, str) and isinstance(dump, str):
        return sheet.strip().casefold() == dump.strip().casefold()
    return sheet == dump


def within(sheet: Value, dump: Value) -> bool:
    """The dump's number lies between the sheet's lowest and highest."""
    assert isinstance(sheet, tuple)  # declared so
    low, high = (float(end) for end in sheet if isinstance(end, int | float))
    return isinstance(dump, int | float) and low - _ROUNDING <= dump <= high + _ROUNDING


def one_of(sheet: Value, dump: Value) -> bool:
    """The dump's number is one of the sheet's, or all the dump's numbers are."""
    assert isinstance(sheet, tuple)  # declared so
    return set(dump if isinstance(dump, tuple) else (dump,)) <= set(sheet)


def usable(sheet: Value, dump: Value) -> bool:
    """The dump's capacity is what is used of the sheet's."""
    assert isinstance(sheet, int | float)  # declared so
    low, high = (share * sheet for share in _CAPACITY_SHARES)
    return isinstance(dump, int | float) and low - _ROUNDING <= dump <= high + _ROUNDING


def timed_alike(sheet: Value, dump: Value) -> bool:
    """Who times a port's bits: software by the sheet, and so by the dump."""
    return (sheet == "software") is dump


def is_on(sheet: Value, dump: Value) -> bool:
    """What the sheet has is switched on in the dump."""
    return dump is True


class Pair(NamedTuple):
    """A setting of the sheet and the dump's that must go with it.

    A path of the sheet may hold a kind of device in angle brackets: it then stands for every
    device of that kind. A star stands for every port or pad of the board, in both paths alike.
    The message is filled with `name` (the device's, the port's), `sheet` and `dump`, the two
    values as spelled. Where there is no advice the sheet's value is the one to set: nothing that
    the dump states speaks against it. With `only` it counts where that setting of the dump is so.
    """

    sheet: str
    dump: str
    message: str
    advice: str = ""
    agree: Agree = alike
    only: str = ""
    is_at: Value = True


def _held_together(rule_id: str, level: Level, doc: str, *pairs: Pair) -> Rule:
    """A rule of pairs alone, with its docstring."""

    def check(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
        return _check(craft, sheet, pairs)

    check.__doc__ = doc
    return rule(rule_id, level, sheet=True)(check)


def _check(craft: Craft, sheet: "Sheet", pairs: tuple[Pair, ...]) -> Iterator[Yielded]:
    both = [(pair, name) for pair in pairs for name in _names(craft, sheet, pair)]
    if not both:
        kinds = sorted({kind for pair in pairs if (kind := _kind(pair))})
        raise NotApplicable(f"The build sheet has no {' and no '.join(kinds)}.")
    yield from each(both, lambda one: _differ(craft, sheet, *one))


def _kind(pair: Pair) -> str:
    """The kind of device that a pair is about; empty where it is about none."""
    return pair.sheet.partition("<")[2].partition(">")[0]


def _names(craft: Craft, sheet: "Sheet", pair: Pair) -> list[str]:
    """What a pair stands for: devices, or ports or pads that both state; once "" for neither."""
    kind = _kind(pair)
    if kind:
        return [device.name for device in sheet.devices_of(kind)]
    if "*" not in pair.sheet:
        return [""]
    group = pair.dump.partition(".")[0]
    both = [
        name
        for name in sheet.settings.below(f"sheet.{group}")
        if pair.sheet.replace("*", name) in sheet.settings.stated
    ]
    if not both:
        raise NotStated(pair.sheet.replace("*", "ID"))
    return [name for name in both if _stated_at(craft, group, name, pair.dump)]


def _stated_at(craft: Craft, group: str, name: str, pattern: str) -> str:
    """The dump's path for a port or pad of the board; empty where the dump does not state it."""
    for other in craft.settings.below(group):
        if same(other, name) and pattern.replace("*", other) in craft.settings.stated:
            return pattern.replace("*", other)
    return ""


def _differ(craft: Craft, sheet: "Sheet", pair: Pair, name: str) -> Iterator[Yielded]:
    if pair.only and craft.settings.need(pair.only) != pair.is_at:
        return
    told, at = pair.sheet.replace("*", name), pair.dump
    if _kind(pair):
        told = told.replace(f"<{_kind(pair)}>", name)
    elif "*" in at:
        at = _stated_at(craft, at.partition(".")[0], name, at)
    said, stated = sheet.settings.need(told), _of_dump(craft, at)
    if pair.agree(said, stated):
        return
    message = pair.message.format(name=name, sheet=_spelled(told, said), dump=_spelled(at, stated))
    doubtful = not pair.advice and _is_doubtful(said, stated)
    yield Fires(
        message[:1].upper() + message[1:],
        (at, told),
        mend=() if pair.advice or doubtful else (Edit(at, _spelled(at, said)),),
        advice="Look at the label which of the two is untrue." if doubtful else pair.advice,
        choice=_MAY_BE_THE_SHEET if doubtful else "",
    )


_MAY_BE_THE_SHEET: Final = (
    "the label: the two are far apart, and it may be the build sheet that lost a digit or its unit"
)
_FAR: Final = 2.5  # times as much: no small slip


def _is_doubtful(sheet: Value, dump: Value) -> bool:
    """Whether the sheet's number is so much the smaller one that it may be wrong."""
    if not isinstance(sheet, int | float) or not isinstance(dump, int | float):
        return False
    return dump > sheet * _FAR and not isinstance(dump, bool)


def _of_dump(craft: Craft, path: str) -> Value:
    """The dump's value. Raises NotStated, for a hidden one too."""
    found = craft.settings.stated.get(path)
    if found is not None and found.secret:
        raise NotStated(path)
    return craft.settings.need(path)


def _spelled(path: str, value: Value) -> str:
    found = declared_anywhere(path)
    assert found is not None  # a path of the table
    return found.kind.spell(value).strip("\"'")


@rule("sheet/drive-odd", Level.WARNING, sheet=True)
def drive_odd(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The build sheet has a motor, a propeller or a hover throttle that no small craft has.

    Nothing is reckoned from such a figure: noise, notches, tips and landings are then not judged.

    In the air: unknown, since what hangs on the figure was not looked at.
    Mend: look at the motor's label, measure the propeller from tip to tip in millimetres, take the
    hover throttle from a flight's log.
    Source: the speed of the tips at full voltage without load, Kv times volts times pi times the
    diameter, is 85 to 520 m/s; no craft hovers below 8 % of throttle: common practice.
    """
    drive = sheet.propulsion
    said = [
        entry
        for leaf in ("kv", "diameter", "hover_throttle")
        if (entry := sheet.settings.stated.get(drive.path(leaf))) is not None
    ]
    if not said:
        raise NotStated(drive.path("kv"))
    for doubt in dict.fromkeys(entry.doubt for entry in said if entry.doubt):
        paths = tuple(entry.path for entry in said if entry.doubt == doubt)
        names = listed([path.rpartition(".")[2].replace("_", " ") for path in paths])
        yield Fires(
            f"The build sheet's {names} can't be so: {doubt}.",
            paths,
            (("figures", float(len(paths))),),
            advice="Look at the motor's label, and measure the propeller tip to tip in mm."
            if len(paths) > 1
            else "Take the hover throttle, in % of full, from a flight's log.",
        )


_FRAME: Final = (
    Pair(
        "sheet.frame.layout",
        "frame.layout",
        "The arms stand as {sheet}, and the dump mixes for {dump}.",
        "Look from above, nose forward, and set the layout that the frame has.",
    ),
    Pair(
        "sheet.frame.rotation",
        "frame.rotation",
        "At the nose the propellers turn {sheet}, and the dump takes {dump} for granted.",
        "Propellers off: look which way each motor turns, then set the rotation so.",
    ),
)


@rule("frame/not-as-built", Level.ERROR, sheet=True)
def frame_not_as_built(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The frame is not the one that the dump mixes for.

    In the air: a command reaches arms that stand elsewhere or turn otherwise: the craft tips
    over or spins as it leaves the ground.
    Mend: look from above, and set layout and rotation as the craft is built.
    Source: the frame as the build sheet states it.
    """
    yield from _check(craft, sheet, _FRAME)
    yield from _arms_elsewhere(craft, sheet)


_ARM_OFF = 0.15  # of the arms' mean length: what a ruler and a round figure leave


def _arms_elsewhere(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """Arms that the dump has elsewhere than the build sheet; a size that all share is left out."""
    places = {
        arm: (craft.frame.arms[arm], sheet.frame.arms[arm])
        for arm in craft.frame.arms.names()
        if all(
            arms[arm].states(leaf)
            for arms in (craft.frame.arms, sheet.frame.arms)
            for leaf in ("x", "y")
        )
    }
    own = sum(hypot(dump.x, dump.y) for dump, _ in places.values())
    true = sum(hypot(built.x, built.y) for _, built in places.values())
    if not own or not true:
        return
    scale, most = true / own, _ARM_OFF * true / len(places)
    off = {
        arm: [
            leaf
            for leaf, one, other in (("x", dump.x, built.x), ("y", dump.y, built.y))
            if abs(one * scale - other) > most
        ]
        for arm, (dump, built) in places.items()
    }
    off = {arm: leaves for arm, leaves in off.items() if leaves}
    if not off:
        return
    told = listed(
        [
            f"{arm} at {number_text(built.x)}, {number_text(built.y)} m, and not at "
            f"{number_text(dump.x)}, {number_text(dump.y)} m"
            for arm, (dump, built) in places.items()
            if arm in off
        ]
    )
    yield Fires(
        f"By the build sheet {told}, ahead and to the right of the centre.",
        (
            *(places[arm][0].path(leaf) for arm, leaves in off.items() for leaf in leaves),
            *(places[arm][1].path(leaf) for arm, leaves in off.items() for leaf in leaves),
        ),
        (("arms_off", float(len(off))), ("arms", float(len(places)))),
        advice="Measure once more to each motor's shaft, and correct whichever is untrue.",
    )


_LINK: Final = Pair(
    "sheet.devices.<receiver>.protocol",
    "receiver.link",
    "{name} talks {sheet}, and the dump listens for {dump}.",
    "Look at the receiver's papers and at what it is set to; then choose that link.",
)


@rule("receiver/not-as-fitted", Level.ERROR, sheet=True)
def receiver_not_as_fitted(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The receiver talks another link than the dump listens for.

    A note where the sheet has a framing that is not its link's.

    In the air: the sticks are dead: the craft does not arm, or goes into failsafe.
    Mend: choose the link that the receiver talks.
    Source: the receiver's papers, as the build sheet states them.
    """
    yield from _check(craft, sheet, (_LINK,))
    yield from each(sheet.devices_of("receiver"), lambda device: _odd_framing(craft, device))


def _odd_framing(craft: Craft, device: "Device") -> Iterator[Yielded]:
    """A framing of the sheet that its link has nowhere else: an example left as it was."""
    link = device.protocol if device.states("protocol") else craft.receiver.link
    known = receiver_link(link)
    if known is not None and device.states("framing") and device.framing != known.framing:
        yield Fires(
            f"{device.name} is said to frame its bytes {device.framing}; the {link} link frames "
            f"them {known.framing}.",
            (device.path("framing"), "receiver.link"),
            advice=f"Look at the receiver's papers once more; unless they say so, put "
            f"{known.framing} into the build sheet.",
            level=Level.NOTE,
        )


RULES = (
    _held_together(
        "sheet/another-craft",
        Level.ERROR,
        """The build sheet and the dump are of two craft, or of two boards.

        In the air: pads, turns and link-loss values are another craft's: motors may start on the
        wrong pads, and all that was looked at at the bench belongs to something else.
        Mend: take the sheet of this craft, or the dump that was read out of it.
        Source: the names as the two state them; capitals do not count.
        """,
        Pair(
            "sheet.craft.name",
            "craft.name",
            "The build sheet is of {sheet}, and the dump of {dump}.",
            "Find out which of the two is of this craft before anything else is believed.",
        ),
        Pair(
            "sheet.board.name",
            "board.name",
            "The board is a {sheet}, and the dump was made for a {dump}: its pads, timers and "
            "turn are another board's.",
            "Find out which board is mounted. Do not write this dump to another one.",
        ),
    ),
    drive_odd,
    frame_not_as_built,
    receiver_not_as_fitted,
    _held_together(
        "position/not-as-fitted",
        Level.ERROR,
        """The position receiver talks otherwise than the dump waits for.

        In the air: no fix is ever read: position hold and the way home have nothing to go by.
        Mend: choose the protocol that the receiver talks.
        Source: the receiver's papers, as the build sheet states them.
        """,
        Pair(
            "sheet.devices.<position>.protocol",
            "position.protocol",
            "{name} talks {sheet}, and the dump waits for {dump}.",
            only="position.enabled",
        ),
    ),
    _held_together(
        "telemetry/not-as-fitted",
        Level.WARNING,
        """The telemetry radio wants something else than the dump sends it, or gets nothing.

        In the air: the ground shows no pack voltage and gives no low-battery call.
        Mend: send what the radio passes on.
        Source: the radio's papers, as the build sheet states them.
        """,
        Pair(
            "sheet.devices.<telemetry>.protocol",
            "telemetry.protocol",
            "{name} passes on {sheet}, and the dump sends {dump}.",
            only="telemetry.enabled",
        ),
        Pair(
            "sheet.devices.<telemetry>.inverted",
            "telemetry.inverted",
            "{name} has its idle level turned round: {sheet}; the dump has it {dump}.",
            only="telemetry.enabled",
        ),
        Pair(
            "sheet.devices.<telemetry>.one_wire",
            "telemetry.half_duplex",
            "{name} talks on one wire: {sheet}; the dump has it {dump}.",
            only="telemetry.enabled",
        ),
    ),
    _held_together(
        "board/not-as-made",
        Level.WARNING,
        """The dump says another thing of a port or a pad than the board's manual.

        In the air: what hangs on that timer or port does not work as the dump reckons: bytes go
        missing, outputs run at another pace.
        Mend: look in the board's manual; perhaps the dump is another board's.
        Source: the board's manual, as the build sheet states it.
        """,
        Pair(
            "sheet.ports.*.kind",
            "ports.*.software_driven",
            "By the board's manual port {name} is of the kind {sheet}; the dump has its bits timed "
            "by software: {dump}.",
            "Look in the board's manual, and whether the dump is another board's.",
            agree=timed_alike,
        ),
        Pair(
            "sheet.pads.*.timer",
            "pads.*.timer",
            "By the board's manual timer {sheet} stands behind pad {name}; the dump has {dump}.",
            "Look in the board's manual, and whether the dump is another board's.",
        ),
    ),
    _held_together(
        "battery/not-as-flown",
        Level.WARNING,
        """The pack is of another chemistry or another size than the dump reckons with.

        In the air: the warning comes early or late; a pack that is charged by the numbers of
        another chemistry may burn.
        Mend: set what stands on the pack's label, its thresholds with it.
        Source: the pack's label, as the build sheet states it; that 70 to 110 % of its capacity are
        in order: common practice.
        """,
        Pair(
            "sheet.battery.chemistry",
            "battery.chemistry",
            "The pack is {sheet}, and the dump reckons with {dump} cells.",
            "Set the chemistry of the pack that is flown, and its thresholds with it.",
        ),
        Pair(
            "sheet.battery.capacity",
            "battery.capacity",
            "The pack holds {sheet}, and the dump reckons with {dump}: what is used up is told "
            "as another part of it than it is.",
            agree=usable,
        ),
    ),
    _held_together(
        "camera/not-as-fitted",
        Level.WARNING,
        """The camera gives another picture standard than the dump says.

        In the air: the overlay rolls, or its lowest rows fall off the picture.
        Mend: set the camera's standard, and look whether the overlay fits it.
        Source: the camera's menu, as the build sheet states it.
        """,
        Pair(
            "sheet.camera.standard",
            "camera.standard",
            "The camera gives {sheet}, and the dump has it as {dump}.",
        ),
    ),
    _held_together(
        "video/not-as-fitted",
        Level.WARNING,
        """The dump asks of the video transmitter what this one does not have.

        In the air: no picture, or one where nobody looks for it, at a power that nobody knows.
        Mend: choose frequency and power that the transmitter has; put the plan right.
        Source: the transmitter's papers, as the build sheet states them.
        """,
        Pair(
            "sheet.devices.<video_transmitter>.kind",
            "video.transmitter.enabled",
            "{name} is fitted, and the dump has the video transmitter {dump}: no picture.",
            "Switch it on, or leave it out of the sheet.",
            agree=is_on,
        ),
        Pair(
            "sheet.devices.<video_transmitter>.one_wire",
            "video.transmitter.half_duplex",
            "{name} is told what to do on one wire: {sheet}; the dump has it {dump}.",
            only="video.transmitter.control",
            is_at="serial",
        ),
        Pair(
            "sheet.devices.<video_transmitter>.frequencies",
            "video.transmitter.frequency",
            "{name} can be tuned to {sheet}, and the dump asks for {dump}.",
            "Choose a channel of the plan that this transmitter has.",
            agree=within,
            only="video.transmitter.enabled",
        ),
        Pair(
            "sheet.devices.<video_transmitter>.powers",
            "video.transmitter.power",
            "{name} can send {sheet}, and the dump asks for {dump}.",
            "Choose one of the powers that this transmitter has.",
            agree=one_of,
            only="video.transmitter.enabled",
        ),
        Pair(
            "sheet.devices.<video_transmitter>.powers",
            "video.plan.powers",
            "{name} can send {sheet}, and the dump's plan has {dump}.",
            "Put the plan right by the transmitter's papers.",
            agree=one_of,
            only="video.transmitter.enabled",
        ),
    ),
)
