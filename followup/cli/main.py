"""The group of commands, and how errors leave the program: one JSON object on stderr and an exit code."""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Sequence

import click

from followup import __version__
from followup.cli.delivery_commands import import_
from followup.cli.demo_command import demo
from followup.cli.message_commands import messages
from followup.cli.plan_commands import plan, protocols
from followup.cli.service_commands import doctor, serve, staff, work
from followup.cli.triage_commands import findings, rules, triage
from followup.errors import Conflict, FollowupError, InvalidInput, UnknownId

FAULT, USAGE, UNKNOWN, INVALID = 1, 2, 3, 4


@click.group()
@click.version_option(__version__)
def main() -> None:
    """Follow-up after an ankle-foot orthosis is delivered."""


for command in (import_, protocols, plan, findings, rules, triage, messages, serve, work, doctor, staff, demo):
    main.add_command(command)


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
