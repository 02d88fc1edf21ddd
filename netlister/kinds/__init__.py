"""Kinds of track pieces: data in `parts/` and in a user's own files."""

from netlister.kinds.load import Library, Takes, library
from netlister.kinds.model import Definition, KindError

__all__ = ["Definition", "KindError", "Library", "Takes", "library"]
