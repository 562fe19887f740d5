"""Pictures in text, for `show --picture`: the craft from above, switches, overlay, two curves."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.pictures import filters, frame, overlay, rates, switches
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.rules.filters import in_series
from cfgaudit.vocabulary.declare import NotStated

_ROWS: Final = 12  # of a curve
_BESIDE: Final = 56  # the narrowest screen with room for words on both sides of the craft
Letters = list[list[Piece]]


def draw_picture(screen: Screen, name: str, craft: Craft, sheet: Sheet | None) -> None:
    """One picture onto the screen, or the setting that it lacks."""
    title, draw = PICTURES[name]
    screen.line(Piece(title, "strong"))
    screen.blank()
    try:
        draw(screen, craft, sheet)
    except NotStated as lack:
        screen.paragraph(f"It can't be drawn: {lack.path} is not stated.")


def _blank(width: int, height: int) -> Letters:
    return [[Piece(" ") for _ in range(width)] for _ in range(height)]


def _write(letters: Letters, row: int, column: int, said: str, style: str = "") -> None:
    """Put text onto a field of letters; what falls outside of it is left out."""
    for n, letter in enumerate(said):
        if 0 <= row < len(letters) and 0 <= column + n < len(letters[row]):
            letters[row][column + n] = Piece(letter, style)


def _print(screen: Screen, letters: Letters) -> None:
    """A field of letters, those of one style as one piece; empty rows at its end are left out."""
    filled = [n for n, row in enumerate(letters) if any(letter.text != " " for letter in row)]
    for row in letters[: max(filled, default=-1) + 1]:
        pieces: list[Piece] = []
        for letter in row:
            if pieces and pieces[-1].style == letter.style:
                pieces[-1] = Piece(pieces[-1].text + letter.text, letter.style)
            else:
                pieces.append(letter)
        screen.line(*pieces)


def _frame(screen: Screen, craft: Craft, sheet: Sheet | None) -> None:
    told = frame.data(craft, sheet)
    beside = screen.width >= _BESIDE
    width = min(screen.width, 72)
    letters = _blank(width, 19)
    middle = width // 2
    _write(letters, 0, middle - 2, "nose", "quiet")
    _write(letters, 1, middle, "^", "strong")
    _write(letters, 9, middle - 1, "/^\\", "strong")
    _write(letters, 10, middle - 1, "\\_/", "strong")
    for arm in told.arms:
        row = round(9 - arm.x * 6)
        column = round(middle + arm.y * 14)
        _arm_line(letters, (9, middle), (row, column))
        turn = {1: "cw", -1: "ccw", None: "?"}[arm.set_turn]
        style = "error" if arm.turns_otherwise or arm.wired_otherwise else "new"
        _write(letters, row, column - 2, f"({turn:^3})", style)
        for n, one in enumerate(_arm_said(arm) if beside else ()):
            at = column + 5 if arm.y > -0.2 else column - 4 - len(one)
            _write(letters, row - 1 + n, at, one, style if style == "error" and n else "")
    _print(screen, letters)
    screen.blank()
    if not beside:
        for arm in told.arms:
            screen.paragraph(", ".join(_arm_said(arm)), further=2)
    screen.paragraph("In brackets: the turn as set.")
    for note in frame.notes(told):
        screen.paragraph(note)


def _arm_said(arm: frame.Arm) -> list[str]:
    """An arm's name and what is known of it, each for a line beside its motor."""
    said = [arm.name.replace("_", " "), f"output {'?' if arm.output is None else arm.output}"]
    if arm.wired_otherwise:
        said[1] += f", wired {arm.wired}"
    if arm.turns_otherwise:
        said.append(f"is {frame.TURNS[arm.real_turn or 0]}: differs")
    elif arm.real_turn is not None:
        said.append("turns as set")
    return said


def _arm_line(letters: Letters, start: tuple[int, int], end: tuple[int, int]) -> None:
    steps = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
    for n in range(3, max(3, steps - 2)):
        row = round(start[0] + (end[0] - start[0]) * n / steps)
        column = round(start[1] + (end[1] - start[1]) * n / steps)
        _write(letters, row, column, ".", "quiet")


def _switches(screen: Screen, craft: Craft, sheet: Sheet | None) -> None:
    channels = switches.data(craft)
    names = max(len(lane.function) for one in channels for lane in one.lanes)
    room = max(20, min(screen.width, 100) - names - 6)
    for one in channels:
        screen.line(
            Piece(f"  {one.label}", "strong"), Piece(f"  {one.low}..{one.high} us", "quiet")
        )
        step = (one.high - one.low) / room
        for lane in one.lanes:
            on = [lane.is_on(one.low + (n + 0.5) * step) for n in range(room)]
            arm = lane.function == switches.ARM
            bar = "".join(("#" if arm else "=") if is_on else "." for is_on in on)
            style = "warning" if arm else "new"
            spans = "  ".join(f"{low}..{high} us" for low, high in lane.spans)
            screen.line(f"  {lane.function.ljust(names)}  ", Piece(bar, style))
            screen.line(f"  {' ' * names}  ", Piece(spans, "quiet"))
        screen.line(f"  {' ' * names}  ", Piece(_stands(one), "quiet"))
        screen.blank()
    screen.paragraph("# is where the arm switch is on, = where another function is.")
    for note in switches.notes(craft):
        screen.paragraph(note)


def _stands(one: switches.Channel) -> str:
    """Where rest and link loss put a channel, and whether the craft is armed there."""
    arms = [lane for lane in one.lanes if lane.function == switches.ARM]

    def armed(pulse: float | None) -> str:
        return " (arm is on)" if any(lane.is_on(pulse) for lane in arms) else ""

    return f"rest {one.rest:g} us{armed(one.rest)}, link loss {one.lost_says}{armed(one.lost)}"


def _overlay(screen: Screen, craft: Craft, sheet: Sheet | None) -> None:
    told = overlay.data(craft)
    letters = _blank(told.columns + 2, told.rows + 2)
    for row in (0, told.rows + 1):
        _write(letters, row, 0, "+" + "-" * told.columns + "+", "quiet")
    for row in range(1, told.rows + 1):
        _write(letters, row, 0, "|", "quiet")
        _write(letters, row, told.columns + 1, "|", "quiet")
    for one in told.elements:
        faulty = bool(one.cut_off or one.under)
        for n, said in enumerate(one.lines):
            if said.strip() and one.box.row + n <= told.rows:
                inside = said[: max(0, told.columns + 1 - one.box.column)]
                _write(letters, one.box.row + n, one.box.column, inside,
                       "error" if faulty else "note")  # fmt: skip
    _print(screen, letters)
    screen.blank()
    screen.paragraph(f"{told.columns} × {told.rows} characters, {told.says}.")
    for note in overlay.notes(told):
        screen.paragraph(note)


def _rates(screen: Screen, craft: Craft, sheet: Sheet | None) -> None:
    told = rates.data(craft)
    for bank in dict.fromkeys(one.bank for one in told.curves):
        mine = [one for one in told.curves if one.bank == bank]
        use = " (in use)" if bank == told.active else ""
        screen.line(Piece(f"  bank {bank}{use}, deg/s", "strong"))
        curves = {one.axis: [one.rates[2 * n] for n in range(51)] for one in mine}
        _curves(screen, curves, ("0 %", "stick", "100 %"))
        ends = ", ".join(f"{one.axis} {one.rates[100]:.0f}" for one in mine)
        screen.paragraph(f"Full stick, deg/s: {ends}.")
        screen.blank()


def _filters(screen: Screen, craft: Craft, sheet: Sheet | None) -> None:
    told = filters.data(craft, sheet)
    series, _ = in_series(craft)
    low, high = told.points[0].hz, told.points[-1].hz
    points = [filters.at(series, low * (high / low) ** (n / 50)) for n in range(51)]
    screen.line(Piece("  left over, dB", "strong"))
    curves = {
        "gyro": [filters.drawn_db(p.rate_db) for p in points],
        "D term": [filters.drawn_db(p.dterm_db) for p in points],
    }
    _curves(screen, curves, (f"{low:.0f} Hz", "by its logarithm", f"{high:,.0f} Hz"))
    late = next(p for p in told.points if p.hz >= 20)
    screen.paragraph(f"At {late.hz:g} Hz the gyro is {late.rate_ms:.2f} ms late, the D term "
                     f"{late.dterm_ms:.2f} ms.")  # fmt: skip
    for band in told.bands:
        screen.paragraph(f"{band.says.capitalize()}: {band.low_hz:,.0f} to {band.high_hz:,.0f} Hz.")
    if told.lacks:
        screen.paragraph(f"Not all stages are known; not stated: {', '.join(told.lacks)}.")


def _curves(
    screen: Screen, curves: Mapping[str, Sequence[float]], below: tuple[str, str, str]
) -> None:
    """Curves of 51 points each, every one with its own first letter; where two meet, a star."""
    every = [value for curve in curves.values() for value in curve]
    low, high = min(0.0, *every), max(0.0, *every)
    span = high - low or 1.0
    letters = _blank(61, _ROWS + 2)
    for row in (0, _ROWS - 1):
        value = high - span * row / (_ROWS - 1)
        _write(letters, row, 0, f"{value:>7.0f}", "quiet")
    for row in range(_ROWS):
        _write(letters, row, 8, "|", "quiet")
    for name, style in zip(curves, ("note", "warning", "new"), strict=False):
        for n, value in enumerate(curves[name]):
            row = round((high - value) / span * (_ROWS - 1))
            taken = letters[row][9 + n].text != " "
            _write(letters, row, 9 + n, "*" if taken else name[0], "strong" if taken else style)
    _write(letters, _ROWS, 8, "+" + "-" * 51, "quiet")
    for said, at in zip(below, (9, 34 - len(below[1]) // 2, 60 - len(below[2])), strict=True):
        _write(letters, _ROWS + 1, at, said, "quiet")
    _print(screen, letters)
    screen.paragraph(", ".join(f"{name[0]} {name}" for name in curves) + ", * where two meet.")


Draw = Callable[[Screen, Craft, Sheet | None], None]
PICTURES: Final[Mapping[str, tuple[str, Draw]]] = {
    frame.NAME: (frame.TITLE, _frame),
    switches.NAME: (switches.TITLE, _switches),
    overlay.NAME: (overlay.TITLE, _overlay),
    rates.NAME: (rates.TITLE, _rates),
    filters.NAME: (filters.TITLE, _filters),
}
