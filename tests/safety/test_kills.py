"""A sample of the steps at which a command may be stopped; stepwise.py goes through all of them."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="forks a process for each step")

SAMPLED = {
    "audit, none before": 127,
    "audit, three before": 149,
    "audit --single, three before": 67,
    "draft --write, added to": 7,
    "the kit's change (calibrate, filters)": 5,
    "demo": 131,
    "demo, once more": 157,
}
"""Every so many steps are looked at, from another one on for each way to be stopped."""


@pytest.fixture(scope="module")
def stepwise() -> Any:
    spec = importlib.util.spec_from_file_location("stepwise", Path(__file__).with_name("stepwise.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["stepwise"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def by_name(stepwise: Any, made: Path) -> Any:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CONFIG_HOME", str(made / "none"))
        import audit.jobs.demo as demonstration

        patch.setattr(demonstration, "trip_files", demonstration.trip_files)  # put back afterwards
        patch.setattr(demonstration, "score", demonstration.score)
        yield {case.name: case for case in stepwise.cases(made)}


@pytest.mark.parametrize("name", SAMPLED)
@pytest.mark.parametrize(("how", "first"), [(9, 3), (2, 17), (0, 31)])
def test_stopped_before_any_step_all_is_old_or_new(
    stepwise: Any, by_name: Any, tmp_path: Path, name: str, how: int, first: int
) -> None:
    every = SAMPLED[name]
    found = stepwise.sweep(by_name[name], tmp_path / "work", how, every, 1 + first % every)
    assert found.states
    assert [*found.not_whole, *found.next_wrong] == []
