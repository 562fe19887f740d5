"""What `explain` tells of rules, limits and settings: screens, data, and the book in Markdown."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from cfgaudit import __version__
from cfgaudit.reports.data import class_json, head
from cfgaudit.reports.markdown_text import escaped, paragraph, table
from cfgaudit.reports.screen import LABEL, Piece, Screen
from cfgaudit.reports.wording import air_label, first_sentence, sentence
from cfgaudit.rules.rule import Level, Limit, Rule, usual_limits
from cfgaudit.vocabulary.paths import Declared, index_names
from cfgaudit.vocabulary.units import number_text


class ExampleLine(NamedTuple):
    """A setting as a line that states it, and what it means where that is another dialect's."""

    text: str
    means: str = ""


class Explanation(NamedTuple):
    """What is to be explained. A rule comes with the limits that it takes."""

    rules: Sequence[Rule] = ()
    limits: Sequence[Limit] = ()
    settings: Sequence[Declared] = ()
    wrong: Sequence[ExampleLine] = ()  # of one rule: an example, and one it says nothing of
    right: Sequence[ExampleLine] = ()


def rule_screen(told: Explanation, width: int) -> Screen:
    """One rule: its level, what is wrong, in the air, mend, source, its limits, its example."""
    (rule,), limits = told.rules, told.limits
    screen = Screen(width)
    screen.line(Piece(rule.id, "strong"), "  ", Piece(rule.level.value, rule.level.value))
    screen.blank()
    screen.paragraph(rule.doc.wrong)
    for label, said in parts_of(rule):
        screen.labelled(label, [said])
    for limit in limits:
        text = f"{limit.name} = {limit_value(limit)}: {limit.says} ({limit.origin})"
        screen.labelled("Limit", [text])
    for label, lines in (("Wrong", told.wrong), ("Right", told.right)):
        for number, (text, means) in enumerate(lines):
            again = number and text == lines[number - 1].text
            if not again:
                screen.paragraph(text, label="" if number else label, hang=LABEL)
            if means:
                screen.paragraph(means, hang=LABEL, indent=4, style="quiet")
    return screen


def group_screen(told: Explanation, width: int) -> Screen:
    """What there is of a name: rules with what is wrong, limits, settings with what they are."""
    screen = Screen(width)
    for rule in told.rules:
        level = Piece(rule.level.value, rule.level.value)
        screen.line("  ", Piece(rule.id, "strong"), "  ", level)
        screen.paragraph(first_sentence(rule.doc.wrong), indent=4)
    for limit in told.limits:
        screen.line("  ", Piece(limit.name, "strong"), f"  {limit_value(limit)}")
        screen.paragraph(sentence(limit.says), indent=4)
    for setting in told.settings:
        screen.line("  ", Piece(setting.pattern, "strong"), f"  {setting.cls.name.lower()}")
        screen.paragraph(sentence(setting.traits.says), indent=4)
    return screen


def parts_of(rule: Rule) -> list[tuple[str, str]]:
    """What there is to say of a rule besides what is wrong, each part with its label."""
    looks_at = ""
    if rule.fleet:
        looks_at = "several craft together"
    elif rule.sheet_wanted:
        looks_at = "the build sheet too, where there is one"
    elif rule.sheet:
        looks_at = "the build sheet too; without one it is not checked"
    doc = rule.doc
    every = [(air_label(rule), doc.air), ("Mend", doc.mend), ("Source", doc.source)]
    return [*every, *([("Looks at", looks_at)] if looks_at else [])]


def limit_screen(limit: Limit, usual: Limit, rules: Iterable[Rule], width: int) -> Screen:
    """One limit: its value here, what it is, who thinks so, which rules take it, how to move it.

    `usual` is the same limit as the rule book has it.
    """
    screen = Screen(width)
    screen.line(Piece(limit.name, "strong"), f"  {limit_value(limit)}")
    screen.blank()
    screen.paragraph(sentence(limit.says))
    screen.labelled("Origin", [limit.origin])
    if limit != usual:
        screen.labelled("Usual", [f"{limit_value(usual)} ({usual.origin})"])
    for rule in rules:
        screen.labelled("Rule", [rule.id])
    value = f'"{limit_value(limit)}"' if limit.unit else limit_value(limit)
    move = f"below [limits] in cfgaudit.toml, with your own value: {limit.name} = {value}"
    screen.labelled("To move it", [move])
    return screen


def limit_value(limit: Limit) -> str:
    """A limit's value with its unit: `2 %`."""
    return f"{number_text(limit.value)} {limit.unit}".rstrip()


def setting_screen(setting: Declared, width: int) -> Screen:
    """One setting: what it is, what values it takes, what a change of it can touch."""
    screen = Screen(width)
    screen.line(Piece(setting.pattern, "strong"), f"  {setting.cls.name.lower()}")
    screen.blank()
    screen.paragraph(sentence(setting.traits.says))
    screen.labelled("Takes", [setting.kind.says])
    for index, names in index_names(setting):
        screen.labelled(index, [", ".join(names)])
    for mark in marks_of(setting):
        screen.labelled("Mark", [mark])
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


def book_json(told: Explanation) -> dict[str, Any]:
    """The whole output of explain: what was asked for."""
    return {
        **head(),
        "rules": [_rule_json(rule) for rule in told.rules],
        "limits": [_limit_json(limit) for limit in told.limits],
        "settings": [_setting_json(setting) for setting in told.settings],
        "wrong": [line.text for line in told.wrong],
        "right": [line.text for line in told.right],
    }


def _rule_json(rule: Rule) -> dict[str, Any]:
    return {
        "rule": rule.id,
        "area": rule.area,
        "level": rule.level.value,
        "fleet": rule.fleet,
        "sheet": rule.sheet,
        "wrong": rule.doc.wrong,
        "in_the_air": rule.doc.air,
        "mend": rule.doc.mend,
        "source": rule.doc.source,
        "limits": list(rule.limits),
    }


def _limit_json(limit: Limit) -> dict[str, Any]:
    return {
        "limit": limit.name,
        "value": limit.value,
        "unit": limit.unit,
        "says": limit.says,
        "origin": limit.origin,
        "usual": usual_limits()[limit.name].value,
    }


def _setting_json(setting: Declared) -> dict[str, Any]:
    traits = setting.traits
    return {
        "setting": setting.pattern,
        "class": class_json(setting.cls),
        "unit": setting.kind.unit,
        "takes": setting.kind.says,
        "says": traits.says,
        "names": {index: list(names) for index, names in index_names(setting)},
        "craft_own": traits.craft_own,
        "volatile": traits.volatile,
        "secret": traits.secret,
    }


def book_markdown(told: Explanation) -> str:
    """Every rule in full, in the order given and by area, and every setting."""
    limits = {limit.name: limit for limit in told.limits}
    parts = [f"# The rule book of cfgaudit {__version__}", count_of(told.rules)]
    for area in dict.fromkeys(rule.area for rule in told.rules):
        parts.append(f"## {area}")
        for rule in told.rules:
            if rule.area == area:
                parts += _rule(rule, [limits[name] for name in rule.limits])
    parts += ["## Settings", _settings_table(told.settings)]
    return "\n\n".join(parts) + "\n"


def count_of(rules: Sequence[Rule]) -> str:
    """How many rules there are: in all, by what they are about, and by level.

    `check` counts those about one craft.

    >>> count_of([])
    '0 rules: 0 about one craft. 0 errors, 0 warnings, 0 notes.'
    """
    from cfgaudit.audit.waivers import RULES  # one rule is explained without them
    from cfgaudit.rules.book import fleet_book

    apart = {"about several together": fleet_book(), "about waivers": RULES}
    ids = {says: {rule.id for rule in some} for says, some in apart.items()}
    many = {says: sum(rule.id in some for rule in rules) for says, some in ids.items()}
    about = [f"{len(rules) - sum(many.values())} about one craft"]
    about += [f"{count} {says}" for says, count in many.items() if count]
    levels = [f"{sum(rule.level is level for rule in rules)} {level.value}s" for level in Level]
    return f"{len(rules)} rules: {', '.join(about)}. {', '.join(levels)}."


def rules_table(rules: Iterable[Rule]) -> str:
    """A row a rule: id, level, and the first sentence of what is wrong."""
    rows = (
        (f"`{rule.id}`", rule.level.value, escaped(first_sentence(rule.doc.wrong)))
        for rule in rules
    )
    return "\n".join(table(("rule", "level", "what is wrong"), rows))


def _rule(rule: Rule, limits: Iterable[Limit]) -> Iterator[str]:
    yield f"### `{rule.id}`: {rule.level.value}"
    yield paragraph(rule.doc.wrong)
    lines = [f"- **{label}:** {escaped(said)}" for label, said in parts_of(rule)]
    lines += [
        f"- **Limit:** `{limit.name}` = {escaped(limit_value(limit))}: {escaped(limit.says)} "
        f"({escaped(limit.origin)})"
        for limit in limits
    ]
    yield "\n".join(lines)


def _settings_table(settings: Iterable[Declared]) -> str:
    rows = (
        (
            f"`{setting.pattern}`",
            setting.cls.name.lower(),
            escaped(_takes(setting)),
            escaped(sentence(setting.traits.says)),
            escaped(" ".join(map(sentence, marks_of(setting)))),
        )
        for setting in settings
    )
    return "\n".join(table(("setting", "class", "takes", "what it is", "marks"), rows))


def _takes(setting: Declared) -> str:
    """The values it takes, and for each index with a closed list, that list."""
    lists = [f"{index}: {', '.join(names)}" for index, names in index_names(setting)]
    return "; ".join([setting.kind.says, *lists])
