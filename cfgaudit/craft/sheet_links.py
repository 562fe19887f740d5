"""What in a build sheet must hang together: names that are pointed at, a rail's two forms."""

from collections.abc import Collection, Iterable, Iterator, Mapping

from cfgaudit.craft.declare import Part
from cfgaudit.craft.settings import Settings, Stated
from cfgaudit.craft.sheet import Sheet
from cfgaudit.craft.sheet_devices import NO_RAIL
from cfgaudit.units import number_text


def faults_between(
    stated: Mapping[str, Stated], named: Mapping[str, Collection[str]]
) -> Iterator[tuple[str, str]]:
    """The paths that do not fit what stands elsewhere in the sheet, each with what is wrong.

    `named` holds the names of each group's tables, the empty ones too. A group of which nothing
    is stated is not missed: perhaps it is still to be written.
    """
    sheet = Sheet(Settings(stated))
    devices: list[Part] = [sheet.devices[name] for name in sheet.devices.names()]
    motors: list[Part] = [sheet.motors[name] for name in sheet.motors.names()]
    if sheet.ports.names():
        yield from _pointing(sheet, devices, "port", named["ports"])
    if sheet.pads.names():
        yield from _pointing(sheet, [*devices, *motors], "pad", named["pads"])
    if sheet.rails.names():
        yield from _pointing(sheet, devices, "rail", (*named["rails"], NO_RAIL))
    for name in sheet.rails.names():
        yield from _rail(sheet, name)


def _pointing(
    sheet: Sheet, parts: Iterable[Part], leaf: str, known: Collection[str]
) -> Iterator[tuple[str, str]]:
    """The parts that name a port, a pad or a rail which the sheet does not have."""
    for part in parts:
        if not part.states(leaf):
            continue
        wanted = str(sheet.settings.need(part.path(leaf)))
        if wanted not in known:
            folded = {other.casefold(): other for other in known}
            from difflib import get_close_matches

            near = get_close_matches(wanted.casefold(), folded, n=1)
            hint = f"did you mean {folded[near[0]]}?" if near else f"there are {', '.join(known)}"
            at = part.path(leaf).partition(".")[2]
            yield part.path(leaf), f"{at}: there is no [{leaf}s.{wanted}]; {hint}"


def _rail(sheet: Sheet, name: str) -> Iterator[tuple[str, str]]:
    rail = sheet.rails[name]
    chosen = rail.states("choices") or rail.states("choice")
    if rail.states("voltage") and chosen:
        yield (
            rail.path("voltage"),
            f"rails.{name}: either voltage, or choices and choice; it has both",
        )
    elif rail.states("choice") and rail.states("choices") and rail.choice not in rail.choices:
        some = ", ".join(number_text(volts) for volts in rail.choices)
        wrong = f"{number_text(rail.choice)} V is none of the choices {some} V"
        yield rail.path("choice"), f"rails.{name}.choice: {wrong}"
