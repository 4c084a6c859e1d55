"""`followup serve`, `work`, `doctor` and `staff add`: running the program."""

from __future__ import annotations

import asyncio
import json
import logging
import signal
import threading
from types import FrameType
from typing import TextIO

import click
import uvicorn

from followup.app import App, make_app, smtp_server
from followup.channels.smtp import send_at_once
from followup.core.channel import Outgoing
from followup.core.outbox import OutboxState
from followup.errors import FollowupError, InvalidInput
from followup.scheduler.run import safe_tick, tick_until
from followup.services.sign_in import Role, add_staff
from followup.settings import read_settings
from followup.storage.engine import is_current, migrate
from followup.web.site import make_site
from followup.words.mail import build_text_mail


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8080, show_default=True, type=click.IntRange(1, 65535), help="Port to listen on.")
def serve(host: str, port: int) -> None:
    """Serve the pages until stopped."""
    app = _open()
    try:
        uvicorn.run(make_site(app), host=host, port=port, log_level="warning", access_log=False, server_header=False)
    finally:
        app.close()


@click.command()
@click.option("--once", is_flag=True, help="One tick, then leave.")
def work(once: bool) -> None:
    """Plan, send, read replies and escalate until stopped."""
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(name)s %(message)s")
    app = _open()
    try:
        if once:
            if not safe_tick(app)():
                raise FollowupError("tick_failed", "The tick failed; the log says where.")
        else:
            tick_until(app, _stopped())
    finally:
        app.close()


@click.command()
@click.option("--to", "recipient", default="", help="Send a test message to this mail address as well.")
@click.option("--format", "style", type=click.Choice(["text", "json"]), default="text", show_default=True)
def doctor(recipient: str, style: str) -> None:
    """Try what the program needs and say what to mend; leaves with 1 if anything is amiss."""
    app = make_app(read_settings())
    try:
        checks = [_check_database(app), _check_rules(app), _check_mail(app, recipient)]
    finally:
        app.close()
    if style == "json":
        click.echo(json.dumps([{"check": name, "ok": ok, "say": say} for name, ok, say in checks]))
    else:
        for name, ok, say in checks:
            click.echo(f"{'fine ' if ok else 'MEND '} {name}: {say}")
    if not all(ok for _, ok, _ in checks):
        raise FollowupError("not_well", "Something is amiss: mend what is marked and run doctor again.")


@click.group()
def staff() -> None:
    """People who sign in."""


@staff.command("add")
@click.argument("user")
@click.option("--name", required=True, help="Name as colleagues know it.")
@click.option("--role", required=True, type=click.Choice([each.value for each in Role]))
@click.option("--password-file", required=True, type=click.File("r"), help="File with the password; - for input.")
def staff_add(user: str, name: str, role: str, password_file: TextIO) -> None:
    """Let USER sign in."""
    app = _open()
    try:
        add_staff(app.practice, user, name, Role(role), password_file.read().strip())
    finally:
        app.close()
    click.echo(f"{user} can sign in now.")


def _open() -> App:
    app = make_app(read_settings())
    migrate(app.practice.store)
    return app


def _stopped() -> threading.Event:
    stopped = threading.Event()

    def stop(_signal: int, _frame: FrameType | None) -> None:
        stopped.set()

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    return stopped


def _check_database(app: App) -> tuple[str, bool, str]:
    try:
        current = is_current(app.practice.store)
    except Exception as error:
        return "database", False, f"cannot be opened ({type(error).__name__}); look at FOLLOWUP_DATABASE_URL"
    return "database", current, "opens, newest shape" if current else "run `followup work --once` to migrate it"


def _check_rules(app: App) -> tuple[str, bool, str]:
    practice = app.practice
    return "rules", True, f"{practice.rules.id}: {len(practice.rules.rules)} rules, {len(practice.protocols)} protocols"


def _check_mail(app: App, recipient: str) -> tuple[str, bool, str]:
    if not recipient:
        client, failed = asyncio.run(app.transport.try_connection())
        return "mail", failed is None, f"{client} answers" if failed is None else f"{client}: {failed}"
    now = app.clock()
    try:
        content = build_text_mail(
            "This is a test. Nothing needs to be done.",
            sender=app.settings.mail_sender,
            recipient=recipient,
            message_id=f"<doctor-{now:%Y%m%d%H%M%S%f}@{app.practice.mail_domain}>",
            sent_at=now,
            subject="Test",
        )
    except InvalidInput as error:
        return "mail", False, error.message
    sent = send_at_once(smtp_server(app.settings), Outgoing(0, 0, app.settings.mail_sender, recipient, content))
    return "mail", sent.state is OutboxState.ACCEPTED, f"{sent.phase}: {sent.code or 'no answer'} {sent.answer}"
