"""The command line: parse, call one service, print. JSON alone on stdout; errors as one JSON object on stderr."""

from followup.cli.main import run

__all__ = ["run"]
