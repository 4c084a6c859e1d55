"""Settings, read once at the start from the environment (``FOLLOWUP_…``). A bad value stops the start with one line.

Secrets may be given as a file: ``FOLLOWUP_SECRET_FILE`` and ``FOLLOWUP_SMTP_PASSWORD_FILE`` name files to read.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import Self
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from pydantic import Field, SecretStr, ValidationError, field_validator, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

from followup.errors import InvalidInput

PREFIX = "FOLLOWUP_"


class SmtpSecurity(StrEnum):
    """How the SMTP conversation is protected."""

    NONE = "none"
    STARTTLS = "starttls"
    TLS = "tls"


class Settings(BaseSettings):
    """Everything the program is told from outside."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="ignore", frozen=True)

    database_url: str = Field("sqlite:///followup.db", description="Where the records are: SQLite file or PostgreSQL.")
    secret: SecretStr = Field(description="At least 32 random characters; page links and message ids derive from it.")
    practice_name: str = Field("The practice", description="Shown at the top of every page.")
    practice_phone: str = Field("", description="The number families ring in clinic hours.")
    out_of_hours_phone: str = Field("", description="The number families ring at other times.")
    emergency_number: str = Field(description="The local emergency number; there is no default on purpose.")
    practice_zone: str = Field("UTC", description="IANA time zone of the clinic hours.")
    clinic_hours: str = Field("mon-fri 08:30-17:30", description="Hours by weekday, such as 'mon-fri 08:30-17:30'.")
    closed_days: str = Field("", description="Local dates the clinic is closed, separated by commas.")
    on_call_address: str = Field("", description="Mail address alerted when a callback cannot wait for clinic hours.")
    public_address: str = Field("http://127.0.0.1:8080", description="Address of the pages, as families see it.")
    mail_sender: str = Field("followup@localhost.localdomain", description="Address messages are sent from.")
    smtp_host: str = Field("127.0.0.1", description="Host of the SMTP server.")
    smtp_port: int = Field(25, ge=1, le=65535, description="Port of the SMTP server.")
    smtp_security: SmtpSecurity = Field(SmtpSecurity.NONE, description="none (loopback only), starttls or tls.")
    smtp_user: str = Field("", description="Name for SMTP authentication; empty for none.")
    smtp_password: SecretStr = Field(SecretStr(""), description="Password for SMTP authentication.")
    mail_gateways_file: str = Field("", description="TOML of e-mail-to-SMS domains with end dates; empty means off.")
    maildir: str = Field("", description="Maildir where replies arrive; empty means none is read.")
    tick_seconds: int = Field(30, ge=1, le=300, description="Seconds between two ticks of the worker.")

    @field_validator("secret")
    @classmethod
    def _long_enough(cls, value: SecretStr) -> SecretStr:
        if len(value.get_secret_value()) < 32:
            raise ValueError("must have at least 32 characters")
        return value

    @field_validator("practice_zone")
    @classmethod
    def _zone_exists(cls, value: str) -> str:
        try:
            ZoneInfo(value)
        except (KeyError, ValueError, OSError) as error:
            raise ValueError(f"{value!r} is not an IANA time zone such as Europe/Lisbon") from error
        return value

    @field_validator("public_address")
    @classmethod
    def _is_address(cls, value: str) -> str:
        parts = urlsplit(value)
        if parts.scheme not in {"http", "https"} or not parts.netloc:
            raise ValueError("must be an address such as https://q.example.org")
        return value.rstrip("/")

    @model_validator(mode="after")
    def _no_password_in_the_clear(self) -> Self:
        loopback = self.smtp_host in {"127.0.0.1", "localhost", "::1"}
        if self.smtp_user and self.smtp_security is SmtpSecurity.NONE and not loopback:
            raise ValueError("smtp_user over an unprotected connection: set smtp_security to starttls or tls")
        return self


def read_settings(environment: Mapping[str, str] | None = None) -> Settings:
    """The settings of this process; raises `InvalidInput` naming the variable and what to write."""
    given = {key.removeprefix(PREFIX).lower(): value for key, value in _with_files(environment).items()}
    try:
        return Settings(**given)  # type: ignore[arg-type]
    except ValidationError as error:
        first = error.errors()[0]
        name = PREFIX + "_".join(str(part) for part in first["loc"]).upper()
        raise InvalidInput("bad_setting", f"{name.rstrip('_')}: {first['msg']}", name) from error


def _with_files(environment: Mapping[str, str] | None) -> dict[str, str]:
    found = {k: v for k, v in (os.environ if environment is None else environment).items() if k.startswith(PREFIX)}
    for key in [key for key in found if key.endswith("_FILE") and key != f"{PREFIX}MAIL_GATEWAYS_FILE"]:
        path = Path(found.pop(key))
        try:
            found[key.removesuffix("_FILE")] = path.read_text().strip()
        except OSError as error:
            raise InvalidInput("bad_setting", f"{key}: cannot read the file ({error.strerror})", key) from error
    return found
