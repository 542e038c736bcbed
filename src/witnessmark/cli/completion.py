"""``witnessmark completion``: what lets a shell complete our commands."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

_PROGRAM = "witnessmark"


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
    click.echo(completer(root, {}, _PROGRAM, f"_{_PROGRAM.upper()}_COMPLETE").source())
