"""The one way of every command's text to the terminal: signs that steer it are written out."""

from __future__ import annotations

import contextlib

import click

from witnessmark.sentences import json_visible, visible_lines


def echo(text: object = "", *, err: bool = False, nl: bool = True) -> None:
    """Print lines of text, whoever wrote them; what cannot be told on the standard error is not."""
    with contextlib.suppress(OSError) if err else contextlib.nullcontext():
        click.echo(visible_lines(str(text)), err=err, nl=nl)


def echo_json_text(text: str | bytes) -> None:
    """Print JSON, in which such signs are escapes of its own."""
    click.echo(json_visible(text if isinstance(text, str) else text.decode()))
