"""Messages from templates: kind, language and a payload of plain values in; subject, text, HTML and short form out.

Templates live in ``templates/messages/<language>/<kind>.{txt,html,sms.txt}``; the first line of the ``.txt`` is the
subject. What several messages say in the same words stands once in ``<language>/parts``.
"""

from __future__ import annotations

import importlib.resources
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
from jinja2 import meta

from followup.core.sentences import LANGUAGES
from followup.core.sentences import listed as join_list
from followup.core.text_message import to_gsm_friendly
from followup.errors import InvalidInput, UnknownId

KINDS = (
    "test",
    "delivery_day",
    "times",
    "check_prompt",
    "question",
    "same_time",
    "shorter_time",
    "off_until_we_speak",
    "resume",
    "rests",
    "waits",
    "hours_changed",
    "plan_ended",
    "help",
    "stopped",
    "on_call",
)
FORMS = ("txt", "html", "sms.txt")

# Given by render itself; a payload may say otherwise of all but the first three.
_GIVEN = {
    "language": "",
    "subject": "",
    "one_way": False,
    "tomorrow": False,
    "tomorrow_total": "",
    "care": "",
    "late": False,
    "side": "",
    "protective": False,
}


@dataclass(frozen=True, slots=True)
class Rendered:
    """One message. `short` invites a reply by number; `short_no_reply` is for a channel that cannot carry one back."""

    subject: str
    text: str
    html: str
    short: str
    short_no_reply: str


def render(kind: str, language: str, payload: Mapping[str, Any]) -> Rendered:
    """The message `kind` in `language`; raises ``UnknownId`` for either, ``InvalidInput`` when a key is missing."""
    return MessageTemplates(template_root() / "messages").render(kind, language, payload)


def payload_keys(kind: str, language: str = "en") -> frozenset[str]:
    """The keys a payload for `kind` must have, read from the templates themselves."""
    return MessageTemplates(template_root() / "messages").payload_keys(kind, language)


@cache
def template_root() -> Path:
    """The folder ``templates``: inside the installed package, or beside it in a checkout."""
    package = Path(str(importlib.resources.files("followup")))
    installed = package / "templates"
    return installed if installed.is_dir() else package.parent / "templates"


class MessageTemplates:
    """The message templates under `folder`, compiled once for each process."""

    def __init__(self, folder: Path) -> None:
        self._plain = message_environment(folder, autoescape=False)
        self._escaped = message_environment(folder, autoescape=True)

    def render(self, kind: str, language: str, payload: Mapping[str, Any]) -> Rendered:
        """As the function `render`, from these templates."""
        self._check(kind, language, payload)
        values = {**_GIVEN, **payload, "language": language}
        head, _, body = self._fill(kind, language, "txt", values).partition("\n")
        side, subject = self._side(language, values), head.removeprefix("Subject:").strip()
        values["subject"] = subject = f"{side}: {subject[:1].lower()}{subject[1:]}" if side else subject
        return Rendered(
            subject=subject,
            text=_tidy(f"{side}.\n\n{body}" if side else body),
            html=self._fill(kind, language, "html", values).strip() + "\n",
            short=self._short(kind, language, values),
            short_no_reply=self._short(kind, language, {**values, "one_way": True}),
        )

    def payload_keys(self, kind: str, language: str) -> frozenset[str]:
        """As the function `payload_keys`, from these templates."""
        self._known(kind, language)
        return _payload_keys(self._plain, kind, language)

    def _check(self, kind: str, language: str, payload: Mapping[str, Any]) -> None:
        missing = sorted(self.payload_keys(kind, language) - payload.keys())
        if missing:
            raise InvalidInput("missing_value", f"The message {kind} also needs: {', '.join(missing)}.", missing[0])
        link = str(payload.get("link", ""))
        if link and not link.startswith(("https://", "http://")):
            raise InvalidInput("bad_link", "Give a link that starts with https:// or http://.", "link")

    def _known(self, kind: str, language: str) -> None:
        if language not in LANGUAGES:
            raise UnknownId("unknown_language", f"Choose one of: {', '.join(LANGUAGES)}.", "language")
        if kind not in KINDS:
            raise UnknownId("unknown_message_kind", f"Choose one of: {', '.join(KINDS)}.", "kind")

    def _fill(self, kind: str, language: str, form: str, values: Mapping[str, Any]) -> str:
        environment = self._escaped if form == "html" else self._plain
        return environment.get_template(f"{language}/{kind}.{form}").render(values)

    def _short(self, kind: str, language: str, values: Mapping[str, Any]) -> str:
        side, text = self._side(language, values), self._fill(kind, language, "sms.txt", values)
        return to_gsm_friendly(" ".join(f"{side}: {text}".split() if side else text.split()))

    def _side(self, language: str, values: Mapping[str, Any]) -> str:
        """Which leg the message is about, for a family with two to look after; else nothing."""
        return self._plain.get_template(f"{language}/parts/side.txt").render(values).strip()


@cache
def message_environment(folder: Path, *, autoescape: bool) -> jinja2.Environment:
    """How the templates under `folder` are read: strict about missing values, with the filters they use."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folder, followlinks=False),
        autoescape=autoescape,
        undefined=jinja2.StrictUndefined,
        auto_reload=False,
    )
    environment.filters |= {"spans": _spans, "listed": _listed, "tel": _tel}
    return environment


@cache
def _payload_keys(environment: jinja2.Environment, kind: str, language: str) -> frozenset[str]:
    names = [f"{language}/{kind}.{form}" for form in FORMS]
    return frozenset(_variables(environment, names, set())) - _GIVEN.keys()


def _variables(environment: jinja2.Environment, names: Iterable[str], seen: set[str]) -> set[str]:
    found: set[str] = set()
    for name in names:
        if name in seen or environment.loader is None:
            continue
        seen.add(name)
        tree = environment.parse(environment.loader.get_source(environment, name)[0])
        inner = [each for each in meta.find_referenced_templates(tree) if each]
        found |= meta.find_undeclared_variables(tree) | _variables(environment, inner, seen)
    return found


def _spans(periods: Iterable[Mapping[str, str]], form: str) -> list[str]:
    """Each wearing period in the words of `form`, such as ``from {on} to {off}``."""
    return [form.format(on=each["on"], off=each["off"]) for each in periods]


@jinja2.pass_context
def _listed(context: jinja2.runtime.Context, items: Sequence[str]) -> str:
    return join_list(items, str(context["language"]))


def _tel(phone: str) -> str:
    """The digits a ``tel:`` link needs."""
    return re.sub(r"[^0-9+]", "", phone)


def _tidy(text: str) -> str:
    lines = [" ".join(line.split()) for line in text.splitlines()]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip() + "\n"
