"""skidl, imported late and quietly: no log files, no warnings, no messages. Nothing outside this package imports it."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import logging
import os
import sys
import tempfile
import warnings
from typing import TYPE_CHECKING, Any

from netlister.expressions import written_lists

if TYPE_CHECKING:
    from collections.abc import Iterator


def skidl_module() -> Any:
    """Import skidl where it was not before: without its log files, its warnings and its handlers of messages."""
    if sys.modules.get("skidl") is not None:
        return sys.modules["skidl"]
    if importlib.util.find_spec("skidl") is None:
        message = "skidl is not installed; pip install 'netlister[netlists]' brings it"
        raise ModuleNotFoundError(message, name="skidl")
    logger_class = logging.getLoggerClass()
    unheard = io.StringIO()
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder,
        _inside(folder),
        contextlib.redirect_stdout(unheard),
        contextlib.redirect_stderr(unheard),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("ignore")
        try:
            import skidl
            from skidl.logger import erc_logger, rt_logger, stop_log_file_output

            stop_log_file_output()
            for logger in (rt_logger, erc_logger):
                for handler in list(logger.handlers):
                    logger.removeHandler(handler)
                logger.addHandler(logging.NullHandler())
        finally:
            logging.setLoggerClass(logger_class)
    return skidl


@contextlib.contextmanager
def _inside(folder: str) -> Iterator[None]:
    """Make a folder the current one for a while."""
    try:
        before = os.getcwd()  # noqa: PTH109
    except OSError:  # the current folder is gone
        before = folder
    os.chdir(folder)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            os.chdir(before)


@contextlib.contextmanager
def quiet(skidl: Any) -> Iterator[Any]:
    """Keep skidl for a while from speaking of footprints that nothing here has, or of anything else.

    It would also note for every part and net which lines of which program made it, which takes as long as the rest.
    """
    level = logging.root.manager.disable
    handler, trace = skidl.empty_footprint_handler, skidl.circuit.get_skidl_trace
    logging.disable(logging.CRITICAL)
    skidl.empty_footprint_handler = lambda _part: None
    skidl.circuit.get_skidl_trace = list
    try:
        yield skidl
    finally:
        skidl.empty_footprint_handler, skidl.circuit.get_skidl_trace = handler, trace
        logging.disable(level)


@contextlib.contextmanager
def plain_lists() -> Iterator[None]:
    """Let the lists that skidl writes be lists and no more, for a while in which it reads nothing.

    It would copy and format each anew for each list that it stands in, which takes longer than all else.
    """
    from simp_sexp import Sexp

    plain = {name: getattr(list, name) for name in ("__init__", "append", "extend", "__setitem__")}
    plain |= {"to_str": lambda lists, **_: written_lists(lists), "add_quotes": lambda *_, **__: None}
    before = {name: getattr(Sexp, name) for name in plain}
    for name, method in plain.items():
        setattr(Sexp, name, method)
    try:
        yield
    finally:
        for name, method in before.items():
            setattr(Sexp, name, method)
