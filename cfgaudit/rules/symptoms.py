"""Symptoms: what a builder sees go wrong, and the rules that may say why.

A rule is reached by what its own "In the air" part says (`signs`), and by being declared here
where that part says it in other words. Most of what is seen has causes that no dump tells, so each
symptom says what to look at by hand too. All of it is from the trade.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from cfgaudit.rules.rule import Level, Rule


class Symptom(NamedTuple):
    """What is seen, in a builder's words; `signs` are looked for in the rules' own words.

    `also` are other ways to say it, `rules` areas and rules that are about it whatever they say,
    `by_hand` is what to look at beside the dump, `lines` are the settings that move it in a dump
    in which nothing is wrong (as `covers` reads a pattern); of each the likeliest first.
    """

    name: str
    also: tuple[str, ...]
    signs: tuple[str, ...]
    rules: tuple[str, ...]
    by_hand: tuple[str, ...]
    lines: tuple[str, ...] = ()


SYMPTOMS: Final = (
    Symptom(
        "no picture",
        ("black goggles", "dark screen", "snow", "wrong channel"),
        ("picture",),
        ("video", "camera", "power/rail-out-of-range"),
        (
            "Both ends on one frequency: the transmitter's and the goggles' channel.",
            "Aerials on before power: a transmitter without one breaks.",
            "The camera's own supply and its signal wire, with a meter.",
        ),
        ("video.transmitter", "camera"),
    ),
    Symptom(
        "picture cuts out in flight",
        (
            "picture goes black on throttle",
            "picture lost far away",
            "picture flickers",
            "lines in the picture",
            "picture breaks up",
        ),
        ("picture",),
        ("power/rail-out-of-range", "power/rail-overloaded", "video", "camera"),
        (
            "With throttle: the supply. The rail's voltage with a meter, and a capacitor across "
            "the pack's lead.",
            "With distance, or behind the body: aerials, channel, power.",
            "After some minutes: the transmitter gets hot and lowers its power; give it air.",
        ),
        ("video.transmitter",),
    ),
    Symptom(
        "nothing shown on the picture",
        ("no overlay", "no text in the goggles", "overlay missing"),
        ("overlay",),
        ("overlay", "video/standard-mismatch"),
        ("Camera and overlay on one standard, and the grid that the goggles use.",),
        ("overlay.enabled", "overlay.standard", "camera.standard"),
    ),
    Symptom(
        "flips on take-off",
        ("flips over at take-off", "tips over", "rolls over", "tumbles", "crashes at once"),
        ("flip", "tips over", "tumbles", "rolls over", "as it leaves the ground"),
        (
            "motor/wired-elsewhere",
            "motor/reversal-mismatch",
            "motor/control-sign",
            "motor/output-twice",
            "motor/output-missing",
            "frame/not-as-built",
            "sensor/board-rotation",
            "motor",
            "frame",
            "gain/negative",
            "gain/zero-p",
            "pads",
        ),
        (
            "Propellers off: run each motor alone; does the right one turn, and the right way?",
            "Each propeller: made for the way its motor turns, its lettering up.",
            "Tilt the craft by hand: does what it shows of its attitude follow?",
        ),
        ("frame.layout", "frame.rotation", "motors.*.output", "motors.*.spin", "board.rotation"),
    ),
    Symptom(
        "turns by itself",
        (
            "spins in yaw",
            "yaws by itself",
            "yaw turns slowly",
            "does not hold its heading",
            "rotates",
            "yaw drifts",
        ),
        ("turns by itself", "spins up", "heading"),
        (
            "motor/reversal-mismatch",
            "motor/yaw-unbalanced",
            "motor/neighbours-alike",
            "loop/no-yaw",
            "receiver/centre-off",
            "motor/mixer-lopsided",
            "sensor/compass-rotation",
        ),
        (
            "Fast, and against the stick: a motor or a propeller turns the wrong way.",
            "Slowly: hold the craft still as the pack is connected; the gyro finds its zero then.",
            "Yaw at rest: the receiver's middle, and the trim at the handset.",
            "Motors upright on their arms: one that leans turns the craft.",
        ),
        (
            "frame.rotation",
            "motors.*.spin",
            "receiver.centre",
            "receiver.ends.*.centre",
            "receiver.yaw_deadband",
        ),
    ),
    Symptom(
        "yaw gives way",
        (
            "yaw washes out",
            "yaw washes out in turns",
            "tail slides out",
            "nose swings out on throttle",
            "weak yaw",
            "turns too slowly in yaw",
        ),
        ("turn of the nose",),
        ("loop/no-yaw", "motor/mixer-lopsided", "gain/zero-i", "motor/hover-high", "gain"),
        (
            "Motors upright on their arms, propellers whole: yaw has the least to turn with.",
            "In a log: does a motor stand at full or at idle as it happens? Then no gain helps; "
            "ask for less yaw, or fly with less weight.",
            "Else yaw's I, then its P, a little more at a time; feel the motors after each flight.",
        ),
        ("loop.yaw_most", "banks.*.gains.yaw", "banks.*.rates.yaw", "motors.*.mix.yaw", "esc.idle"),
    ),
    Symptom(
        "will not arm",
        ("does not arm", "cannot arm", "refuses to arm", "motors never start"),
        ("does not arm", "can't be started", "sticks are dead", "no sticks", "sticks do nothing"),
        (
            "switch/no-arm",
            "switch/range-empty",
            "switch/channel-not-carried",
            "switch/range-unreachable",
            "serial/receiver-unassigned",
            "receiver/link-port-mismatch",
            "receiver",
            "sensor/accelerometer-uncalibrated",
            "sensor/arming-tilt-small",
        ),
        (
            "What the craft itself says of it: its console, or the picture, names the reason.",
            "Throttle at its lowest, craft level and still, and a position if one is asked for.",
            "At the receiver: is it bound, and does the arm channel move?",
        ),
        ("switches.arm", "switches.arm_interlock", "arming", "receiver.link"),
    ),
    Symptom(
        "arms or starts by itself",
        (
            "arms itself",
            "motors start by themselves",
            "starts by surprise",
            "cannot disarm",
            "does not stop",
            "motors do not stop",
        ),
        (
            "arm itself",
            "may start",
            "can't be stopped",
            "as soon as",
            "leaps from the ground",
            "nor stopped",
            "can't stop",
        ),
        (
            "switch/always-armed",
            "switch/armed-at-rest",
            "switch/armed-at-failsafe-value",
            "switch/on-stick",
            "switch/arms-with-throttle",
            "switch/edge-at-position",
        ),
        (
            "Propellers off until it is found.",
            "Switch the handset off at the bench and watch the arm channel.",
        ),
        ("switches.arm", "switches.arm_interlock", "arming", "failsafe.channels"),
    ),
    Symptom(
        "leaps as it arms",
        ("jumps as it arms", "motors race at idle", "hops on arming"),
        ("leaps from the ground",),
        ("esc/idle-high", "esc/pulse-order", "switch/arms-with-throttle", "esc/pulse-travel"),
        (
            "Propellers off: what do the motors do as it arms, throttle at its lowest?",
            "The throttle's lowest pulse at the receiver, and the trim at the handset.",
        ),
        ("esc.idle", "esc.pulse_*", "arming.throttle_below", "receiver.low", "receiver.ends.*.low"),
    ),
    Symptom(
        "moves with the handset off",
        (
            "twitches with the handset off",
            "motors twitch without a handset",
            "starts when the handset is switched off",
        ),
        ("link is lost",),
        (
            "failsafe/receiver-hides-loss",
            "switch/armed-at-failsafe-value",
            "failsafe/function-comes-on",
            "failsafe/sticks-off-centre",
            "failsafe/throttle-opens",
            "serial/inversion-mismatch",
            "receiver/link-port-mismatch",
            "serial/wired-elsewhere",
            "failsafe",
        ),
        (
            "Propellers off until it is found.",
            "What the receiver sends when it hears nothing: no frames, the last ones, or its own.",
            "Disarmed, and still a motor twitches: its signal wire, and the ground beside it.",
        ),
        ("receiver.link", "failsafe", "switches.arm"),
    ),
    Symptom(
        "stops in flight",
        (
            "disarms in flight",
            "motors stop in the air",
            "a motor stops in flight",
            "falls out of the sky",
            "drops like a stone",
            "rolls over in flight",
            "loses sync",
            "desync",
        ),
        ("the motors stop",),
        (
            "failsafe/disarms-in-air",
            "failsafe/throttle-closes",
            "switch/on-stick",
            "switch/on-the-way",
            "switch/edge-at-position",
            "switch/kill-in-reach",
            "esc/idle-low",
            "failsafe/too-nervous",
            "power",
            "esc",
        ),
        (
            "All at once: link, arm channel or supply; a log or the handset tells which.",
            "One alone: its wires, its speed controller, its screws in the winding.",
            "After a quick cut of the throttle: an idle so low that a motor loses its step.",
        ),
        ("switches.arm", "switches.motors_kill", "failsafe", "esc.idle"),
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
        ("telemetry", "receiver.link"),
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
        ("esc", "motors.*.output"),
    ),
    Symptom(
        "drifts",
        (
            "drifts to one side",
            "drifts left",
            "leans",
            "tilts to one side",
            "slides away",
            "flies backwards by itself",
            "does not hover",
        ),
        ("drift", "leans", "askew"),
        (
            "sensor/accelerometer-uncalibrated",
            "sensor/trim-far",
            "receiver/centre-off",
            "sensor/board-rotation",
            "sensor",
            "board",
        ),
        (
            "Calibrate the accelerometer on a table that is level.",
            "The sticks' middles at the receiver, and the trims at the handset.",
            "The pack's place: does the craft balance at its centre?",
            "Without a hold of its position a craft goes with the wind: that is no fault.",
        ),
        (
            "sensors.accelerometer",
            "board.rotation",
            "receiver.centre",
            "receiver.ends.*.centre",
            "receiver.deadband",
        ),
    ),
    Symptom(
        "does not hold position",
        (
            "toilet bowl",
            "circles where it should hold its position",
            "compass wrong",
            "hold drifts away",
        ),
        ("drift", "heading", "position"),
        ("sensor/compass-rotation", "switch/needs-sensor", "position", "sensor"),
        (
            "The compass away from the pack's leads, and turned as it is set.",
            "The compass calibrated out of doors, away from cars and iron.",
            "Open sky, and some minutes until the fix is good.",
        ),
        ("sensors.compass", "position", "switches.position_hold"),
    ),
    Symptom(
        "climbs by itself",
        ("rises", "shoots up", "does not come down", "goes up when it should be level"),
        ("goes up", "climb"),
        ("esc/idle-high", "failsafe/throttle-opens", "failsafe/landing-throttle", "filter/none"),
        ("Propellers off: do the motors run up by themselves, without a stick moved?",),
        ("esc.idle", "filters", "notches"),
    ),
    Symptom(
        "sinks when it tilts",
        (
            "loses height when tilted",
            "drops in turns",
            "sinks in forward flight",
            "height hold sinks",
            "does not hold its height",
        ),
        ("climbs or sinks", "drops a side"),
        ("switch/needs-sensor", "motor/hover-high", "esc/pulse-travel"),
        (
            "Without height hold that is so: at 30 degrees the lift carries a seventh less weight, "
            "at 45 three tenths.",
            "With height hold: the barometer under open foam, out of wash and light.",
            "The pack, its age and its sag; the weight that the motors carry.",
        ),
        ("switches.altitude_hold", "sensors.barometer", "esc.pulse_*"),
    ),
    Symptom(
        "hot motors",
        (
            "motors get hot",
            "one motor hotter than the others",
            "motors burn",
            "grinding noise",
            "smell of varnish",
        ),
        ("hot", "noise", "burn"),
        (
            "filter/none",
            "gain/far-from-baseline",
            "filter/above-nyquist",
            "notch/needs-reports",
            "motor/poles-odd",
            "motor/poles-mismatch",
            "notch",
        ),
        (
            "Halve the D gains and feel again: the D term makes noise greater, and motors hot.",
            "Bent propellers, bent bells, dry bearings: change those first.",
            "Land after ten seconds and feel each motor; one hot alone is that motor.",
        ),
        ("banks.*.gains.*.d", "filters", "notches", "motors.poles"),
    ),
    Symptom(
        "shakes",
        ("vibrates", "oscillates", "wobbles", "trembles", "yaw twitches", "jelly in the picture"),
        ("shake", "unstable", "oscillat", "uneven delay"),
        ("gain", "filter", "notch", "loop"),
        (
            "Fast and fine, motors hot: noise, through D. Slow and wide: much P, or late filters.",
            "The board's mounting: soft, and touched by no wire.",
            "Screws, arms and propellers.",
        ),
        ("banks.*.gains", "filters", "notches"),
    ),
    Symptom(
        "shakes at full throttle",
        (
            "shakes on punch-out",
            "shakes when I punch it",
            "oscillates on throttle",
            "vibrates at high throttle",
        ),
        ("shake", "unstable", "oscillat"),
        (
            "gain/far-from-baseline",
            "notch/range-misses-motors",
            "filter/none",
            "gain",
            "notch",
            "filter",
        ),
        (
            "Propellers, motor screws, arms, the board's mounting: a frame rings at one speed.",
            "P and D that are right in a hover can be too much at full throttle: a fifth less of "
            "both, or less of them with throttle where the firmware can.",
            "A fresh pack: one that sags deep upsets what hangs on it.",
        ),
        ("banks.*.gains", "notches", "filters"),
    ),
    Symptom(
        "wobbles as it comes down",
        (
            "wobbles in descents",
            "prop wash",
            "shakes in its own wash",
            "oscillates in propwash",
            "wobbles when the throttle is cut",
            "wobbles after quick turns",
        ),
        ("wash",),
        ("filter/delay", "esc/idle-low", "gain", "filter", "notch"),
        (
            "Every craft does it a little in its own wash: come down with some way on.",
            "Fresh propellers of a stiff make; a light craft shows it less.",
            "Filters that are later than the motors' heat asks for; then D, a little more of it.",
            "Idle: a motor that turns faster is sooner at its thrust.",
        ),
        ("esc.idle", "banks.*.gains.*.d", "banks.*.gains.*.p", "filters", "notches"),
    ),
    Symptom(
        "bounces back after a flip",
        (
            "bounces back after a roll",
            "rebounds",
            "overshoots at the end of a turn",
            "nose dips on braking",
        ),
        ("quick turns",),
        ("gain/zero-p", "gain/far-from-baseline", "esc/idle-low", "filter/delay", "gain", "rate"),
        (
            "At once and short: more D, or less P. Slow, and it swings back: less I.",
            "A motor at idle or at full as the flip ends can give no more: idle, pack, weight.",
            "One change at a time, and feel the motors after each flight.",
        ),
        ("banks.*.gains.roll", "banks.*.gains.pitch", "banks.*.rates", "esc.idle"),
    ),
    Symptom(
        "falls or flies away on link loss",
        (
            "falls on link loss",
            "fly away",
            "failsafe",
            "flies away",
            "lost link",
            "link lost far away",
            "receiver lost in flight",
            "signal lost far away",
            "receiver lost",
        ),
        ("link is lost", "nobody steering", "nobody steers", "flies on", "flies off"),
        ("failsafe", "switch/armed-at-failsafe-value"),
        (
            "Propellers off: switch the handset off and watch what the board does, and when.",
            "What the receiver itself was taught to send when it hears nothing.",
        ),
        ("failsafe",),
    ),
    Symptom(
        "does not come home",
        (
            "return home fails",
            "return home goes the wrong way",
            "way home",
            "hangs in the air",
            "home point wrong",
        ),
        ("way home", "home", "hangs where"),
        ("home", "sensor/compass-rotation", "position"),
        ("Was home set? It waits for a fix before arming.", "Trees and roofs on the way."),
        ("home", "position", "switches.return_home", "failsafe.action"),
    ),
    Symptom(
        "no position",
        ("no fix", "no satellites", "position lost", "never gets a fix"),
        ("no fix", "position"),
        ("position",),
        ("Open sky, and some minutes the first time.", "Receive and transmit wires crossed."),
        ("position",),
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
            "does not bind",
        ),
        ("stick", "does not obey", "receiver", "wrong axis", "jerk", "can't be turned"),
        ("receiver", "rate", "serial", "motor/control-sign"),
        ("At the receiver: is it bound?", "Does each channel move as its stick does, one by one?"),
        ("receiver",),
    ),
    Symptom(
        "a switch does nothing or the wrong thing",
        ("mode does not change", "function does not come on", "switch dead"),
        ("the switch does", "never comes on", "function", "goes on and off"),
        ("switch",),
        ("Move the switch: which channel moves, and how far in each position?",),
        ("switches",),
    ),
    Symptom(
        "does not turn over after a crash",
        ("does not flip over after a crash", "self-righting does nothing", "stays on its back"),
        (),
        ("switch/self-right-does-nothing", "switch/range-unreachable", "switch/range-empty"),
        (
            "Disarm, its switch on, arm again: most boards turn motors round only as they arm.",
            "Nothing in the propellers' way; a motor that is held burns.",
        ),
        ("switches.self_right", "esc.protocol", "esc.reversible_thrust", "arming.max_tilt"),
    ),
    Symptom(
        "no warning of an empty pack",
        (
            "pack empty",
            "voltage wrong",
            "pack shows 0 volts",
            "current wrong",
            "pack alarm",
            "pack warning too early",
            "sags",
            "falls without warning",
            "falls out of the sky when the pack is low",
        ),
        ("empty pack", "warning", "voltage", "pack is flown", "pack may be flown"),
        ("battery", "alarm"),
        (
            "The voltage at the pack with a meter, against the one shown.",
            "Speed controllers may stop by themselves at a low voltage: land before it.",
        ),
        ("battery",),
    ),
    Symptom(
        "buzzer is silent",
        ("buzzer never beeps", "no beep", "can't find it in the grass"),
        ("buzzer",),
        ("alarm", "switch/no-finder"),
        ("Its two wires, and which is plus; a board on USB alone may not feed it.",),
        ("finder", "switches.buzzer"),
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
        ("sluggish", "no power", "weak", "slow", "mushy throttle", "overshoots"),
        ("full throttle", "reaches", "slower", "answer", "thrust"),
        ("esc", "rate", "gain", "motor/hover-high"),
        ("The pack: its age, and how far its voltage sags at full throttle.",),
        ("banks.*.rates", "banks.*.gains", "esc.pulse_*"),
    ),
    Symptom(
        "nothing is logged",
        ("no log", "log empty", "flight log missing"),
        ("log",),
        ("log",),
        ("A card that is in, formatted and not full.",),
        ("flight_log",),
    ),
)

_RANK: Final = {Level.ERROR: 0, Level.WARNING: 1, Level.NOTE: 2}
_WORD: Final = re.compile(r"[a-z']+")
_EMPTY: Final = frozenset(  # words that say little
    _WORD.findall(
        "a an and the my it its is are be by my on in of or at to when where with i no not do does "
        "doesn't don't can't cannot will won't never nothing there "
        "up out after craft quad drone copter"
    )
)
_SAME: Final = {  # other words for the same part, as roots
    "battery": "pack",
    "lipo": "pack",
    "radio": "handset",
    "transmitter": "handset",
    "gps": "position",
    "rx": "receiver",
    "video": "picture",
    "image": "picture",
    "prop": "propeler",
    "altitud": "height",
    "descend": "descent",
}
_STRANGE: Final = 0.5  # what a word that no symptom has weighs, of one that a single symptom has


def reached(symptom: Symptom, rules: Iterable[Rule]) -> list[Rule]:
    """The rules that may say why, the likeliest first: declared here, graver, with more signs."""

    def rank(rule: Rule) -> tuple[int, int, int]:
        return (_declared(symptom, rule), _RANK[rule.level], -_told(symptom, rule))

    undeclared = len(symptom.rules)
    found = [
        rule for rule in rules if _declared(symptom, rule) < undeclared or _told(symptom, rule)
    ]
    return sorted(found, key=rank)  # stable: else in the order of the book


def _declared(symptom: Symptom, rule: Rule) -> int:
    """Where a symptom names a rule, or its area; behind all where it does not."""
    named = (at for at, name in enumerate(symptom.rules) if name in (rule.id, rule.area))
    return next(named, len(symptom.rules))


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
    said = [[_roots(phrase) for phrase in (one.name, *one.also)] for one in symptoms]
    having = Counter(root for phrases in said for root in frozenset[str]().union(*phrases))
    weights = {root: 1 / count for root, count in having.items()}
    rated = [
        (max(_alike(asked, phrase, weights) for phrase in phrases), symptom)
        for phrases, symptom in zip(said, symptoms, strict=True)
    ]
    best = max((rate for rate, _ in rated), default=0)
    return [s for rate, s in sorted(rated, key=lambda entry: -entry[0]) if rate and rate > best / 2]


def _alike(asked: frozenset[str], said: frozenset[str], weights: Mapping[str, float]) -> float:
    """How alike two sets of words are, 0 to 1: Jaccard's measure, a rare word weighing more."""

    def weight(roots: frozenset[str]) -> float:
        return sum(weights.get(root, _STRANGE) for root in roots)

    return weight(asked & said) / (weight(asked | said) or 1)


def _roots(text: str) -> frozenset[str]:
    """Its words without their endings, as one word for one part; what says little is left out."""
    words = _WORD.findall(text.lower())
    roots = (_root(word) for word in words if word not in _EMPTY)
    return frozenset(_SAME.get(root, root) for root in roots)


def _root(word: str) -> str:
    for ending in ("ings", "ing", "ions", "ion", "es", "ed", "s", "e"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            word = word.removesuffix(ending)
            break
    return re.sub(r"(.)\1+$", r"\1", word)  # as in flipped
