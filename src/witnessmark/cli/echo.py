"""The one way of every command's text to the terminal: signs that steer it are written out."""

from __future__ import annotations

import re

import click

from witnessmark.sentences import visible_lines

_STEERS = re.compile("[\x7f-\x9f]")


def echo(text: object = "", *, err: bool = False, nl: bool = True) -> None:
    """Print lines of text, whoever wrote them."""
    click.echo(visible_lines(str(text)), err=err, nl=nl)


def echo_json_text(text: str | bytes) -> None:
    """Print JSON, which has escapes of its own for such signs; those past ASCII are added."""
    click.echo(json_visible(text if isinstance(text, str) else text.decode()))


def json_visible(text: str) -> str:
    """Return JSON in which no sign steers a terminal."""
    return _STEERS.sub(lambda sign: f"\\u{ord(sign[0]):04x}", text)
