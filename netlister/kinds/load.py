"""Kinds from their files: the library's own, and a user's."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.compose import compose
from netlister.kinds._reading import KindReader
from netlister.kinds.find import files
from netlister.kinds.made import made_for
from netlister.kinds.model import Count, Definition, Kind, KindError, Options
from netlister.source import FileFault, Mapping, Reader, Source, UnusableError, suggest

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path


class Takes(NamedTuple):
    """What an entry of a kind takes: hands (none: it takes no hand), options and their values.

    `number`: the option that is a number, with the least and the greatest.
    """

    hands: tuple[str, ...]
    options: dict[str, tuple[str, ...]]
    bars: int
    crossing: bool
    number: Count | None = None


class Library:
    """The kinds that a layout can use. Files are read when a kind is first asked for."""

    def __init__(self, extra: Iterable[Source] = (), folder: Path | None = None) -> None:
        self._files = files(folder)
        self._known: dict[str, Definition] = {}
        self._kinds: dict[tuple[str, str, Options], Kind] = {}
        faults: list[FileFault] = []
        for source in extra:
            try:
                for definition in read_definitions(source, taken=(*self._files, *self._known)):
                    self._known[definition.name] = definition
            except UnusableError as error:
                faults += error.faults
        if faults:
            raise UnusableError(faults)

    def names(self) -> list[str]:
        """The names of all kinds, sorted."""
        return sorted({*self._files, *self._known})

    def definition(self, name: str) -> Definition:
        """A kind as written; raises KindError for one that does not exist."""
        found = self._known.get(name)
        if found is None:
            path = self._files.get(name)
            if path is None:
                message = f"there is no kind '{name}'{suggest(name, self.names())}; 'netlister kinds' lists them"
                raise KindError(message)
            found = self._known[name] = _own(path)
        return found

    def takes(self, name: str) -> Takes:
        """What an entry of a kind takes; raises KindError for one that does not exist."""
        found = self.definition(name)
        options = {option: values for option, (values, _) in found.options.items()}
        crossing = not found.bars and len(found.routes) > 1
        return Takes(tuple(found.hands), options, len(found.bars), crossing, found.count)

    def kind(self, name: str, hand: str = "", options: Options = ()) -> Kind:
        """A kind for one hand and set of options, the same object each time.

        Raises KindError for a kind, hand or option that does not exist.
        """
        key = (name, hand, tuple(options))
        found = self._kinds.get(key)
        if found is None:
            definition = self.definition(name)
            found = self._kinds[key] = made_for(definition, hand, _renamed(definition, key[2]))
        return found


def library(folder: Path | None = None, extra: Iterable[Source] = ()) -> Library:
    """The library of kinds, with those of a user's files.

    `folder` takes the place of the kinds that every layout can use. Raises UnusableError for faults in `extra`.
    """
    return Library(extra, folder)


def _renamed(definition: Definition, options: Options) -> Options:
    """Options by the names that they have now."""
    count = definition.count
    if count is None or not count.was:
        return options
    return tuple((count.option if option == count.was else option, value) for option, value in options)


def _own(path: Path) -> Definition:
    """The kind in a file of the library. Raises UnusableError where it is not the one that the file is named after."""
    source = Source(path.name, path.read_text(encoding="utf-8"))
    found = read_definitions(source, own=True)
    if [d.name for d in found] != [path.stem]:
        raise UnusableError([FileFault(source.start(), f"the file is named '{path.stem}' and must hold that one kind")])
    return found[0]


def read_definitions(source: Source, taken: Iterable[str] = (), *, own: bool = False) -> list[Definition]:
    """The kinds of a file: one, or several in a list under `kinds`.

    Raises UnusableError with every fault of the file. `taken`: names that are not free. `own`: of the library itself.
    """
    root = compose(source)
    reader = Reader(source)
    nodes = [root]
    sections = [key.value for key, _ in root.value] if isinstance(root, Mapping) else []
    if sections == ["kinds"]:
        nodes = reader.entries(root.value[0][1], "a list of kinds")
        if not nodes and not reader.faults:
            reader.fault(root.value[0][0], "'kinds' is empty; add a kind, or write one without 'kinds'")
    elif "kinds" in sections:
        reader.fault(
            root.value[sections.index("kinds")][0], "'kinds' stands alone in its file; leave the other keys out"
        )
        raise UnusableError(reader.faults)
    known = set(taken)
    found = []
    for node in nodes:
        definition = KindReader(reader, node, known, own=own).read()
        if definition is not None:
            known.add(definition.name)
            found.append(definition)
    if reader.faults:
        raise UnusableError(reader.faults)
    return found
