"""The whole book as Markdown: the rules area by area, then the settings as a table."""

import re
from collections.abc import Iterable, Iterator, Sequence

from cfgaudit import __version__
from cfgaudit.reports.safe import safe
from cfgaudit.reports.terminal_explain import air_label, limit_value, looks_at, marks_of, sentence
from cfgaudit.rules.rule import Level, Limit, Limits, Rule
from cfgaudit.vocabulary.paths import Declared

# What Markdown would take for its own; an underscore inside a word is none of it.
_ACTS = re.compile(r"[\\`*\[\]<|]|(?<!\w)_|_(?!\w)|&(?=#?\w+;)|~(?=~)")
_ACTS_FIRST = re.compile(r"^(?:([#+>=-])|(\d+)([.)]))")


def book_markdown(rules: Sequence[Rule], limits: Limits, settings: Sequence[Declared]) -> str:
    """Every rule in full, in the order given and by area, and every setting."""
    parts = [f"# The rule book of cfgaudit {__version__}", count_of(rules)]
    for area in dict.fromkeys(rule.area for rule in rules):
        parts.append(f"## {area}")
        for rule in rules:
            if rule.area == area:
                parts += _rule(rule, [limits[name] for name in rule.limits])
    parts += ["## Settings", _settings_table(settings)]
    return "\n\n".join(parts) + "\n"


def count_of(rules: Sequence[Rule]) -> str:
    """How many rules there are, in all and by level.

    >>> count_of([])
    '0 rules: 0 errors, 0 warnings, 0 notes.'
    """
    counts = [f"{sum(rule.level is level for rule in rules)} {level.value}s" for level in Level]
    return f"{len(rules)} rules: {', '.join(counts)}."


def rules_table(rules: Iterable[Rule]) -> str:
    """A row a rule: id, level, and the first sentence of what is wrong."""
    return _table(
        ("rule", "level", "what is wrong"),
        ((f"`{rule.id}`", rule.level.value, _first_sentence(rule.doc.wrong)) for rule in rules),
    )


def _first_sentence(text: str) -> str:
    return escaped(re.split(r"(?<=[a-z0-9)]\.) (?=[A-Z])", text)[0])


def _rule(rule: Rule, limits: Iterable[Limit]) -> Iterator[str]:
    yield f"### `{rule.id}`: {rule.level.value}"
    yield paragraph(rule.doc.wrong)
    lines = [
        f"- **{air_label(rule)}:** {escaped(rule.doc.air)}",
        f"- **Mend:** {escaped(rule.doc.mend)}",
        f"- **Source:** {escaped(rule.doc.source)}",
    ]
    if looks_at(rule):
        lines.append(f"- **Looks at:** {looks_at(rule)}")
    lines += [
        f"- **Limit:** `{limit.name}` = {escaped(limit_value(limit))}: {escaped(limit.says)} "
        f"({escaped(limit.origin)})"
        for limit in limits
    ]
    yield "\n".join(lines)


def _settings_table(settings: Iterable[Declared]) -> str:
    return _table(
        ("setting", "class", "takes", "what it is", "marks"),
        (
            (
                f"`{setting.pattern}`",
                setting.cls.name.lower(),
                escaped(_takes(setting)),
                escaped(sentence(setting.traits.says)),
                escaped(" ".join(map(sentence, marks_of(setting)))),
            )
            for setting in settings
        ),
    )


def _takes(setting: Declared) -> str:
    """The values it takes, and for each index with a closed list, that list."""
    lists = [f"{index}: {', '.join(names)}" for index, names in setting.choices]
    return "; ".join([setting.kind.says, *lists])


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    ruler = "|" + "---|" * len(heads)
    return "\n".join([f"| {' | '.join(heads)} |", ruler, *(f"| {' | '.join(r)} |" for r in rows)])


def escaped(text: str) -> str:
    r"""A text that Markdown shows letter by letter, within a line.

    >>> escaped("a*b | gyro_hz _c_ <d>")
    'a\\*b \\| gyro_hz \\_c\\_ \\<d>'
    """
    return _ACTS.sub(lambda found: "\\" + found[0], safe(text))


def paragraph(text: str) -> str:
    r"""A text that Markdown shows letter by letter, as a paragraph of its own.

    >>> paragraph("1. first"), paragraph("- 3 dB")
    ('1\\. first', '\\- 3 dB')
    """
    return _ACTS_FIRST.sub(lambda found: f"{found[2] or ''}\\{found[1] or found[3]}", escaped(text))
