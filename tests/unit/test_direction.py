"""Data flows one way, so imports do."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "texbake"
ORDER = [
    "errors",
    "arrays",
    "colour",
    "hands",
    "store",
    "recipe",
    "garment",
    "layout",
    "cloth",
    "sewing",
    "crease",
    "finish",
    "compose",
    "maps",
    "deliver",
    "view",
    "convert",
    "advice",
    "chart",
    "sheet",
    "change",
    "carry",
    "keep",
    "prepared",
    "bake",
    "lots",
    "sizes",
    "beside",
    "batch",
    "many",
    "cluster",
    "check",
    "showing",
    "swatch",
    "range",
    "starter",
    "demo",
    "cli",
]


def _files(name: str) -> list[Path]:
    single = PACKAGE / f"{name}.py"
    return [single] if single.exists() else sorted((PACKAGE / name).rglob("*.py"))


def _imports(name: str) -> set[str]:
    found = set()
    for file in _files(name):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            names = []
            if isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
                if node.module == "texbake":
                    names = [f"texbake.{alias.name}" for alias in node.names]
            elif isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            found |= {n.split(".")[1] for n in names if n.startswith("texbake.")}
    return found - {name}


@pytest.mark.parametrize("rank", range(len(ORDER)), ids=ORDER)
def test_imports_point_one_way(rank: int) -> None:
    assert _files(ORDER[rank])
    assert _imports(ORDER[rank]) <= set(ORDER[:rank])


def test_every_module_has_a_rank() -> None:
    there = {p.stem for p in PACKAGE.iterdir() if p.suffix == ".py" or (p / "__init__.py").exists()}
    assert there - {"__init__", "__main__"} == set(ORDER)


def test_only_the_command_line_prints_or_exits() -> None:
    for file in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                allowed = file.parent.name == "cli" or node.func.id not in {"print", "exit", "quit"}
                assert allowed, f"{file}:{node.lineno}"
