"""The language of mapping lines, as template.lark has it: a line's parts, and specs."""

import re
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any, NamedTuple, NoReturn

from lark import Token, Transformer

from cfgaudit.dialects.spec import (
    Cut,
    Holder,
    Lackable,
    Spec,
    SpecError,
    SpecForm,
    Stray,
    TemplatePart,
)
from cfgaudit.reading.grammars import Grammar, Misread, reader
from cfgaudit.reading.transformers import LINES, VALUES
from cfgaudit.vocabulary.paths import declared, did_you_mean
from cfgaudit.vocabulary.units import UnitError, unit

_WANTED = "in braces, a setting's path or an index in capitals is expected"
_KEYWORDS = ("words", "flags", "not", "from", "list", "but", "or", "bit", "over", "below")
_PLAIN = Spec()
_CUT = re.compile(r"[:=]").search


def parse_parts(line: str) -> Sequence[TemplatePart]:
    """The parts of a mapping line. Raises SpecError with where it stopped, and what is expected."""
    try:
        parts: Sequence[TemplatePart] = _read("line")(line)
    except Misread as error:
        raise SpecError(_said(error, line), error.position) from None
    return parts


def parse_spec(text: str, at: int = 0) -> Spec:
    """Read what stands behind a placeholder's colon, `at` in its line. Raises SpecError."""
    try:
        return _spec(text)
    except SpecError as error:
        raise SpecError(str(error), at + error.at) from None


@lru_cache(maxsize=1_000)
def _spec(text: str) -> Spec:
    if not text.strip():
        return Spec()
    try:
        spec: Spec = _read("spec")(text)
    except Misread as error:
        raise SpecError(_said(error, text), error.position) from None
    return spec


class TemplateTransformer(Transformer[Token, list[TemplatePart]]):
    """Makes the parts of a line; a method is named after its production in template.lark."""

    def nothing(self, _: list[TemplatePart]) -> list[TemplatePart]:
        """The parts so far: none."""
        return []

    def further(self, children: tuple[list[TemplatePart], TemplatePart]) -> list[TemplatePart]:
        """The parts so far, and one more; tokens are text."""
        parts, part = children
        parts.append(part)
        return parts

    def optional(self, children: list[TemplatePart]) -> Lackable:
        """What stands between the two brackets."""
        return Lackable(children[1:-1], _at(children[0]))

    def BRACES(self, token: Token) -> NoReturn:  # noqa: N802 (a terminal's name)
        """Raises SpecError: no placeholder stands in them."""
        raise SpecError(_WANTED, _at(token) + 1)

    def UNIT(self, token: Token) -> Token:  # noqa: N802 (a terminal's name)
        """A unit. Raises SpecError where there is none of that name."""
        try:
            unit(str(token))
        except UnitError as error:
            raise SpecError(f"{error}{did_you_mean(token, _KEYWORDS)}", _at(token)) from None
        return token

    def SIGN(self, token: Token) -> Token:  # noqa: N802 (a terminal's name)
        """A bracket, a brace or a star that is text."""
        return token.update(value=token[2:-2])

    def STRAY(self, token: Token) -> Stray:  # noqa: N802 (a terminal's name)
        """A brace without its partner."""
        return Stray(str(token), _at(token))

    def PLACEHOLDER(self, token: Token) -> Holder:  # noqa: N802 (a terminal's name)
        """An index or a path, and how its value is written or what it is. Raises SpecError."""
        inside, at = token[1:-1], _at(token)
        cut = _CUT(inside)
        target = inside.strip() if cut is None else inside[: cut.start()].strip()
        if "." not in target and not target.isupper() and declared(target) is None:
            raise SpecError(f"{target}: {_WANTED}", at + 1)
        if cut is None:
            return Holder(target, _PLAIN, at=at)
        behind = inside[cut.end() :]
        if cut.group() == "=":
            return Holder(target, _PLAIN, behind.strip(), at=at)
        return Holder(target, parse_spec(behind, at + 1 + cut.end()), at=at)

    def spec(self, children: list[Spec]) -> Spec:
        """One value."""
        return children[0]

    def many(self, children: list[Any]) -> Spec:
        """All that stands behind it."""
        but = children[2] if len(children) > 2 else None
        form: Spec = children[1]
        return form._replace(many=True, but=but)

    def plain(self, children: list[Any]) -> Spec:
        """All that stands behind it, as the plain form has it."""
        return Spec(many=True, but=children[1] if len(children) > 1 else None)

    def but(self, children: list[Token]) -> int:
        """The number that stands for no value of a list."""
        return int(children[1])

    def packed(self, children: list[Any]) -> Spec:
        """One value of a number that several share."""
        form: Spec = children[1] if len(children) > 1 else _PLAIN
        return form._replace(cut=children[0])

    def bit(self, children: list[Token]) -> Cut:
        """A bit, by what it is worth. Raises SpecError where that is no power of 2."""
        worth = int(children[1])
        if worth < 1 or worth & (worth - 1):
            raise SpecError("a bit is worth 1, 2, 4, 8 or so on", _at(children[1]))
        return Cut(worth, 2)

    def over(self, children: list[Token]) -> Cut:
        """How often a number goes into another."""
        return Cut(_positive(children[1]))

    def below(self, children: list[Token]) -> Cut:
        """What a number leaves of another."""
        return Cut(1, _positive(children[1]))

    def between(self, children: list[Token]) -> Cut:
        """How often a number goes into another, and what a third leaves of that."""
        return Cut(_positive(children[1]), _positive(children[3]))

    def words(self, children: list[Any]) -> Spec:
        """A value in the words of a table, or a number beside them."""
        beside = children[3] if len(children) > 3 else None
        return Spec(SpecForm.WORDS, table=str(children[1]), beside=beside)

    def others(self, children: list[Token]) -> Spec:
        """A number that adds up the bits of what a table has and is not meant."""
        return Spec(SpecForm.OTHERS, table=str(children[2]))

    def numbers(self, children: list[Spec]) -> Spec:
        """A number."""
        return children[0]

    def flags(self, children: list[Token]) -> Spec:
        """A number that adds up the bits of a table."""
        return Spec(SpecForm.FLAGS, table=str(children[1]))

    def negated(self, _: list[Token]) -> Spec:
        """On that means off."""
        return Spec(SpecForm.NOT)

    def counted(self, children: list[Token]) -> Spec:
        """A number, and how many lie below the dump's first one."""
        return Spec(SpecForm.FROM, base=int(children[1]))

    def scaled(self, children: "list[Spec | _Offset]") -> Spec:
        """A number in steps. Raises SpecError where the offset has another unit."""
        first, last = children[0], children[-1]
        scale = first if isinstance(first, Spec) else Spec(SpecForm.SCALED)
        if not isinstance(last, _Offset):
            return scale
        if last.unit and last.unit != scale.unit:
            raise SpecError("an offset in the same unit is expected behind +", last.at)
        return scale._replace(offset=last.size)

    def share(self, children: list[Token]) -> Spec:
        """What a step is worth, by another setting. Raises SpecError."""
        size, _, path = children[0].partition("/")
        scale = _number(size, children[0])
        return Spec(SpecForm.SCALED, _unit(children[-1]), scale, by=path)

    def ratio(self, children: list[Token]) -> Spec:
        """What the dump's number divides: a number or another setting. Raises SpecError."""
        over = children[0].removesuffix("/n")
        if over[0].isalpha():
            return Spec(SpecForm.SCALED, _unit(children[-1]), inverse=True, by=over)
        scale = _number(over, children[0])
        return Spec(SpecForm.SCALED, _unit(children[-1]), scale, inverse=True)

    def scale(self, children: list[Token]) -> Spec:
        """What a step is worth, and its unit. Raises SpecError for a step of nothing."""
        size = Fraction(1) if children[0].type == "UNIT" else _fraction(children[0])
        if not size:
            said = "a scale and a unit are expected, such as 0.01 V; a step of 0 says nothing"
            raise SpecError(said, _at(children[0]))
        return Spec(SpecForm.SCALED, _unit(children[-1]), size)

    def offset(self, children: list[Token]) -> "_Offset":
        """What is added, and its unit."""
        return _Offset(_fraction(children[1]), _unit(children[-1]), _at(children[-1]))


class _Offset(NamedTuple):
    size: Fraction
    unit: str = ""
    at: int = 0


def _at(part: object) -> int:
    """Where a token stands in the line, from 0."""
    return (part.start_pos or 0) if isinstance(part, Token) else 0


def _positive(token: Token) -> int:
    if int(token) < 1:
        raise SpecError("a number above 0 is expected", _at(token))
    return int(token)


def _number(text: str, token: Token) -> Fraction:
    """A decimal number. Raises SpecError for anything else, and for nought."""
    try:
        if Fraction(text):
            return Fraction(text)
    except ValueError:
        pass
    raise SpecError("a number other than 0 is expected", _at(token))


def _fraction(token: Token) -> Fraction:
    try:
        return Fraction(token)
    except ZeroDivisionError:
        raise SpecError("a number is expected; this one is divided by 0", _at(token)) from None


def _unit(token: Token) -> str:
    """The unit that a token names; none where it is the number."""
    return str(token) if token.type == "UNIT" else ""


@cache
def _read(start: str) -> Callable[[str], Any]:
    return reader(TEMPLATES, start)


# What the terminals of template.lark are called where one of them was expected.
_TERMINALS = {
    "NAME": "the name of a table",
    "WHOLE": "a whole number",
    "NUMBER": "a number",
    "UNIT": "a unit",
    "WORDS": "words NAME",
    "FLAGS": "flags NAME",
    "NOT": "not",
    "FROM": "from N",
    "LIST": "list",
    "BUT": "but N",
    "OR": "or",
    "BIT": "bit N",
    "OVER": "over N",
    "BELOW": "below N",
    "SHARE": "N/PATH",
    "RATIO": "N/n",
    "PLUS": "+",
    "$END": "}",
}


def _said(error: Misread, line: str) -> str:
    """What was expected where a line could not be read."""
    if "PLACEHOLDER" in error.expected:
        if line[error.position : error.position + 1] == "[":
            return "brackets at a line's end say that it may lack what stands in them: no others"
        return "a bracket without its partner"
    expected = [said for name, said in _TERMINALS.items() if name in error.expected]
    *most, last = expected
    said = f"{', '.join(most)} or {last}" if most else last
    return f"{said} is expected"


TEMPLATES = Grammar("template", "contextual", TemplateTransformer, ("line", "spec"))
GRAMMARS = (LINES, VALUES, TEMPLATES)  # every one there is: their parsers are saved when packing
