"""The commands. Each parses its arguments, calls one function, and says what came of it.

Exit status: 0 done and all checks hold; 1 a check fails or a card does not fit; 2 the input or the command line is wrong;
3 a check is broken, which is a fault of this program.
"""

from __future__ import annotations

from importlib import import_module

import click

from cardwright import __version__

# Each command by its name, and the module of cardwright.commands that holds it.
COMMANDS = {
    name: name
    for name in (
        *("adopt", "approve", "build", "check", "compare", "drill", "export", "handout", "keys", "new", "poster", "practice", "review"),
        *("schema", "sheets", "trace", "verify"),
    )
} | {"checks": "check", "register": "verify"}


class Commands(click.Group):
    """Commands that are loaded when they are called, so that a quick one need not wait for what renders and signs."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names of all, in order."""
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name, if there is one."""
        if cmd_name not in COMMANDS:
            return None
        return getattr(import_module(f"cardwright.commands.{COMMANDS[cmd_name]}"), f"{cmd_name}_command")


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="cardwright")
def main() -> None:
    """Pocket reference cards in which every number can be traced to its source."""
