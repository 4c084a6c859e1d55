"""The table of settings in docs/operations.md, made from the settings class."""

from __future__ import annotations

import sys

from pydantic import SecretStr
from pydantic.fields import FieldInfo

from followup.settings import PREFIX, Settings


def settings_table() -> str:
    rows = [_row(name, field) for name, field in Settings.model_fields.items()]
    return "\n".join(["| variable | if not given | what it is |", "|---|---|---|", *rows])


def _row(name: str, field: FieldInfo) -> str:
    return f"| `{PREFIX}{name.upper()}` | {_default(field)} | {field.description} |"


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "**must be given**"
    value = field.default.get_secret_value() if isinstance(field.default, SecretStr) else field.default
    return f"`{value}`" if value != "" else "empty"


if __name__ == "__main__":
    sys.stdout.write(settings_table() + "\n")
