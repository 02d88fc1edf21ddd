"""The layout file: what it says, with every name resolved."""

from netlister.layout.model import Layout
from netlister.layout.read import read_layout

__all__ = ["Layout", "read_layout"]
