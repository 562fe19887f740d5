"""Fleets that never flew, for measuring: seeded, coherent, with faults that no rule catches.

`python -m tests.benchmarks.fleets FOLDER --craft 1000 --seed 7` writes a folder of dumps;
`--archive` writes one archive instead, and `--odd 40` puts odd values in and records them.

A craft is written as a whole dump of one of the corpus' dialects: the corpus' own dump is the
ground, and each value is put into its own stretch of a line. What differs from craft to craft
hangs together as it does in the field: a board's ports, a club's rates and safety settings, the
gains and filters of a class of size, a maker's hand, and a little that belongs to no pattern.
"""

import argparse
import io
import json
import random
import tarfile
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import NamedTuple

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.collect import plain_value
from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.edits import NeedsLines, revalue
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.patch import Splice
from cfgaudit.dialects.reader import Reading, read
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.dialects.writing import LineWriter

CORPUS = Path(__file__).resolve().parents[2] / "corpus"
AXES = ("roll", "pitch", "yaw")
ODD_KINDS = ("gain", "filter", "rate", "swap", "stray")


class Ground(NamedTuple):
    """A dump of the corpus that craft are written over, and the boards that its firmware runs on.

    `boards` are the ports, in order, of the receiver, telemetry, position and video roles.
    """

    file: str
    dialect: str
    own: tuple[str, str, str]  # how the dump itself names its craft, its serial, its board
    boards: Mapping[str, tuple[int, int, int, int]]
    more: tuple[str, str] = ("", "")  # a line, and one to put before it till there are enough


LINES = 670  # of a dump
GROUNDS = (
    Ground(
        "dipper.dump",
        "sedge",
        ("called = dipper\n", "plate = RS-0412\n", " on HB-7 rev C"),
        {
            " on HB-7 rev C": (1, 2, 3, 4),
            " on HB-9 rev A": (2, 1, 4, 5),
            " on Tarn 5 rev B": (6, 3, 1, 2),
        },
    ),
    Ground(
        "goosander.dump",
        "marl",
        ('called,"Goosander",', "plate,AB-0417,", " upon Weir 2, issue D"),
        {" upon Weir 2, issue D": (1, 2, 3, 4), " upon Weir 6, issue A": (3, 1, 2, 5)},
        ("end lamps", "{number},3,4,leaf,steady,no"),
    ),
    Ground(
        "wagtail.dump",
        "osier",
        ('craft "Wagtail 3"\n', "plate OW-0223\n", " for board Lock 4 rev B"),
        {" for board Lock 4 rev B": (1, 2, 3, 4), " for board Lock 8 rev C": (2, 3, 1, 5)},
        ("hue 0 0 100 100", "lamp {number} across=2 down=6 hue=reed shows=steady"),
    ),
)  # fmt: skip

_ROLE_SETTINGS = ("roles", "baud", "inverted", "half_duplex")
_ROLES = ("receiver", "telemetry", "position", "video_control")

# A class of size: arm in mm, cells, capacity in mAh, gain against the ground's, gyro cutoff, the
# two D-term cutoffs, motor notch from, idle in %, yaw let through in %.
SIZES: Mapping[str, tuple[int, int, int, float, int, tuple[int, int], int, float, int]] = {
    "small": (54, 3, 850, 0.8, 200, (110, 150), 120, 6.5, 50),
    "middle": (78, 4, 1550, 1.0, 150, (90, 120), 90, 5.5, 45),
    "large": (124, 6, 2600, 1.3, 100, (70, 90), 60, 4.5, 40),
}

CLUBS: Mapping[str, Mapping[str, str]] = {
    "weir": {
        "roll.centre": "180", "roll.max": "620", "roll.expo": "0.3", "yaw.centre": "150",
        "yaw.max": "480", "yaw.expo": "0.2", "home.altitude": "40 m", "home.ceiling": "100 m",
        "home.speed": "7 m/s", "home.descent": "1.5 m/s", "home.min_distance": "15 m",
        "failsafe.detect_after": "0.4 s", "failsafe.hold_for": "0.5 s", "failsafe.land_for": "40 s",
        "battery.warn_cell": "3.5 V", "battery.empty_cell": "3.3 V", "arming.max_tilt": "25 deg",
        "position.min_satellites": "8", "telemetry.rate": "4 Hz", "receiver.deadband": "3 us",
    },
    "ferry": {
        "roll.centre": "120", "roll.max": "480", "roll.expo": "0.4", "yaw.centre": "100",
        "yaw.max": "360", "yaw.expo": "0.3", "home.altitude": "30 m", "home.ceiling": "80 m",
        "home.speed": "5 m/s", "home.descent": "1 m/s", "home.min_distance": "20 m",
        "failsafe.detect_after": "0.5 s", "failsafe.hold_for": "1 s", "failsafe.land_for": "60 s",
        "battery.warn_cell": "3.6 V", "battery.empty_cell": "3.4 V", "arming.max_tilt": "15 deg",
        "position.min_satellites": "10", "telemetry.rate": "2 Hz", "receiver.deadband": "5 us",
    },
    "mill": {
        "roll.centre": "200", "roll.max": "720", "roll.expo": "0.25", "yaw.centre": "180",
        "yaw.max": "600", "yaw.expo": "0.25", "home.altitude": "50 m", "home.ceiling": "110 m",
        "home.speed": "8 m/s", "home.descent": "2 m/s", "home.min_distance": "25 m",
        "failsafe.detect_after": "0.3 s", "failsafe.hold_for": "0.4 s", "failsafe.land_for": "30 s",
        "battery.warn_cell": "3.55 V", "battery.empty_cell": "3.35 V", "arming.max_tilt": "25 deg",
        "position.min_satellites": "7", "telemetry.rate": "5 Hz", "receiver.deadband": "2 us",
    },
}  # fmt: skip

# What a maker does by hand, whatever the club: one of these each, mostly the first.
HANDS: Mapping[str, tuple[str, ...]] = {
    "notches.tracking.count": ("2", "3", "1"),
    "notches.motor.harmonics": ("3", "2"),
    "notches.motor.q": ("7.5", "6.5", "5"),
    "receiver.yaw_deadband": ("5 us", "6 us", "8 us"),
    "finder.led": ("on", "off"),
    "finder.buzzer_on_link_loss": ("on", "off"),
    "flight_log.rate": ("500 Hz", "1000 Hz"),
    "position.rate": ("5 Hz", "10 Hz"),
    "camera.standard": ("pal", "ntsc"),
    "failsafe.throttle": ("1250 us", "1230 us", "1270 us"),
}
# What somebody changed on one craft, for no reason that others share.
WHIMS: Mapping[str, tuple[str, ...]] = {
    "esc.idle": ("5 %", "5.2 %", "5.8 %", "6 %"),
    "home.min_distance": ("15 m", "20 m", "25 m"),
    "position.min_satellites": ("7", "8", "9", "10"),
    "battery.capacity": ("1300 mAh", "1800 mAh", "2200 mAh"),
    "telemetry.rate": ("2 Hz", "4 Hz", "5 Hz"),
    "loop.yaw_most": ("40 %", "45 %", "50 %"),
    "flight_log.rate": ("500 Hz", "1000 Hz"),
    "notches.motor.low": ("80 Hz", "100 Hz", "110 Hz"),
    "notches.tracking.low": ("80 Hz", "90 Hz", "110 Hz", "130 Hz"),
    "home.altitude": ("30 m", "35 m", "40 m", "45 m", "50 m"),
    "home.speed": ("5 m/s", "6 m/s", "7 m/s", "8 m/s"),
    "failsafe.land_for": ("60 s", "70 s", "75 s", "80 s"),
    "failsafe.detect_after": ("0.3 s", "0.4 s", "0.5 s"),
    "banks.1.rates.yaw.expo": ("0.2", "0.25", "0.3"),
    "banks.2.rates.roll.max": ("320 deg/s", "400 deg/s", "440 deg/s", "500 deg/s"),
    "banks.2.rates.pitch.max": ("320 deg/s", "400 deg/s", "440 deg/s", "500 deg/s"),
    "battery.warn_cell": ("3.5 V", "3.55 V", "3.6 V"),
    "filters.gyro": ("pt1 120 Hz", "pt1 140 Hz", "pt1 160 Hz"),
    "camera.standard": ("pal", "ntsc"),
}
# What an odd value can be that belongs to no habit at all.
STRAYS: Mapping[str, tuple[str, ...]] = {
    "home.descent": ("0.6 m/s", "3 m/s"),
    "esc.idle": ("9.5 %", "8.5 %"),
    "notches.motor.q": ("2", "12"),
    "receiver.deadband": ("14 us", "12 us"),
    "loop.yaw_most": ("75 %", "80 %"),
    "failsafe.land_for": ("120 s", "200 s"),
}


@dataclass(frozen=True)
class Written:
    """A ground that was read once: where each of its settings stands, and how a value is put."""

    ground: Ground
    dialect: Dialect
    reading: Reading
    writer: LineWriter
    lines: tuple[str, ...]
    _put: dict[tuple[str, str], tuple[Splice, ...]] = field(default_factory=dict)

    def text(self, values: Mapping[str, str], name: str, serial: str, board: str) -> str:
        """The dump of a craft with these values. A setting that the ground lacks is left out."""
        splices = [splice for item in values.items() for splice in self._splices(*item)]
        lines = list(self.lines)
        for splice in sorted(set(splices), key=lambda s: (s.line, s.start), reverse=True):
            line = lines[splice.line]
            lines[splice.line] = line[: splice.start] + splice.text + line[splice.end :]
        text = "\n".join(lines)
        own_name, own_serial, own_board = self.ground.own
        for old, new in ((own_name, name), (own_serial, serial)):
            text = text.replace(old, _renamed(old, new), 1)
        return text.replace(own_board, board, 1)

    def _splices(self, path: str, value: str) -> tuple[Splice, ...]:
        key = path, value
        if key not in self._put:
            try:
                rework = revalue(self.reading, path, plain_value(path, value), self.writer)
                self._put[key] = rework.splices
            except (NeedsLines, CannotWrite):
                self._put[key] = ()
        return self._put[key]

    def value(self, path: str) -> float:
        """A number that the ground states."""
        value = self.reading.settings.stated[path].value
        assert isinstance(value, int | float)
        return float(value)

    def has(self, path: str) -> bool:
        """Whether the ground states a setting."""
        return path in self.reading.settings.stated


def _renamed(old: str, new: str) -> str:
    """The stretch that names the ground's craft with another name in it."""
    for own in ("dipper", "RS-0412", "Goosander", "AB-0417", "Wagtail 3", "OW-0223"):
        old = old.replace(own, new)
    return old


@cache
def grounds() -> tuple[Written, ...]:
    """Every ground, read."""
    return tuple(_written(ground) for ground in GROUNDS)


@cache
def dialects() -> tuple[Dialect, ...]:
    """The dialects of the corpus."""
    return tuple(load_dialect(file) for file in sorted((CORPUS / "dialects").glob("*.toml")))


def _written(ground: Ground) -> Written:
    data = (CORPUS / ground.file).read_bytes()
    opened = open_dump(ground.file, _long(ground, data), dialects())
    reading = read(opened.document, opened.dialect)
    known = {path: entry.value for path, entry in reading.settings.stated.items()}
    writer = LineWriter(reading, known, {})
    return Written(ground, opened.dialect, reading, writer, (*opened.document.text.lines, ""))


def _long(ground: Ground, data: bytes) -> bytes:
    """The ground's dump with as many lines as a dump is to have: more lamps make it longer."""
    lines = data.decode().split("\n")
    before, line = ground.more
    if before:
        at, wanted = lines.index(before), LINES - len(lines)
        lines[at:at] = [line.format(number=100 + number) for number in range(wanted)]
    return "\n".join(lines).encode()


class Maker(NamedTuple):
    """Somebody who builds: on one board, for one club, by one hand."""

    ground: int
    board: str
    club: str
    hand: Mapping[str, str]
    eager: float  # gains against those of the class
    quick: float  # rates against those of the club


class Made(NamedTuple):
    """A craft as it was made up. `odd` has the setting and its value where one was put in."""

    name: str
    text: str
    size: str
    club: str
    firmware: str
    odd: tuple[str, ...] = ()  # the settings that were put wrong: two where they changed places
    odd_kind: str = ""


def fleet(count: int, seed: int = 1, odd: int = 0) -> Iterator[Made]:
    """Craft one after another, the same for the same seed; `odd` of them with an odd value.

    An odd value is put in only where no rule says anything of it.
    """
    chance = random.Random(f"fleet {seed}")
    makers = [_maker(chance) for _ in range(max(3, min(count // 5, 400)))]
    spoilt = frozenset(chance.sample(range(count), odd))
    for number in range(count):
        maker = chance.choice(makers)
        yield _craft(number, maker, chance, number in spoilt)


def _maker(chance: random.Random) -> Maker:
    ground = chance.choices(range(len(GROUNDS)), (5, 3, 3))[0]
    hand = {
        path: chance.choices(choices, [6, 2, 1][: len(choices)])[0]
        for path, choices in HANDS.items()
    }
    return Maker(
        ground,
        chance.choice([*GROUNDS[ground].boards]),
        chance.choice([*CLUBS]),
        hand,
        chance.choice((0.94, 0.97, 1.0, 1.0, 1.03, 1.06)),
        chance.choice((0.9, 0.95, 1.0, 1.0, 1.0, 1.0, 1.05, 1.1)),
    )


def _craft(number: int, maker: Maker, chance: random.Random, spoilt: bool) -> Made:
    written = grounds()[maker.ground]
    size = chance.choices([*SIZES], (3, 5, 2))[0]
    values = {
        **_of_board(written, maker.board),
        **_of_size(written, size, maker.eager, chance),
        **_of_club(written, maker.club, maker.quick),
        **maker.hand,
        **_of_one(chance),
    }
    for path in chance.sample([*WHIMS], chance.choice((0, 1, 1, 2, 3, 4))):
        values[path] = chance.choice(WHIMS[path])
    name, serial = f"craft {number:06}", f"XX-{number:06}"
    text = written.text(values, name, serial, maker.board)
    plain = Made(name, text, size, maker.club, written.dialect.name)
    if not spoilt:
        return plain
    said = _findings(text)
    for kind in chance.sample(ODD_KINDS, len(ODD_KINDS)) * 4:
        wrong = _odd_values(kind, written, values, maker.club, size, chance)
        text = written.text({**values, **wrong}, name, serial, maker.board)
        if wrong and text != plain.text and _findings(text) == said:
            return plain._replace(text=text, odd=tuple(wrong), odd_kind=kind)
    raise AssertionError("every odd value was found by a rule")


def _findings(text: str) -> list[tuple[str, tuple[str, ...]]]:
    settings = open_dump("", text.encode(), dialects()).settings
    return [(found.rule.id, found.paths) for found in audit(settings).findings]


def _of_board(written: Written, board: str) -> dict[str, str]:
    """The ground's ports, each role with its line settings, on the ports of another board."""
    home = next(iter(written.ground.boards.values()))
    here = written.ground.boards[board]
    stated = written.reading.settings.stated
    free = next(n for n in range(1, 7) if n not in home)
    spare = [n for n in range(1, 7) if n not in here]
    moved = {**dict(zip(here, home, strict=True)), **dict.fromkeys(spare, free)}
    return {
        f"ports.uart{to}.{leaf}": _text(stated[f"ports.uart{start}.{leaf}"].value, leaf)
        for to, start in moved.items()
        for leaf in _ROLE_SETTINGS
        if f"ports.uart{start}.{leaf}" in stated and to != start
    }


def _text(value: object, leaf: str) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, frozenset):
        return ", ".join(sorted(value)) or "none"
    assert isinstance(value, int | float)
    return f"{value:g} Bd" if leaf == "baud" else f"{value:g}"


def _of_size(written: Written, size: str, eager: float, chance: random.Random) -> dict[str, str]:
    arm, cells, capacity, gain, cutoff, dterm, notch, idle, yaw = SIZES[size]
    found = {
        f"frame.arms.{end}_{side}.{way}": f"{sign * arm} mm"
        for end, fore in (("front", 1), ("rear", -1))
        for side, right in (("left", -1), ("right", 1))
        for way, sign in (("x", fore), ("y", right))
    }
    found |= {
        "battery.cells": str(cells),
        "battery.capacity": f"{capacity} mAh",
        "filters.gyro": f"pt1 {cutoff} Hz",
        "filters.dterm": f"pt1 {dterm[0]} Hz, pt1 {dterm[1]} Hz",
        "notches.motor.low": f"{notch} Hz",
        "esc.idle": f"{idle:g} %",
        "loop.yaw_most": f"{yaw} %",
    }
    for bank in (1, 2):
        for axis in AXES:
            for leaf in ("p", "i", "d", "ff"):
                path = f"banks.{bank}.gains.{axis}.{leaf}"
                own = 1.0 + chance.choice((-0.04, -0.02, 0, 0, 0, 0.02, 0.04))
                found[path] = f"{round(written.value(path) * gain * eager * own)}"
    return found


def _of_club(written: Written, club: str, quick: float = 1.0) -> dict[str, str]:
    found: dict[str, str] = {}
    for key, text in CLUBS[club].items():
        axis, _, leaf = key.partition(".")
        if axis not in AXES:
            found[key] = text
            continue
        for bank, share in ((1, 1.0), (2, 0.7)):
            for name in ("roll", "pitch") if axis == "roll" else ("yaw",):
                number = float(text) if leaf == "expo" else round(float(text) * share * quick, -1)
                unit = "" if leaf == "expo" else " deg/s"
                found[f"banks.{bank}.rates.{name}.{leaf}"] = f"{number:g}{unit}"
    return {path: text for path, text in found.items() if written.has(path)}


def _of_one(chance: random.Random) -> dict[str, str]:
    """What is measured on each craft: nobody's habit."""
    found = {
        f"sensors.accelerometer.trim.{axis}": f"{chance.randint(-12, 12) / 8:g} deg"
        for axis in ("roll", "pitch")
    }
    found["battery.current_offset"] = f"{chance.randint(-14, 14)} mV"
    for channel in (1, 2, 4):
        found[f"receiver.ends.{channel}.centre"] = f"{1500 + 5 * chance.randint(-1, 1)} us"
    return found


def _odd_values(
    kind: str,
    written: Written,
    values: Mapping[str, str],
    club: str,
    size: str,
    chance: random.Random,
) -> dict[str, str]:
    """Settings with the values to put instead, for one sort of oddity."""
    if kind == "gain":
        path = f"banks.1.gains.{chance.choice(AXES)}.{chance.choice(('p', 'i', 'ff'))}"
        return {path: str(round(int(values[path]) * 1.8))}
    if kind == "filter":
        other = chance.choice([name for name in SIZES if name != size])
        path = chance.choice(("filters.gyro", "filters.dterm"))
        return {path: _of_size(written, other, 1.0, chance)[path]}
    if kind == "rate":
        other = chance.choice([name for name in CLUBS if name != club])
        path = f"banks.1.rates.{chance.choice(AXES)}.{chance.choice(('max', 'centre', 'expo'))}"
        return {path: _of_club(written, other)[path]}
    if kind == "swap":
        pairs = [
            ("banks.1.gains.roll.p", "banks.1.gains.roll.i"),
            ("banks.1.gains.pitch.p", "banks.1.gains.pitch.i"),
            ("banks.1.gains.yaw.p", "banks.1.gains.yaw.i"),
            ("failsafe.detect_after", "failsafe.hold_for"),
            ("banks.1.rates.roll.max", "banks.1.rates.yaw.max"),
            ("receiver.deadband", "receiver.yaw_deadband"),
        ]
        one, other = chance.choice(pairs)
        return {one: values[other], other: values[one]}
    path = chance.choice([*STRAYS])
    return {path: chance.choice(STRAYS[path])}


def written_to_folder(folder: Path, made: Iterator[Made]) -> list[Made]:
    """Write a dump a craft, and the settings of the folder that name the corpus' dialects."""
    folder.mkdir(parents=True, exist_ok=True)
    names = ", ".join(f'"{(CORPUS / "dialects").as_posix()}"' for _ in range(1))
    (folder / "cfgaudit.toml").write_text(f"[cfgaudit]\ndialects = [{names}]\n", "utf-8")
    record: list[Made] = []
    for craft in made:
        (folder / file_of(craft)).write_text(craft.text, "utf-8")
        if craft.odd:
            record.append(craft)
    return record


def written_to_archive(file: Path, made: Iterator[Made]) -> list[Made]:
    """Write a dump a craft into one zip or tar archive, by the file's name."""
    record: list[Made] = []
    if file.suffix == ".zip":
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
            for craft in made:
                packed.writestr(file_of(craft), craft.text)
                record += [craft] if craft.odd else []
        return record
    with tarfile.open(file, f"w:{file.suffix[1:] if file.suffix != '.tar' else ''}") as tape:  # type: ignore[call-overload]
        for craft in made:
            data = craft.text.encode()
            entry = tarfile.TarInfo(file_of(craft))
            entry.size = len(data)
            tape.addfile(entry, io.BytesIO(data))
            record += [craft] if craft.odd else []
    return record


def file_of(craft: Made) -> str:
    """The name of a craft's dump."""
    return f"{craft.name.replace(' ', '-')}.dump"


def main() -> None:
    """Write a fleet, and print what is odd in it as JSON lines."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("place", type=Path)
    asked.add_argument("--craft", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--odd", type=int, default=0)
    asked.add_argument("--archive", action="store_true")
    given = asked.parse_args()
    write = written_to_archive if given.archive else written_to_folder
    for craft in write(given.place, fleet(given.craft, given.seed, given.odd)):
        print(json.dumps({"file": file_of(craft), "kind": craft.odd_kind, "settings": craft.odd}))


if __name__ == "__main__":
    main()
