"""When a mend is sure: the one meaning that check, mend and the bench give the word.

A change is sure to mend a finding only if, with it in, the finding is gone, every rule that could
look still can, nothing new is found in the finding's area, in what happens on link loss or at the
switches, nothing grave elsewhere, and it switches nothing on that may not be there. Everything else
is advice.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from cfgaudit.audit.engine import (
    FIRST,
    Audit,
    Finding,
    believed,
    new_and_cleared,
    of_another,
    said_twice_over,
)
from cfgaudit.dialects.plain import value_shown
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.vocabulary.paths import declared, matching

# What no mend may make worse by so much as a note: how the craft comes down without its link, and
# what its switches do.
_NEVER_WORSE: Final = ("failsafe", "switch")
_GRAVE: Final = (Level.ERROR, Level.WARNING)

# Settings that switch something on, with the kind of device of the build sheet that must be there;
# an empty kind where no sheet tells.
HARDWARE: Final[Mapping[str, str]] = {
    "position.enabled": "position",
    "telemetry.enabled": "telemetry",
    "video.transmitter.enabled": "video_transmitter",
    "video.transmitter.control": "video_transmitter",
    "camera.control": "camera",
    "finder.buzzer": "buzzer",
    "finder.buzzer_on_link_loss": "buzzer",
    "finder.led": "led",
    "sensors.accelerometer.enabled": "",
    "sensors.barometer.enabled": "",
    "sensors.compass.enabled": "",
    "esc.reports": "",
    "esc.reversible_thrust": "",
}
# Settings that can name what measures, carries or keeps something; a role or a use of a pad too.
_NAMING: Final = (
    "ports.ID.roles",
    "pads.ID.use",
    "battery.voltage_from",
    "battery.current_from",
    "flight_log.device",
    "esc.protocol",
    "notches.motor.enabled",
)

# What a channel takes on link loss is right or wrong by the control that it has.
_CLASH: Final = "receiver/map-clash"
_BY_CHANNEL: Final = "failsafe.channels."

Judge = Callable[[Settings], Audit]


def objection(finding: Finding, edits: Mapping[str, Value], before: Audit, after: Audit) -> str:
    """Why a change is not sure to mend a finding, as half a sentence; empty where it is.

    `before` and `after` are the audits without and with the change in the dump.
    """
    if any(other.key == finding.key for other in after.findings):
        return "the mend that it names does not clear it here"
    if finding not in believed(before.findings, before.settings, before.sheet):
        return _why_not(finding, before)
    clash = any(other.rule.id == _CLASH for other in before.findings)
    if clash and any(path.startswith(_BY_CHANNEL) for path in edits):
        return "two controls have one channel: which of them it is, comes first"
    why = harm(edits, before, after, finding.rule.area)
    return f"its mend {why}" if why else ""


def harm(edits: Mapping[str, Value], before: Audit, after: Audit, area: str) -> str:
    """What speaks against a change to settings of an area, as a verb with its object; or nothing.

    `before` and `after` are the audits without and with the change in the dump.
    """
    brought, _ = new_and_cleared(before, after)
    near = (area, *_NEVER_WORSE)
    worse = [f for f in brought if f.level in _GRAVE or f.rule.area in near]
    if worse:
        level = worse[0].level.value
        article = "an" if level[0] in "aeiou" else "a"
        return f"would bring {article} {level}, {worse[0].rule.id}: {worse[0].message}"
    blind = _blinded(before, after, edits)
    if blind:
        return f"would keep {blind} from being checked"
    told = replace(before, sheet=None) if of_another(before.findings) else before
    for path, value in edits.items():
        missing = _presumes(path, value, told)
        if missing:
            return f"takes for granted that {missing}"
    return ""


def _blinded(before: Audit, after: Audit, edits: Mapping[str, Value]) -> str:
    """The first rule that lacks something with the change in, which it did not lack before.

    What is not told of a port that is given its device's role, of that device or of what the role
    is for is first looked for then: nothing that was seen before is hidden by it.
    """
    lacked, reached = before.lacks, _reached(before, edits)
    for rule, lacks in after.lacks.items():
        fresh = set(lacks) - set(lacked.get(rule, ()))
        if any(not path.startswith(reached) for path in fresh):
            return rule
    return ""


# Where the dump says more of what some port carries; the others' settings are their role's own.
_SAID_OF: Final[Mapping[str, str]] = {"video_control": "video.transmitter.", "esc_reports": "esc."}


def _reached(before: Audit, edits: Mapping[str, Value]) -> tuple[str, ...]:
    """What begins the paths of ports whose roles change, of what is wired there, of new roles."""
    given = {path: value for path, value in edits.items() if path.endswith(".roles")}
    names = [path.split(".")[1] for path in given]
    stated = before.sheet.stated if before.sheet is not None else {}
    carried = {
        role
        for path, entry in before.settings.stated.items()
        if path.endswith(".roles") and isinstance(entry.value, frozenset)
        for role in entry.value
    }
    new = {role for value in given.values() if isinstance(value, frozenset) for role in value}
    said = [_SAID_OF.get(role, f"{role}.") for role in sorted(new - carried)]
    wired = [
        path.removesuffix("port")
        for path, entry in stated.items()
        if path.startswith("sheet.devices.") and path.endswith(".port") and entry.value in names
    ]
    ports = [f"{above}ports.{name}." for name in names for above in ("", "sheet.")]
    return (*ports, *wired, *said)


def _presumes(path: str, value: Value, audit: Audit) -> str:
    """What is taken to be there by a value, though the build sheet does not say so."""
    if path in HARDWARE and value not in (False, "none"):
        kind = HARDWARE[path]
        if not kind:
            return f"{path} has something to switch on"
        if not _fitted(audit.sheet, kind):
            return f"a {kind.replace('_', ' ')} is fitted"
    words = path.split(".")
    naming = any(matching(words, pattern.split("."), ()) for pattern in _NAMING)
    if naming and not _told_by_the_sheet(path, value, audit):
        return f"what {path} = {value_shown(path, value)} asks for is there"
    return ""


def _fitted(sheet: Settings | None, kind: str) -> bool:
    """Whether the build sheet has a device of a kind."""
    if sheet is None:
        return False
    return any(
        stated.value == kind
        for path, stated in sheet.stated.items()
        if path.startswith("sheet.devices.") and path.endswith(".kind")
    )


def _told_by_the_sheet(path: str, value: Value, audit: Audit) -> bool:
    """Whether a value names nothing, less than before, or what the build sheet has."""
    found = declared(path)
    if value is False or (found is not None and value == found.kind.nothing) or value == "free":
        return True
    now = audit.settings.stated.get(path)
    if isinstance(value, frozenset) and now is not None and isinstance(now.value, frozenset):
        if value < now.value:
            return True
        if value == {"console"}:
            return True  # the settings' own port needs nothing wired to it
    if path.startswith(("ports.", "pads.")) and audit.sheet is not None:
        return True  # the rule that gives such a mend read it off the sheet's wires
    if path == "esc.protocol":
        return value == "pwm"  # every output can send plain pulses
    return False


def _why_not(finding: Finding, audit: Audit) -> str:
    """What comes first, where a finding is not believed, as half a sentence."""
    if audit.settings.unmerged is not None:
        return "a merge is unfinished: choose one side of each conflict first"
    if of_another(audit.findings):
        return "the build sheet is of another craft or board: name the right one first"
    if not said_twice_over(audit.findings).isdisjoint(finding.paths):
        return "the build sheet has two parts at one place: look, and correct the sheet first"
    return "the bench found it otherwise than the build sheet says: correct the sheet first"


def not_believed(finding: Finding, audit: Audit) -> Finding:
    """A finding that hangs on what is wrong itself, a build sheet or a merge: that comes first."""
    why = _why_not(finding, audit)
    first = of_another([finding]) or finding.rule.id in FIRST
    advice = finding.advice if first else f"{why[:1].upper()}{why[1:]}."
    return finding._replace(mend=(), advice=advice)
