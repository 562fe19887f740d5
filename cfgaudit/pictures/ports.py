"""The ports: what is set, what is wired by the build sheet, and where the two differ."""

from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import WHOLE, WIDTH, Drawing, NumberTable, Picture, View
from cfgaudit.rules.rule import grouped, listed
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import Port
from cfgaudit.vocabulary.sheet import Device

NAME, TITLE = "ports", "The ports: set and wired"
_BOX: Final = 176.0
_ROW: Final = 46.0
_LETTER: Final = 16.0


class PortRow(NamedTuple):
    """One port. `set_to` and `wired` are words, `differs` says where the two do."""

    port: str
    set_to: tuple[str, ...]  # roles; none where it is free
    rate: str
    wired: tuple[str, ...]  # devices
    differs: tuple[str, ...]


class Ports(NamedTuple):
    """All ports; `built` tells whether there is a build sheet to compare with."""

    rows: tuple[PortRow, ...]
    built: bool


def data(craft: Craft, sheet: Sheet | None) -> Ports:
    """Every port that dump or sheet name. Raises NotStated where neither names one."""
    names = craft.ports.names()
    if sheet is not None:
        names += [name for name in sheet.ports.names() if name not in names]
    if not names:
        raise NotStated("ports.ID.roles")
    return Ports(tuple(_row(craft.ports[name], sheet) for name in names), sheet is not None)


def _row(port: Port, sheet: Sheet | None) -> PortRow:
    roles = tuple(sorted(port.roles)) if port.states("roles") else ("not stated",)
    rate = f"{grouped(port.baud)} Bd" if port.states("baud") else ""
    if sheet is None or not sheet.devices.names():
        return PortRow(port.name, roles, rate, (), ())
    devices = sheet.devices_on(port.name)
    labels = tuple(_label(device) for device in devices)
    differs = [said for device in devices for said in _differences(port, device)]
    if port.states("roles"):
        served = {device.role() for device in devices if device.states("kind")}
        differs += [
            f"{role} is set, and nothing of the kind is wired"
            for role in sorted(port.roles - served - {"console"})
        ]
    return PortRow(port.name, roles, rate, labels, tuple(differs))


def _label(device: Device) -> str:
    rate = f", {grouped(device.rate)} Bd" if device.states("rate") else ""
    return f"{device.name}{rate}"


def _differences(port: Port, device: Device) -> list[str]:
    """Where what is set and one device do not agree, as far as both are stated."""
    found = []
    role = device.role() if device.states("kind") else ""
    if role and port.states("roles") and role not in port.roles:
        found.append(f"{device.name} is wired, and {role} is not set")
    if device.states("rate") and port.states("baud") and device.rate != port.rate_for(role):
        set_to, is_at = grouped(port.rate_for(role)), grouped(device.rate)
        found.append(f"{set_to} Bd is set, {device.name} talks at {is_at} Bd")
    if device.states("inverted") and port.states("inverted") and device.inverted != port.inverted:
        is_so = _either(device.inverted, "inverted")
        found.append(f"{device.name} is {is_so}, the port is set otherwise")
    both = device.states("one_wire") and port.states("half_duplex")
    if both and device.one_wire != port.half_duplex:
        wires = "one wire" if device.one_wire else "two wires"
        found.append(f"{device.name} talks on {wires}, the port does not")
    both = device.states("wires") and port.states("pins_swapped")
    if both and device.wires in _WIRED and (device.wires == "tx_to_tx") != port.pins_swapped:
        pins = _either(port.pins_swapped, "swapped")
        found.append(f"transmit goes to {_WIRED[device.wires]}, the pins are {pins}")
    return found


_WIRED = {"tx_to_rx": "receive", "tx_to_tx": "transmit"}


def _either(is_so: bool, word: str) -> str:
    return word if is_so else f"not {word}"


def picture(craft: Craft, sheet: Sheet | None, view: View = WHOLE) -> Picture:
    """Draw it. Raises NotStated."""
    ports = data(craft, sheet)
    ports = ports._replace(rows=tuple(row for row in ports.rows if view.shows(row.port)))
    notes = () if ports.built else ("No build sheet: what is wired is not known.",)
    return Picture(NAME, TITLE, _says(ports), _draw(ports), _table(ports), notes)


def _says(ports: Ports) -> str:
    told = []
    for row in ports.rows:
        said = f"{row.port} is set to {_set(row)}"
        if ports.built:
            said += f", wired to {listed(list(row.wired)) if row.wired else 'nothing'}"
        told.append(said + "".join(f"; {one}" for one in row.differs))
    return ". ".join(told) + "."


def _set(row: PortRow) -> str:
    return listed(list(row.set_to)) if row.set_to else "nothing"


def _table(ports: Ports) -> NumberTable:
    if not ports.built:
        return NumberTable(
            ("port", "set to", "rate"), tuple((r.port, _set(r), r.rate) for r in ports.rows)
        )
    return NumberTable(
        ("port", "set to", "rate", "wired", "differs"),
        tuple(
            (r.port, _set(r), r.rate, ", ".join(r.wired) or "nothing", "; ".join(r.differs) or "-")
            for r in ports.rows
        ),
    )


def _draw(ports: Ports) -> Drawing:
    body = [svg.text((8, 16), "set in the dump", "t m")]
    if ports.built:
        body.append(svg.text((WIDTH - 8, 16), "wired by the build sheet", "t m", "end"))
    y = 26.0
    for row in ports.rows:
        body.append(_one(row, y, ports.built))
        y += _ROW
        for said in row.differs:
            body.append(svg.text((20, y + 10), svg.fitting(f"≠ {said}", WIDTH - 28), "t wrong"))
            y += _LETTER
        y += 6 if row.differs else 0
    rows = tuple((row.port, row) for row in ports.rows)
    return Drawing(WIDTH, y + 2, "".join(body), rows=rows)


def _one(row: PortRow, y: float, built: bool) -> str:
    height, right = _ROW - 8, WIDTH - 4 - _BOX
    used = "box" if row.set_to else "box free"
    said = ", ".join(row.set_to) or "free"
    parts = [
        svg.rect(4, y, _BOX, height, used, 4),
        svg.text((12, y + 16), row.port, "t s"),
        svg.text((_BOX - 4, y + 16), row.rate if row.set_to else "", "t m", "end"),
        svg.text((12, y + 32), svg.fitting(said.replace("_", " "), _BOX - 16), "t"),
    ]
    if not built:
        return "".join(parts)
    wire = "wire broken" if row.differs else "wire"
    middle = y + height / 2
    if row.wired:
        parts += [
            svg.rect(right, y, _BOX, height, "box", 4),
            *(
                svg.text((right + 8, y + 16 + n * _LETTER), svg.fitting(said, _BOX - 16), "t")
                for n, said in enumerate(_short(row.wired))
            ),
            svg.line((4 + _BOX, middle), (right, middle), wire),
        ]
    else:
        parts += [svg.circle((4 + _BOX + 8, middle), 3, "end"), svg.line(
            (4 + _BOX, middle), (4 + _BOX + 5, middle), "wire")]  # fmt: skip
        parts.append(svg.text((right + 8, middle + 5), "nothing wired", "t m"))
    if row.differs and row.wired:
        parts.append(svg.text((WIDTH / 2, middle - 4), "≠", "t wrong", "middle"))
    return "".join(parts)


def _short(wired: tuple[str, ...]) -> list[str]:
    """At most two lines: one device with its rate below, or a device a line."""
    if len(wired) == 1:
        return wired[0].split(", ", 1)
    if len(wired) == 2:
        return [device.split(", ")[0] for device in wired]
    return [wired[0].split(", ")[0], f"and {len(wired) - 1} more"]
