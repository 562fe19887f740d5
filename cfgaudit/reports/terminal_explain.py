"""The screens of `explain`: one rule, one limit, or one setting."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.rules.rule import Rule
from cfgaudit.vocabulary.paths import Declared
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:  # most that is explained takes none
    from cfgaudit.rules.rule import Limit

_LABEL = 12


def rule_screen(rule: Rule, limits: "Iterable[Limit]", width: int) -> Screen:
    """One rule: its level, what is wrong, in the air, mend, source, and the limits it takes."""
    screen = Screen(width)
    screen.line(Piece(rule.id, "strong"), "  ", Piece(rule.level.value, rule.level.value))
    screen.blank()
    screen.paragraph(rule.doc.wrong)
    screen.paragraph(rule.doc.air, label=air_label(rule), hang=_LABEL)
    screen.paragraph(rule.doc.mend, label="Mend", hang=_LABEL)
    screen.paragraph(rule.doc.source, label="Source", hang=_LABEL)
    if looks_at(rule):
        screen.paragraph(looks_at(rule), label="Looks at", hang=_LABEL)
    for limit in limits:
        text = f"{limit.name} = {limit_value(limit)}: {limit.says} ({limit.origin})"
        screen.paragraph(text, label="Limit", hang=_LABEL)
    return screen


def looks_at(rule: Rule) -> str:
    """What a rule looks at besides one dump; empty where that is all."""
    if rule.fleet:
        return "several craft together"
    if rule.sheet_wanted:
        return "the build sheet too, where there is one"
    return "the build sheet too; without one it is not checked" if rule.sheet else ""


def limit_screen(limit: "Limit", usual: "Limit", rules: Iterable[Rule], width: int) -> Screen:
    """One limit: its value here, what it is, who thinks so, which rules take it, how to move it.

    `usual` is the same limit as the rule book has it.
    """
    screen = Screen(width)
    screen.line(Piece(limit.name, "strong"), f"  {limit_value(limit)}")
    screen.blank()
    screen.paragraph(sentence(limit.says))
    screen.paragraph(limit.origin, label="Origin", hang=_LABEL)
    if limit != usual:
        screen.paragraph(f"{limit_value(usual)} ({usual.origin})", label="Usual", hang=_LABEL)
    for rule in rules:
        screen.paragraph(rule.id, label="Rule", hang=_LABEL)
    value = f'"{limit_value(limit)}"' if limit.unit else limit_value(limit)
    move = f"below [limits] in cfgaudit.toml, with your own value: {limit.name} = {value}"
    screen.paragraph(move, label="To move it", hang=_LABEL)
    return screen


def limit_value(limit: "Limit") -> str:
    """A limit's value with its unit: `2 %`."""
    return f"{number_text(limit.value)} {limit.unit}".rstrip()


def sentence(text: str) -> str:
    """A line of description as a sentence."""
    return text[:1].upper() + text[1:] + "."


def air_label(rule: Rule) -> str:
    """What stands before a rule's second part: a house limit gives its reason there."""
    return "Because" if rule.area == "house" else "In the air"


def setting_screen(setting: Declared, width: int) -> Screen:
    """One setting: what it is, what values it takes, what a change of it can touch."""
    screen = Screen(width)
    screen.line(Piece(setting.pattern, "strong"), f"  {setting.cls.name.lower()}")
    screen.blank()
    screen.paragraph(sentence(setting.traits.says))
    screen.paragraph(setting.kind.says, label="Takes", hang=_LABEL)
    for index, names in setting.choices:
        screen.paragraph(", ".join(names), label=index, hang=_LABEL)
    for mark in marks_of(setting):
        screen.paragraph(mark, label="Mark", hang=_LABEL)
    return screen


def marks_of(setting: Declared) -> list[str]:
    """What sets a setting apart from the others, in words."""
    marks = []
    if setting.traits.craft_own:
        marks.append("belongs to this one craft; left out when two craft are compared")
    if setting.traits.volatile:
        marks.append("moves by itself; counted, not listed, where changes are")
    if setting.traits.secret:
        marks.append("secret; hidden when a dump is shared")
    return marks
