"""`followup import`: take deliveries in from a CSV file."""

from __future__ import annotations

import json
from pathlib import Path

import click

from followup.app import make_app
from followup.errors import InvalidInput
from followup.services.deliver import ImportSummary, import_deliveries
from followup.settings import read_settings
from followup.storage.engine import migrate


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--format", "style", type=click.Choice(["text", "json"]), default="text", show_default=True)
def import_(file: Path, style: str) -> None:
    """Take deliveries in from a CSV FILE; good rows go in, every bad one is reported."""
    text = _read(file)
    app = make_app(read_settings())
    try:
        migrate(app.practice.store)
        summary = import_deliveries(app.practice, text, "program:import", app.clock())
    finally:
        app.close()
    click.echo(_as_json(summary) if style == "json" else _as_text(summary))
    if summary.faults:
        first = summary.faults[0]
        message = f"{len(summary.faults)} to mend; first: {first.column}: {first.message}. The good rows went in."
        raise InvalidInput("bad_rows", message, f"{file.name}:{first.line}")


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except OSError as error:
        raise InvalidInput("unreadable_file", f"The file cannot be opened: {error.strerror}.", str(file)) from error
    except UnicodeDecodeError as error:
        raise InvalidInput("not_utf8", "Save the file as CSV in UTF-8 and try again.", str(file)) from error


def _as_json(summary: ImportSummary) -> str:
    faults = [{"line": each.line, "column": each.column, "message": each.message} for each in summary.faults]
    counts = {"new": summary.new, "changed": summary.changed, "unchanged": summary.unchanged}
    return json.dumps({"schema": "followup.import.1", **counts, "faults": faults}, ensure_ascii=False)


def _as_text(summary: ImportSummary) -> str:
    lines = [f"{summary.new} new, {summary.changed} changed, {summary.unchanged} unchanged."]
    lines += [f"line {each.line}, column {each.column}: {each.message}" for each in summary.faults]
    return "\n".join(lines)
