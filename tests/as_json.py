"""A layout file as an editor sees it: YAML 1.2 with its core types, by a reading of its own."""

from __future__ import annotations

import re
from typing import Any

import yaml

_NULL = re.compile(r"|~|null|Null|NULL")
_TRUTH = re.compile(r"true|True|TRUE|false|False|FALSE")
_WHOLE = re.compile(r"[-+]?[0-9]+")
_NUMBER = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")


def as_json(text: str) -> Any:
    """The values of a text."""
    return _value(yaml.compose(text, Loader=yaml.CSafeLoader))


def _value(node: yaml.Node) -> Any:
    if isinstance(node, yaml.MappingNode):
        return {str(key.value): _value(value) for key, value in node.value}
    if isinstance(node, yaml.SequenceNode):
        return [_value(item) for item in node.value]
    return _scalar(node.value) if not node.style else node.value


def _scalar(text: str) -> Any:
    if _NULL.fullmatch(text):
        return None
    if _TRUTH.fullmatch(text):
        return text.lower() == "true"
    if _WHOLE.fullmatch(text):
        return int(text)
    return float(text) if _NUMBER.fullmatch(text) else text
