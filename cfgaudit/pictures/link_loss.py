"""Link loss: what happens, stage by stage, from the last good frame to the motors' stop."""

from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.link_loss import WHAT, LinkLoss, LossStage, link_loss
from cfgaudit.craft.sheet import Sheet
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import WIDTH, Drawing, NumberTable, Picture
from cfgaudit.vocabulary.units import number_text

NAME, TITLE = "link-loss", "What happens when the link is lost"
WRONG: Final = "✗"  # before what is wrong: told by its letter, not by colour alone
_LEFT: Final = 116.0  # where the words begin
_LINE: Final = 17.0
_GAP: Final = 14.0


def when(stage: LossStage) -> str:
    """From when and for how long, in words: `0.4 s on, for 1 s`."""
    begins = "then" if stage.begins is None else f"{_seconds(stage.begins)} on"
    return begins if stage.lasts is None else f"{begins}, for {_seconds(stage.lasts)}"


def _seconds(seconds: float) -> str:
    return f"{number_text(round(seconds, 2))} s"


def does(stage: LossStage) -> str:
    """What throttle, arm and sticks do in it, as one sentence; empty where none counts."""
    parts = (("throttle", stage.throttle), ("arm", stage.arm), ("sticks", stage.sticks))
    said = ", ".join(f"{name} {what}" for name, what in parts if what)
    return f"{said[:1].upper()}{said[1:]}." if said else ""


def figures(stage: LossStage) -> str:
    """Its figures as sentences; empty where it has none."""
    return " ".join(f"{one[:1].upper()}{one[1:]}." for one in stage.says)


def remarks(found: LinkLoss) -> tuple[str, ...]:
    """What is reckoned, and what is not stated."""
    lacks = f"Not stated, and so not told: {', '.join(found.lacks)}." if found.lacks else ""
    return (*found.reckoned, *filter(None, (lacks,)))


def picture(craft: Craft, sheet: Sheet | None) -> Picture:
    """Draw it. Raises NotStated where no action is stated."""
    found = link_loss(craft, sheet)
    head = ("stage", "when", "throttle", "arm", "sticks", "figures", "wrong")
    rows = tuple(
        (WHAT[stage.what], when(stage), stage.throttle or "-", stage.arm or "-",
         stage.sticks or "-", figures(stage) or "-", "; ".join(stage.wrong) or "-")
        for stage in found.stages
    )  # fmt: skip
    says = " ".join(
        f"{when(stage)}: {WHAT[stage.what]}." + "".join(f" Wrong: {one}." for one in stage.wrong)
        for stage in found.stages
    )
    key = f"Times are from the last good frame. {WRONG} and a hatched bar mark what is wrong."
    return Picture(NAME, TITLE, says, _draw(found), NumberTable(head, rows), (key, *remarks(found)))


def _draw(found: LinkLoss) -> Drawing:
    room = WIDTH - _LEFT - 8
    body, y = [], 8.0
    for number, stage in enumerate(found.stages):
        said = [*svg.wrapped(does(stage), room), *svg.wrapped(figures(stage), room)]
        said = [one for one in said if one]
        wrong = [line for one in stage.wrong for line in svg.wrapped(f"{WRONG} {one}", room)]
        what = svg.wrapped(WHAT[stage.what], room)
        height = _LINE * (len(what) + len(said) + len(wrong)) + 6
        last = number == len(found.stages) - 1
        bar = "unfit" if stage.wrong else "track" if last else "span"
        body.append(svg.rect(_LEFT - 18, y, 8, height, bar, 2))
        began, _, length = when(stage).partition(", ")
        body.append(
            svg.lines((4, y + 14), [one for one in (began, length) if one], "t m", step=_LINE)
        )
        body.append(svg.lines((_LEFT, y + 14), what, "t s", step=_LINE))
        at = y + 14 + _LINE * len(what)
        body.append(svg.lines((_LEFT, at), said, "t m", step=_LINE))
        at += _LINE * len(said)
        body += [svg.text((_LEFT, at + _LINE * n), one, "t wrong") for n, one in enumerate(wrong)]
        y += max(height, 2 * _LINE) + _GAP
    return Drawing(WIDTH, y, "".join(body))
