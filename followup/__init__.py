"""Follow-up after an ankle-foot orthosis is delivered: wear plans, skin checks, triage, callbacks."""

__version__ = "0.1.0"
