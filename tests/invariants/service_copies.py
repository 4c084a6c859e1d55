"""A copy of the program in which some guards are broken, played by the same stories as the real one."""

from __future__ import annotations

import compileall
import importlib
import shutil
import sys
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

from tests.builders import ALDO, QUILLMERE, as_csv, local

PACKAGE = Path(__file__).resolve().parents[2] / "followup"
PARTS = ("core", "clinical", "storage", "services", "channels", "words", "scheduler")
NAME = "broken_service"
FILES = ("__init__.py", "app.py", "clock.py", "errors.py", "settings.py")


@dataclass(frozen=True)
class Edit:
    """One guard of a module and the wrong version of it."""

    module: str
    old: str
    new: str


def compiled_copy(folder: Path) -> Path:
    """The program under another name, compiled, to be copied again for each mutation; where it is."""
    for part in PARTS:
        shutil.copytree(PACKAGE / part, folder / NAME / part, ignore=shutil.ignore_patterns("__pycache__"))
    for file in FILES:
        shutil.copy(PACKAGE / file, folder / NAME / file)
    (folder / NAME / "templates").symlink_to(PACKAGE.parent / "templates")
    for file in (folder / NAME).rglob("*.py"):
        file.write_text(renamed(file.read_text()))
    compileall.compile_dir(folder / NAME, quiet=2)
    return folder / NAME


def copy_with(edits: tuple[Edit, ...], unbroken: Path, folder: Path) -> None:
    """Write the package `NAME` into `folder`: the program with those guards broken."""
    shutil.copytree(unbroken, folder / NAME, symlinks=True)
    for edit in edits:
        module = folder / NAME / edit.module
        text, old = module.read_text(), renamed(edit.old)
        assert text.count(old) == 1, f"{edit.module} no longer holds: {edit.old}"
        module.write_text(text.replace(old, edit.new))


def renamed(source: str) -> str:
    return source.replace("from followup", f"from {NAME}").replace('"followup"', f'"{NAME}"')


def forget() -> None:
    """Let go of the modules of a copy."""
    for module in [each for each in sys.modules if each.split(".")[0] == NAME]:
        del sys.modules[module]


class Played:
    """One practice of the program `name` (the real one or a broken copy) on the database in `file`."""

    def __init__(self, name: str, file: Path) -> None:
        self.name = name
        store = self.of("storage.engine").open_store(f"sqlite:///{file}")
        settings = self.of("settings").read_settings(QUILLMERE)
        self.now = local("2026-03-02 10:00", "Europe/London")
        self.app = self.of("app").make_app(settings, self.clock, store)
        self.practice = self.app.practice
        self.server = self.of("channels.recording").RecordingTransport()
        self.letters: dict[str, str] = {}

    def of(self, module: str) -> ModuleType:
        return importlib.import_module(f"{self.name}.{module}")

    def clock(self) -> datetime:
        return self.now

    def waiting(self, _limit: int) -> list[tuple[str, str]]:
        return list(self.letters.items())

    def taken(self, source_id: str) -> None:
        self.letters.pop(source_id, None)

    def at(self, text: str) -> None:
        self.now = local(text, "Europe/London")

    def tick(self) -> None:
        self.of("services.advance").tick(self.practice, self.server, self.app.compose, [self], self.clock)

    def run_until(self, text: str) -> None:
        end = local(text, "Europe/London")
        while self.now < end:
            self.now = min(self.now + timedelta(hours=1), end)
            self.tick()

    def start(self, row: dict[str, str] = ALDO) -> int:
        self.of("services.deliver").import_deliveries(self.practice, as_csv(row), "program", self.now)
        self.of("services.check_delivery").record_checks(
            self.practice, 1, self.checked(), self.staff("desk").staff_id, self.now
        )
        self.tick()
        return 1

    def checked(self) -> dict[Any, Any]:
        """Every check is so but the test message, which was not sent."""
        checks = self.of("core.delivery_check")
        answers = {each: checks.CheckAnswer(each, checks.Outcome.CONFIRMED) for each in checks.DeliveryCheck}
        test = checks.DeliveryCheck.TEST_MESSAGE
        return {**answers, test: checks.CheckAnswer(test, checks.Outcome.EXCEPTION, "phone only today")}

    def staff(self, role: str) -> Any:
        signed = self.of("services.sign_in")
        with self.practice.store.write() as connection:
            known = len(self.of("storage.people").staff_names(connection))
            id = self.of("storage.people").add_staff(connection, f"{role}{known}", role, role, "none")
        return signed.Session(id, role, signed.Role(role), "csrf")

    def begin(self, stated: dict[str, object]) -> Any:
        taking = self.of("services.take_report")
        return taking.begin_report(self.practice, taking.ReportSource("link", 1, 1), stated, self.now)

    def report(self, stated: dict[str, object]) -> Any:
        begun = self.begin(stated)
        return self.of("services.take_report").finish_report(self.practice, begun.report_id, self.now)

    def clear(self) -> Any:
        return self.report(dict(self.practice.replies[1]))

    def days(self) -> dict[str, Any]:
        with self.practice.store.read() as connection:
            record = self.of("services.follow_plan").load_plan(connection, self.practice, 1)
        return {f"{each.on:%d}": each for each in record.days(self.now)}

    def rows(self, table: str) -> list[dict[str, Any]]:
        query = getattr(self.of("storage.tables"), table).select()
        with self.practice.store.read() as connection:
            return [dict(row) for row in connection.execute(query).mappings()]

    def queue(self) -> Any:
        return self.of("services.work_callbacks").see_queue(self.practice, self.now)

    def desk(self) -> Any:
        return self.of("services.desk").see_desk(self.practice, self.now)

    def heard(self) -> bool:
        """True where anything waits for a person."""
        return bool(self.queue() or self.desk())
