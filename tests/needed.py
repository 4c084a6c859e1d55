from __future__ import annotations

import os
from typing import NoReturn

import pytest

MAY_NOT_BE_SKIPPED = frozenset({"browser", "page", "postgres", "store_url", "empty_store_url", "store"})


def in_ci() -> bool:
    return os.environ.get("CI") == "true"


def absent(what: str) -> NoReturn:
    """Skip a test on a machine that lacks `what`; in CI its absence is a failure."""
    if in_ci():
        pytest.fail(f"{what} is absent, and in CI no test that needs it may be skipped")
    pytest.skip(f"{what} is absent")


def judged(outcome: str, fixtures: set[str], ci: bool) -> str:
    """The outcome that counts: in CI a skipped browser or PostgreSQL test, however it was skipped, has failed."""
    return "failed" if ci and outcome == "skipped" and fixtures & MAY_NOT_BE_SKIPPED else outcome
