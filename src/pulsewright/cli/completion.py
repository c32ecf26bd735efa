"""`pulsewright completion`: lines for a shell's start file."""

import click
from click.shell_completion import get_completion_class


@click.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def command(shell: str) -> None:
    """Print the lines that let SHELL complete pulsewright commands.

    \b
    bash: pulsewright completion bash >> ~/.bashrc
    zsh:  pulsewright completion zsh >> ~/.zshrc
    fish: pulsewright completion fish > ~/.config/fish/completions/pulsewright.fish
    """
    from pulsewright.cli.main import root

    found = get_completion_class(shell)
    assert found is not None, shell
    click.echo(found(root, {}, "pulsewright", "_PULSEWRIGHT_COMPLETE").source())
