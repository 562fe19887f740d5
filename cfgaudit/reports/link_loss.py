"""`show DUMP link-loss`: the stages of a lost link, as a screen and as data."""

from typing import Any

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.link_loss import WHAT, link_loss
from cfgaudit.craft.sheet import Sheet
from cfgaudit.pictures.link_loss import TITLE, does, figures, remarks, when
from cfgaudit.reports.screen import Screen
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import NotStated


def sheet_among(settings: Settings) -> Sheet | None:
    """The build sheet that stands among the settings; None where there is none."""
    return Sheet(settings) if any(path.startswith("sheet.") for path in settings) else None


def draw_link_loss(screen: Screen, craft: Craft, sheet: Sheet | None) -> None:
    """The stages below what is on the screen; where no action is stated, that."""
    screen.heading(TITLE[:1].lower() + TITLE[1:])
    try:
        found = link_loss(craft, sheet)
    except NotStated as lack:
        screen.paragraph(f"It can't be told: {lack.path} is not stated.")
        return
    rows: list[tuple[str, str]] = []
    for stage in found.stages:
        said = " ".join(filter(None, (f"{WHAT[stage.what]}.", does(stage), figures(stage))))
        rows.append((when(stage), f"{said[:1].upper()}{said[1:]}"))
        rows += [("WRONG", f"{wrong[:1].upper()}{wrong[1:]}.") for wrong in stage.wrong]
    screen.entries(rows)
    told = remarks(found)
    if told:
        screen.blank()
    for one in told:
        screen.paragraph(one)


def link_loss_json(settings: Settings) -> dict[str, Any] | None:
    """The stages, whatever paths were asked for; None where no action is stated."""
    try:
        found = link_loss(Craft(settings), sheet_among(settings))
    except NotStated:
        return None
    return {
        "stages": [
            {
                "what": stage.what,
                "begins": stage.begins,
                "lasts": stage.lasts,
                "throttle": stage.throttle or None,
                "arm": stage.arm or None,
                "sticks": stage.sticks or None,
                "figures": dict(stage.figures),
                "wrong": list(stage.wrong),
            }
            for stage in found.stages
        ],
        "reckoned": list(found.reckoned),
        "lacks": list(found.lacks),
    }
