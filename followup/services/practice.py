"""What every use case is handed: the records, the clinical content, and the practice's own facts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

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
    """One practice at work. `secret` keys page links and message ids."""

    store: Store
    rules: RuleSet
    protocols: Mapping[str, WearProtocol]
    places: Sequence[Place]
    replies: Mapping[int, Mapping[str, object]]
    facts: PracticeFacts
    secret: bytes = field(repr=False)
    mail_domain: str

    def protocol(self, protocol_id: str) -> WearProtocol:
        """The protocol of that id; `UnknownId` if there is none."""
        try:
            return self.protocols[protocol_id]
        except KeyError:
            known = ", ".join(sorted(self.protocols))
            raise UnknownId("unknown_protocol", f"There is no protocol {protocol_id!r}; use one of {known}.") from None
