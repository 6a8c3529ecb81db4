"""Promises about structure: arrows point one way, pure code stays pure, start-up is light."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import challenge

PACKAGE = Path(challenge.__file__).parent

# lowest first; a module may import from its own layer's package and from layers below
LAYERS = [
    {"errors", "problems", "terms"},
    {"foods", "statistics", "typesetting", "wording"},
    {"diary"},
    {"protocol"},
    {"model"},
    {"analysis"},
    {"simulation", "logbook"},
    {"figures", "letter"},
    {"files"},
    {"practice"},
    {"commands"},
    {"__init__", "__main__"},
]
# the words of the letters stand beside figures; files know neither of them
FORBIDDEN = {("files", "figures"), ("files", "letter"), ("files", "logbook")}
LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names}
MODULES = sorted(PACKAGE.rglob("*.py"))
HEAVY = {"numpy", "pandas", "scipy", "statsmodels", "matplotlib"}


def part_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_one_way(path):
    mine = part_of(path)
    for name in imports(path):
        if not name.startswith("challenge."):
            continue
        other = name.split(".")[1]
        assert LEVEL[other] <= LEVEL[mine], f"{path.name} imports upwards: {name}"
        assert (mine, other) not in FORBIDDEN, f"{mine} must not know {other}"
        if other != mine:
            assert LEVEL[other] < LEVEL[mine] or LEVEL[mine] == 0, f"sideways: {name}"


PURE = {
    "statistics", "diary", "protocol", "model", "analysis", "simulation", "logbook", "figures",
    "letter",
}  # fmt: skip


@pytest.mark.parametrize(
    "path", [p for p in MODULES if part_of(p) in PURE], ids=lambda p: str(p.relative_to(PACKAGE))
)
def test_pure_code_opens_no_file_reads_no_clock_and_prints_nothing(path):
    forbidden = []
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func)
        if name in {"open", "print"} or name.endswith(CLOCK_OR_FILE):
            forbidden.append(name)
    assert not forbidden


CLOCK_OR_FILE = (
    "datetime.now", "datetime.today", "datetime.utcnow", "date.today", "Path.open", "write_text",
)  # fmt: skip


def test_only_figures_draw():
    drawing = {
        part_of(path)
        for path in MODULES
        if any(name.split(".")[0] == "matplotlib" for name in imports(path))
    }
    assert drawing <= {"figures", "practice"}


def test_only_commands_know_typer():
    assert {part_of(p) for p in MODULES if any(n.split(".")[0] == "typer" for n in imports(p))} == {
        "commands"
    }


def test_help_loads_no_heavy_library():
    code = (
        "import sys\n"
        "from challenge.commands.app import app\n"
        "from typer.testing import CliRunner\n"
        "assert CliRunner().invoke(app, ['--help']).exit_code == 0\n"
        "print(' '.join(sorted({m.split('.')[0] for m in sys.modules})))"
    )
    shown = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not HEAVY & set(shown)


def test_importing_the_package_loads_nothing_heavy():
    code = "import sys, challenge; print(' '.join({m.split('.')[0] for m in sys.modules}))"
    shown = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not HEAVY & set(shown)


def test_the_daily_log_asks_before_anything_heavy_is_loaded():
    code = (
        "import sys, challenge.commands.talk\n"
        "print(' '.join({m.split('.')[0] for m in sys.modules}))"
    )
    shown = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not (HEAVY | {"pydantic", "typer", "rich"}) & set(shown)
