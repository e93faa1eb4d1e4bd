"""The ways in which one token of the package is changed: a closed list."""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass

TURNED = {"<": ">", ">": "<", "<=": ">=", ">=": "<="}
BOUND = {"<": "<=", "<=": "<", ">": ">=", ">=": ">"}
EQUAL = {
    "==": "!=",
    "!=": "==",
    "is": "is not",
    "is not": "is",
    "in": "not in",
    "not in": "in",
}
SUM = {"+": "-", "-": "+", "*": "/", "/": "*"}
LOGIC = {"and": "or", "or": "and"}
EXTREME = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum"}
EXTREME |= {"fmin": "fmax", "fmax": "fmin", "nanmin": "nanmax", "nanmax": "nanmin"}
EXTREME |= {"argmin": "argmax", "argmax": "argmin", "any": "all", "all": "any"}
KINDS = {
    "turned": "a comparison the other way round: < for >",
    "bound": "a comparison with or without its limit: < for <=",
    "equal": "== for !=, is for is not, in for not in",
    "sum": "+ for -, * for /",
    "sign": "a minus left out",
    "logic": "and for or",
    "not": "a not left out",
    "truth": "True for False",
    "extreme": "min for max, any for all",
    "number": "a number half as much again, a whole one by one more",
    "return": "an early return left out",
}
"""Every kind; nothing else is tried."""
_SIGNS: dict[type[ast.AST], str] = {
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
    ast.Eq: "==",
    ast.NotEq: "!=",
    ast.Is: "is",
    ast.IsNot: "is not",
    ast.In: "in",
    ast.NotIn: "not in",
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
    ast.And: "and",
    ast.Or: "or",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One change of one token.

    Attributes
    ----------
    path : str
        The file, as seen from the project's folder.
    line : int
        Where it is.
    start, end : int
        What is changed: from which to which sign of the file.
    """

    path: str
    line: int
    kind: str
    start: int
    end: int
    before: str
    after: str

    def apply(self, source: str) -> str:
        """Return the file with the change made."""
        assert source[self.start : self.end] == self.before
        return source[: self.start] + self.after + source[self.end :]

    @property
    def name(self) -> str:
        """What it is called in a list."""
        change = f"{_short(self.before)} -> {_short(self.after)}"
        return f"{self.path}:{self.line} {self.kind}: {change}"


def _short(words: str) -> str:
    return " ".join(words.split())[:60]


def mutants_of(path: str, source: str) -> list[Mutant]:
    """Return every change that can be made to one file, in its order."""
    finder = _Finder(path, source)
    finder.visit(ast.parse(source))
    return sorted(finder.found, key=lambda mutant: (mutant.start, mutant.kind))


class _Finder(ast.NodeVisitor):
    """Walks through a file; leaves out annotations, decorators and declarations."""

    def __init__(self, path: str, source: str) -> None:
        self.path, self.source = path, source
        self.found: list[Mutant] = []
        lengths = [len(line) for line in source.splitlines(keepends=True)]
        self._lines = source.splitlines(keepends=True)
        self._firsts = [sum(lengths[:n]) for n in range(len(lengths) + 1)]

    def _place(self, line: int, column: int) -> int:
        """Return a place in the file; columns are told in bytes."""
        words = self._lines[line - 1].encode()[:column].decode()
        return self._firsts[line - 1] + len(words)

    def _span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        """Return from where to where a node stands."""
        end_line, end_column = node.end_lineno, node.end_col_offset
        assert end_line is not None
        assert end_column is not None
        return (
            self._place(node.lineno, node.col_offset),
            self._place(end_line, end_column),
        )

    def _add(self, kind: str, start: int, end: int, after: str) -> None:
        """Keep one change."""
        line = self.source.count("\n", 0, start) + 1
        before = self.source[start:end]
        self.found.append(
            Mutant(
                path=self.path,
                line=line,
                kind=kind,
                start=start,
                end=end,
                before=before,
                after=after,
            )
        )

    def _between(self, left: ast.expr, right: ast.expr, op: ast.AST) -> None:
        """Keep the changes of an operator that stands between two expressions."""
        sign = _SIGNS.get(type(op))
        if sign is None:
            return
        begin, end = self._span(left)[1], self._span(right)[0]
        pattern = r"\s+".join(map(re.escape, sign.split()))
        place = re.search(pattern, self.source[begin:end])
        if place is None:
            return
        start, stop = begin + place.start(), begin + place.end()
        tables = {"turned": TURNED, "bound": BOUND, "equal": EQUAL}
        for kind, table in {**tables, "sum": SUM, "logic": LOGIC}.items():
            if sign in table:
                self._add(kind, start, stop, table[sign])

    def visit_Compare(self, node: ast.Compare) -> None:
        """A comparison."""
        sides = [node.left, *node.comparators]
        for left, right, op in zip(sides, sides[1:], node.ops, strict=False):
            self._between(left, right, op)
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        """A sum or a product; words that are put together are none."""
        if not any(_is_words(side) for side in (node.left, node.right)):
            self._between(node.left, node.right, node.op)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        """And, or."""
        for left, right in zip(node.values, node.values[1:], strict=False):
            self._between(left, right, node.op)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        """A minus, a not."""
        start, _ = self._span(node)
        end, _ = self._span(node.operand)
        sign = self.source[start:end].strip().rstrip("(")
        kind = {"-": "sign", "not": "not"}.get(sign.strip())
        if kind is not None:
            self._add(kind, start, start + len(sign.strip()), "")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        """A number, True and False."""
        start, end = self._span(node)
        if isinstance(node.value, bool):
            self._add("truth", start, end, str(not node.value))
        elif isinstance(node.value, int):
            self._add("number", start, end, str(node.value + 1))
        elif isinstance(node.value, float):
            more = 1.5 * node.value if node.value else 1.0
            self._add("number", start, end, repr(more))

    def visit_Call(self, node: ast.Call) -> None:
        """The least, the most."""
        called = node.func
        name = called.attr if isinstance(called, ast.Attribute) else ""
        name = called.id if isinstance(called, ast.Name) else name
        if name in EXTREME:
            _, end = self._span(called)
            self._add("extreme", end - len(name), end, EXTREME[name])
        self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        """An early return."""
        last = node.body[-1]
        if isinstance(last, ast.Return) and not node.orelse:
            self._add("return", *self._span(last), "pass")
        self.generic_visit(node)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        """A function: its defaults and its body alone."""
        for part in (*node.args.defaults, *filter(None, node.args.kw_defaults)):
            self.visit(part)
        for statement in node.body:
            self.visit(statement)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        """A class: its body alone."""
        for statement in node.body:
            self.visit(statement)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        """A value with its type: the value alone."""
        if node.value is not None:
            self.visit(node.value)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Words with values in them: Python tells no sure places in them."""


def _is_words(node: ast.expr) -> bool:
    """Return whether an expression is words."""
    is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return is_text or isinstance(node, ast.JoinedStr)


def every_mutant(files: dict[str, str]) -> Iterator[Mutant]:
    """Give every change of some files."""
    for path, source in sorted(files.items()):
        yield from mutants_of(path, source)
