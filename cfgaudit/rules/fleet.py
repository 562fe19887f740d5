"""What several craft do to one another when they fly together.

A check here takes all the craft at once. A dump states nothing of the others, so what one lacks
keeps that one alone from being checked.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.video import (
    FrequencySet,
    Product,
    best_set,
    closest_spacing_mhz,
    nearest_product_mhz,
    third_order_products,
    triple_products,
)
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, grouped, in_groups, listed, rule
from cfgaudit.vocabulary.declare import HIDDEN, NotStated

_MOST_SUMS = 4  # in one message; more would bury the advice
_MOST_STEPS = 20_000  # of the search for free frequencies: well below a second
_FEWER = "fly fewer of them at once."
_HAIR = 1 + 1e-9  # a limit met exactly is met, whatever the last digit of a sum


def names_of(fleet: Sequence[Craft]) -> tuple[str, ...]:
    """What to call each craft: its own name where no other has it, else its dump's file."""
    own = ["" if _is_hidden_name(craft) else _told(craft, "name") for craft in fleet]
    return tuple(
        name if name and own.count(name) == 1 else file_of(craft, number)
        for number, (craft, name) in enumerate(zip(fleet, own, strict=True))
    )


def _is_hidden_name(craft: Craft) -> bool:
    """Whether the dialect says that a craft's name is private."""
    named = craft.settings.stated.get("craft.name")
    return named is not None and named.secret


def file_of(craft: Craft, number: int) -> str:
    """The file of a craft's first dump, else its place in the row."""
    dumps = craft.settings.dumps
    return dumps[0].file if dumps else f"craft {number + 1}"


class _CraftIdentity(NamedTuple):
    """Who a dump says that it is; two dumps with one identity are taken for one craft's."""

    name: str
    serial: str = ""


def _identities(fleet: Sequence[Craft]) -> dict[int, _CraftIdentity]:
    """By number, the identity of each craft that states its name."""
    return {
        number: _CraftIdentity(_told(craft, "name"), _told(craft, "serial"))
        for number, craft in enumerate(fleet)
        if _told(craft, "name")
    }


def _told(craft: Craft, what: str) -> str:
    """A craft's name or serial number; empty where it is not stated, or was hidden."""
    if not craft.who.states(what):
        return ""
    said = craft.who.name if what == "name" else craft.who.serial
    return "" if said == HIDDEN else said


def _one_dump_each(fleet: Sequence[Craft]) -> list[int]:
    """The numbers of the craft; of several dumps of one craft the last given stands for it."""
    said = _identities(fleet)
    last: dict[_CraftIdentity | int, int] = {}
    for number in range(len(fleet)):
        last[said.get(number, number)] = number
    return sorted(last.values())


class _VideoSender(NamedTuple):
    """A craft whose video transmitter is in use."""

    mhz: float
    number: int  # of the craft
    name: str
    path: str
    plan: frozenset[float]  # every frequency of its bands, in MHz; perhaps none


def _senders(fleet: Sequence[Craft]) -> tuple[list[_VideoSender], list[Lacks]]:
    """Who sends a picture, in the order of frequency; and who doesn't say where."""
    names = names_of(fleet)
    found: list[_VideoSender] = []
    lacks: list[Lacks] = []
    for number in _one_dump_each(fleet):
        transmitter = fleet[number].video.transmitter
        if transmitter.states("enabled") and not transmitter.enabled:
            continue
        try:
            mhz = transmitter.frequency
        except NotStated as lack:
            lacks.append(Lacks(lack.path, number))
            continue
        path, plan = transmitter.path("frequency"), _plan(fleet[number])
        found.append(_VideoSender(mhz, number, names[number], path, plan))
    return sorted(found), lacks


def _plan(craft: Craft) -> frozenset[float]:
    bands = craft.video.plan.bands.stated().values()
    return frozenset(mhz for band in bands for mhz in band)


def _roomiest(senders: Sequence[_VideoSender], clears: Callable[[FrequencySet], bool]) -> str:
    """The set with the most room in the plan that all the craft share, as advice; perhaps none.

    `clears` tells whether a set has room enough for the rule that asks.
    """
    shared = frozenset.intersection(*(sender.plan for sender in senders))
    if len(shared) < len(senders):
        return ""
    now = [sender.mhz for sender in senders]
    best = best_set(sorted(shared), len(senders), _MOST_STEPS)
    room = best.product_gap_mhz, best.spacing_mhz
    if room <= (nearest_product_mhz(now), closest_spacing_mhz(now)):
        return f"No set with more room was found in the plan that they share: {_FEWER}"
    set_to = [
        f"{sender.name} {grouped(mhz)}"
        for sender, mhz in zip(senders, best.frequencies_mhz, strict=True)
    ]
    apart = f"the nearest two {grouped(best.spacing_mhz)} MHz apart"
    if len(senders) > 2:
        apart += f", the nearest mix {grouped(best.product_gap_mhz)} MHz off"
    said = f"Most room in the plan that they share: {listed(set_to)} MHz ({apart})."
    return said if clears(best) else f"{said} It is not enough: {_FEWER}"


@rule("fleet/same-frequency", Level.ERROR, limits=("fleet.channel_width",), fleet=True)
def same_frequency(fleet: Sequence[Craft], width: float) -> Iterator[Yielded]:
    """The pictures of two craft are closer together than one channel is wide.

    In the air: each pilot sees the other's picture or none as soon as both craft send, and
    whoever flies by the picture flies blind.
    Mend: move one of them by at least the width of a channel, or fly one after the other.
    Source: common practice.
    """
    senders, lacks = _senders(fleet)
    yield from lacks
    for crowd in _crowds(senders, width):
        gap = closest_spacing_mhz([sender.mhz for sender in crowd])
        told = listed([f"{sender.name} ({grouped(sender.mhz)} MHz)" for sender in crowd])
        least = f"{grouped(gap)} MHz apart" + (" at the nearest" if len(crowd) > 2 else "")
        yield Fires(
            f"The pictures of {told} are {least}, and one takes {grouped(width)} MHz.",
            tuple(sender.path for sender in crowd),
            (
                ("apart_mhz", gap),
                ("channel_width_mhz", width),
                *((f"craft_{i}_mhz", sender.mhz) for i, sender in enumerate(crowd, start=1)),
            ),
            advice=_roomiest(senders, lambda best: best.spacing_mhz * _HAIR >= width)
            or f"Set each {grouped(width)} MHz or more from every other; they state no plan that "
            "all share.",
            crafts=tuple(sender.number for sender in crowd),
        )


def _crowds(senders: Sequence[_VideoSender], width: float) -> list[list[_VideoSender]]:
    """The groups in which each is closer than `width` to the next; senders come in order."""
    crowds: list[list[_VideoSender]] = [list(senders[:1])]
    for one, other in pairwise(senders):
        if (other.mhz - one.mhz) * _HAIR < width:
            crowds[-1].append(other)
        else:
            crowds.append([other])
    return [crowd for crowd in crowds if len(crowd) > 1]


@rule("fleet/intermodulation", Level.WARNING, limits=("fleet.product_room",), fleet=True)
def intermodulation(fleet: Sequence[Craft], room: float) -> Iterator[Yielded]:
    """Two transmitters mix, and 2 × f1 − f2 lands on or beside a third craft's frequency.

    In the air: while the two fly near one another, noise and stripes cross the third craft's
    picture, or it is gone.
    Mend: set frequencies of which no sum 2 × f1 − f2 comes near another; unevenly spaced ones.
    Source: the third-order product of two carriers, textbook; how near is too near, common
    practice.
    """
    senders, lacks = _senders(fleet)
    yield from lacks
    on = in_groups(senders, lambda sender: sender.mhz)
    landed = _landed(third_order_products(list(on)), room)
    if landed:
        yield _mixed(senders, on, landed, room, "Two pictures mix into a third")._replace(
            advice=_roomiest(senders, lambda best: best.product_gap_mhz > room * _HAIR)
            or "Set frequencies that are unevenly spaced; they state no plan that all share.",
        )


@rule("fleet/three-way-mix", Level.NOTE, limits=("fleet.product_room",), fleet=True)
def three_way_mix(fleet: Sequence[Craft], room: float) -> Iterator[Yielded]:
    """Three transmitters mix, and f1 + f2 − f3 lands on or beside a fourth craft's frequency.

    It wants three transmitters near one another at once, and of six craft on the best channels
    that there are some do so.

    In the air: while the three fly near one another, noise and stripes cross the fourth craft's
    picture.
    Mend: keep the three apart, or fly fewer craft at once.
    Source: the third-order product of three carriers, textbook; how near is too near, common
    practice.
    """
    senders, lacks = _senders(fleet)
    yield from lacks
    on = in_groups(senders, lambda sender: sender.mhz)
    landed = _landed(triple_products(list(on)), room)
    if landed:
        yield _mixed(senders, on, landed, room, "Three pictures mix into a fourth")._replace(
            advice="Keep the three apart, or fly fewer craft at once."
        )


def _landed(products: Sequence[Product], room: float) -> list[Product]:
    """The products that land beside somebody's frequency.

    What falls back on one of those that mix is a matter of their being too close.
    """
    return [
        product
        for product in products
        if product.gap_mhz <= room * _HAIR and product.nearest_mhz not in product.mixed_mhz
    ]


def _mixed(
    senders: Sequence[_VideoSender],
    on: dict[float, list[_VideoSender]],
    landed: Sequence[Product],
    room: float,
    says: str,
) -> Fires:
    sums = [_sum(product, on) for product in landed[:_MOST_SUMS]]
    more = len(landed) - len(sums)
    mixed = {mhz for p in landed for mhz in (*p.mixed_mhz, p.nearest_mhz)}
    met = [sender for sender in senders if sender.mhz in mixed]
    return Fires(
        f"{says}: {'; '.join(sums)}" + (f"; and {more} more such." if more else "."),
        tuple(sender.path for sender in met),
        (("products", float(len(landed))), ("room_mhz", room), *_figures(landed)),
        crafts=tuple(sender.number for sender in met),
    )


def _sum(product: Product, on: dict[float, list[_VideoSender]]) -> str:
    """`2 × f1 (whose) − f2 (whose) = product, so far from whose f3`; or f1 + f2 − f3."""
    first, second, nearest = (
        _whose(on, mhz) for mhz in (product.first_mhz, product.second_mhz, product.nearest_mhz)
    )
    plus = f"{first} + {_whose(on, product.third_mhz)}" if product.third_mhz else f"2 × {first}"
    off = f"{grouped(product.gap_mhz)} MHz from" if product.gap_mhz else "right on"
    return f"{plus} − {second} = {grouped(product.product_mhz)} MHz, {off} {nearest}"


def _whose(on: dict[float, list[_VideoSender]], mhz: float) -> str:
    return f"{grouped(mhz)} ({listed([sender.name for sender in on[mhz]])})"


def _figures(landed: Sequence[Product]) -> Iterator[tuple[str, float]]:
    for number, product in enumerate(landed, start=1):
        yield f"product_{number}_first_mhz", product.first_mhz
        yield f"product_{number}_second_mhz", product.second_mhz
        if product.third_mhz:
            yield f"product_{number}_third_mhz", product.third_mhz
        yield f"product_{number}_mhz", product.product_mhz
        yield f"product_{number}_used_mhz", product.nearest_mhz
        yield f"product_{number}_gap_mhz", product.gap_mhz


@rule("fleet/same-name", Level.WARNING, fleet=True)
def same_name(fleet: Sequence[Craft]) -> Iterator[Yielded]:
    """Two craft, by their serial numbers, have one name; or two dumps seem to be of one craft.

    In the air: name and picture, log and dump can't be told apart, and settings meant for one
    craft may be given to the other.
    Mend: give each craft a name of its own.
    Source: common practice.
    """
    said = _identities(fleet)
    yield from (
        Lacks(craft.who.path("name"), number)
        for number, craft in enumerate(fleet)
        if number not in said
    )
    for identity in dict.fromkeys(said.values()):
        alike = [number for number, other in said.items() if other == identity]
        if len(alike) > 1:
            files = [file_of(fleet[number], number) for number in alike]
            yield _alike(
                fleet,
                alike,
                f"{listed(files)} name one craft, {identity.name}, so they are not held against "
                "each other; the last stands for it.",
                "If they are of two craft, give each a name of its own.",
            )._replace(level=Level.NOTE)
    for name in dict.fromkeys(identity.name for identity in said.values()):
        alike = [number for number, other in said.items() if other.name == name]
        if len({said[number] for number in alike}) > 1:
            files = [file_of(fleet[number], number) for number in alike]
            how_many = "both" if len(alike) == 2 else "all"
            told = f"{listed(files)} are taken for different craft by their serial numbers, and "
            yield _alike(fleet, alike, f"{told}{how_many} are called {name}.", "")


def _alike(fleet: Sequence[Craft], alike: Sequence[int], told: str, advice: str) -> Fires:
    return Fires(
        told,
        tuple(fleet[number].who.path("name") for number in alike),
        (("dumps", float(len(alike))),),
        advice=advice,
        crafts=tuple(alike),
    )


RULES = (same_frequency, intermodulation, three_way_mix, same_name)
