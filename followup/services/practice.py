"""What every use case is handed: the records, the clinical content, and the practice's own facts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from followup.core.clinic_hours import ClinicHours
from followup.core.place import Place
from followup.core.rule_set import RuleSet
from followup.core.wear_protocol import WearProtocol
from followup.errors import UnknownId
from followup.storage.engine import Store


@dataclass(frozen=True, slots=True)
class PracticeFacts:
    """The practice's own values; numbers are as people dial them."""

    name: str
    phone: str
    out_of_hours_phone: str
    emergency_number: str
    on_call_address: str
    public_address: str
    hours: ClinicHours


@dataclass(frozen=True, slots=True)
class Practice:
    """One practice at work. `secret` keys page links and message ids.

    `protocols` are the newest forms by id; `protocol_history` every protocol as it stood from each date on which one,
    or a rule of caution, took effect.
    """

    store: Store
    rules: RuleSet
    protocols: Mapping[str, WearProtocol]
    protocol_history: Mapping[date, Mapping[str, WearProtocol]]
    places: Sequence[Place]
    replies: Mapping[int, Mapping[str, object]]
    facts: PracticeFacts
    secret: bytes = field(repr=False)
    mail_domain: str

    def protocol(self, protocol_id: str, on: date) -> WearProtocol:
        """The protocol of that id as it stood on the local date `on`; `UnknownId` if there is none."""
        if protocol_id not in self.protocols:
            known = ", ".join(sorted(self.protocols))
            raise UnknownId("unknown_protocol", f"There is no protocol {protocol_id!r}; use one of {known}.")
        dates = sorted(self.protocol_history)
        return self.protocol_history[next((each for each in reversed(dates) if each <= on), dates[0])][protocol_id]

    def protocol_form(self, digest: str) -> WearProtocol:
        """The dated form of a protocol with that digest; `UnknownId` if there is none."""
        for forms in self.protocol_history.values():
            for protocol in forms.values():
                if protocol.digest == digest:
                    return protocol
        raise UnknownId("unknown_protocol", "A protocol this plan was changed to is missing; bring its file back.")
