"""The group of commands, and how errors leave the program: one JSON object on stderr and an exit code."""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module

import click

from followup import __version__
from followup.errors import Conflict, FollowupError, InvalidInput, UnknownId

FAULT, USAGE, UNKNOWN, INVALID = 1, 2, 3, 4


COMMANDS: Mapping[str, Callable[[], click.Command]] = {
    "chart": lambda: import_module("followup.cli.chart_commands").chart,
    "demo": lambda: import_module("followup.cli.demo_command").demo,
    "doctor": lambda: import_module("followup.cli.service_commands").doctor,
    "findings": lambda: import_module("followup.cli.triage_commands").findings,
    "import": lambda: import_module("followup.cli.delivery_commands").import_,
    "messages": lambda: import_module("followup.cli.message_commands").messages,
    "plan": lambda: import_module("followup.cli.plan_commands").plan,
    "protocols": lambda: import_module("followup.cli.protocol_commands").protocols,
    "round-sheet": lambda: import_module("followup.cli.chart_commands").round_sheet,
    "rules": lambda: import_module("followup.cli.triage_commands").rules,
    "serve": lambda: import_module("followup.cli.service_commands").serve,
    "staff": lambda: import_module("followup.cli.service_commands").staff,
    "triage": lambda: import_module("followup.cli.triage_commands").triage,
    "work": lambda: import_module("followup.cli.service_commands").work,
}


class CommandsWhenCalled(click.Group):
    """A group that imports a command as it is called: listing protocols need not load the web server."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names of all commands."""
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, None if there is none."""
        found = COMMANDS.get(cmd_name)
        return found() if found else None


@click.group(cls=CommandsWhenCalled)
@click.version_option(__version__)
def main() -> None:
    """Follow-up after an ankle-foot orthosis is delivered."""


def run(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its exit code: 0, 1 fault, 2 usage, 3 unknown id, 4 invalid input."""
    sys.exit(exit_code(arguments))


def exit_code(arguments: Sequence[str] | None = None) -> int:
    """Run one command; prints its error, if any, as ``{code, path, message}`` on stderr."""
    try:
        main.main(args=arguments, prog_name="followup", standalone_mode=False)
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.Abort:
        return FAULT
    except click.ClickException as error:
        return _fail("usage", error.format_message(), "", USAGE)
    except FollowupError as error:
        return _fail(error.code, error.message, error.path, _code_of(error))
    except BrokenPipeError:
        return FAULT
    except Exception as error:
        logging.getLogger(__name__).debug("fault", exc_info=True)
        return _fail("fault", f"{type(error).__name__}: this is a fault of the program, please report it", "", FAULT)
    return 0


def _code_of(error: FollowupError) -> int:
    if isinstance(error, UnknownId):
        return UNKNOWN
    return INVALID if isinstance(error, (InvalidInput, Conflict)) else FAULT


def _fail(code: str, message: str, path: str, exit_with: int) -> int:
    click.echo(json.dumps({"code": code, "path": path, "message": message}, ensure_ascii=False), err=True)
    return exit_with
