"""A craft of its own for the whole job: Spoonbill, with firmware burnet, its sheet from nothing."""

from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).parent
DIALECT: Final = HERE / "burnet.toml"
DUMP: Final = (HERE / "spoonbill.dump").read_text(encoding="utf-8")

# What somebody measures and looks up at the bench, by table of the sheet that the dump gives.
_PORT: Final = {"highest_rate": "2000000", "clock": '"36 MHz"', "oversampling": "16",
                "inverter": "true", "one_wire": "true"}  # fmt: skip
_WIRED: Final = {"wires": '"tx_to_rx"', "one_wire": "false", "framing": '"8N1"',
                 "inverted": "false", "rail": '"5V"', "supply": '"4.5..5.5 V"'}  # fmt: skip
ANSWERS: Final[dict[str, dict[str, str]]] = {
    **{
        f"frame.arms.{end}_{side}": {"x": f'"{x} mm"', "y": f'"{y} mm"'}
        for end, x in (("front", 55), ("rear", -55))
        for side, y in (("left", -55), ("right", 55))
    },
    "board.turned": {"roll": "0", "pitch": "0", "yaw": "0"},
    **{f"ports.{name}": _PORT for name in ("north", "east", "south", "west")},
    "ports.plug": {"kind": '"usb"'},
    "rails.5V": {"voltage": '"4.9..5.1 V"', "rating": "2", "fed_by": '["pack"]'},
    "devices.receiver": {
        **_WIRED, "protocol": '"sbus"', "rate": "100000", "framing": '"8E2"', "inverted": "true",
        "on_loss": '"silent"', "current": "0.1",
    },
    "devices.telemetry": {
        **_WIRED, "protocol": '"mavlink"', "rate": "57600", "current": "0.2",
    },
    "devices.video_transmitter": {
        **_WIRED, "one_wire": "true", "wires": '"one_wire"', "rate": "9600", "rail": '"video"',
        "supply": '"7..16 V"', "current": "0.4", "frequencies": '"5733..5870 MHz"',
        "powers": "[1, 25]",
    },
    "devices.buzzer": {"rail": '"5V"', "supply": '"3..5.5 V"', "current": "0.03"},
    "devices.voltage_sensor": {"rail": '"none"'},
    **{
        f"motors.{arm}": {"wires": f'"{w}"', "direction": '"normal"', "turns": f'"{turn}"'}
        for arm, turn, w in (("front_left", "cw", "straight"), ("front_right", "ccw", "swapped"),
                             ("rear_left", "ccw", "swapped"), ("rear_right", "cw", "straight"))
    },
    "propulsion": {"kv": "3800", "diameter": "76", "blades": "3", "hover_throttle": "33",
                   "peak_current": "40", "all_up_weight": "210"},
}  # fmt: skip
MORE: Final = (
    '\n[rails.video]\nchoices = [5, 9]\nchoice = 9\nrating = 1\nfed_by = ["pack"]\n'
    '\n[rails.pack]\nvoltage = "9.9..12.6 V"\nrating = 60\nfed_by = ["pack"]\n'
)


def filled(sheet: str) -> str:
    """A new sheet with the answers in it: the marks go where something was measured, heads' too."""
    table, made = "", []
    for line in sheet.splitlines():
        if line.startswith(("[", "#[")):
            table = line.strip("#[]")
            made.append(line.lstrip("#") if table in ANSWERS else line)
            continue
        key = line.lstrip("#").partition(" = ")[0]
        answer = ANSWERS.get(table, {}).get(key)
        made.append(line if answer is None else f"{key} = {answer}")
    return "\n".join(made) + "\n" + MORE


def swapped(text: str, *swaps: tuple[str, str]) -> str:
    """A text with parts swapped for others, each of which stands there once."""
    for old, new in swaps:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def under(head: str, line: str, text: str = DUMP, new: str = "") -> str:
    """A dump with a line of one section replaced."""
    before, mark, rest = text.partition(f"[{head}]\n")
    assert mark, head
    return before + mark + rest.replace(f"{line}\n", f"{new}\n", 1)
