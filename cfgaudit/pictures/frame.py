"""The craft from above: arms, outputs, turns as set and as they are, the propeller to fit."""

from math import hypot
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.physics.allocation import BEARINGS_DEG, arm_names, clockwise_order
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import WIDTH, Drawing, NumberTable, Picture, Point
from cfgaudit.rules.geometry import SPINS, positions, spins
from cfgaudit.vocabulary.declare import NotStated

NAME, TITLE = "frame", "The craft from above"
TURNS: Final = {1: "cw", -1: "ccw"}
_LONG: Final = {1: "clockwise", -1: "anticlockwise"}
_TOP: Final = 52.0  # room for the nose's arrow
_REACH: Final = 100.0  # from the centre to the outermost motor


class Arm(NamedTuple):
    """One arm: its place on a circle of radius 1, outputs and turns; None where not stated."""

    name: str
    x: float  # forward
    y: float  # right
    output: int | None
    wired: int | None  # the output that its motor is really wired to, by the build sheet
    set_turn: int | None  # +1 clockwise from above: what the mixer takes for granted
    real_turn: int | None  # by the build sheet
    worked_out: bool  # whether the real turn follows from another arm's

    @property
    def turns_otherwise(self) -> bool:
        """Whether it really turns the other way than is set."""
        return None not in (self.set_turn, self.real_turn) and self.set_turn != self.real_turn

    @property
    def wired_otherwise(self) -> bool:
        """Whether another output than the one set drives it."""
        return None not in (self.output, self.wired) and self.output != self.wired

    @property
    def fit(self) -> str:
        """The propeller to fit, in words."""
        if self.set_turn is None:
            return "not known: the turn is not stated"
        if self.turns_otherwise:
            return "none before it turns as set"
        return f"{_LONG[self.set_turn]} propeller"


class FrameDrawing(NamedTuple):
    """The craft from above. `blades` is how many to draw; `built` whether there is a sheet."""

    arms: tuple[Arm, ...]
    blades: int
    built: bool


def data(craft: Craft, sheet: Sheet | None) -> FrameDrawing:
    """Where the arms are and how their motors turn. Raises NotStated."""
    names = craft.motors.arms.names()
    if not names:
        layout = craft.frame.layout
        if layout not in BEARINGS_DEG:
            raise NotStated("motors.ARM.output")
        names = list(arm_names(layout))
    places = positions(craft, names)
    far = max(hypot(*place) for place in places.values())
    real = {} if sheet is None else real_turns(sheet)
    arms = []
    for name in clockwise_order(places):
        x, y = places[name]
        turn, worked_out = real.get(name, (None, False))
        motor = craft.motors.arms[name]
        output = motor.output if motor.states("output") else None
        arms.append(
            Arm(name, x / far, y / far, output, _wired(sheet, name), _set_turn(craft, name),
                turn, worked_out)
        )  # fmt: skip
    return FrameDrawing(tuple(arms), _blades(sheet), sheet is not None)


def _set_turn(craft: Craft, arm: str) -> int | None:
    try:
        return spins(craft, [arm])[arm]
    except NotStated:
        return None


def _wired(sheet: Sheet | None, arm: str) -> int | None:
    if sheet is None or not sheet.motors[arm].states("output"):
        return None
    return sheet.motors[arm].output


def _blades(sheet: Sheet | None) -> int:
    stated = sheet is not None and sheet.propulsion.states("blades")
    return min(6, sheet.propulsion.blades) if sheet is not None and stated else 2


def real_turns(sheet: Sheet) -> dict[str, tuple[int, bool]]:
    """How each motor really turns (+1 clockwise from above), and whether that was worked out.

    One that was not looked at turns as one that was, if wires and direction are alike in both,
    and the other way if one of the two differs.
    """
    found: dict[str, tuple[int, bool]] = {}
    ways: dict[str, int] = {}
    for name in sheet.motors.names():
        motor = sheet.motors[name]
        if motor.states("turns"):
            found[name] = SPINS[motor.turns], False
        if motor.states("wires") and motor.states("direction"):
            same = (motor.wires == "swapped") == (motor.direction == "reversed")
            ways[name] = 1 if same else -1
    known = {found[name][0] * ways[name] for name in found if name in ways}
    if len(known) == 1:  # otherwise the motors do not all turn alike when wired alike
        (way,) = known
        found |= {name: (way * ways[name], True) for name in ways if name not in found}
    return found


def picture(craft: Craft, sheet: Sheet | None) -> Picture:
    """Draw it. Raises NotStated."""
    frame = data(craft, sheet)
    return Picture(NAME, TITLE, _says(frame), _draw(frame), _table(frame), notes(frame))


def _says(frame: FrameDrawing) -> str:
    told = []
    for arm in frame.arms:
        said = f"{_plain(arm)}: output {_or_unknown(arm.output)}"
        said += f", set to turn {_turn(arm.set_turn)}"
        if arm.turns_otherwise:
            said += f", but really turns {_turn(arm.real_turn)}"
        if arm.wired_otherwise:
            said += f", but wired to output {arm.wired}"
        told.append(said)
    return f"Nose up, {len(frame.arms)} arms, clockwise from the nose. {'; '.join(told)}."


def _plain(arm: Arm) -> str:
    return arm.name.replace("_", " ")


def _or_unknown(output: int | None) -> str:
    return "not stated" if output is None else str(output)


def _turn(turn: int | None) -> str:
    return "not stated" if turn is None else _LONG[turn]


def notes(frame: FrameDrawing) -> tuple[str, ...]:
    """What is to be known besides."""
    said = ["cw is clockwise and ccw anticlockwise, seen from above."]
    if not frame.built:
        said.append("No build sheet: how the motors really turn is not known. Propellers off, "
                    "look at each.")  # fmt: skip
    if any(arm.turns_otherwise or arm.wired_otherwise for arm in frame.arms):
        said.append("What is set and what is built differ. Propellers off until they agree.")
    if any(arm.worked_out for arm in frame.arms):
        said.append("Worked out from another motor's turn, its wires and directions: look.")
    return tuple(said)


def _table(frame: FrameDrawing) -> NumberTable:
    head = ("arm", "output set", "turn set", "propeller to fit")
    more = ("output wired", "real turn") if frame.built else ()
    rows = []
    for arm in frame.arms:
        row = (_plain(arm), _or_unknown(arm.output), _turn(arm.set_turn), arm.fit)
        real = _turn(arm.real_turn) + " (worked out)" * arm.worked_out
        rows.append((*row, *((_or_unknown(arm.wired), real) if frame.built else ())))
    return NumberTable((*head, *more), tuple(rows))


def _draw(frame: FrameDrawing) -> Drawing:
    size = 30.0 if len(frame.arms) <= 4 else 22.0
    ahead, behind = (max(0.3, *(way * arm.x for arm in frame.arms)) for way in (1, -1))
    reach = _REACH if len(frame.arms) <= 4 else _REACH + 14
    cx, cy = centre = WIDTH / 2, _TOP + ahead * reach + size
    spots = [(cx + arm.y * reach, cy - arm.x * reach) for arm in frame.arms]
    body = [svg.line(centre, spot, "arm") for spot in spots]
    body.append(svg.polygon([(cx, cy - 30), (cx + 20, cy + 20), (cx - 20, cy + 20)], "hull"))
    body.append(svg.text((cx, 16), "nose", "t m", "middle"))
    body.append(svg.path(["M", cx, 40, "L", cx, 24, "M", cx - 5, 30, "L", cx, 23, "L", cx + 5, 30],
                     "line ink"))  # fmt: skip
    for arm, spot in zip(frame.arms, spots, strict=True):
        body.append(_motor(arm, spot, size, frame.blades))
    below = cy + behind * reach + size + 34
    body.append(_key(frame, below))
    return Drawing(WIDTH, below + 22, "".join(body))


def _motor(arm: Arm, at: Point, size: float, blades: int) -> str:
    parts = [svg.circle(at, size, "motor")]
    turn = arm.set_turn
    if turn is not None:
        gone = arm.turns_otherwise
        parts.append(_propeller(at, size * 0.62, turn, blades, "blade gone" if gone else "blade"))
        parts.append(svg.turn_arrow(at, size * 0.8, turn, "c1"))
    if arm.turns_otherwise and arm.real_turn is not None:
        parts.append(svg.turn_arrow(at, size + 8, arm.real_turn, "bad"))
    return "".join(parts) + _label(arm, at, size)


def _propeller(at: Point, radius: float, turn: int, blades: int, cls: str) -> str:
    """Blades that bulge towards the side that leads."""
    bulge = radius * 0.55 * turn
    blade = svg.path(
        ["M", 0, 0, "C", bulge, -radius * 0.3, bulge, -radius * 0.8, 0, -radius, "Z"], cls
    )
    turned = (
        f'<g transform="rotate({svg.number(n * 360 / blades)})">{blade}</g>' for n in range(blades)
    )
    return svg.moved(turned, *at)


def _label(arm: Arm, at: Point, size: float) -> str:
    """The arm's name and what is known of it, outside of its motor."""
    aside = size + 16
    if arm.y > -0.2:  # one that is fore or aft has it on the right, too
        where, anchor = (at[0] + aside, at[1] - 16), "start"
    else:
        where, anchor = (at[0] - aside, at[1] - 16), "end"
    output = f"output {'?' if arm.output is None else arm.output}"
    if arm.wired_otherwise:
        output += f", is {arm.wired} ≠"
    told = [output, f"set {TURNS.get(arm.set_turn or 0, '?')}"]
    if arm.turns_otherwise:
        told.append(f"is {TURNS[arm.real_turn or 0]} ≠")
    elif arm.real_turn is not None:
        told[1] += f", is {TURNS[arm.real_turn]}"
    wrong = arm.turns_otherwise or arm.wired_otherwise
    return svg.text(where, _plain(arm), "t s", anchor) + svg.lines(
        (where[0], where[1] + 16), told, "t wrong" if wrong else "t m", anchor
    )


def _key(frame: FrameDrawing, y: float) -> str:
    parts = [svg.turn_arrow((24, y), 9, 1, "c1"), svg.text((42, y + 4), "turn as set", "t m")]
    if any(arm.turns_otherwise for arm in frame.arms):
        parts += [svg.turn_arrow((150, y), 9, 1, "bad"), svg.text((168, y + 4), "real turn", "t m")]
    parts.append(_propeller((262, y + 8), 18, 1, 1, "blade"))
    parts.append(svg.text((280, y + 4), "bulge: leading edge", "t m"))
    return "".join(parts)
