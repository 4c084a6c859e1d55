"""``followup messages``: the words that are sent, shown with an invented example."""

from __future__ import annotations

import json

import click

from followup.core.sentences import LANGUAGES
from followup.words.preview import CASES, as_json, as_markdown, as_plain, previews
from followup.words.render import KINDS


@click.group()
def messages() -> None:
    """The messages that are sent to families."""


@messages.command()
@click.option("--kind", "kinds", type=click.Choice(KINDS), multiple=True, help="Only this message; may be repeated.")
@click.option("--language", "languages", type=click.Choice(LANGUAGES), multiple=True, help="Only this language.")
@click.option("--case", "cases", type=click.Choice(list(CASES)), multiple=True, help="Which wearer; usual by default.")
@click.option("--format", "form", type=click.Choice(["text", "json", "markdown"]), default="text", show_default=True)
def preview(kinds: tuple[str, ...], languages: tuple[str, ...], cases: tuple[str, ...], form: str) -> None:
    """Show every message in every language with its length and reading grade."""
    shown = tuple(previews(kinds or KINDS, languages or LANGUAGES, cases or ("usual",)))
    if form == "json":
        click.echo(json.dumps([as_json(each) for each in shown], ensure_ascii=False, indent=1))
    elif form == "markdown":
        click.echo(as_markdown(shown))
    else:
        click.echo(as_plain(shown))
