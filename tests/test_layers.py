"""The way of the data: a room imports only from rooms before it, at the top of its files."""

import ast
from pathlib import Path

import pytest

import flamefe

ROOT = Path(flamefe.__file__).parent
ORDER = (
    "basics", "workpiece", "heating", "straining", "outcome", "rules", "planning", "study",
    "reporting", "cli",
)  # fmt: skip
FILES = sorted(ROOT.rglob("*.py"))


def room_of(module: str) -> str:
    return module.split(".")[1] if "." in module else "flamefe"


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def own_imports(tree: ast.AST) -> list[tuple[str, ast.AST]]:
    found: list[tuple[str, ast.AST]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [
                (alias.name, node) for alias in node.names if alias.name.startswith("flamefe")
            ]
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the way of the data"
            if (node.module or "").split(".")[0] == "flamefe":
                found.append((node.module or "", node))
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_room_imports_only_from_rooms_before_it(path):
    module = module_of(path)
    if module in ("flamefe", "flamefe.__main__"):
        return
    here = room_of(module)
    assert here in ORDER, f"{module} stands in no known room"
    tree = ast.parse(path.read_text("utf-8"))
    for imported, _ in own_imports(tree):
        there = room_of(imported)
        assert there in ORDER, f"{module} imports {imported} through the front door"
        assert ORDER.index(there) <= ORDER.index(here), f"{module} imports {imported}"


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_own_imports_stand_at_the_top(path):
    tree = ast.parse(path.read_text("utf-8"))
    top = {id(node) for node in tree.body}
    for imported, node in own_imports(tree):
        assert id(node) in top, f"{module_of(path)} imports {imported} inside something"


def test_no_file_goes_round_in_a_circle():
    """Within a room too, no two files import each other, however far round."""
    graph = {
        module_of(path): {name for name, _ in own_imports(ast.parse(path.read_text("utf-8")))}
        for path in FILES
    }
    done: set[str] = set()

    def visit(module: str, way: tuple[str, ...]) -> None:
        assert module not in way, " -> ".join((*way, module))
        if module in done:
            return
        for other in graph.get(module, ()):
            visit(other, (*way, module))
        done.add(module)

    for module in graph:
        visit(module, ())


def test_the_check_sees_a_wrong_import(tmp_path):
    """The rule itself can fail: a room that looks ahead is found."""
    tree = ast.parse("from flamefe.study.run import run")
    assert [name for name, _ in own_imports(tree)] == ["flamefe.study.run"]
    assert ORDER.index(room_of("flamefe.study.run")) > ORDER.index("basics")


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_files_stay_short(path):
    assert len(path.read_text("utf-8").splitlines()) <= 420
