"""Data walks through the rooms from left to right and never back."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "harvestcast"
ROOMS = ("records", "growth", "kitchen", "season", "gardens", "report")
BESIDE = (
    "arrays",
    "units",
    "words",
    "errors",
    "frames",
    "figures",
    "results",
)  # may be imported from every room


def _modules() -> list[Path]:
    return sorted(p for p in PACKAGE.rglob("*.py") if p.name != "__main__.py")


def _imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative import in line {node.lineno}"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return {name for name in names if name.startswith("harvestcast.")}


def _room(dotted: str) -> str:
    return dotted.split(".")[1]


@pytest.mark.parametrize("path", _modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_room_imports_only_from_rooms_to_its_left(path: Path) -> None:
    place = path.relative_to(PACKAGE).with_suffix("").parts[0]
    if place == "__init__":
        allowed: tuple[str, ...] = (*ROOMS, *BESIDE)
    elif place in BESIDE:
        allowed = BESIDE[: BESIDE.index(place) + 1]
    else:
        assert place in ROOMS, f"{place} is no room of the house"
        allowed = (*ROOMS[: ROOMS.index(place) + 1], *BESIDE)
    wrong = {name for name in _imported(path) if _room(name) not in allowed}
    assert not wrong, f"{path.name} imports {sorted(wrong)}"


def test_the_check_sees_a_backward_import(tmp_path: Path) -> None:
    module = tmp_path / "m.py"
    module.write_text("from harvestcast.report import command\n", "utf-8")
    assert {_room(name) for name in _imported(module)} == {"report"}


@pytest.mark.parametrize("path", _modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_module_is_longer_than_600_lines(path: Path) -> None:
    # A room's table of messages is one thing, two lines a code, however many codes there are.
    most = 1000 if path.name == "messages.py" else 600
    assert len(path.read_text("utf-8").splitlines()) <= most


def test_the_front_door_is_under_60_lines() -> None:
    assert len((PACKAGE / "__init__.py").read_text("utf-8").splitlines()) < 60
