"""`netlister serve`."""

from __future__ import annotations

import sys

import click


@click.command("serve")
@click.option("--delay", type=click.FloatRange(0, 10), default=0.25, metavar="S", help="Seconds after the last key.")
def command(delay: float) -> None:
    """Serve an editor: findings as you type, meanings and poles, completion, renaming, cures.

    Speaks the Language Server Protocol on standard input and output; an editor starts it, not a person. It opens no
    port and writes no file. Needs the extra `serve`.
    """
    import gc

    from netlister.editor.features import make

    if sys.stdin is None or sys.stdin.isatty():
        message = "'netlister serve' talks to an editor, which starts it; see the manual for how to tell yours"
        raise click.ClickException(message)
    gc.set_threshold(400_000, 20, 50)  # a large text is many small things that live long: looked at less often
    make(delay).start_io()
