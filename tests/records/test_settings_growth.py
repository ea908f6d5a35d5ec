"""The work on a settings file grows with its length, whatever is wrong in it."""

from collections.abc import Callable

import pytest

from harvestcast.records import settings
from harvestcast.records.tables.findings import Findings

WRONG: dict[str, Callable[[int], str]] = {
    "unknown keys": lambda n: "".join(f"unknown_{i}_ft = 1\n" for i in range(n)),
    "unknown equipment": lambda n: "".join(f'[[equipment]]\nkind = "x{i}"\n' for i in range(n)),
    "negative jars": lambda n: "[jars]\n" + "".join(f"k{i} = -1\n" for i in range(n)),
}


@pytest.mark.parametrize("kind", WRONG)
def test_twice_the_keys_are_twice_the_work(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = 0
    convert = settings.to_metric_keys

    def counted(table: dict[str, float]) -> dict[str, float]:
        nonlocal calls
        calls += 1
        return convert(table)

    monkeypatch.setattr(settings, "to_metric_keys", counted)
    done = []
    for number in (300, 600):
        calls = 0
        findings = Findings()
        settings.parse_household(WRONG[kind](number), findings)
        assert findings.problems
        done.append(calls)
    assert done[1] <= 2 * done[0] + 10


def test_a_key_in_a_customary_unit_is_left_out_where_it_is_wrong() -> None:
    findings = Findings()
    household = settings.parse_household("people = 3\nelevation_ft = -9e9\nwhat = 1\n", findings)
    assert len(findings.problems) == 2
    assert (household.people, household.elevation_m) == (3, None)
