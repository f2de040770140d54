"""Write docs/notices.md: every notice the tool can give, by its rule, with the words it says."""

from __future__ import annotations

import ast
import functools
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from found import DOCS, MAKE, PACKAGE, CannotExtract, called, constant_text, parsed, part_of, python_files

PAGE = DOCS / "notices.md"
_DEEPEST = 6
_Function = ast.FunctionDef | ast.AsyncFunctionDef


class Row(NamedTuple):
    """One rule of a notice: kind, grade, the part that says it, and its words."""

    rule: str
    kind: str
    grade: str
    where: str
    words: tuple[str, ...]


class Module(NamedTuple):
    """A parsed module and where its functions and constants stand."""

    path: Path
    tree: ast.Module
    functions: dict[str, _Function]
    constants: dict[str, ast.expr]
    around: dict[int, _Function]
    calls: dict[str, list[ast.Call]]
    imported: dict[str, str]


class Frame(NamedTuple):
    """Where a node stands: its module, its function, and what the caller handed in."""

    module: Module
    function: _Function | None
    given: dict[str, tuple[ast.expr, Frame]]


class AskCaller(Exception):
    """A parameter without a value: only the callers of `function` know it."""

    def __init__(self, function: _Function) -> None:
        super().__init__(function.name)
        self.function = function


@functools.cache
def modules() -> tuple[Module, ...]:
    """Every module of the package, parsed."""
    found = []
    for path in python_files():
        tree = parsed(path)
        functions: dict[str, _Function] = {}
        constants = dict(_constants(tree))
        calls: dict[str, list[ast.Call]] = {}
        imported: dict[str, str] = {}
        around: dict[int, _Function] = {}
        for node, function in _with_surroundings(tree):
            if function is not None:
                around[id(node)] = function
            if isinstance(node, _Function):
                functions[node.name] = node
            elif isinstance(node, ast.Call):
                calls.setdefault(called(node), []).append(node)
            elif isinstance(node, ast.ImportFrom):
                imported.update({alias.asname or alias.name: node.module or "" for alias in node.names})
        found.append(Module(path, tree, functions, constants, around, calls, imported))
    return tuple(found)


def _constants(tree: ast.Module) -> Iterator[tuple[str, ast.expr]]:
    """Names set at the top of a module, with or without a type."""
    for line in tree.body:
        if isinstance(line, ast.Assign):
            yield from ((t.id, line.value) for t in line.targets if isinstance(t, ast.Name))
        elif isinstance(line, ast.AnnAssign) and line.value is not None and isinstance(line.target, ast.Name):
            yield line.target.id, line.value


def _dotted(module: Module) -> str:
    """The module's name as it is imported."""
    return ".".join(module.path.relative_to(PACKAGE.parent).with_suffix("").parts)


def enclosing(module: Module, node: ast.AST) -> _Function | None:
    """The innermost function around a node."""
    return module.around.get(id(node))


def _with_surroundings(tree: ast.Module) -> Iterator[tuple[ast.AST, _Function | None]]:
    """Every node with the innermost function around it, level by level: one walk through a large tree."""
    waiting: deque[tuple[ast.AST, _Function | None]] = deque([(tree, None)])
    while waiting:
        node, around = waiting.popleft()
        yield node, around
        below = node if isinstance(node, _Function) else around
        waiting.extend((child, below) for child in ast.iter_child_nodes(node))


def parameters(function: _Function) -> tuple[str, ...]:
    """The names of a function's parameters."""
    return tuple(a.arg for a in (*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs))


def handed_in(call: ast.Call, function: _Function, frame: Frame) -> dict[str, tuple[ast.expr, Frame]]:
    """What a call gives to each parameter, defaults included."""
    names = [a.arg for a in (*function.args.posonlyargs, *function.args.args)]
    given: dict[str, tuple[ast.expr, Frame]] = {}
    positional = function.args.defaults
    for name, default in zip(names[len(names) - len(positional) :], positional, strict=True):
        given[name] = (default, frame)
    for argument, keyword_default in zip(function.args.kwonlyargs, function.args.kw_defaults, strict=True):
        if keyword_default is not None:
            given[argument.arg] = (keyword_default, frame)
    skip = 1 if names[:1] == ["self"] else 0
    given.update({name: (node, frame) for name, node in zip(names[skip:], call.args, strict=False)})
    given.update({k.arg: (k.value, frame) for k in call.keywords if k.arg})
    return given


def texts(node: ast.expr | None, frame: Frame, everything: tuple[Module, ...], deep: int = 0) -> set[str]:
    """Every literal text that the expression can be; raises AskCaller where only the caller knows."""
    if node is None or deep > _DEEPEST:
        return set()
    literal = constant_text(node)
    if literal is not None:
        return {literal}
    if isinstance(node, ast.IfExp):
        return texts(node.body, frame, everything, deep) | texts(node.orelse, frame, everything, deep)
    if isinstance(node, ast.Call) and called(node) in ("N_", "message") and node.args:
        return texts(node.args[0], frame, everything, deep)
    if isinstance(node, ast.JoinedStr):
        return {_pattern(node, frame, everything, deep)}
    if isinstance(node, ast.Name):
        return _named(node.id, frame, everything, deep, node.lineno)
    if isinstance(node, ast.Call):
        return _returned(node, frame, everything, deep)
    inside: set[str] = set()
    for mark in ast.walk(node):
        if isinstance(mark, ast.Call) and called(mark) in ("N_", "message") and mark.args:
            inside |= texts(mark.args[0], frame, everything, deep + 1)
        elif isinstance(mark, ast.Name) and mark.id.isupper():
            inside |= _named(mark.id, frame, everything, deep + 1)
    return inside


def _pattern(node: ast.JoinedStr, frame: Frame, everything: tuple[Module, ...], deep: int) -> str:
    pieces = []
    for piece in node.values:
        if isinstance(piece, ast.FormattedValue):
            names = [n for n in ast.walk(piece.value) if isinstance(n, (ast.Name, ast.Attribute))]
            first = names[0]
            pieces.append("{" + (first.id if isinstance(first, ast.Name) else _deepest(first)) + "}")
        else:
            pieces.append(constant_text(piece) or "")
    return "".join(pieces)


def _deepest(node: ast.Attribute) -> str:
    """``self.problem`` as ``problem``, ``table.replace`` as ``table``: the last name that is a thing."""
    if node.attr in ("replace", "lower", "strip", "removeprefix", "value", "name"):
        inner = node.value
        return (
            inner.id
            if isinstance(inner, ast.Name)
            else _deepest(inner)
            if isinstance(inner, ast.Attribute)
            else "…"
        )
    return node.attr


def _last_set(block: list[ast.stmt], name: str, line: int) -> ast.expr | None:
    """The value that `name` is sure to have at `line`: the last assignment on every way there."""
    value = None
    for statement in block:
        if statement.lineno >= line:
            break
        if isinstance(statement, ast.Assign) and any(
            isinstance(t, ast.Name) and t.id == name for t in statement.targets
        ):
            value = statement.value
        elif (statement.end_lineno or 0) >= line:
            for inner in ("body", "orelse", "finalbody"):
                value = _last_set(getattr(statement, inner, []), name, line) or value
        elif any(
            isinstance(n, ast.Assign) and any(_binds(t, name) for t in n.targets) for n in ast.walk(statement)
        ):
            value = None
    return value


def _named(
    name: str, frame: Frame, everything: tuple[Module, ...], deep: int, line_used: int = 0
) -> set[str]:
    if name in frame.given:
        node, caller = frame.given[name]
        return texts(node, caller, everything, deep + 1)
    found: set[str] = set()
    if frame.function is not None and line_used:
        sure = _last_set(frame.function.body, name, line_used)
        if sure is not None:
            return texts(sure, frame, everything, deep + 1)
    if frame.function is not None:
        for line in ast.walk(frame.function):
            if isinstance(line, ast.Assign) and any(_binds(t, name) for t in line.targets):
                value = line.value
                for target in line.targets:
                    if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
                        place = next(i for i, t in enumerate(target.elts) if _binds(t, name))
                        value = value.elts[place]
                found |= texts(value, frame, everything, deep + 1)
            elif isinstance(line, (ast.For, ast.comprehension)) and _binds(line.target, name):
                found |= _column(line.iter, line.target, name, frame, everything, deep + 1)
        if not found and name in parameters(frame.function):
            raise AskCaller(frame.function)
    if not found and name in frame.module.constants:
        found = texts(frame.module.constants[name], Frame(frame.module, None, {}), everything, deep + 1)
    if not found and name.isupper():
        home = frame.module.imported.get(name, "")
        for module in everything:
            if name in module.constants and (not home or _dotted(module) == home):
                found |= texts(module.constants[name], Frame(module, None, {}), everything, deep + 1)
    return found


def _column(
    rows: ast.expr, target: ast.expr, name: str, frame: Frame, everything: tuple[Module, ...], deep: int
) -> set[str]:
    """The texts that a loop variable takes over literal rows, else all texts of what is looped over."""
    if isinstance(rows, ast.Name) and rows.id in frame.module.constants:
        rows = frame.module.constants[rows.id]
    if isinstance(target, ast.Tuple) and isinstance(rows, (ast.Tuple, ast.List)):
        place = next(i for i, t in enumerate(target.elts) if _binds(t, name))
        found: set[str] = set()
        for row in rows.elts:
            if isinstance(row, ast.Tuple):
                found |= texts(row.elts[place], frame, everything, deep)
        return found
    return texts(rows, frame, everything, deep)


def _binds(target: ast.expr, name: str) -> bool:
    return any(isinstance(n, ast.Name) and n.id == name for n in ast.walk(target))


def _returned(call: ast.Call, frame: Frame, everything: tuple[Module, ...], deep: int) -> set[str]:
    found: set[str] = set()
    name = called(call)
    homes = [m for m in everything if name in m.functions and m is frame.module] or [
        m for m in everything if name in m.functions
    ]
    for module in homes[:1]:
        function = module.functions[name]
        inner = Frame(module, function, handed_in(call, function, frame))
        for line in ast.walk(function):
            if isinstance(line, ast.Return) and line.value is not None:
                found |= texts(line.value, inner, everything, deep + 1)
    return found


@functools.cache
def rows() -> tuple[Row, ...]:
    """Every notice that the code can give, by rule, joined where several places give the same."""
    everything = modules()
    joined: dict[tuple[str, str, str, str], set[str]] = {}
    for module in everything:
        if module.path.name != "notice.py":
            for node in module.calls.get("Notice", ()):
                for row in _notice_rows(node, Frame(module, enclosing(module, node), {}), everything, 0):
                    joined.setdefault(row[:4], set()).update(row.words)
    for row in _record_rows(everything):
        joined.setdefault(row[:4], set()).update(row.words)
    return tuple(
        Row(*key, tuple(sorted(filter(None, joined[key]))))
        for key in sorted(joined)
        if not key[0].startswith("record.{")
    )


def _record_rows(everything: tuple[Module, ...]) -> Iterator[Row]:
    """The troubles of a record: each is given as ``trouble(Problem.GAP, words, …)`` and is a fault."""
    for module in everything:
        for node in module.calls.get("trouble", ()):
            if len(node.args) < 2:
                continue
            problem, template = node.args[:2]
            frame = Frame(module, enclosing(module, node), {})
            try:
                names = {_member(problem, frame)} if isinstance(problem, ast.Attribute) else {"{problem}"}
                words = tuple(sorted(texts(template, frame, everything)))
            except AskCaller:
                names, words = {"{problem}"}, ()
            for name in names:
                yield Row(
                    f"record.{name.replace(' ', '_')}",
                    "fault",
                    "contradicts itself",
                    part_of(module.path),
                    words,
                )


def _keyed_rows(fields: dict[str, ast.expr], frame: Frame) -> Iterator[Row]:
    """Notices whose rule is a member of an enumeration (``x.kind.value``), with a table of words."""
    rule, said = fields["rule"], fields["text"]
    if not (isinstance(rule, ast.Attribute) and rule.attr == "value" and isinstance(said, ast.Call)):
        return
    table = said.args[0]
    if not (isinstance(table, ast.Subscript) and isinstance(table.value, ast.Name)):
        return
    kept = frame.module.constants[table.value.id]
    words = kept.args[0] if isinstance(kept, ast.Call) else kept
    members = {
        (kind.name, line.targets[0].id): constant_text(line.value)
        for kind in frame.module.tree.body
        if isinstance(kind, ast.ClassDef)
        for line in kind.body
        if isinstance(line, ast.Assign) and isinstance(line.targets[0], ast.Name)
    }
    if not isinstance(words, ast.Dict):
        raise CannotExtract(f"{frame.module.path.name}: {table.value.id} is no table of words")
    for key, template in zip(words.keys, words.values, strict=True):
        if not (isinstance(key, ast.Attribute) and isinstance(key.value, ast.Name)):
            raise CannotExtract(f"{frame.module.path.name}: a key of {table.value.id} is no member")
        yield Row(
            str(members[key.value.id, key.attr]),
            _member(fields.get("kind"), frame),
            _member(fields.get("grade"), frame),
            part_of(frame.module.path),
            tuple(sorted(texts(template, frame, modules()))),
        )


def _notice_rows(call: ast.Call, frame: Frame, everything: tuple[Module, ...], deep: int) -> Iterator[Row]:
    fields = {k.arg: k.value for k in call.keywords if k.arg}
    keyed = tuple(_keyed_rows(fields, frame))
    if keyed:
        yield from keyed
        return
    branches = _branches(fields["rule"], frame, everything)
    if branches:
        for branch in branches:
            yield from _notice_rows(call, branch, everything, deep)
        return
    try:
        rules = texts(fields["rule"], frame, everything)
        words = texts(fields["text"], frame, everything)
    except AskCaller as asking:
        if deep > _DEEPEST:
            raise
        for caller in _callers(frame, asking.function, everything):
            yield from _notice_rows(call, caller, everything, deep + 1)
        return
    top = frame
    while top.function is not None and top.given:
        outer = next(iter(top.given.values()))[1]
        if outer is top:
            break
        top = outer
    for rule in rules or {""}:
        if not rule:
            _, home = _outermost(fields["rule"], frame)
            place = f"{home.module.path.name}, {home.function.name if home.function else ''}"
            raise CannotExtract(f"{place}: the rule of this notice is not a text that can be found in code")
        yield Row(
            rule,
            _member(fields.get("kind"), frame),
            _member(fields.get("grade"), frame),
            part_of(top.module.path),
            tuple(sorted(words)),
        )


def _outermost(node: ast.expr, frame: Frame) -> tuple[ast.expr, Frame]:
    """The expression that a parameter stands for, and where that stands."""
    while isinstance(node, ast.Name) and node.id in frame.given:
        node, frame = frame.given[node.id]
    return node, frame


def _branches(rule: ast.expr, frame: Frame, everything: tuple[Module, ...]) -> list[Frame]:
    """One frame for each way in which the rule's variable is set together with others.

    A loop over a table of literal rows gives a frame a row; assignments in several branches give a frame a
    branch, so that each rule keeps its own words.
    """
    node, home = _outermost(rule, frame)
    if not isinstance(node, ast.Name) or home.function is None:
        return []
    found: list[Frame] = []
    for line in ast.walk(home.function):
        if isinstance(line, ast.For) and isinstance(line.target, ast.Tuple) and _binds(line.target, node.id):
            for row in _literal_rows(line.iter, home):
                given = {
                    t.id: (row.elts[i], home)
                    for i, t in enumerate(line.target.elts)
                    if isinstance(t, ast.Name) and i < len(row.elts)
                }
                found.append(_with_home(frame, home, given))
        for block in (getattr(line, "body", None), getattr(line, "orelse", None)):
            if not isinstance(block, list) or isinstance(line, (ast.FunctionDef, ast.Lambda)):
                continue
            given = dict(_assigned(block, home))
            if node.id in given:
                found.append(_with_home(frame, home, given))
    return found


def _assigned(block: list[ast.stmt], home: Frame) -> Iterator[tuple[str, tuple[ast.expr, Frame]]]:
    for line in block:
        if not isinstance(line, ast.Assign):
            continue
        for target in line.targets:
            if isinstance(target, ast.Name):
                yield target.id, (line.value, home)
            elif isinstance(target, ast.Tuple) and isinstance(line.value, ast.Tuple):
                for name, value in zip(target.elts, line.value.elts, strict=False):
                    if isinstance(name, ast.Name):
                        yield name.id, (value, home)


def _literal_rows(rows: ast.expr, home: Frame) -> Iterator[ast.Tuple]:
    if isinstance(rows, ast.Name):
        name = rows.id
        local = [
            line.value
            for line in ast.walk(home.function or home.module.tree)
            if isinstance(line, (ast.Assign, ast.AnnAssign))
            and line.value is not None
            and any(
                _binds(t, name) for t in (line.targets if isinstance(line, ast.Assign) else [line.target])
            )
        ]
        rows = local[0] if local else home.module.constants.get(name, rows)
    if isinstance(rows, (ast.Tuple, ast.List)):
        yield from (row for row in rows.elts if isinstance(row, ast.Tuple))


def _with_home(frame: Frame, home: Frame, given: dict[str, tuple[ast.expr, Frame]]) -> Frame:
    """The same frame, in which the variables of `home` are bound to one of their values."""
    if frame is home:
        return Frame(frame.module, frame.function, {**frame.given, **given})
    inner = {
        k: (node, _with_home(f, home, given) if f is not frame else f) for k, (node, f) in frame.given.items()
    }
    return Frame(frame.module, frame.function, inner)


def _callers(frame: Frame, asked: _Function, everything: tuple[Module, ...]) -> Iterator[Frame]:
    """The frame once for every call of `asked`, with what that call hands in."""
    for module in everything:
        for node in module.calls.get(asked.name, ()):
            if _calls(node, asked, module) and enclosing(module, node) is not asked:
                caller = Frame(module, enclosing(module, node), {})
                yield _with_caller(frame, asked, handed_in(node, asked, caller))


def _calls(call: ast.Call, asked: _Function, module: Module) -> bool:
    """Whether a call is of this very function: same name, and a method, defined here, or imported."""
    if called(call) != asked.name:
        return False
    if isinstance(call.func, ast.Attribute):
        return parameters(asked)[:1] == ("self",)
    if asked.name in module.functions:
        return module.functions[asked.name] is asked
    return asked.name in module.imported


def _with_caller(frame: Frame, asked: _Function, given: dict[str, tuple[ast.expr, Frame]]) -> Frame:
    """The same frame, in which `asked` knows what its caller handed in."""
    inner = {k: (node, _with_caller(f, asked, given)) for k, (node, f) in frame.given.items()}
    if frame.function is asked:
        inner = {**given, **inner}
    return Frame(frame.module, frame.function, inner)


def _member(node: ast.expr | None, frame: Frame) -> str:
    """``NoticeKind.OPEN_ITEM`` as ``open item``."""
    if isinstance(node, ast.Name) and node.id in frame.given:
        inner, caller = frame.given[node.id]
        return _member(inner, caller)
    if isinstance(node, ast.Attribute):
        return {"CONTRADICTS": "contradicts itself"}.get(node.attr, node.attr.lower().replace("_", " "))
    return ""


def page() -> str:
    """The page as it should stand."""
    lines = [
        "# Notices",
        "",
        f"Generated from the code by `{MAKE}`; a test holds this page to it.",
        "",
        "A notice has a key: its rule, its subject and its day. A resolution names that key and the values",
        "decided on, so that the notice opens again when they change. Words in braces are filled in where",
        "the notice is given. Nothing in this list blames a person, and no difference says why it is there.",
        "",
        "| rule | kind | grade | said by | words |",
        "|---|---|---|---|---|",
    ]
    for row in rows():
        words = "<br>".join(w.replace("|", "\\|") for w in row.words)
        lines.append(f"| `{row.rule}` | {row.kind} | {row.grade} | {row.where} | {words} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
