"""`followup demo`: an invented practice at work on this machine, live or played through."""

from __future__ import annotations

import json
from pathlib import Path

import click

from followup.demo.headless import play_story


@click.command()
@click.option("--headless", is_flag=True, help="Play the story by an injected clock and end with one line of JSON.")
@click.option("--days", default=14, show_default=True, type=click.IntRange(1, 60), help="Days to play, headless.")
@click.option("--seed", default=1, show_default=True, type=int, help="What families do by themselves.")
@click.option("--export", "folder", type=click.Path(path_type=Path, file_okay=False), help="Write what arrived there.")
@click.option("--port", default=8080, show_default=True, type=click.IntRange(1, 65535), help="Port of the pages, live.")
def demo(headless: bool, days: int, seed: int, folder: Path | None, port: int) -> None:
    """Show an invented practice at work; everything stays on this machine."""
    if headless:
        click.echo(json.dumps(play_story(days, seed, folder, say)))
        return
    raise click.UsageError("live mode follows")


def say(line: str) -> None:
    """One line of progress, beside the result."""
    click.echo(line, err=True)
