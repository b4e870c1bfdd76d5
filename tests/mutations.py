"""How many small faults in code the tests find. Run: python -m tests.mutations [SAMPLE [SEED [TARGET]]]

A mutant is one module with one operator, comparison, number or condition changed. Of each of the three targets a sample
is drawn by the seed. Each mutant runs in a fork of its own, with those tests of the target's that call the changed
function (where few do, with those that call anything in the module, or with all), the quickest first, until one fails.
It counts as found when a test fails, cannot be collected, or takes longer than three times what it took unchanged. A
process that a test starts sees the unchanged code.
"""

from __future__ import annotations

import ast
import importlib.abc
import importlib.util
import json
import os
import random
import signal
import sys
import time
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType
from typing import Any

import pytest

from tests.make_docs import ROOT

TARGETS = {
    "plugins/blending/slips and reconciling": ("tests/blending", "tests/reconcile"),
    "plugins/proof": ("tests/proof", "tests/published"),
    "plugins/label_age/judging": ("tests/label_age", "tests/published"),
}
FOLDERS = {name: [name] for name in TARGETS} | {
    "plugins/blending/slips and reconciling": ["plugins/blending/slips", "plugins/blending/reconciling"]
}
FEW = 5
COMPARED = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
RECKONED = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}


@dataclass(frozen=True)
class Mutant:
    """The ``number``-th change that can be made in a module; ``function`` is empty outside functions."""

    path: str
    number: int
    line: int
    function: str
    says: str


def changed(node: ast.AST) -> Iterator[ast.AST]:
    """What a node may be changed into."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in COMPARED:
        other = COMPARED[type(node.ops[0])]()
        yield ast.Compare(node.left, [other], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in RECKONED and not _is_text(node):
        yield ast.BinOp(node.left, RECKONED[type(node.op)](), node.right)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Invert, ast.Not)):
        yield node.operand
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield ast.Constant(node.value + 1)
    elif isinstance(node, ast.IfExp):
        yield ast.IfExp(node.test, node.orelse, node.body)
    elif isinstance(node, ast.If):
        test = ast.UnaryOp(ast.Not(), node.test)
        yield ast.If(test, node.body, node.orelse)


def _is_text(node: ast.BinOp) -> bool:
    ends = (node.left, node.right)
    return any(isinstance(n, ast.JoinedStr) or (isinstance(n, ast.Constant) and isinstance(n.value, str)) for n in ends)


class _Changing(ast.NodeTransformer):
    """Walks a module; makes the wanted change, and notes all that could be made."""

    def __init__(self, path: str, wanted: int | None = None) -> None:
        self.path, self.wanted, self.found = path, wanted, list[Mutant]()
        self._functions: list[str] = []

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        first = min([node.lineno, *(decorator.lineno for decorator in node.decorator_list)])
        self._functions.append(f"{node.name}:{first}")
        node.body = [self.visit(part) for part in node.body]
        node.args.defaults = [self.visit(part) for part in node.args.defaults]
        self._functions.pop()
        return node

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        if node.value is not None:
            node.value = self.visit(node.value)
        return node

    def generic_visit(self, node: ast.AST) -> ast.AST:
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            return node
        for other in changed(node):
            number = len(self.found)
            line = getattr(node, "lineno", 0)
            before, after = (ast.unparse(one.test if isinstance(one, ast.If) else one) for one in (node, other))
            function = self._functions[0] if self._functions else ""
            self.found.append(Mutant(self.path, number, line, function, f"{before} -> {after}"[:150]))
            if number == self.wanted:
                return ast.copy_location(other, node)
        return super().generic_visit(node)


def mutants_of(path: str) -> list[Mutant]:
    """All mutants of a module, in the order in which they stand."""
    walk = _Changing(path)
    walk.visit(ast.parse((ROOT / path).read_text("utf-8")))
    return walk.found


def mutated(mutant: Mutant) -> ast.Module:
    """The module with the change in it."""
    tree = _Changing(mutant.path, mutant.number).visit(deepcopy(ast.parse((ROOT / mutant.path).read_text("utf-8"))))
    return ast.fix_missing_locations(tree)


class _Finder(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module its mutated code."""

    def __init__(self, mutant: Mutant) -> None:
        path = Path(mutant.path).with_suffix("")
        parts = path.parts[:-1] if path.name == "__init__" else path.parts
        self.name, self.mutant, self.package = ".".join(parts), mutant, path.name == "__init__"

    def find_spec(self, fullname: str, path: Any, target: Any = None) -> Any:
        if fullname != self.name:
            return None
        return importlib.util.spec_from_file_location(
            fullname,
            ROOT / self.mutant.path,
            loader=self,
            submodule_search_locations=[str((ROOT / self.mutant.path).parent)] if self.package else None,
        )

    def create_module(self, spec: Any) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(mutated(self.mutant), str(ROOT / self.mutant.path), "exec"), module.__dict__)


class _Watching:
    """Notes for each test what of the target it calls, and how long it takes."""

    def __init__(self, folders: list[str]) -> None:
        self.prefixes = tuple(str(ROOT / folder) for folder in folders)
        self.called: dict[str, dict[str, Any]] = {}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        seen: set[str] = set()

        def look(frame: Any, event: str, arg: Any) -> None:
            code = frame.f_code
            if event == "call" and code.co_filename.startswith(self.prefixes):
                path = str(Path(code.co_filename).relative_to(ROOT))
                seen.add(f"{path}::{code.co_name}:{code.co_firstlineno}")

        began = time.perf_counter()
        sys.setprofile(look)
        try:
            return (yield)
        finally:
            sys.setprofile(None)
            self.called[item.nodeid] = {"seconds": time.perf_counter() - began, "seen": sorted(seen)}


def _in_a_fork(work: Any, seconds: float, says: bool = False) -> int:
    """The exit status of work in a fork, which ``says`` what it prints or is silent; -1 for one that took too long."""
    child = os.fork()
    if not child:
        if not says:
            silent = os.open(os.devnull, os.O_WRONLY)
            os.dup2(silent, 1), os.dup2(silent, 2)
        os.setsid()
        try:
            os._exit(int(work()))
        except BaseException:
            os._exit(2)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return -1


def _tests(mutant: Mutant, called: dict[str, dict[str, Any]]) -> list[str]:
    """The tests that call what was changed, the quickest first."""
    reach: list[str] = []
    for wanted in (f"{mutant.path}::{mutant.function}", f"{mutant.path}::", ""):
        if len(reach) < FEW:  # what is called at import, or kept by the first call, seems to be called by few
            reach = [name for name, told in called.items() if any(seen.startswith(wanted) for seen in told["seen"])]
    return sorted(reach, key=lambda name: called[name]["seconds"])


def _watched(target: str, into: Path) -> dict[str, dict[str, Any]]:
    watching = _Watching(FOLDERS[target])

    def run() -> int:
        status = pytest.main(["-q", "-p", "no:cacheprovider", *TARGETS[target]], plugins=[watching])
        into.write_text(json.dumps(watching.called), "utf-8")
        return int(status)

    if _in_a_fork(run, 1800.0, says=True):
        raise SystemExit(f"the tests of {target} fail as they are")
    called: dict[str, dict[str, Any]] = json.loads(into.read_text("utf-8"))
    return called


def tried(mutant: Mutant, called: dict[str, dict[str, Any]]) -> str:
    """What became of a mutant: found or survived."""
    tests = _tests(mutant, called)

    def run() -> int:
        sys.meta_path.insert(0, _Finder(mutant))
        return int(pytest.main(["-q", "-x", "-p", "no:cacheprovider", *tests]))

    seconds = 10.0 + 3.0 * sum(called[name]["seconds"] for name in tests)
    return "survived" if _in_a_fork(run, seconds) == 0 else "found"


def main(sample: int = 100, seed: int = 21, only: str = "") -> None:
    """Try a sample of each target, or of that whose name holds ``only``, and print what survived."""
    import openpyxl  # noqa: F401, what every fork needs is there before it
    import pandas  # noqa: F401
    import scipy.optimize  # noqa: F401
    import scipy.stats  # noqa: F401

    import pipeline.runs.session  # noqa: F401

    for target in (target for target in TARGETS if only in target):
        paths = [path for folder in FOLDERS[target] for path in sorted((ROOT / folder).rglob("*.py"))]
        every = [mutant for path in paths for mutant in mutants_of(str(path.relative_to(ROOT)))]
        with TemporaryDirectory() as folder:
            called = _watched(target, Path(folder) / "called.json")
        drawn = random.Random(seed).sample(every, min(sample, len(every)))
        count: dict[str, int] = {}
        for mutant in drawn:
            became = tried(mutant, called)
            count[became] = count.get(became, 0) + 1
            if became != "found":
                print(f"  {became}: {mutant.path}:{mutant.line} {mutant.says}", flush=True)
        print(f"{target}: {len(drawn)} of {len(every)} mutants, seed {seed}: {count}", flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]), *sys.argv[3:])
