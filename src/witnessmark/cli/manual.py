"""``witnessmark manual`` and ``completion``: what helps to use the other commands."""

from __future__ import annotations

import re
import shutil
import sys

import click
from click.shell_completion import get_completion_class

from witnessmark.cli.echo import echo
from witnessmark.manual import TOPICS, ManualPage, manual_page, manual_pages

_WIDEST = 88
"""Columns of a line that is still read with ease; common practice, no source."""

_PROGRAM = "witnessmark"


@click.command("manual")
@click.argument("topic", required=False, metavar=f"[{'|'.join(TOPICS)}]")
def manual_command(topic: str | None) -> None:
    """Print the page of the manual on a topic, or the list of topics.

    In the program, ? opens the page of the screen that is shown.
    """
    if topic is None:
        _list_pages()
    elif sys.stdout.isatty():
        _render(manual_page(topic))
    else:
        # the Markdown itself: plain text whose examples can be copied as they are
        echo(manual_page(topic).text, nl=False)


def _list_pages() -> None:
    pages = manual_pages()
    widest = max(len(page.topic) for page in pages)
    for page in pages:
        echo(f"  {page.topic:{widest}}  {page.heading}")
    echo("\nwitnessmark manual TOPIC prints one. In the program, ? opens that of the screen.")


def _render(page: ManualPage) -> None:
    from rich.console import Console  # only for a terminal
    from rich.markdown import Markdown

    text = re.sub(r"\[([^]]+)\]\((\w+)\.md\)", r"\1 (`witnessmark manual \2`)", page.text)
    width = min(shutil.get_terminal_size().columns, _WIDEST)
    Console(width=width).print(Markdown(text))


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def completion_command(context: click.Context, shell: str) -> None:
    r"""Print the script that lets SHELL complete our commands.

    Save it where your shell reads its completions, or take it up in a line of its start file:

    \b
      bash  ~/.bashrc      eval "$(witnessmark completion bash)"
      zsh   ~/.zshrc       eval "$(witnessmark completion zsh)"
      fish  config.fish    witnessmark completion fish | source
    """
    completer = get_completion_class(shell)
    assert completer is not None  # noqa: S101 - click brings all three
    root = context.find_root().command
    echo(completer(root, {}, _PROGRAM, f"_{_PROGRAM.upper()}_COMPLETE").source())
