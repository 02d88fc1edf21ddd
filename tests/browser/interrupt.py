"""A command that hears Ctrl-C, also where the tests run behind a shell that ignores it."""

from __future__ import annotations

import signal
import subprocess


def started(command, **options):
    """A process as `subprocess.Popen` starts it, with the interrupt not ignored."""

    def heard():
        signal.signal(signal.SIGINT, signal.default_int_handler)

    return subprocess.Popen(command, text=True, stderr=subprocess.PIPE, preexec_fn=heard, **options)  # noqa: PLW1509 - no threads
