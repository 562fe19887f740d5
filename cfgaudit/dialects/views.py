"""How a line is looked at while its mapping is sought: its words, cells or value, its head."""

from collections.abc import Iterable, Sequence

from cfgaudit.dialects.model import Node
from cfgaudit.dialects.template import Template, match
from cfgaudit.reading.shapes import Assignment, Directive, Row, Shape, Span
from cfgaudit.reading.words import cells, words

Line = Assignment | Directive | Row  # the shapes that state something
View = tuple[Line, Sequence[Span], str]  # a line, its words or cells or its one value, its head


def is_known(node: Node, views: Iterable[View]) -> bool:
    """Whether the dialect lists the line as one without a neutral meaning."""
    if not node.known:
        return False
    for view, cut, head in views:
        candidates = node.known.get((type(view), head), []) + node.known.get((type(view), ""), [])
        if any(match(template, view, cut) is not None for template in candidates):
            return True
    return False


def head_of(shape: Shape, cut: Sequence[Span]) -> str:
    """The key of an assignment, the first word or cell of another line."""
    if isinstance(shape, Assignment):
        return " ".join(shape.key.text.split())
    return cut[0].text if cut else ""


def cut_of(shape: Shape) -> Sequence[Span]:
    """The one value, the cells or the words of a line."""
    if isinstance(shape, Assignment):
        return [shape.value]
    if isinstance(shape, Row):
        return cells(shape.body)
    return words(shape.body) if isinstance(shape, Directive) else ()


def views_of(shape: Line) -> tuple[View, ...]:
    """The line as it is and, where commas may belong to a directive's words, as a directive."""
    return (_view(shape), _view(Directive(shape.body))) if type(shape) is Row else (_view(shape),)


def _view(shape: Line) -> View:
    cut = cut_of(shape)
    return shape, cut, head_of(shape, cut)


def renamed_cut(cut: Sequence[Span], template: Template, shape: Shape) -> Sequence[Span]:
    """Words under today's first word, where the template has one."""
    is_other = bool(cut) and cut[0].text != template.head
    if template.head and is_other and not isinstance(shape, Assignment):
        return [Span(template.head, cut[0].start), *cut[1:]]
    return cut


def renamed(shape: Shape, template: Template) -> Shape:
    """An assignment under today's key, where the template has one."""
    if isinstance(shape, Assignment) and template.head and shape.key.text != template.head:
        return Assignment(Span(template.head, shape.key.start), shape.sign, shape.value)
    return shape
