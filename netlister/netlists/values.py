"""Nodes as the layout's reader takes them, made from the fields of a netlist and placed where these stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.compose import compose, nodes_of
from netlister.source import FileFault, Mapping, Scalar, Sequence, Source, UnusableError

if TYPE_CHECKING:
    from netlister.netlists.drawing import DrawnText
    from netlister.source import Span, TextNode


def scalar(text: str, span: Span) -> TextNode:
    """A text, quoted: it is what it says, even where it is empty."""
    return Scalar(text, span, 0, '"')


def mapping(entries: list[tuple[TextNode, TextNode]], span: Span) -> TextNode:
    """A mapping of names to values."""
    return Mapping(entries, span, 0)


def sequence(items: list[TextNode], span: Span) -> TextNode:
    """A list."""
    return Sequence(items, span, 0)


def entry(name: str, span: Span, value: TextNode) -> tuple[TextNode, TextNode]:
    """An entry of a mapping."""
    return scalar(name, span), value


def texts(span: Span, pairs: list[tuple[str, DrawnText]]) -> TextNode:
    """A mapping of names to texts."""
    return mapping([entry(name, value.span, scalar(value.text, value.span)) for name, value in pairs], span)


def row(value: DrawnText) -> TextNode:
    """A field that is a list: `T1, T2`, with positions `T1, T2=diverging`, or a list as a layout has it."""
    if value.text.lstrip().startswith(("[", "{")):
        return written(value)
    items = []
    for part in value.text.split(","):
        name, sign, position = (word.strip() for word in part.partition("="))
        if name or sign:
            item = scalar(name, value.span)
            items.append(mapping([(item, scalar(position, value.span))], value.span) if sign else item)
    return sequence(items, value.span)


def pairs(value: DrawnText) -> TextNode:
    """A field that is a mapping: `T1=through, T2=diverging`, or a mapping as a layout has it."""
    if value.text.lstrip().startswith("{"):
        return written(value)
    entries = []
    for part in value.text.split(","):
        name, sign, text = (word.strip() for word in part.partition("="))
        if name and not sign:
            message = f"'{name}' has no '='; write what it is, as in 'name=value', and a comma between several"
            raise UnusableError([FileFault(value.span, message)])
        if name:
            entries.append((scalar(name, value.span), scalar(text, value.span)))
    return mapping(entries, value.span)


def written(value: DrawnText) -> TextNode:
    """A field that is written as in a layout: a list, a mapping or a text. Raises UnusableError for faulty YAML."""
    try:
        root = compose(Source(value.span.file, value.text))
    except UnusableError as error:
        raise UnusableError([FileFault(value.span, fault.message) for fault in error.faults]) from None
    for node in nodes_of(root):
        node.start = value.span
    return root
