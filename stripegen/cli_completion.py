"""The command `completion`: teaches a shell to complete commands, options, presets, orders and pieces."""

from __future__ import annotations

import click

from stripegen.cli_output import output

PROGRAM = "stripegen"
VARIABLE = "_STRIPEGEN_COMPLETE"
LINES = {
    "bash": ('eval "$(stripegen completion bash)"', "~/.bashrc"),
    "zsh": ('eval "$(stripegen completion zsh)"', "~/.zshrc, after compinit"),
    "fish": ("stripegen completion fish | source", "~/.config/fish/config.fish"),
}


@click.command(short_help="Let your shell complete what you type.")
@click.argument("shell", type=click.Choice([*LINES]))
@click.pass_context
def completion(ctx: click.Context, shell: str) -> None:
    """Print the script by which your shell completes commands, options, presets, orders and pieces at the tab key.

    \b
    One line in the file that your shell reads when it starts switches it on:
      bash  eval "$(stripegen completion bash)"   in ~/.bashrc
      zsh   eval "$(stripegen completion zsh)"    in ~/.zshrc, after compinit
      fish  stripegen completion fish | source    in ~/.config/fish/config.fish
    """
    from click.shell_completion import get_completion_class

    script = get_completion_class(shell)(ctx.find_root().command, {}, PROGRAM, VARIABLE).source()
    line, file = LINES[shell]
    output().copy(script)
    output().aside(f"To switch it on, put this line into {file}:\n  {line}")
    output().add(script=script, line=line)
