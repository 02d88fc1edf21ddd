"""The files of kinds that a layout names under `use`."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING

from netlister.quantity import shown
from netlister.source import FileFault, Scalar, Sequence, UnusableError, read_source

if TYPE_CHECKING:
    from netlister.source import Reader, Source, TextNode


def used_files(r: Reader, node: TextNode, folder: Path | None) -> list[Source]:
    """The files of kinds that `use` names, which must lie in the folder of the layout."""
    found: list[Source] = []
    if type(node) is Scalar and not node.value and not node.style:
        return found
    for item in node.value if type(node) is Sequence else [node]:
        text = r.text(item, "the name of a file of kinds")
        if text is None:
            continue
        if not text:
            r.fault(item, "no file is named here; write its name, as in 'kinds.yaml'")
        elif folder is None:
            r.fault(item, "a layout without a file of its own has no folder to use files from; save it as a file first")
        else:
            source = _used_file(r, item, text, folder)
            if source is not None:
                found.append(source)
    return found


def _used_file(r: Reader, node: TextNode, text: str, folder: Path) -> Source | None:
    inside = "name a file in the folder of the layout or below it"
    if PurePosixPath(text).is_absolute() or PureWindowsPath(text).drive or text.startswith("\\"):
        r.fault(node, f"'{shown(text)}' is an absolute path; {inside}")
        return None
    if ".." in PurePosixPath(text.replace("\\", "/")).parts:
        r.fault(node, f"'{shown(text)}' leads out of the folder of the layout; {inside}")
        return None
    try:
        path = (folder / text).resolve()
        outside = not path.is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):
        r.fault(node, f"'{shown(text)}' is no name of a file; {inside}")
        return None
    if outside:
        r.fault(node, f"'{shown(text)}' is a link out of the folder of the layout; {inside}")
        return None
    if not path.is_file():
        what = "is a folder; name the files in it" if path.is_dir() else f"is not there; {inside}"
        r.fault(node, f"'{shown(text)}' {what}")
        return None
    try:
        return read_source(str(path), str(PurePosixPath(r.source.name).parent / text))
    except UnusableError as error:
        r.faults += [FileFault(f.span, f.message) for f in error.faults]
        return None
