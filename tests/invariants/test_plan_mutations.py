"""Each guard of a wear plan, broken on purpose in a copy of the package: the invariant it serves must notice."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.invariants import plan_invariants as always
from tests.invariants.plan_stories import Plans, Story, seeded_stories

PACKAGE = Path(__file__).resolve().parents[2] / "followup"
PARTS = ("core", "clinical")
NUMBERS = itertools.count()


@dataclass(frozen=True)
class Mutation:
    """A guard, the wrong version of it, and the invariant that must fail then."""

    name: str
    module: str
    old: str
    new: str
    noticed_by: Callable[[Plans, Story], None]


MUTATIONS = (
    Mutation(
        "advances without a clear check",
        "core/plan_guards.py",
        "return verdict is Verdict.CLEAR and terms.advances_itself",
        "return verdict <= Verdict.UNSETTLED and terms.advances_itself",
        always.raised_only_after_a_clear_check,
    ),
    Mutation(
        "advances who cannot report",
        "core/plan_guards.py",
        "return verdict is Verdict.CLEAR and terms.advances_itself",
        "return verdict is Verdict.CLEAR",
        always.raised_only_after_a_clear_check,
    ),
    Mutation(
        "advances two steps at once",
        "core/plan_course.py",
        "min(worn_step + 1, self.terms.own_top)",
        "min(worn_step + 2, self.terms.own_top)",
        always.never_above_the_published_upper_end,
    ),
    Mutation(
        "asks for no worn minutes",
        "core/skin_check.py",
        "return worn_minutes * 100 >= target_minutes * WORN_ENOUGH_PERCENT",
        "return True",
        always.raised_only_after_a_clear_check,
    ),
    Mutation(
        "asks for a fifth of the worn minutes",
        "core/skin_check.py",
        "WORN_ENOUGH_PERCENT = 80",
        "WORN_ENOUGH_PERCENT = 20",
        always.raised_only_after_a_clear_check,
    ),
    Mutation(
        "counts a look before removal and limit",
        "core/skin_check.py",
        "looked_at >= day.periods[-1].off_at + timedelta(minutes=mark_limit_minutes)",
        "looked_at >= day.periods[0].on_at",
        always.raised_only_after_a_clear_check,
    ),
    Mutation(
        "goes on after a stopping finding",
        "core/plan_guards.py",
        "return verdict is Verdict.STOP",
        "return False",
        always.nothing_after_a_stopping_finding,
    ),
    Mutation(
        "lets a long mark pass",
        "core/skin_check.py",
        "mark_minutes is not None and mark_minutes > mark_limit_minutes",
        "mark_minutes is not None and mark_minutes > mark_limit_minutes + 10",
        always.nothing_after_a_stopping_finding,
    ),
    Mutation(
        "reduces a protective orthosis",
        "core/plan_guards.py",
        "return not terms.protective",
        "return True",
        always.protective_is_never_reduced,
    ),
    Mutation(
        "lets a late report change issued days",
        "core/plan_walk.py",
        "if event.recorded_at >= issued_at and",
        "if event.occurred_at >= issued_at and",
        always.issued_days_stay_as_issued,
    ),
    Mutation(
        "reads facts in the order of the file",
        "core/plan_walk.py",
        "key=lambda each: (each.recorded_at, _RANK.get(type(each.data), CHANGE), each.id)",
        "key=lambda each: 0",
        always.order_of_the_file_does_not_matter,
    ),
    Mutation(
        "takes the best of several checks",
        "core/skin_check.py",
        "worst = max(judgements",
        "worst = min(judgements",
        always.raised_only_after_a_clear_check,
    ),
    Mutation(
        "takes cannot say for clear",
        "core/skin_check.py",
        "_found(Verdict.UNSETTLED, ReasonCode.COULD_NOT_SAY)",
        "_found(Verdict.CLEAR, ReasonCode.CLEAR_CHECK)",
        always.worse_checks_never_give_more,
    ),
    Mutation(
        "never minds silence",
        "core/plan_guards.py",
        "return silent_days > (0 if terms.watched else SILENT_DAYS_ALLOWED)",
        "return False",
        always.silence_never_raises,
    ),
    Mutation(
        "silences who must be phoned",
        "core/plan_guards.py",
        "return may_reduce(terms) and not terms.cannot_stand_alone",
        "return True",
        always.silence_never_raises,
    ),
    Mutation(
        "wears more than the target",
        "core/day_search.py",
        "part, over = divmod(minutes, count)",
        "part, over = minutes, 0",
        always.never_above_the_published_upper_end,
    ),
)


@pytest.fixture
def broken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[Mutation], Plans]:
    monkeypatch.syspath_prepend(tmp_path)
    return lambda mutation: Plans(copy_with(mutation, tmp_path))


def copy_with(mutation: Mutation, folder: Path) -> str:
    """The name of a copy of the pure part in which one guard is broken."""
    name = f"broken_plan_{next(NUMBERS)}"
    for part in PARTS:
        shutil.copytree(PACKAGE / part, folder / name / part, ignore=shutil.ignore_patterns("__pycache__"))
    for file in ("__init__.py", "errors.py"):
        shutil.copy(PACKAGE / file, folder / name / file)
    for file in (folder / name).rglob("*.py"):
        file.write_text(file.read_text().replace("from followup", f"from {name}").replace('"followup"', f'"{name}"'))
    module = folder / name / mutation.module
    text = module.read_text()
    assert text.count(mutation.old) == 1, f"{mutation.module} no longer holds: {mutation.old}"
    module.write_text(text.replace(mutation.old, mutation.new))
    return name


def hold(invariant: Callable[[Plans, Story], None], plans: Plans) -> None:
    for story in seeded_stories(250):
        invariant(plans, story)


@pytest.mark.parametrize("mutation", MUTATIONS, ids=lambda each: each.name.replace(" ", "-"))
def test_a_broken_guard_is_noticed(mutation: Mutation, broken: Callable[[Mutation], Plans]) -> None:
    with pytest.raises(AssertionError):
        hold(mutation.noticed_by, broken(mutation))


@pytest.mark.parametrize("invariant", sorted({each.noticed_by for each in MUTATIONS}, key=lambda each: each.__name__))
def test_the_program_as_it_is_keeps(invariant: Callable[[Plans, Story], None]) -> None:
    hold(invariant, Plans())
