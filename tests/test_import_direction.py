"""Data walks through the rooms from left to right and never back."""

import ast
from collections.abc import Iterator, Mapping
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
    "solver",
)  # may be imported from every room


def _modules() -> list[Path]:
    return sorted(p for p in PACKAGE.rglob("*.py") if p.name != "__main__.py")


def _imports(tree: ast.AST) -> Iterator[ast.Import | ast.ImportFrom]:
    """Yield the imports of a module, inside functions too, but those of type checkers only."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            yield node
        elif isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING"):
            for other in node.orelse:
                yield from _imports(other)
        else:
            yield from _imports(node)


def _names(node: ast.Import | ast.ImportFrom) -> set[str]:
    if isinstance(node, ast.Import):
        return {alias.name for alias in node.names}
    return {f"{node.module}.{alias.name}" for alias in node.names}


def _imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative import in line {node.lineno}"
        if isinstance(node, ast.Import | ast.ImportFrom):
            names |= _names(node)
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


def _dotted(path: Path, root: Path) -> str:
    parts = path.relative_to(root.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _arrows(root: Path) -> dict[str, set[str]]:
    """Return which modules every module of a package needs while it runs."""
    modules = {_dotted(path, root): path for path in root.rglob("*.py")}
    arrows = {}
    for name, path in modules.items():
        needed: set[str] = set()
        for node in _imports(ast.parse(path.read_text("utf-8"))):
            for said in _names(node):
                # What is imported is a module, or a name out of the module before the last dot.
                needed |= {m for m in (said, said.rpartition(".")[0]) if m in modules}
                if said in modules:
                    needed.discard(said.rpartition(".")[0])
        arrows[name] = needed - {name}
    return arrows


def _circles(arrows: Mapping[str, set[str]]) -> list[list[str]]:
    """Return the groups of modules that need each other, directly or by way of others."""
    beyond = {name: set(needed) for name, needed in arrows.items()}
    for middle in arrows:
        for reached in beyond.values():
            if middle in reached:
                reached |= beyond[middle]
    groups = {
        frozenset(b for b in beyond if b in beyond[a] and a in beyond[b])
        for a in beyond
        if a in beyond[a]
    }
    return sorted(sorted(group) for group in groups)


def test_no_modules_need_each_other() -> None:
    assert _circles(_arrows(PACKAGE)) == []


def test_the_check_sees_a_circle_and_passes_over_type_checkers(tmp_path: Path) -> None:
    package = tmp_path / "p"
    package.mkdir()
    lines = {
        "a": "from p import b",
        "b": "def f():\n    from p.c import x",
        "c": "import p.a",
        "d": "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from p.e import y",
        "e": "from p.d import z",
    }
    for name, text in lines.items():
        (package / f"{name}.py").write_text(text + "\n", "utf-8")
    assert _circles(_arrows(package)) == [["p.a", "p.b", "p.c"]]


WIDER = {".": 14, "kitchen/week": 13}
"""Folders with more modules than twelve (the top: six rooms and the ground floor); the list may
only become shorter."""


def _folders() -> list[Path]:
    return sorted({path.parent for path in _modules()})


@pytest.mark.parametrize("folder", _folders(), ids=lambda p: str(p.relative_to(PACKAGE.parent)))
def test_no_folder_holds_more_than_twelve_modules(folder: Path) -> None:
    held = [path for path in folder.glob("*.py") if not path.name.startswith("__")]
    held += [path for path in folder.iterdir() if (path / "__init__.py").is_file()]
    most = WIDER.get(str(folder.relative_to(PACKAGE)), 12)
    assert len(held) <= most, sorted(path.name for path in held)


@pytest.mark.parametrize("path", _modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_module_is_longer_than_600_lines(path: Path) -> None:
    # A room's table of messages is one thing, two lines a code, however many codes there are.
    most = 1000 if path.name == "messages.py" else 600
    assert len(path.read_text("utf-8").splitlines()) <= most


def test_the_front_door_is_under_60_lines() -> None:
    assert len((PACKAGE / "__init__.py").read_text("utf-8").splitlines()) < 60
