"""The screens of `explain`: one rule, or one setting."""

from cfgaudit.craft.vocabulary import Declared
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.rules.rule import Rule

_LABEL = 12


def rule_screen(rule: Rule, width: int) -> Screen:
    """One rule: its level, what is wrong, in the air, mend, source."""
    screen = Screen(width)
    screen.line(Piece(rule.id, "strong"), "  ", Piece(rule.level.value, rule.level.value))
    screen.blank()
    screen.paragraph(rule.doc.wrong)
    screen.paragraph(rule.doc.air, label=air_label(rule), hang=_LABEL)
    screen.paragraph(rule.doc.mend, label="Mend", hang=_LABEL)
    screen.paragraph(rule.doc.source, label="Source", hang=_LABEL)
    return screen


def air_label(rule: Rule) -> str:
    """What stands before a rule's second part: a house limit gives its reason there."""
    return "Because" if rule.area == "house" else "In the air"


def setting_screen(setting: Declared, width: int) -> Screen:
    """One setting: what it is, what values it takes, what a change of it can touch."""
    screen = Screen(width)
    screen.line(Piece(setting.pattern, "strong"), f"  {setting.cls.name.lower()}")
    screen.blank()
    screen.paragraph(setting.traits.says[:1].upper() + setting.traits.says[1:] + ".")
    screen.paragraph(setting.kind.says, label="Takes", hang=_LABEL)
    for index, names in setting.choices:
        screen.paragraph(", ".join(names), label=index, hang=_LABEL)
    marks = []
    if setting.traits.craft_own:
        marks.append("belongs to this one craft; left out when two craft are compared")
    if setting.traits.secret:
        marks.append("secret; hidden when a dump is shared")
    for mark in marks:
        screen.paragraph(mark, label="Mark", hang=_LABEL)
    return screen
