"""Sessions: a layout that is changed, and of which only what a change touches is proved again."""

from netlister.session.session import Changed, Delta, Session

__all__ = ["Changed", "Delta", "Session"]
