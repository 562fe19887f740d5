"""Symptoms: what a builder sees go wrong, and the rules that may say why.

A rule is reached by what its own "In the air" part says (`signs`), and by being declared here
where that part says it in other words. Most of what is seen has causes that no dump tells, so each
symptom says what to look at by hand too. All of it is from the trade.
"""

import re
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from cfgaudit.rules.rule import Level, Rule


class Symptom(NamedTuple):
    """What is seen, in a builder's words; `signs` are looked for in the rules' own words.

    `also` are other ways to say it, `rules` areas and rules that are about it whatever they say,
    `by_hand` is what to look at beside the dump, the likeliest first.
    """

    name: str
    also: tuple[str, ...]
    signs: tuple[str, ...]
    rules: tuple[str, ...]
    by_hand: tuple[str, ...]


SYMPTOMS: Final = (
    Symptom(
        "no picture",
        ("black goggles", "no video", "dark screen", "snow", "wrong channel"),
        ("picture",),
        ("video", "camera"),
        (
            "Both ends on one frequency: the transmitter's and the goggles' channel.",
            "Aerials on before power: a transmitter without one breaks.",
            "The camera's own supply and its signal wire, with a meter.",
        ),
    ),
    Symptom(
        "nothing shown on the picture",
        ("no overlay", "no text in the goggles", "overlay missing"),
        ("overlay",),
        ("overlay",),
        ("Camera and overlay on one standard, and the grid that the goggles use.",),
    ),
    Symptom(
        "flips on take-off",
        ("flips over", "tips over", "rolls over", "tumbles", "crashes at once"),
        ("flip", "tips over", "tumbles", "rolls over", "as it leaves the ground"),
        ("motor", "frame", "sensor/board-rotation", "gain/negative", "gain/zero-p", "pads"),
        (
            "Propellers off: run each motor alone; does the right one turn, and the right way?",
            "Each propeller: made for the way its motor turns, its lettering up.",
            "Tilt the craft by hand: does what it shows of its attitude follow?",
        ),
    ),
    Symptom(
        "turns by itself",
        ("spins", "yaws", "does not hold its heading", "rotates"),
        ("turns by itself", "spins up", "heading"),
        ("motor/yaw-unbalanced", "motor/reversal-mismatch", "loop/no-yaw"),
        ("Motors upright on their arms: one that leans turns the craft.",),
    ),
    Symptom(
        "will not arm",
        ("does not arm", "cannot arm", "refuses to arm", "motors never start"),
        ("does not arm", "can't be started", "sticks are dead", "no sticks", "sticks do nothing"),
        ("switch/no-arm", "switch/range-empty", "receiver", "serial/receiver-unassigned"),
        (
            "What the craft itself says of it: its console, or the picture, names the reason.",
            "Throttle at its lowest, craft level and still, and a position if one is asked for.",
            "At the receiver: is it bound, and does the arm channel move?",
        ),
    ),
    Symptom(
        "arms or starts by itself",
        ("motors start by themselves", "starts by surprise", "cannot disarm", "does not stop"),
        (
            "arm itself",
            "may start",
            "can't be stopped",
            "as soon as",
            "leaps from the ground",
            "nor stopped",
            "can't stop",
        ),
        ("switch/armed-at-failsafe-value", "switch/always-armed", "switch/arms-with-throttle"),
        (
            "Propellers off until it is found.",
            "Switch the handset off at the bench and watch the arm channel.",
        ),
    ),
    Symptom(
        "no telemetry",
        ("handset shows nothing", "no voltage at the handset", "telemetry lost"),
        ("telemetry", "handset shows"),
        ("telemetry", "serial/wired-elsewhere"),
        (
            "The handset looks for sensors once; it may have to be told to look again.",
            "The wire from the board's transmit pin to the receiver.",
        ),
    ),
    Symptom(
        "motors do not spin",
        (
            "a motor does not turn",
            "a motor stands still",
            "motor twitches",
            "motors stutter",
            "one motor dead",
        ),
        (
            "never turns",
            "stands still",
            "stand still",
            "stutter",
            "motors stop",
            "twitch",
            "do not start",
            "an arm of the frame",
        ),
        ("esc", "motor/pad-missing", "motor/output-missing", "pads"),
        (
            "Propellers off: swap two motors' plugs; does the fault move with the motor?",
            "The three wires of the motor that stands, for a cold joint.",
            "Do all speed controllers sound as the pack is connected?",
        ),
    ),
    Symptom(
        "drifts",
        (
            "leans",
            "slides away",
            "does not hover",
            "does not hold position",
            "toilet bowl",
            "circles where it should hold its position",
        ),
        ("drift", "leans", "askew"),
        ("sensor", "position", "board"),
        (
            "Calibrate the accelerometer on a table that is level.",
            "The compass away from the pack's leads, and turned as it is set.",
        ),
    ),
    Symptom(
        "climbs by itself",
        ("rises", "shoots up", "does not come down", "does not sink"),
        ("goes up", "climb"),
        ("failsafe/throttle-opens", "failsafe/landing-throttle", "filter/none"),
        ("Propellers off: do the motors run up by themselves, without a stick moved?",),
    ),
    Symptom(
        "hot motors",
        ("motors get hot", "motors burn", "grinding noise", "smell of varnish"),
        ("hot", "noise", "burn"),
        ("filter/none", "notch", "motor/poles-odd", "motor/poles-mismatch"),
        (
            "Halve the D gains and feel again: the D term makes noise greater, and motors hot.",
            "Bent propellers, bent bells, dry bearings: change those first.",
            "Land after ten seconds and feel each motor; one hot alone is that motor.",
        ),
    ),
    Symptom(
        "shakes",
        ("vibrates", "oscillates", "wobbles", "trembles"),
        ("shake", "unstable", "oscillat", "uneven delay"),
        ("gain", "filter", "notch", "loop"),
        ("The board's mounting: soft, and touched by no wire.", "Screws, arms and propellers."),
    ),
    Symptom(
        "falls or flies away on link loss",
        ("falls on link loss", "fly away", "failsafe", "flies away", "lost link"),
        ("link is lost", "nobody steering", "nobody steers", "flies on", "flies off"),
        ("failsafe", "switch/armed-at-failsafe-value"),
        (
            "Propellers off: switch the handset off and watch what the board does, and when.",
            "What the receiver itself was taught to send when it hears nothing.",
        ),
    ),
    Symptom(
        "does not come home",
        ("return home fails", "way home", "hangs in the air", "home point wrong"),
        ("way home", "home", "hangs where"),
        ("home", "position"),
        ("Was home set? It waits for a fix before arming.", "Trees and roofs on the way."),
    ),
    Symptom(
        "no position",
        ("no fix", "no satellites", "no gps", "position lost"),
        ("no fix", "position"),
        ("position",),
        ("Open sky, and some minutes the first time.", "Receive and transmit wires crossed."),
    ),
    Symptom(
        "sticks do nothing or the wrong thing",
        (
            "no sticks",
            "receiver dead",
            "does not obey",
            "controls reversed",
            "deaf",
            "jerks",
            "stick works the wrong way",
        ),
        ("stick", "does not obey", "receiver", "wrong axis", "jerk", "can't be turned"),
        ("receiver", "rate", "serial", "motor/control-sign"),
        ("At the receiver: is it bound?", "Does each channel move as its stick does, one by one?"),
    ),
    Symptom(
        "a switch does nothing or the wrong thing",
        ("mode does not change", "function does not come on", "switch dead"),
        ("the switch does", "never comes on", "function", "goes on and off"),
        ("switch",),
        ("Move the switch: which channel moves, and how far in each position?",),
    ),
    Symptom(
        "no warning of an empty pack",
        (
            "pack empty",
            "voltage wrong",
            "battery alarm",
            "battery warning too early",
            "sags",
            "falls without warning",
        ),
        ("empty pack", "warning", "voltage", "pack is flown", "pack may be flown"),
        ("battery", "alarm"),
        ("The voltage at the pack with a meter, against the one shown.",),
    ),
    Symptom(
        "a part dies or gets hot",
        ("burnt", "smoke", "browns out", "reboots in flight", "device dead", "melts"),
        ("breaks", "melt", "drops out", "regulator", "damaged", "may be damaged", "sags"),
        ("power",),
        ("Each supply with a meter, before the part is connected again.",),
    ),
    Symptom(
        "the craft cannot be set up",
        ("no connection", "settings lost", "console dead", "old settings came back"),
        ("locked out", "factory value", "another craft", "clamp", "refuse"),
        ("dump", "sheet", "serial/no-console-left", "gain/bank-missing"),
        ("Another cable: many carry power alone.", "Write, save, and read the dump again."),
    ),
    Symptom(
        "handles badly",
        ("sluggish", "no power", "weak", "slow", "overshoots"),
        ("full throttle", "reaches", "slower", "answer", "thrust"),
        ("esc", "rate", "gain", "motor/hover-high"),
        ("The pack: its age, and how far its voltage sags at full throttle.",),
    ),
    Symptom(
        "nothing is logged",
        ("no log", "log empty", "flight log missing"),
        ("log",),
        ("log",),
        ("A card that is in, formatted and not full.",),
    ),
)

_RANK: Final = {Level.ERROR: 0, Level.WARNING: 1, Level.NOTE: 2}
_WORD: Final = re.compile(r"[a-z']+")
_EMPTY: Final = frozenset(  # words that say little
    _WORD.findall(
        "a an and the my it its is are be by my on in of or at to when where with i no not do does "
        "doesn't don't can't cannot will won't never nothing there up craft"
    )
)


def reached(symptom: Symptom, rules: Iterable[Rule]) -> list[Rule]:
    """The rules that may say why, the likeliest first: declared here, graver, with more signs."""

    def rank(rule: Rule) -> tuple[int, int, int]:
        declared = rule.id in symptom.rules or rule.area in symptom.rules
        return (0 if declared else 1, _RANK[rule.level], -_told(symptom, rule))

    found = [
        rule
        for rule in rules
        if rule.id in symptom.rules or rule.area in symptom.rules or _told(symptom, rule)
    ]
    return sorted(found, key=rank)  # stable: else in the order of the book


def _told(symptom: Symptom, rule: Rule) -> int:
    """How many of its signs a rule's own words have; a sign begins a word."""
    air = rule.doc.air.lower()
    return sum(re.search(rf"\b{re.escape(sign)}", air) is not None for sign in symptom.signs)


def meant(words: str, symptoms: Sequence[Symptom] = SYMPTOMS) -> list[Symptom]:
    """The symptoms that somebody's words may mean, the likeliest first; none where none fits.

    >>> [found.name for found in meant("it flipped at take-off")][:1]
    ['flips on take-off']
    >>> meant("the weather is fine")
    []
    """
    asked = _roots(words)
    rated = [(max(_alike(asked, said) for said in (s.name, *s.also)), s) for s in symptoms]
    best = max((rate for rate, _ in rated), default=0)
    return [s for rate, s in sorted(rated, key=lambda entry: -entry[0]) if rate and rate > best / 2]


def _alike(asked: frozenset[str], said: str) -> float:
    """How alike two sets of words are, 0 to 1 (Jaccard's measure)."""
    roots = _roots(said)
    return len(asked & roots) / max(1, len(asked | roots))


def _roots(text: str) -> frozenset[str]:
    """Its words without their endings; those that say little are left out."""
    words = _WORD.findall(text.lower())
    return frozenset(_root(word) for word in words if word not in _EMPTY)


def _root(word: str) -> str:
    for ending in ("ping", "ped", "ting", "ted", "ing", "es", "ed", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)]
    return word.removesuffix("e") if len(word) > 3 else word
