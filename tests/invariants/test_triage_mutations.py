"""Each invariant of triage holds on the program, and fails on a copy of it with one wrong change."""

from __future__ import annotations

import importlib.util
import itertools
import sys
from pathlib import Path
from types import ModuleType

import pytest

from followup.clinical import load_rules
from followup.core import triage
from tests.invariants.triage_invariants import (
    check_every_rule_has_a_source,
    check_taking_it_off_is_made_safe,
    check_unknown_is_not_no,
    check_worse_never_lowers,
)

CHECKS = [
    (check_taking_it_off_is_made_safe, triage),
    (check_unknown_is_not_no, triage),
    (check_worse_never_lowers, triage),
    (check_every_rule_has_a_source, load_rules),
]
MUTATIONS = [
    (check_taking_it_off_is_made_safe, triage, "if facts.protective and reduced:", "if False and reduced:"),
    (
        check_taking_it_off_is_made_safe,
        triage,
        "Outcome(max(urgency, Urgency.CLINICIAN_TODAY), WearInstruction.LEAVE_ON_AS_ORDERED)",
        "Outcome(urgency, WearInstruction.LEAVE_ON_AS_ORDERED)",
    ),
    (
        check_taking_it_off_is_made_safe,
        triage,
        "if facts.cannot_stand and instruction is",
        "if not facts and instruction is",
    ),
    (
        check_taking_it_off_is_made_safe,
        triage,
        "self.without_orthosis is None or",
        "self.without_orthosis is not None and",
    ),
    (check_taking_it_off_is_made_safe, triage, 'return "off_sitting"', "return str(instruction)"),
    (check_unknown_is_not_no, triage, "if not urgent_unanswered:", "if urgent_unanswered or True:"),
    (check_unknown_is_not_no, triage, "WearInstruction.SAME_TIME_AGAIN))", "WearInstruction.AS_PLANNED))"),
    (check_unknown_is_not_no, triage, "unrecorded = rule.unrecorded_counts", "unrecorded = False"),
    (check_unknown_is_not_no, triage, "self.findings.get(finding, CANT_SAY) != CANT_SAY", "finding in self.findings"),
    (check_worse_never_lowers, triage, "elif rank < threshold:", "elif rank != threshold:"),
    (check_worse_never_lowers, triage, "for rule in rules), NOTHING)", "for rule in list(rules)[-1:]), NOTHING)"),
    (check_every_rule_has_a_source, load_rules, "if not sources or unknown:", "if unknown:"),
    (check_every_rule_has_a_source, load_rules, "if not sources or unknown:", "if not sources:"),
]
_numbers = itertools.count(1)


def broken_copy(module: ModuleType, find: str, becomes: str, folder: Path) -> ModuleType:
    """A copy of the module with one text replaced, imported under a name of its own."""
    source = Path(str(module.__file__)).read_text()
    assert source.count(find) == 1, find
    path = folder / "broken.py"
    path.write_text(source.replace(find, becomes))
    spec = importlib.util.spec_from_file_location(f"broken_{next(_numbers)}", path)
    assert spec is not None
    assert spec.loader is not None
    broken = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = broken
    spec.loader.exec_module(broken)
    return broken


@pytest.mark.parametrize(("check", "module"), CHECKS)
def test_the_program_holds_the_invariant(check, module):
    check(module)


@pytest.mark.parametrize(("check", "module", "find", "becomes"), MUTATIONS)
def test_a_wrong_change_breaks_the_invariant(check, module, find, becomes, tmp_path):
    with pytest.raises(AssertionError):
        check(broken_copy(module, find, becomes, tmp_path))
