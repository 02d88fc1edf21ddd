"""Kinds of track pieces: data in `parts/` and in a user's own files."""

from netlister.kinds.load import Definition, KindError, Library, Takes, library

__all__ = ["Definition", "KindError", "Library", "Takes", "library"]
