"""The look of a dump does not matter: the same settings in many looks are read all the same.

One craft is written once, as paths of plain words with values and units, and printed in each look.
What is expected comes from that one list.
"""

from collections.abc import Callable, Iterable, Iterator
from itertools import groupby, takewhile
from typing import NamedTuple

import pytest

from cfgaudit.reading.text import read_text
from cfgaudit.teach.asking import begun, taught
from cfgaudit.vocabulary.kinds import SwitchRange


class Item(NamedTuple):
    """One line of the dump: its words, its value, the value's unit."""

    words: tuple[str, ...]
    value: str
    unit: str = ""


def items() -> Iterator[Item]:
    """A craft in words that every builder reads, thing by thing."""
    uses = ("receiver", "telemetry", "position", "video")
    for number, (use, baud) in enumerate(
        zip(uses, ("420", "57.6", "115.2", "9.6"), strict=True), 1
    ):
        port = ("port", str(number))
        yield Item((*port, "use"), use)
        yield Item((*port, "baud"), baud, "kBd")
        yield Item((*port, "inverted"), "yes" if number == 1 else "no")
    for number, arm in enumerate(("front_left", "front_right", "rear_left", "rear_right"), 1):
        motor = ("motor", arm)
        yield Item((*motor, "output"), str(number))
        yield Item((*motor, "spin"), "cw" if number in (1, 4) else "ccw")
        yield Item((*motor, "x"), "76" if number < 3 else "-76", "mm")
    ranges = (("arm", "5", "1700"), ("level", "6", "900"), ("home", "7", "1300"))
    for function, channel, low in ranges:
        yield Item(("switch", function, "channel"), channel)
        yield Item(("switch", function, "low"), low, "us")
        yield Item(("switch", function, "high"), "2100", "us")
    yield Item(("receiver", "link"), "sbus")
    yield Item(("receiver", "channels"), "16")
    yield Item(("receiver", "deadband"), "5", "us")
    for axis, channel in (("roll", "1"), ("pitch", "2"), ("throttle", "3"), ("yaw", "4")):
        yield Item(("stick", axis, "channel"), channel)
    yield Item(("failsafe", "delay"), "500", "ms")
    yield Item(("failsafe", "action"), "land")
    yield Item(("failsafe", "throttle"), "1250", "us")
    yield Item(("battery", "cells"), "4")
    yield Item(("battery", "capacity"), "1500", "mAh")
    yield Item(("battery", "warn", "cell"), "3.5", "V")
    yield Item(("battery", "empty", "cell"), "3.3", "V")
    for bank in ("1", "2"):
        for axis in ("roll", "pitch", "yaw"):
            for name, value in (("p", "45"), ("i", "80"), ("d", "30")):
                yield Item(("bank", bank, axis, name), str(int(value) + int(bank)))
    yield Item(("gyro", "rate"), "8", "kHz")
    yield Item(("loop", "rate"), "4", "kHz")
    yield Item(("esc", "protocol"), "dshot300")
    yield Item(("esc", "idle"), "5.5", "%")


def indexed(words: tuple[str, ...]) -> str:
    """The words as a path, numbers in brackets: `port[1].use`."""
    first, *rest = words
    return first + "".join(f"[{word}]" if word.isdigit() else f".{word}" for word in rest)


def spaced(item: Item) -> str:
    """The value, a blank, and its unit."""
    return f"{item.value} {item.unit}".rstrip()


def camel(words: tuple[str, ...]) -> str:
    """The words as one, each but the first with a capital letter."""
    parts = "_".join(words).split("_")
    return parts[0] + "".join(part.capitalize() for part in parts[1:])


def flat(line: str) -> Iterator[str]:
    """A line for each item: its words joined in some way, its value and its unit."""
    for number, item in enumerate(items(), 1):
        yield line.format(
            snake="_".join(item.words), dots=".".join(item.words), words=" ".join(item.words),
            path="/".join(item.words), camel=camel(item.words),
            kebab="-".join(item.words).replace("_", "-"),
            capitals="_".join(item.words).upper(), glued=item.value + item.unit,
            spaced=spaced(item), value=item.value, unit=item.unit,
            aside=f" ({item.unit})" if item.unit else "",
            remark=f"  # {item.unit}" if item.unit else "",
            dotted="." * (32 - len(" ".join(item.words))),
            wide=" " * (32 - len(" ".join(item.words))), parted=";".join(item.words),
            cells=",".join(item.words), barred="|".join(item.words), coloned=":".join(item.words),
            module=f"{item.words[0]}: {' '.join(item.words[1:])}",
            number=number, count=10 * number, hex=f"{4096 + number:04X}",
            clock=f"00:00:{number / 10:06.3f}", chained="::".join(item.words),
            arrows=" > ".join(item.words), indexed=indexed(item.words),
            call=f"{item.words[0]}({', '.join(item.words[1:])}", shell="-".join(item.words),
        ).rstrip()  # fmt: skip


def things() -> Iterator[tuple[tuple[str, ...], list[Item]]]:
    """What the items are of, each with those that follow each other."""
    for above, own in groupby(items(), key=lambda item: item.words[:-1]):
        yield above, list(own)


def headed(title: str, line: str, close: str = "") -> Iterator[str]:
    """A title for each thing, its items below, and perhaps what ends them."""
    for above, own in things():
        yield title.format(words=" ".join(above), dots=".".join(above))
        for item in own:
            yield line.format(key=item.words[-1], spaced=spaced(item), glued=item.value + item.unit)
        yield from [close] if close else []


def inline(pair: str, front: str = "{} ", between: str = " ", end: str = "") -> Iterator[str]:
    """A line for each thing, with pairs of a name and a value."""
    for above, own in things():
        pairs = (pair.format(item.words[-1], item.value + item.unit) for item in own)
        yield front.format(" ".join(above)) + between.join(pairs) + end


def records(key: str, value: str) -> Iterator[str]:
    """Two lines for each item: its words, and below them its value."""
    for item in items():
        yield key.format(words=" ".join(item.words), dots=".".join(item.words))
        yield value.format(spaced=spaced(item))


def table(title: str = "", gap: str = " ", mark: str = "") -> Iterator[str]:
    """A table for each sort of things of which there are several, a line for each other item.

    A row of names stands above it, with a `mark` before them.
    """
    sorts = groupby(things(), lambda one: (one[0][0], tuple(item.words[-1] for item in one[1])))
    for (sort, names), members in sorts:
        rows = [["_".join(above[1:]), *(i.value + i.unit for i in own)] for above, own in members]
        if len(rows) == 1 or "cell" in names:
            for cells in rows:
                for name, value in zip(names, cells[1:], strict=True):
                    yield f"{' '.join(filter(None, (sort, cells[0], name)))} = {value}"
            continue
        if title:
            yield title.format(sort)
        head = [mark + (sort if not title else "name"), *names]
        wide = [max(len(row[at]) for row in (head, *rows)) for at in range(len(head))]
        for row in (head, *rows):
            cells = [text.ljust(room) for text, room in zip(row, wide, strict=True)]
            yield gap.join(cells if gap == "  " else row).rstrip()
        yield ""


def tree(opens: str, line: str, closes: str = "") -> Iterator[str]:
    """Things in things, indented."""
    open_: tuple[str, ...] = ()
    for above, own in (*things(), ((), [])):
        same = sum(
            1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(open_, above, strict=False))
        )
        for depth in range(len(open_), same, -1):
            yield from ([f"{'  ' * (depth - 1)}{closes}"] if closes else [])
        for depth in range(same, len(above)):
            yield f"{'  ' * depth}{above[depth]}{opens}"
        open_ = above
        for item in own:
            value = line.format(key=item.words[-1], spaced=spaced(item))
            yield f"{'  ' * len(above)}{value}"


LOOKS: dict[str, Callable[[], Iterable[str]]] = {
    "a_b = 1us": lambda: flat("{snake} = {glued}"),
    "a_b = 1 us": lambda: flat("{snake} = {spaced}"),
    "a_b 1us": lambda: flat("{snake} {glued}"),
    'a_b = "1us"': lambda: flat('{snake} = "{glued}"'),
    "a_b (us) = 1": lambda: flat("{snake}{aside} = {value}"),
    "a_b = 1  # us": lambda: flat("{snake} = {value}{remark}"),
    "a.b=1us": lambda: flat("{dots}={glued}"),
    "a/b 1us": lambda: flat("/{path} {glued}"),
    "aB: 1 us": lambda: flat("{camel} = {spaced}"),
    "A_B=1us": lambda: flat("{capitals}={glued}"),
    "set a-b 1us": lambda: flat("set {kebab} {glued}"),
    "a b 1us": lambda: flat("{words} {glued}"),
    "a b 1 us": lambda: flat("{words} {spaced}"),
    "a b = 1 us": lambda: flat("{words} = {spaced}"),
    "a b ...... 1 us": lambda: flat("{words} {dotted} {spaced}"),
    "a b        1 us": lambda: flat("{words} {wide} {spaced}"),
    "a_b,1,us": lambda: flat("{snake},{value},{unit}"),
    "a_b tab 1 tab us": lambda: flat("{snake}\t{value}\t{unit}"),
    "a: b 1 us": lambda: flat("{module} {spaced}"),
    "a;b;1;us": lambda: flat("{parted};{value};{unit}"),
    "a_b;1us": lambda: flat("{snake};{glued}"),
    "a,b,1,us": lambda: flat("{cells},{value},{unit}"),
    "a|b|1 us": lambda: flat("{barred}|{spaced}"),
    "a_b|1|us": lambda: flat("{snake}|{value}|{unit}"),
    "| a b | 1 us |": lambda: flat("| {words} {wide} | {spaced} |"),
    "a:b:1us": lambda: flat("{coloned}:{glued}"),
    '"a_b": "1 us",': lambda: flat('"{snake}": "{spaced}",'),
    "[a b]": lambda: headed("[{words}]", "{key} = {spaced}"),
    "[a.b]": lambda: headed("[{dots}]", "{key}={glued}"),
    "-- a b --": lambda: headed("-- {words} --", "{key} = {spaced}"),
    "## a b ##": lambda: headed("## {words} ##", "{key} = {spaced}"),
    "( a b )": lambda: headed("( {words} )", "{key} = {spaced}"),
    "*** a b": lambda: headed("*** {words}", "{key} = {spaced}"),
    "a b: and below": lambda: headed("{words}:", "  {key} = {spaced}"),
    "a b and below": lambda: headed("{words}", "  {key} {spaced}"),
    "a b b=1us": lambda: inline("{}={}"),
    "a b: b=1us": lambda: inline("{}={}", "{}: "),
    "a_b := 1us;": lambda: flat("{snake} := {glued};"),
    "10 LET A=1us": lambda: flat("{count} LET {capitals} = {glued}"),
    "[12/90] a.b = 1us": lambda: flat("[{number}/90] {dots} = {glued}"),
    "[00:00:01.200] a_b: 1us": lambda: flat("[{clock}] {snake}: {glued}"),
    "I (12) cfg: a_b=1us": lambda: flat("I ({count}) cfg: {snake}={glued}"),
    "0x1003 a_b 1us": lambda: flat("0x{hex} {snake} {glued}"),
    "#12 a_b = 1us": lambda: flat("#{number} {snake} = {glued}"),
    "#define A_B 1 /* us */": lambda: flat("#define {capitals} {value} /* {unit} */"),
    'export A_B="1us"': lambda: flat('export {capitals}="{glued}"'),
    "a_b <- 1us": lambda: flat("{snake} <- {glued}"),
    "a_b => 1us,": lambda: flat("{snake} => {glued},"),
    ":A:B 1us": lambda: flat(":{coloned} {glued}"),
    "(a b 1us)": lambda: flat("({words} {glued})"),
    "a(b, 1us).": lambda: flat("{call}, {glued})."),
    'set("a.b", "1us")': lambda: flat('set("{dots}", "{glued}")'),
    'cfg write a.b "1us"': lambda: flat('cfg write {dots} "{glued}"'),
    "key=a_b value=1us": lambda: flat("key={snake} value={glued}"),
    '{"key":"a_b","value":"1us"}': lambda: flat('{{"key":"{snake}","value":"{glued}"}}'),
    "a[1].b = 1us": lambda: flat("{indexed} = {glued}"),
    "a::b = 1us": lambda: flat("{chained} = {glued}"),
    "a > b: 1us": lambda: flat("{arrows}: {glued}"),
    "a_b = '1us'": lambda: flat("{snake} = '{glued}'"),
    "--a-b=1us": lambda: flat("--{shell}={glued}"),
    "%a_b=1us": lambda: flat("%{snake}={glued}"),
    "a_b==1us": lambda: flat("{snake}=={glued}"),
    "a b=1us": lambda: flat("{words}={glued}"),
    "[[a b]]": lambda: headed("[[{words}]]", "{key} = {glued}"),
    "# a b": lambda: headed("# {words}", "{key} {glued}"),
    "/* a b */": lambda: headed("/* {words} */", "{key} = {glued};"),
    "@a b": lambda: headed("@{words}", "  {key} {glued}"),
    "* a b, - b": lambda: headed("* {words}", "  - {key}: {glued}"),
    "select a b, set b": lambda: headed("select {words}", "set {key} {glued}"),
    "a b do": lambda: headed("{words} do", "  {key} {glued}", "end"),
    "a b begin": lambda: headed("{words} begin", "  {key} := {glued};", "end;"),
    "a b (": lambda: headed("{words} (", "  {key} = {glued}", ")"),
    "a b (b=1us, c=2us)": lambda: inline("{}={}", "{} (", ", ", ")"),
    "a b [b=1us] [c=2us]": lambda: inline("[{}={}]"),
    "a b; b=1us; c=2us": lambda: inline("{}={}", "{}; ", "; "),
    "a b --b=1us": lambda: inline("--{}={}"),
    "a b /b 1us": lambda: inline("/{} {}"),
    "a b => b=1us, c=2us": lambda: inline("{}={}", "{} => ", ", "),
    '<a b c="1us"/>': lambda: inline('{}="{}"', "<{} ", " ", "/>"),
    "a b and 1 us below": lambda: records("{words}", "    {spaced}"),
    "a b: and 1 us below": lambda: records("{words}:", "    {spaced}"),
    "name: a.b, value: 1 us below": lambda: records("name: {dots}", "value: {spaced}"),
    "- name: a.b, value: 1 us below": lambda: records("- name: {dots}", "  value: {spaced}"),
    "> get a.b and 1 us below": lambda: records("> get {dots}", "{spaced}"),
    "? a b, = 1 us below": lambda: records("? {words}", "= {spaced}"),
    "name b c above rows": table,
    "name,b,c above rows": lambda: table(gap=","),
    "name tab b tab c above rows": lambda: table(gap="\t"),
    "name  b  c above rows": lambda: table(gap="  "),
    "[a], name  b  c above rows": lambda: table("[{}]", "  "),
    "a:, #  b  c above rows": lambda: table("{}s:", "  ", "# "),
    "a ( and b ( below": lambda: tree(" (", "{key} {spaced}", ")"),
    "a = [ and b = [ below": lambda: tree(" = [", "{key} = {spaced}", "]"),
    "a: and b: below": lambda: tree(":", "{key}: {spaced}"),
    "a { and b { below": lambda: tree(" {", "{key} {spaced}", "}"),
}


# One in four each time; each draft takes a second or two, and the rest is no other code.
EACH_TIME = 4


@pytest.mark.parametrize(
    "look",
    [
        look if number % EACH_TIME == 0 else pytest.param(look, marks=pytest.mark.long)
        for number, look in enumerate(LOOKS)
    ],
)
def test_the_look_of_a_dump_does_not_matter(look: str) -> None:
    text = "\n".join(LOOKS[look]())
    found = taught(begun(["a.dump"], [read_text(text.encode())])).settings
    assert {path: stated.value for path, stated in found.stated.items()} == wanted()


def wanted() -> dict[str, object]:
    """What is true of that craft, in the vocabulary's words."""
    found: dict[str, object] = {}
    roles = ("receiver", "telemetry", "position", "video_control")
    for number, role in enumerate(roles, 1):
        found[f"ports.uart{number}.roles"] = frozenset({role})
        found[f"ports.uart{number}.baud"] = (420_000.0, 57_600.0, 115_200.0, 9_600.0)[number - 1]
        found[f"ports.uart{number}.inverted"] = number == 1
    for number, arm in enumerate(("front_left", "front_right", "rear_left", "rear_right"), 1):
        found[f"motors.{arm}.output"] = number
        found[f"motors.{arm}.spin"] = "cw" if number in (1, 4) else "ccw"
        found[f"frame.arms.{arm}.x"] = 0.076 if number < 3 else -0.076
    ranges = (("arm", 5, 1700.0), ("self_level", 6, 900.0), ("return_home", 7, 1300.0))
    for function, channel, low in ranges:
        found[f"switches.{function}"] = (SwitchRange(channel, low, 2100.0),)
    found |= {"receiver.link": "sbus", "receiver.channels": 16, "receiver.deadband": 5.0}
    for channel, stick in enumerate(("roll", "pitch", "throttle", "yaw"), 1):
        found[f"receiver.map.{stick}"] = channel
    found |= {"failsafe.action": "land", "failsafe.throttle": 1250.0, "failsafe.detect_after": 0.5}
    found |= {"battery.cells": 4, "battery.capacity": 1500.0}
    found |= {"battery.warn_cell": 3.5, "battery.empty_cell": 3.3}
    for bank in (1, 2):
        for axis in ("roll", "pitch", "yaw"):
            for name, value in (("p", 45), ("i", 80), ("d", 30)):
                found[f"banks.{bank}.gains.{axis}.{name}"] = float(value + bank)
    found |= {"gyro.sample_rate": 8000.0, "loop.rate": 4000.0}
    found |= {"esc.protocol": "dshot300", "esc.idle": 5.5}
    return found


def test_lines_of_words_that_nobody_knows_are_still_cut_into_keys_and_values() -> None:
    lines = [f'<item key="glim{number}_wake" value="{number}"/>' for number in range(30)]
    state = begun(["a.dump"], [read_text("\n".join(lines).encode())])
    assert "glim" in taught(state).draft.text
