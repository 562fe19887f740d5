"""The screen of `show`: settings by subsystem, each with its value and its place."""

from collections.abc import Sequence

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import Origin, Settings, Stated, TroubleKind
from cfgaudit.craft.sweep import switch_table
from cfgaudit.dialects.plain import path_order, stated_text
from cfgaudit.reading.place import Place
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_check import headline
from cfgaudit.reports.terminal_switches import draw_switches


def show_screen(
    settings: Settings, paths: Sequence[str], *, raw: bool, switches: bool, width: int
) -> Screen:
    """The settings at the paths.

    With `switches` also what each switch has on where, with `raw` the lines that mean nothing
    neutral.
    """
    screen = Screen(width)
    screen.paragraph(headline(settings), indent=0)
    several = len(settings.dumps) > 1  # then a line's number alone does not say where it is
    groups: dict[str, list[str]] = {}
    for path in sorted(paths, key=path_order):
        groups.setdefault(path.partition(".")[0], []).append(path)
    for name, members in groups.items():
        screen.blank()
        screen.line(Piece(name, "strong"))
        screen.table([_row(settings[path], several) for path in members])
    if switches:
        draw_switches(screen, switch_table(Craft(settings)))
    if raw and settings.raw:
        screen.blank()
        screen.line(Piece("lines without a neutral meaning", "strong"))
        screen.table(
            (key, entry.value, Piece(_where(entry.place, several), "quiet"))
            for key, entry in settings.raw.items()
        )
    unread = [t for t in settings.troubles if t.kind is TroubleKind.UNREAD]
    if raw and unread:
        screen.blank()
        screen.line(Piece("lines that can't be read", "strong"))
        screen.table((str(trouble.place), trouble.message) for trouble in unread)
    return screen


def _where(place: Place | None, several: bool) -> str:
    if place is None:
        return ""
    return f"{place.file}:{place.line}" if several else f"line {place.line}"


def _row(stated: Stated, several: bool) -> tuple[Piece | str, ...]:
    origin = {
        Origin.FACTORY: "factory value",
        Origin.GIVEN: "always so in this firmware",
    }.get(stated.origin, "")
    where = _where(stated.place, several) or origin
    doubt = f"  not to be trusted: {stated.doubt}" if stated.doubt else ""
    return stated.path, stated_text(stated), Piece(where + doubt, "quiet")
