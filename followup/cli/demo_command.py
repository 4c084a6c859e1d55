"""`followup demo`: an invented practice at work on this machine, live or played through."""

from __future__ import annotations

import json
from pathlib import Path

import click

from followup.clock import system_clock
from followup.demo.headless import play_story
from followup.demo.live import Doorway, run_live


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
    run_live(seed, port, system_clock, say, show)


def show(way_in: Doorway) -> None:
    """How to get in, on standard output."""
    click.echo(f"\nThe practice: {way_in.address}/sign-in")
    for user, password, name, role in way_in.staff:
        click.echo(f"  {name} ({role}) signs in as {user} with {password}")
    click.echo("\nPages of families, by their private links:")
    for name, language, address in way_in.families:
        click.echo(f"  {name} ({language}): {address}")
    click.echo(f"\nWhat arrived on each phone: {way_in.address}/demo/phones")
    click.echo("\nThese words are made anew each time. Ctrl-C stops the demo.")


def say(line: str) -> None:
    """One line of progress, beside the result."""
    click.echo(line, err=True)
