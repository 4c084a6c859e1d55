"""E-mail-to-SMS addresses: off unless a file names the gateways, each with the date it ends.

Such a gateway gives no receipt and often no reply, so a message over it is never the only word about safety.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from followup.errors import InvalidInput

_NUMBER = re.compile(r"[^\d]")


@dataclass(frozen=True, slots=True)
class Gateways:
    """Gateway domains and the local date each is last used on; `default` takes bare telephone numbers."""

    ends_on: Mapping[str, date]
    default: str = ""

    def address_of(self, address: str, on: date) -> str:
        """The mail address for a telephone number or gateway address; `InvalidInput` if no gateway takes it."""
        whole = address if "@" in address else f"{_NUMBER.sub('', address)}@{self.default}"
        domain = whole.rpartition("@")[2].lower()
        if domain not in self.ends_on:
            raise InvalidInput("no_gateway", "No e-mail-to-SMS gateway is set up for this address; ring instead.")
        if on > self.ends_on[domain]:
            raise InvalidInput("gateway_ended", f"The gateway {domain} ended on {self.ends_on[domain]}; ring instead.")
        return whole


def load_gateways(path: str) -> Gateways:
    """The gateways of a TOML file with ``default`` and a ``[[gateway]]`` (domain, ends_on) each; none for no path."""
    if not path:
        return Gateways({})
    try:
        raw = tomllib.loads(Path(path).read_text())
        ends = {str(each["domain"]).lower(): each["ends_on"] for each in raw.get("gateway", [])}
    except (OSError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise InvalidInput("bad_gateways", f"The gateways cannot be read ({error}); see docs.", path) from error
    for domain, end in ends.items():
        if not isinstance(end, date) or isinstance(end, datetime):
            raise InvalidInput("bad_gateways", f"{domain}: ends_on must be a date such as 2027-03-31.", path)
    return Gateways(ends, str(raw.get("default", "")).lower())
