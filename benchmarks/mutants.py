"""Which small mistakes would the tests let through? A sample of mutants, run by hand.

    python benchmarks/mutants.py --seed 20261127 --sample 40 --jobs 2 journal/view.py journal/record

A mutant is one file with one small change: a comparison turned, a figure off by one, a statement gone. All places
where such a change is possible are listed in a fixed order, a sample is drawn with the seed (the same files and the
same seed give the same sample), and for each mutant the tests run once. A mutant is killed where a test fails or the
tests take more than three times as long as they should. Each survivor is printed: a test that is missing, code that
is not needed, or a change that makes no difference (or other tests see it: try with `--tests tests`).

Nothing happens in the working tree: each job has a copy of all files that git knows or would take, in a temporary
folder, and the tests import that copy. A canary checks this first: with a file that raises, they must fail.

`--tests "tests/site tests/test_links.py"` says which tests to run. Without it they are found by name: for
journal/record/chain.py all of tests/record, each test_chain.py and test file that names journal.record.chain, then
the whole builds.

`--equivalent FILE` names changes that make no difference, one a line, with the reason above as a comment:

    # The line is split at its end anyway.
    journal/view.py :: boundary :: while start < end:
    journal/view.py :: constant :: limit = 40 :: 41

that is: file, kind, the line of code without its indentation and, where one line has several, what is put there
(or, where that is the same for all of them, what stands there now).
They are drawn like all others, then passed over and counted apart, so that naming one does not change the sample.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import queue
import random
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LAST = ("tests/test_whole_builds.py", "tests/test_kept.py")
"""Tests of whole builds catch what the tests of a part do not; they run last, since they are slow."""

NEGATED = {
    **{ast.Eq: ast.NotEq, ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Is: ast.IsNot, ast.In: ast.NotIn},
    **{ast.NotEq: ast.Eq, ast.GtE: ast.Lt, ast.Gt: ast.LtE, ast.IsNot: ast.Is, ast.NotIn: ast.In},
}
BOUNDARY = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
ARITHMETIC = {
    **{ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult},
    **{ast.Mod: ast.Mult, ast.Pow: ast.Mult, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr},
}

TYPE_FIELDS = {"annotation", "returns", "type_params"}
DECLARING = {"dataclass", "lru_cache", "cache", "TypeVar", "NewType", "cast"}
"""Calls that say how something is typed or kept, not what it does."""

Tests = tuple[str, ...]
Put = Callable[[ast.AST], None]
Change = tuple[str, ast.AST, str, str, Callable[[], None]]
"""Kind, the node it stands at, before, after, and what makes the change in the tree."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: `number` counts the changes of the file in order, `code` is its line without indentation."""

    file: str
    line: int
    kind: str
    before: str
    after: str
    code: str
    number: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.kind}: {self.before} -> {self.after}"

    def is_among(self, listed: set[tuple[str, ...]]) -> bool:
        """Whether a list of equivalent ones names it."""
        place = self.file, self.kind, self.code
        return bool(listed & {place, (*place, self.after), (*place, self.before)})


def _short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 90 else f"{text[:44]} … {text[-44:]}"


def _passed_over(node: ast.AST) -> bool:
    """Docstrings, what is for the type checker only, public names, what an exception says."""
    match node:
        case ast.Expr(value=ast.Constant(value=str())) | ast.Raise() | ast.FunctionDef(name="__repr__"):
            return True
        case ast.If(test=test):
            return "TYPE_CHECKING" in ast.unparse(test) or "__name__" in ast.unparse(test)
        case ast.Assign(targets=[ast.Name(id=name)], value=value):
            # Examine = Callable[[Sequence[str]], Facts] names a type.
            return name == "__all__" or (isinstance(value, ast.Subscript) and name[0].isupper() and not name.isupper())
        case ast.Call(func=ast.Name(id=name)) | ast.Call(func=ast.Attribute(attr=name)):
            return name in DECLARING
    return False


def changes(node: ast.AST) -> Iterator[Change]:
    """Every change below `node`, in no order that matters."""
    for field, value in ast.iter_fields(node):
        if isinstance(value, list):
            spots = [(item, partial(value.__setitem__, at)) for at, item in enumerate(value)]
        else:
            spots = [(value, partial(setattr, node, field))]
        for inner, put in spots:
            if isinstance(inner, ast.AST) and field not in TYPE_FIELDS and not _passed_over(inner):
                yield from _changes_at(inner, put)
                yield from changes(inner)


def _instead(kind: str, node: ast.AST, new: ast.AST, put: Put) -> Change:
    return kind, node, _short(node), _short(new), partial(put, new)


def _changes_at(node: ast.AST, put: Put) -> Iterator[Change]:
    match node:
        case ast.Compare(left=left, ops=ops, comparators=others):
            for kind, table in (("comparison", NEGATED), ("boundary", BOUNDARY)):
                for at, op in enumerate(ops):
                    if type(op) in table:
                        turned = [*ops[:at], table[type(op)](), *ops[at + 1 :]]
                        yield _instead(kind, node, ast.Compare(left, turned, others), put)
        case ast.BoolOp(op=op, values=values):
            yield _instead("and-or", node, ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values), put)
        case ast.UnaryOp(op=ast.Not() | ast.USub() as op, operand=operand):
            yield _instead("not" if isinstance(op, ast.Not) else "arithmetic", node, operand, put)
        case ast.Constant(value=bool() as flag):
            yield _instead("constant", node, ast.Constant(not flag), put)
        case ast.Constant(value=int() as number):
            for other in (number + 1, number - 1):
                yield _instead("constant", node, ast.Constant(other), put)
        case ast.Constant(value=str() | bytes() as text) if text:
            yield _instead("constant", node, ast.Constant(type(text)()), put)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in ARITHMETIC and not _is_text(left, right):
            yield _instead("arithmetic", node, ast.BinOp(left, ARITHMETIC[type(op)](), right), put)
        case ast.Return(value=ast.AST() as value) if not (isinstance(value, ast.Constant) and value.value is None):
            yield _instead("return-none", node, ast.Return(ast.Constant(None)), put)
        case ast.Break() | ast.Continue() | ast.Expr(value=ast.Call()):
            yield _instead("statement", node, ast.Pass(), put)
        case ast.Assign(targets=[ast.Attribute() | ast.Subscript()]):
            yield _instead("statement", node, ast.Pass(), put)
        case ast.AugAssign(target=target, op=op, value=value):
            yield _instead("statement", node, ast.Pass(), put)
            if type(op) in ARITHMETIC and not _is_text(value):
                yield _instead("arithmetic", node, ast.AugAssign(target, ARITHMETIC[type(op)](), value), put)
        case ast.If(test=test) | ast.IfExp(test=test):
            for always in (True, False):
                yield _instead("condition", test, _fixed(test, always), partial(setattr, node, "test"))
    yield from _shorter(node)


def _shorter(node: ast.AST) -> Iterator[Change]:
    """Leaving out one part of a literal, a call or a comprehension."""
    match node:
        case ast.comprehension(ifs=ifs):
            for at, test in enumerate(ifs):
                yield _instead("condition", test, _fixed(test, True), partial(ifs.__setitem__, at))
        case ast.Tuple(elts=parts, ctx=ast.Load()) | ast.List(elts=parts, ctx=ast.Load()) | ast.Set(elts=parts):
            for at, part in enumerate(parts):
                if not (isinstance(node, ast.Set) and len(parts) == 1):  # {} would be a dictionary
                    yield "element", part, _short(part), "(left out)", partial(parts.__delitem__, at)
        case ast.Call(keywords=keywords):
            for at, keyword in enumerate(keywords):
                if keyword.arg is not None:
                    yield "keyword", keyword, _short(keyword), "(left out)", partial(keywords.__delitem__, at)


def _fixed(test: ast.expr, always: bool) -> ast.expr:
    """A condition that always comes out the same; names that it binds are bound as before."""
    if any(isinstance(inner, ast.NamedExpr) for inner in ast.walk(test)):
        return ast.BoolOp(ast.Or() if always else ast.And(), [test, ast.Constant(always)])
    return ast.Constant(always)


def _is_text(*nodes: ast.AST) -> bool:
    """Whether one is plainly a text: then it is joined or part of a path, and any other sign is a TypeError."""
    return any(isinstance(node, ast.JoinedStr) or isinstance(getattr(node, "value", 0), str | bytes) for node in nodes)


def _ordered(tree: ast.Module) -> list[Change]:
    """The changes of a file by line, column, kind and text: the numbers of its mutants."""
    return sorted(
        changes(tree), key=lambda change: (change[1].lineno, change[1].col_offset, change[0], change[2], change[3])
    )


def mutants_of(file: str, text: str) -> list[Mutant]:
    """Every mutant of one file, in order."""
    lines = text.splitlines()
    return [
        Mutant(file, node.lineno, kind, before, after, lines[node.lineno - 1].strip(), number)
        for number, (kind, node, before, after, _) in enumerate(_ordered(ast.parse(text)))
    ]


def mutated(text: str, mutant: Mutant) -> str:
    """The file with the change made: written anew from its tree, since only its meaning matters."""
    tree = ast.parse(text)
    _ordered(tree)[mutant.number][4]()
    return ast.unparse(ast.fix_missing_locations(tree)) + "\n"


class Scratch:
    """A copy of the tree in which one file at a time is changed and the tests run."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / "tree"
        self.spare = folder / "tmp"
        self.spare.mkdir()
        self.written = int(time.time())
        listed = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        names = subprocess.run(listed, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split("\0")
        for name in names:
            if name and (ROOT / name).is_file():
                (self.root / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(ROOT / name, self.root / name)

    def write(self, file: str, text: str) -> None:
        """Write a file with a time of its own: Python takes compiled code for current by whole seconds and size."""
        self.written += 2
        (self.root / file).write_bytes(text.encode())
        os.utime(self.root / file, (self.written, self.written))

    def run(self, tests: Tests, limit: float | None) -> tuple[int | None, str]:
        """(exit code, output) of the tests; None for the code where the time was up."""
        # One seed for all: a survivor must not owe its life to chance.
        options = ["-x", "-q", "-p", "no:cacheprovider", "-n", "0", "--hypothesis-seed=0", f"--rootdir={self.root}"]
        env = {**os.environ, "PYTHONPATH": str(self.root), "TMPDIR": str(self.spare), "HOME": str(self.spare)}
        command = [sys.executable, "-m", "pytest", *options, *tests]
        pipe = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
        with subprocess.Popen(command, cwd=self.root, env=env, text=True, start_new_session=True, **pipe) as tried:
            try:
                output, _ = tried.communicate(timeout=limit)
            except BaseException as stopped:
                os.killpg(tried.pid, signal.SIGKILL)
                if isinstance(stopped, subprocess.TimeoutExpired):
                    return None, ""
                raise
        return tried.returncode, output


def tests_for(file: str) -> Tests:
    """Which tests to run for a file where nothing else is said: folders first, then files that name it, then LAST."""
    parts = Path(file).with_suffix("").parts
    name = re.compile(rf"\b{re.escape('.'.join(parts).removesuffix('.__init__'))}\b")
    found = [ROOT / "tests" / part for part in parts[1:] if (ROOT / "tests" / part).is_dir()]
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        named = path.stem == f"test_{parts[-1]}" or name.search(path.read_text("utf-8"))
        if named and not set(path.parents) & set(found):
            found.append(path)
    chosen = [path.relative_to(ROOT).as_posix() for path in found]
    last = [one for one in LAST if (ROOT / one).exists()]
    return (*(one for one in chosen if one not in last), *last)


def python_files(names: list[str]) -> list[str]:
    """The files named, and those in folders named, relative to the root, in order."""
    paths = [Path(name).resolve() for name in names]
    every = {one for path in paths for one in ([path] if path.is_file() else path.rglob("*.py"))}
    return sorted(path.relative_to(ROOT).as_posix() for path in every)


def read_equivalent(path: Path | None) -> set[tuple[str, ...]]:
    """The mutants listed by hand."""
    lines = path.read_text("utf-8").splitlines() if path else []
    return {tuple(part.strip() for part in line.split(" :: ")) for line in lines if line.strip() and line[0] != "#"}


def prepare(scratch: Scratch, files: dict[str, str], tests: dict[str, Tests]) -> dict[Tests, float]:
    """How long each set of tests may take. Ends all where they fail without a change, or pass with the canary."""
    limits: dict[Tests, float] = {}
    for file, chosen in tests.items():
        if chosen in limits:
            continue
        begun = time.monotonic()
        code, output = scratch.run(chosen, None)
        if code != 0:
            sys.exit(f"{output[-3000:]}\nThe tests fail without any change: {' '.join(chosen)}")
        took = time.monotonic() - begun
        limits[chosen] = 3 * took + 20
        scratch.write(file, "raise ImportError('the canary sang')\n")
        code, output = scratch.run(chosen, limits[chosen])
        scratch.write(file, files[file])
        if code == 0 or "the canary sang" not in output:
            sys.exit(f"{file}: the tests never load it from the copy, so they can kill nothing: {' '.join(chosen)}")
        print(f"{took:.1f} s without a change: {' '.join(chosen)}", flush=True)
    return limits


def main() -> None:
    """Draw, try, print."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    ask.add_argument("paths", nargs="+", help="Python files and folders to change")
    ask.add_argument("--seed", type=int, default=20261127)
    ask.add_argument("--sample", type=int, default=40, help="how many mutants to draw")
    ask.add_argument("--jobs", type=int, default=1, help="how many to try at once")
    ask.add_argument("--tests", help="paths and options for pytest")
    ask.add_argument("--equivalent", type=Path, help="list of changes that make no difference")
    ask.add_argument("--json", type=Path, help="also write the result here")
    ask.add_argument("--list", action="store_true", help="only print the sample")
    given = ask.parse_args()

    files = {file: (ROOT / file).read_text("utf-8") for file in python_files(given.paths)}
    every = [mutant for file, text in files.items() for mutant in mutants_of(file, text)]
    drawn = sorted(random.Random(given.seed).sample(range(len(every)), min(given.sample, len(every))))
    sample = [every[at] for at in drawn]
    equivalent = read_equivalent(given.equivalent)
    tried = [mutant for mutant in sample if not mutant.is_among(equivalent)]
    print(f"{len(sample)} of {len(every)} mutants, seed {given.seed}", flush=True)
    if given.list:
        print(*sample, sep="\n")
        return

    tests = {one.file: tuple(shlex.split(given.tests)) if given.tests else tests_for(one.file) for one in tried}
    ends: dict[Mutant, str] = {mutant: "equivalent" for mutant in sample if mutant not in tried}
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name, ThreadPoolExecutor(given.jobs) as pool:
        free: queue.Queue[Scratch] = queue.Queue()
        for job in range(given.jobs):
            (Path(name) / str(job)).mkdir()
            free.put(Scratch(Path(name) / str(job)))
        limits = prepare(free.queue[0], files, tests)

        def attempt(mutant: Mutant) -> str:
            scratch = free.get()
            try:
                scratch.write(mutant.file, mutated(files[mutant.file], mutant))
                code, _ = scratch.run(tests[mutant.file], limits[tests[mutant.file]])
                return {0: "survived", None: "timed out"}.get(code, "killed")
            finally:
                scratch.write(mutant.file, files[mutant.file])
                free.put(scratch)

        running = {pool.submit(attempt, mutant): mutant for mutant in tried}
        try:
            for done in as_completed(running):
                ends[running[done]] = done.result()
                if done.result() == "survived":
                    print(running[done], flush=True)
        except KeyboardInterrupt:
            print("Stopped: what was not tried is not counted.", flush=True)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
    report([mutant for mutant in sample if mutant in ends], ends, given.json)


def report(sample: list[Mutant], ends: dict[Mutant, str], target: Path | None) -> None:
    """Print the table; write the JSON."""
    files = list(dict.fromkeys(mutant.file for mutant in sample))
    width = max(map(len, [*files, "all"]))
    print(f"\n{'file':{width}}  mutants  killed     %")
    for name, counted in [*((file, {file}) for file in files), ("all", set(files))]:
        told = [ends[mutant] for mutant in sample if mutant.file in counted and ends[mutant] != "equivalent"]
        killed = len(told) - told.count("survived")
        print(f"{name:{width}}  {len(told):7}  {killed:6}  {100 * killed / len(told) if told else 100:4.0f}")
    for end in ("timed out", "equivalent"):
        print(f"{end}: {list(ends.values()).count(end)}")
    if target:
        rows = [{**asdict(mutant), "end": ends[mutant]} for mutant in sample]
        target.write_bytes((json.dumps(rows, indent=1, ensure_ascii=False) + "\n").encode())


if __name__ == "__main__":
    main()
