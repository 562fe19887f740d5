"""A build sheet to be filled in: made anew, or what a dump tells added to one that is there."""

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from cfgaudit.craft.craft import Craft, is_servo
from cfgaudit.craft.sheet import Sheet, SheetError, read_sheet, sheet_value
from cfgaudit.physics.serial import receiver_link
from cfgaudit.reading.toml import CannotAdd, Page, key_text, quoted
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.kinds import BadValue, Between, Value
from cfgaudit.vocabulary.paths import Declared, declared_in_sheet, sheet_vocabulary
from cfgaudit.vocabulary.sheet import NO_RAIL, PAD_USES, PORT_ROLES, ROOT
from cfgaudit.vocabulary.units import number_text

ARMS = ("front_left", "front_right", "rear_left", "rear_right")  # where no dump names any

# What stands in a line that nobody has filled in yet: a value of the right kind, to be replaced.
_EXAMPLES: dict[str, Value] = {
    "craft.name": "dipper",
    "frame.layout": "quad_x",
    "frame.rotation": "inward",
    "frame.arms.ARM.x": 0.08,
    "frame.arms.ARM.y": 0.08,
    "board.name": "HB-7",
    "board.file": "hb-7.board.toml",
    "ports.ID.kind": "hardware",
    "ports.ID.highest_rate": 1e6,
    "ports.ID.clock": 36e6,
    "ports.ID.oversampling": 16,
    "ports.ID.inverter": False,
    "ports.ID.one_wire": False,
    "ports.ID.as": "uart1",
    "ports.ID.printed": "TX2 RX2",
    "pads.ID.timer": "T1",
    "pads.ID.printed": "M1",
    "rails.NAME.voltage": (4.9, 5.1),
    "rails.NAME.choices": (5.0, 9.0, 12.0),
    "rails.NAME.choice": 9.0,
    "rails.NAME.rating": 2.0,
    "rails.NAME.fed_by": frozenset({"pack"}),
    "rails.NAME.sources.N.from": "pack",
    "rails.NAME.sources.N.diode": False,
    "devices.NAME.kind": "receiver",
    "devices.NAME.port": "uart1",
    "devices.NAME.pad": "b1",
    "devices.NAME.wires": "tx_to_rx",
    "devices.NAME.one_wire": False,
    "devices.NAME.protocol": "mavlink",
    "devices.NAME.rate": 57600.0,
    "devices.NAME.framing": "8N1",
    "devices.NAME.inverted": False,
    "devices.NAME.on_loss": "silent",
    "devices.NAME.rail": "5V",
    "devices.NAME.supply": (4.5, 5.5),
    "devices.NAME.current": 0.1,
    "devices.NAME.fed_by": frozenset({"usb"}),
    "devices.NAME.frequencies": (5725.0, 5875.0),
    "devices.NAME.powers": (1.0, 25.0),
    "motors.ARM.output": 1,
    "motors.ARM.pad": "a1",
    "motors.ARM.wires": "straight",
    "motors.ARM.direction": "normal",
    "motors.ARM.turns": "cw",
    "motors.ARM.poles": 14,
    "propulsion.kv": 1900.0,
    "propulsion.diameter": 127.0,
    "propulsion.blades": 3,
    "propulsion.hover_throttle": 30.0,
    "propulsion.peak_current": 60.0,
    "propulsion.all_up_weight": 480.0,
    "battery.chemistry": "lipo",
    "battery.cells": 4,
    "battery.capacity": 1500.0,
    "camera.standard": "pal",
}
_VIDEO_ONLY = ("frequencies", "powers")  # what of a device only a video transmitter has
_UART_ONLY = ("highest_rate", "clock", "oversampling", "inverter", "one_wire")
_FED = ("supply", "current", "fed_by")  # said of a device that draws from a rail
_PORT_ONLY = ("wires", "one_wire", "protocol", "rate", "framing", "inverted")


class SheetLine(NamedTuple):
    """One setting of a sheet. Where it is not `told` by the dump, its value is an example."""

    key: str
    value: Value
    says: str
    told: bool = False


class SheetTable(NamedTuple):
    """One table of a sheet, by the words of its name.

    An `example` has a name that no dump tells: it stands behind a mark with all its lines.
    """

    table: tuple[str, ...]
    lines: tuple[SheetLine, ...]
    about: str = ""
    example: bool = False

    def as_example(self) -> "SheetTable":
        """The same where only its name is made up: nothing of it is told."""
        lines = tuple(line._replace(told=False) for line in self.lines)
        return self._replace(lines=lines, example=True)

    @property
    def path(self) -> str:
        """The path of its settings but for their last word."""
        return ".".join((ROOT, *self.table))


def proposal(
    settings: Settings, also: Mapping[str, str] = MappingProxyType({})
) -> tuple[SheetTable, ...]:
    """The whole sheet for a craft, in the vocabulary's order.

    What the dump states and can be trusted is told; nothing of it is taken for measured. `also`
    gives by name of a port or pad what else it is called.
    """
    craft = Craft(settings)
    return tuple(
        _named(block, also)
        for make in (
            _identity, _frame, _boards, _ports, _pads, _rails, _devices, _motors, _drive,
        )
        for block in make(craft)
    )  # fmt: skip


def _named(block: SheetTable, also: Mapping[str, str]) -> SheetTable:
    """The table of a port or pad with what else that is called above it."""
    group, *names = block.table
    called = also.get(names[0], "") if group in ("ports", "pads") and names else ""
    return block._replace(about=one_line(called)) if called else block


def _block(
    table: tuple[str, ...], told: dict[str, str], craft: Craft, about: str = "",
    leave: Iterable[str] = (),
) -> SheetTable:  # fmt: skip
    """One table with every setting that it can hold, but for those to `leave` out.

    `told` gives by key the path of the dump at which the value stands.
    """
    lines = []
    for entry, key, says in _settings_of(table):
        if key in leave:
            continue
        example = _EXAMPLES.get(entry.pattern.partition(".")[2], 0.0)
        known = _taken(craft, told.get(key, ""), entry)
        lines.append(SheetLine(key, example if known is None else known, says, known is not None))
    return SheetTable(table, tuple(lines), about)


def _taken(craft: Craft, path: str, entry: Declared) -> Value | None:
    """What the dump states at a path, if the sheet can take it so; a dump may say `auto`, or 0."""
    found = craft.settings.stated.get(path)
    if found is None or found.doubt:
        return None
    value = sorted(found.value) if isinstance(found.value, frozenset) else found.value
    try:
        return sheet_value(entry.kind, list(value) if isinstance(value, tuple) else value)
    except BadValue:
        return None


def _settings_of(table: tuple[str, ...]) -> Iterator[tuple[Declared, str, str]]:
    """Declaration, key and comment of each setting that stands right in a table."""
    for entry in sheet_vocabulary():
        head, _, key = entry.pattern.rpartition(".")
        path = f"{ROOT}.{'.'.join(table)}.{key}"
        if head.count(".") == len(table) and declared_in_sheet(path) is entry:
            says = entry.traits.says
            words = entry.kind.choices
            if len(words) <= 3 and not all(word in says for word in words):
                says += f" ({', '.join(words)})"
            elif entry.kind.unit:
                says += f" ({entry.kind.unit})"
            yield entry, key, says


def _identity(craft: Craft) -> Iterator[SheetTable]:
    yield _block(("craft",), {"name": "craft.name"}, craft)


def _frame(craft: Craft) -> Iterator[SheetTable]:
    told = {"layout": "frame.layout", "rotation": "frame.rotation"}
    yield _block(("frame",), told, craft)
    for arm in _arms(craft):
        block = _place_of(arm, _block(("frame", "arms", arm), {}, craft))
        yield block if craft.motors.arms.names() else block.as_example()


_SIDES = {"x": ("front", "rear"), "y": ("right", "left")}


def _place_of(arm: str, block: SheetTable) -> SheetTable:
    """The example of where an arm ends, on the side that its name says, if it says one.

    An example on the wrong side would be taken for the right one: where no word tells it is left
    blank.
    """
    words = arm.split("_")
    if not any(word in words for sides in _SIDES.values() for word in sides):
        return block._replace(lines=(), about=f"where {arm} is: x, " + "; y, ".join(
            line.says for line in block.lines
        ))  # fmt: skip
    lines = []
    for line in block.lines:
        ahead, behind = (side in words for side in _SIDES[line.key])
        assert isinstance(line.value, float)  # as the example has it
        lines.append(line._replace(value=line.value * (ahead - behind)))
    return block._replace(lines=tuple(lines))


def _arms(craft: Craft) -> list[str]:
    """The arms with a motor; what is asked of one makes no sense for a servo."""
    arms = [arm for arm in craft.motors.arms.names() if not is_servo(craft, arm)]
    return arms or list(ARMS)


def _boards(craft: Craft) -> Iterator[SheetTable]:
    yield _block(("board",), {"name": "board.name"}, craft)
    about = "how the board is really mounted, whatever the dump says; an axis not told is at 0"
    yield _block(("board", "turned"), {}, craft, about)
    yield _block(("compass", "turned"), {}, craft, "how the compass is really mounted; as above")


def _ports(craft: Craft) -> Iterator[SheetTable]:
    for name in craft.ports.names() or ["uart1"]:
        kind = _port_kind(craft, name)
        block = _block(("ports", name), {}, craft, leave=_UART_ONLY if kind == "usb" else ())
        told = [line if line.key != "kind" or not kind else line._replace(value=kind, told=True)
                for line in block.lines]  # fmt: skip
        block = block._replace(lines=tuple(told))
        yield block if craft.ports.names() else block.as_example()


def _port_kind(craft: Craft, name: str) -> str:
    """What kind of port it is, as far as the dump tells; else empty."""
    if name.startswith("usb"):
        return "usb"
    port = craft.ports[name]
    if not port.states("software_driven"):
        return ""
    return "software" if port.software_driven else "hardware"


def _pads(craft: Craft) -> Iterator[SheetTable]:
    for name in craft.pads.names() or ["b1"]:
        block = _block(("pads", name), {"timer": f"pads.{name}.timer"}, craft)
        yield block if craft.pads.names() else block.as_example()


def _rails(craft: Craft) -> Iterator[SheetTable]:
    about = "one such table for each supply rail; for one with a bridge, choices and choice instead"
    yield _block(("rails", "5V"), {}, craft, about, leave=("choices", "choice")).as_example()
    about = "one such table for each source that reaches it"
    yield _block(("rails", "5V", "sources", "1"), {}, craft, about).as_example()


def _devices(craft: Craft) -> Iterator[SheetTable]:
    """A device for each role of a port and each use of a pad that the dump gives away.

    Of one that the dump has switched off it tells the place alone: it may not be there.
    """
    found = [*_on_ports(craft), *_on_pads(craft)]
    for number, (kind, key, place) in enumerate(found):
        same = sum(other == kind for other, _, _ in found[:number])
        name = f"{kind}_{same + 1}" if same else kind
        yield _device(craft, name, kind, key, place)
    if not found:
        about = "one such table for each thing that is soldered or plugged on"
        block = _block(("devices", "receiver"), {}, craft, about, leave=("pad", *_VIDEO_ONLY))
        port = next(iter(craft.ports.names()), str(_EXAMPLES["devices.NAME.port"]))
        lines = (line._replace(value=port) if line.key == "port" else line for line in block.lines)
        yield block._replace(lines=tuple(lines)).as_example()


def _on_ports(craft: Craft) -> Iterator[tuple[str, str, str]]:
    kinds = {role: kind for kind, role in PORT_ROLES.items()}
    for name in craft.ports.names():
        port = craft.ports[name]
        for role in sorted(port.roles) if port.states("roles") else ():
            if role in kinds:
                yield kinds[role], "port", name


def _on_pads(craft: Craft) -> Iterator[tuple[str, str, str]]:
    kinds = {use: kind for kind, use in PAD_USES.items()}
    for name in craft.pads.names():
        pad = craft.pads[name]
        use = pad.use.split()[0] if pad.states("use") else ""
        if use in kinds:
            yield kinds[use], "pad", name


def _device(craft: Craft, name: str, kind: str, key: str, place: str) -> SheetTable:
    leave = {"port", "pad"} - {key}
    leave |= set() if kind == "video_transmitter" else set(_VIDEO_ONLY)
    leave |= set() if key == "port" else set(_PORT_ONLY)
    leave |= set() if kind in _PROTOCOLS else {"protocol"}
    leave |= set() if kind == "receiver" else {"on_loss"}
    leave |= set(_FED) if kind.endswith("_sensor") else set()
    block = _block(("devices", name), {}, craft, leave=leave)
    known: dict[str, Value] = {"kind": kind, key: place}
    sender = craft.video.transmitter
    off = kind == "video_transmitter" and sender.states("enabled") and not sender.enabled
    lines = (
        line._replace(value=known[line.key], told=not (off and line.key == "kind"))
        if line.key in known
        else line._replace(value=_hint(craft, line, kind, place))
        for line in block.lines
    )  # fmt: skip
    return block._replace(lines=tuple(lines))


_PROTOCOLS = {
    "receiver": "receiver.link",
    "telemetry": "telemetry.protocol",
    "position": "position.protocol",
}


def _hint(craft: Craft, line: SheetLine, kind: str, place: str) -> Value:
    """For a line still to be looked up: what the dump has there, else the example."""
    paths = {
        "rate": craft.ports[place].rate_path(PORT_ROLES.get(kind, "")),
        "inverted": f"ports.{place}.inverted",
        "one_wire": f"ports.{place}.half_duplex",
        "protocol": _PROTOCOLS.get(kind, ""),
        "powers": "video.plan.powers",
    }
    if line.key == "rail" and kind.endswith("_sensor"):
        return NO_RAIL
    if line.key == "framing" and kind == "receiver" and craft.receiver.states("link"):
        link = receiver_link(craft.receiver.link)
        return line.value if link is None else link.framing
    entry = declared_in_sheet(f"{ROOT}.devices.{kind}.{line.key}")
    assert entry is not None  # as the line was made of one
    known = _taken(craft, paths.get(line.key, ""), entry)
    return line.value if known is None else known


def _motors(craft: Craft) -> Iterator[SheetTable]:
    for arm in _arms(craft):
        told = {"output": f"motors.{arm}.output", "poles": "motors.poles"}
        block = _block(("motors", arm), told, craft)
        pads = [name for name in craft.pads.names() if _drives(craft, name, arm)]
        block = block._replace(
            lines=tuple(
                line._replace(value=pads[0], told=True) if line.key == "pad" and pads else line
                for line in block.lines
                if line.key != "pad" or pads
            )
        )
        yield block if craft.motors.arms.names() else block.as_example()


def _drives(craft: Craft, pad: str, arm: str) -> bool:
    """Whether the dump gives a pad to the motor on an arm."""
    return craft.pads[pad].states("use") and craft.pads[pad].use.split() == ["motor", arm]


def _drive(craft: Craft) -> Iterator[SheetTable]:
    yield _block(("propulsion",), {}, craft)
    told = {key: f"battery.{key}" for key in ("chemistry", "cells", "capacity")}
    yield _block(("battery",), told, craft)
    yield _block(("camera",), {"standard": "camera.standard"}, craft)


TOLD = "the dump's"  # marks what was taken from there
_COLUMN = 28  # where the comments begin, if the line leaves room

_HEAD = """\
# Build sheet{of}: what was soldered and bolted, kept beside the dump.
# Lines marked "{told}" say what the dump takes for granted: look whether the craft agrees.
# All other lines are examples behind a mark (#): measure or look up, then take the mark away,
# and that of the head in brackets above where it has one: what is its name here?
# Numbers are in the unit named behind them; "36 MHz" or "4.5..5.5 V", in quotes, bring their own.
# Propellers off at the bench.
"""


def new_sheet(blocks: Iterable[SheetTable], craft: str = "") -> str:
    """The text of a new sheet; `craft` is the craft's name, where it is known."""
    of = f" of {one_line(craft)}" if craft.strip() else ""
    parts = [_HEAD.format(of=of, told=TOLD)]
    parts += ["\n".join(block_lines(block)) + "\n" for block in blocks]
    return "\n".join(parts)


def block_lines(block: SheetTable) -> list[str]:
    """The lines of one table, head and all. A table without a told line has only its head."""
    many = block.table[-1].isdigit()  # one of a list of tables, which are counted unnamed
    head = ".".join(key_text(word) for word in (block.table[:-1] if many else block.table))
    head = f"[[{head}]]" if many else f"[{head}]"
    head = f"#{head}" if block.example else head
    about = [f"# {block.about}"] if block.about else []
    return [*about, head, *(line_text(block, line) for line in block.lines)]


def line_text(block: SheetTable, line: SheetLine) -> str:
    """One setting with its comment; behind a mark where it is an example."""
    text = f"{line.key} = {toml_value(line.value, _is_range(block, line))}"
    text = text if line.told else f"#{text}"
    return f"{text.ljust(_COLUMN)}  # {comment(line)}"


def comment(line: SheetLine) -> str:
    """What stands behind a setting: whether it is the dump's, and what to look at."""
    return f"{TOLD}; {line.says}" if line.told else line.says


def _is_range(block: SheetTable, line: SheetLine) -> bool:
    found = declared_in_sheet(f"{block.path}.{line.key}")
    return found is not None and isinstance(found.kind, Between)


def toml_value(value: Value, is_range: bool = False) -> str:
    """A value as TOML, numbers in the vocabulary's unit.

    >>> toml_value((4.5, 5.5), is_range=True), toml_value(57600.0), toml_value("a b")
    ('"4.5..5.5"', '57600', '"a b"')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return number_text(value)
    if isinstance(value, str):
        return quoted(value)
    if is_range and isinstance(value, tuple):
        low, high = (toml_value(end) for end in value if isinstance(end, int | float))
        return quoted(f"{low}..{high}")
    members = sorted(value) if isinstance(value, frozenset) else value
    return "[" + ", ".join(toml_value(m) for m in members if isinstance(m, str | float)) + "]"


def one_line(text: str) -> str:
    """A text fit to stand in a comment."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)


_INSTEAD = {"port": "pad", "pad": "port"}  # a device has the one or the other


class AddedTables(NamedTuple):
    """A sheet with what was added: whole tables, and settings in tables that it had."""

    text: str
    tables: tuple[str, ...]
    settings: tuple[str, ...]


def added_to(text: str, blocks: Iterable[SheetTable], file: str) -> AddedTables:
    """The sheet's text with what it lacks; every line of its own is kept as it is.

    A table that is not there comes behind the last one, its examples with it; into one that is
    there come only settings that the dump tells. Raises SheetError where the sheet is faulty,
    CannotAdd where a table is written without a head, so that nothing can be put below it.
    """
    before = read_sheet(text.encode(), file)
    page = Page(text)
    tables: list[str] = []
    settings: list[str] = []
    for block in _wanted(tuple(blocks), before):
        lines = _missing(block, before)
        if page.has_head(block.table):
            page.put_keys(block.table, [line_text(block, line) for line in lines])
            settings += [".".join((*block.table, line.key)) for line in lines]
        elif not _states_some(block, before):
            made = block_lines(block)
            if block.example and made[block.about != ""] in text.splitlines():
                continue  # the example stands there already
            page.put_behind(made)
            tables.append(".".join(block.table))
        elif lines:
            name = ".".join(block.table)
            raise CannotAdd(0, f"{name} must have a head of its own, [{name}]")
    whole = page.text() if tables or settings else text
    _see_that_all_is_kept(before, whole, file)
    return AddedTables(whole, tuple(tables), tuple(settings))


def _wanted(blocks: tuple[SheetTable, ...], before: Settings) -> list[SheetTable]:
    """The blocks without devices that the sheet has under a name of its own, and its own rails."""
    sheet = Sheet(before)
    devices = [block for block in blocks if block.table[0] == "devices"]
    return [
        block
        for block in blocks
        if not (block.table[0] == "devices" and _has_device(sheet, block, devices))
        and not (block.table[0] == "rails" and sheet.rails.names())
    ]


def _has_device(sheet: Sheet, block: SheetTable, every: list[SheetTable]) -> bool:
    """Whether the sheet has this device, under whatever name: by kind and place, or by kind."""
    kind, place = _told(block, "kind"), _told(block, "port") or _told(block, "pad")
    alone = sum(_told(other, "kind") == kind for other in every) == 1
    for name in sheet.devices.names():
        device = sheet.devices[name]
        if name == block.table[1]:
            if device.states("kind") and device.kind != kind:
                return True  # its name stands for another thing; nothing of this goes in there
        elif device.states("kind") and device.kind == kind:
            at = [sheet.settings[device.path(k)].value for k in _INSTEAD if device.states(k)]
            if alone or place in at:
                return True
    return False


def _told(block: SheetTable, key: str) -> str:
    """What the dump tells of one setting of a block; empty where it tells nothing."""
    return next((str(line.value) for line in block.lines if line.key == key and line.told), "")


def _missing(block: SheetTable, before: Settings) -> list[SheetLine]:
    """What the dump tells of a table and the sheet lacks."""
    return [
        line
        for line in block.lines
        if line.told
        and f"{block.path}.{line.key}" not in before
        and f"{block.path}.{_INSTEAD.get(line.key, line.key)}" not in before
    ]


def _states_some(block: SheetTable, before: Settings) -> bool:
    """Whether the sheet states a setting of a table, head or no head."""
    return any(path.rpartition(".")[0] == block.path for path in before)


def _see_that_all_is_kept(before: Settings, text: str, file: str) -> None:
    """Read the sheet again. Raises CannotAdd where it no longer says all that it said."""
    try:
        after = read_sheet(text.encode(), file)
    except SheetError as error:
        raise CannotAdd(0, f"what the dump tells does not go with it: {error}") from None
    for path, stated in before.stated.items():
        if path not in after or after[path].value != stated.value:
            raise CannotAdd(0, f"{path} would not be kept")
