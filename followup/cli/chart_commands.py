"""``followup chart`` and ``followup round-sheet``: what the practice's records hold, on paper."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click

from followup.app import make_app
from followup.cli.plan_commands import Day
from followup.core.sentences import LANGUAGES
from followup.errors import InvalidInput
from followup.services.print_chart import gather_chart, gather_round, orthoses_with
from followup.settings import read_settings
from followup.words.chart import print_chart
from followup.words.round_sheet import print_round_sheet
from followup.words.typeset import Paper

Command = TypeVar("Command", bound=Callable[..., Any])
_LANGUAGE = click.Choice(LANGUAGES)


def _how_to_print(command: Command) -> Command:
    """The options that every printed sheet has."""
    papers = click.Choice([each.value for each in Paper])
    command = click.option("--paper", type=papers, default=Paper.A4.value, show_default=True)(command)
    out = click.Path(dir_okay=False, path_type=Path)
    return click.option("--out", type=out, required=True, help="Where the PDF goes; a file there is replaced.")(command)


@click.command()
@click.argument("orthosis", type=int)
@click.option("--week", "from_on", type=Day(), help="First day to print; today if not given.")
@click.option("--language", type=_LANGUAGE, help="That of the caregiver on duty if not given.")
@click.option("--initials", is_flag=True, help="Say whose chart it is by initials.")
@_how_to_print
def chart(orthosis: int, from_on: date | None, language: str | None, initials: bool, paper: str, out: Path) -> None:
    """Print the week of one ORTHOSIS."""
    app = make_app(read_settings())
    try:
        gathered = gather_chart(app.practice, orthosis, app.clock(), from_on, initials=initials)
    finally:
        app.close()
    _write(print_chart(gathered.facts, language or gathered.language, Paper(paper)), out)


@click.command("round-sheet")
@click.argument("orthoses", type=int, nargs=-1)
@click.option("--contact", help="Everyone for whom this address or phone number is on duty.")
@click.option("--on", "on", type=Day(), help="The day; today if not given.")
@click.option("--language", type=_LANGUAGE, default=LANGUAGES[0], show_default=True)
@_how_to_print
def round_sheet(
    orthoses: tuple[int, ...], contact: str | None, on: date | None, language: str, paper: str, out: Path
) -> None:
    """Print one day of several ORTHOSES, by initials."""
    app = make_app(read_settings())
    try:
        now = app.clock()
        ids = (*orthoses, *(orthoses_with(app.practice, contact) if contact else ()))
        today = now.astimezone(app.practice.facts.hours.zone).date()
        facts = gather_round(app.practice, ids, on or today, now)
    finally:
        app.close()
    _write(print_round_sheet(facts, language, Paper(paper)), out)


def _write(made: bytes, out: Path) -> None:
    try:
        out.write_bytes(made)
    except OSError as error:
        message = f"The file cannot be written: {error.strerror}. Choose another place."
        raise InvalidInput("unwritable_file", message, str(out)) from error
    click.echo(f"{out}: {len(made)} bytes")
