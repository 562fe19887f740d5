"""How full each link is: what its role sends, against the port's rate."""

from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import WHOLE, WIDTH, Drawing, NumberTable, Picture, Scale, View
from cfgaudit.rules.rule import grouped
from cfgaudit.rules.serial import STREAMING, stream_of
from cfgaudit.rules.wiring import ports_by_roles
from cfgaudit.vocabulary.declare import NotStated

NAME, TITLE = "load", "How full each link is"
_NEARLY: Final = 80.0  # %: from here on the rule book warns
_ROW: Final = 44.0


class RoleLoad(NamedTuple):
    """One role on one port. `percent` is None where it can't be summed; `sends` says what or why.

    `bits_per_second` counts start, stop and parity bits.
    """

    port: str
    role: str
    baud: float | None
    percent: float | None
    sends: str

    @property
    def name(self) -> str:
        """Which role on which port it is."""
        return f"{self.role.replace('_', ' ')} on {self.port}"

    @property
    def bits_per_second(self) -> float | None:
        """What it takes of the link's rate."""
        if self.percent is None or self.baud is None:
            return None
        return self.percent / 100 * self.baud


def data(craft: Craft) -> tuple[RoleLoad, ...]:
    """Every role that streams, by port. Raises NotStated where no port carries one."""
    links = tuple(
        _link(craft, port.name, role)
        for port in ports_by_roles(craft)
        for role in STREAMING
        if role in port.roles
    )
    if not links:
        raise NotStated("ports.ID.roles")
    return links


def _link(craft: Craft, port: str, role: str) -> RoleLoad:
    try:
        baud = craft.ports[port].rate_for(role)
        stream = stream_of(craft, role)
    except NotStated as lack:
        return RoleLoad(port, role, None, None, f"{lack.path} is not stated")
    if stream is None:
        return RoleLoad(port, role, baud, None, "its messages are not known")
    sends = ", ".join(
        f"{name} {grouped(size)} bytes × {grouped(hz)} Hz" for name, size, hz in stream.messages
    )
    return RoleLoad(port, role, baud, stream.load(baud) * 100, sends or "nothing")


def picture(craft: Craft, sheet: Sheet | None, view: View = WHOLE) -> Picture:
    """Draw it. Raises NotStated."""
    links = tuple(one for one in data(craft) if view.shows(one.name))
    table = NumberTable(
        ("port", "role", "rate, Bd", "sends", "bit/s", "full, %"),
        tuple(
            (one.port, one.role, _figure(one.baud), one.sends, _figure(one.bits_per_second),
             _figure(one.percent))
            for one in links
        ),
    )  # fmt: skip
    says = "; ".join(
        f"{one.role} on {one.port}: "
        + (one.sends if one.percent is None else f"{grouped(one.percent)} % full")
        for one in links
    )
    notes = ("Start, stop and parity bits are counted. From 80 % a link is nearly full.",)
    return Picture(NAME, TITLE, f"{says}.", _draw(links), table, notes)


def _figure(value: float | None) -> str:
    return "-" if value is None else grouped(value)


def _draw(links: tuple[RoleLoad, ...]) -> Drawing:
    scale = Scale(0, 125, 8, WIDTH - 8)
    bottom = 8 + _ROW * len(links)
    body = []
    for percent in (0.0, 50.0, _NEARLY, 100.0):
        x = scale.at(percent)
        body.append(svg.line((x, 4), (x, bottom), "edge" if percent == 100 else "grid"))
        body.append(
            svg.text((x, bottom + 16), f"{percent:g} %", "t m", "middle" if percent else "start")
        )
    for n, one in enumerate(links):
        body.append(_bar(one, 8 + n * _ROW, scale))
    rows = tuple((one.name, one) for one in links)
    return Drawing(WIDTH, bottom + 24, "".join(body), rows=rows)


def _bar(one: RoleLoad, y: float, scale: Scale) -> str:
    label = f"{one.port}  {one.role.replace('_', ' ')}"
    parts = [svg.text((8, y + 13), label, "t s")]
    if one.percent is None:
        parts.append(svg.text((8, y + 31), svg.fitting(one.sends, WIDTH - 16), "t m"))
        return "".join(parts)
    full = one.percent >= _NEARLY
    width = max(scale.at(one.percent) - scale.start, 1)
    parts.append(svg.rect(scale.start, y + 19, width, 14, "bar over" if full else "bar"))
    said = f"{grouped(round(one.percent, 1))} %" + (
        " ▲ full" if one.percent >= 100 else " ▲ nearly full" if full else ""
    )
    parts.append(svg.text((WIDTH - 8, y + 13), said, "t wrong clear" if full else "t clear", "end"))
    return "".join(parts)
