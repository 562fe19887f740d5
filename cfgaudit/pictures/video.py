"""The video frequencies: the plan, the one that is set, others in the air, and their products."""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.physics.video import ISM_MHZ, Product, third_order_products
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import WHOLE, WIDTH, Drawing, NumberTable, Picture, Scale, View
from cfgaudit.rules.rule import Fires, grouped
from cfgaudit.rules.video import outside_band, plan_mismatch, tuned
from cfgaudit.vocabulary.declare import NotStated

NAME, TITLE = "video", "Video frequencies"
_ROW: Final = 20.0
_MOST_ROWS: Final = 8  # of products in the table: the nearest


class Sender(NamedTuple):
    """A craft that sends a picture, and where in MHz."""

    name: str
    mhz: float


class Spectrum(NamedTuple):
    """The plan by band, who sends where (this craft first), and the products of all of them.

    `range_mhz` is what the transmitter can be set to, by the build sheet. `faults` is what is wrong
    with this craft's own frequency, in words.
    """

    senders: tuple[Sender, ...]
    plan: tuple[tuple[str, tuple[float, ...]], ...]
    products: tuple[Product, ...]
    range_mhz: tuple[float, float] | None
    faults: tuple[str, ...] = ()


def data(craft: Craft, sheet: Sheet | None, others: Sequence[tuple[str, Craft]] = ()) -> Spectrum:
    """Who sends where. Raises NotStated where this craft's frequency is not known."""
    senders = [Sender(str(craft.who.name) if craft.who.states("name") else "this craft",
                      tuned(craft)[0])]  # fmt: skip
    for name, other in others:
        try:
            senders.append(Sender(name, tuned(other)[0]))
        except NotStated:
            continue
    products = third_order_products([sender.mhz for sender in senders])
    plan = tuple(craft.video.plan.bands.stated().items())
    return Spectrum(tuple(senders), plan, products, _range(sheet), tuple(_faults(craft, sheet)))


def _faults(craft: Craft, sheet: Sheet | None) -> Iterator[str]:
    """What the rules on the frequency say, and whether the transmitter can be tuned to it."""
    for rule in (plan_mismatch, outside_band):
        try:
            yield from (told.message for told in rule.check(craft) if isinstance(told, Fires))
        except NotStated:
            continue
    mhz, ends = tuned(craft)[0], _range(sheet)
    if ends is not None and not ends[0] <= mhz <= ends[1]:
        yield f"The transmitter can be tuned to {grouped(ends[0])} to {grouped(ends[1])} MHz."


def _range(sheet: Sheet | None) -> tuple[float, float] | None:
    if sheet is None:
        return None
    for name in sheet.devices.names():
        device = sheet.devices[name]
        if device.states("frequencies"):
            return device.frequencies
    return None


def picture(
    craft: Craft,
    sheet: Sheet | None,
    view: View = WHOLE,
    others: Sequence[tuple[str, Craft]] = (),
) -> Picture:
    """Draw it. Raises NotStated."""
    told = data(craft, sheet, others)
    notes = ["Shaded: 5,725 to 5,875 MHz. Nothing here says what is allowed: local rules decide."]
    if len(told.senders) == 1:
        notes.append("One craft alone has no products; name those that fly beside it with "
                     "--beside.")  # fmt: skip
    elif told.products:
        near = told.products[0]
        notes.append(f"The nearest product lies {grouped(near.gap_mhz)} MHz from a frequency in "
                     "use.")  # fmt: skip
    notes += [f"▲ {fault}" for fault in told.faults]
    return Picture(NAME, TITLE, _says(told), _draw(told, view), _table(told), tuple(notes))


def _says(told: Spectrum) -> str:
    said = "; ".join(f"{sender.name} on {grouped(sender.mhz)} MHz" for sender in told.senders)
    if told.plan:
        said += f". The plan has {len(told.plan)} bands: {', '.join(name for name, _ in told.plan)}"
    if told.products:
        near = told.products[0]
        said += (
            f". Of {len(told.products)} products the nearest, {grouped(near.product_mhz)} MHz, is "
            f"{grouped(near.gap_mhz)} MHz from {grouped(near.nearest_mhz)} MHz"
        )
    return " ".join([f"{said}.", *told.faults])


def _table(told: Spectrum) -> NumberTable:
    rows = [(f"{sender.name} sends", grouped(sender.mhz), "") for sender in told.senders]
    rows += [
        (f"band {band}", ", ".join(grouped(mhz) for mhz in frequencies), "")
        for band, frequencies in told.plan
    ]
    rows += [
        (f"product 2 × {grouped(p.first_mhz)} − {grouped(p.second_mhz)}", grouped(p.product_mhz),
         f"{grouped(p.gap_mhz)} MHz from {grouped(p.nearest_mhz)}")
        for p in told.products[:_MOST_ROWS]
    ]  # fmt: skip
    return NumberTable(("what", "MHz", ""), tuple(rows))


def _draw(told: Spectrum, view: View) -> Drawing:
    every = [sender.mhz for sender in told.senders]
    every += [mhz for _, band in told.plan for mhz in band if mhz > 0]
    every += [*(told.range_mhz or ()), *(p.product_mhz for p in told.products)]
    axis = view.axis("frequency", min([5700.0, *every]) - 12, max([5900.0, *every]) + 12)
    scale = Scale(axis.low, axis.high, 84, WIDTH - 10)
    top = 64.0
    bottom = top + _ROW * max(1, len(told.plan)) + 6
    ism = [scale.at(mhz) for mhz in ISM_MHZ]
    body = [svg.rect(ism[0], 44, ism[1] - ism[0], bottom - 44, "ism")]
    for n, (band, frequencies) in enumerate(told.plan):
        y = top + n * _ROW + 8
        body.append(svg.text((78, y + 4), svg.fitting(band, 76), "t", "end"))
        body.append(svg.line((scale.start, y), (scale.end, y), "grid"))
        body += [svg.circle((scale.at(mhz), y), 3, "channel") for mhz in frequencies if mhz > 0]
    if told.range_mhz is not None:
        body.append(_reach(told.range_mhz, scale, bottom + 10))
    body.append(_senders(told, scale, bottom))
    bottom += 20 if told.range_mhz else 0
    if told.products:
        body += [_product(scale.at(p.product_mhz), bottom + 8) for p in told.products]
        body.append(svg.text((78, bottom + 14), "products", "t m", "end"))
        bottom += 20
    body.append(svg.line((scale.start, bottom), (scale.end, bottom), "axis"))
    for mhz in svg.marks(scale.low, scale.high, 6):
        body.append(svg.text((scale.at(mhz), bottom + 17), f"{mhz:,.0f}", "t m", "middle"))
    body.append(svg.text((WIDTH - 10, bottom + 34), "MHz", "t m", "end"))
    return Drawing(WIDTH, bottom + 40, "".join(body), (axis,))


def _reach(ends: tuple[float, float], scale: Scale, y: float) -> str:
    low, high = scale.at(ends[0]), scale.at(ends[1])
    return svg.rect(low, y - 3, high - low, 6, "reach") + svg.text(
        (78, y + 4), "range", "t m", "end"
    )


def _senders(told: Spectrum, scale: Scale, bottom: float) -> str:
    wanted = [scale.at(sender.mhz) for sender in told.senders]
    places = svg.spread(wanted, 92, 50, WIDTH - 50)
    parts = []
    for n, (sender, x, place) in enumerate(zip(told.senders, wanted, places, strict=True)):
        wrong = n == 0 and bool(told.faults)
        cls = "bad" if wrong else "c1" if n == 0 else "c2"
        parts += [
            svg.line((x, 44), (x, bottom), f"line {cls}"),
            svg.line((place, 34), (x, 44), f"line {cls}"),
            svg.text((place, 14), svg.fitting(sender.name, 88), "t s", "middle"),
            svg.text(
                (place, 29),
                "▲ " * wrong + grouped(sender.mhz),
                "t wrong" if wrong else "t",
                "middle",
            ),
        ]
    return "".join(parts)


def _product(x: float, y: float) -> str:
    return svg.polygon([(x - 5, y + 8), (x + 5, y + 8), (x, y - 2)], "product")
