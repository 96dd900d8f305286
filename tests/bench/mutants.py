"""Small changes of a module's code, each of which some test should notice: operators, numbers, arguments, conditions."""

import ast
from collections.abc import Iterator
from copy import deepcopy
from typing import NamedTuple

__all__ = ["Mutant", "changed", "mutants_of"]

_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_OPPOSITES = (
    ("min", "max"), ("minimum", "maximum"), ("argmin", "argmax"), ("idxmin", "idxmax"), ("floor", "ceil"), ("any", "all"),
    ("first", "last"), ("lt", "le"), ("gt", "ge"), ("isna", "notna"), ("ffill", "bfill"), ("left", "right"),
    ("cummax", "cummin"), ("head", "tail"), ("logical_and", "logical_or"), ("union", "intersection"), ("outer", "inner"),
)  # fmt: skip
_OTHER_NAME = {a: b for pair in _OPPOSITES for a, b in (pair, pair[::-1])}
_OTHER_TEXT = _OTHER_NAME | {"sum": "max"}
# calls that can be left out: what they are applied to remains
_LEFT_OUT = {"clip", "abs", "round", "fillna", "cumsum", "shift", "dropna", "drop_duplicates", "sort_values", "sort_index", "lower", "strip"}  # fmt: skip
# of functions of a module, the first argument remains
_LEFT_OUT_OF = {"np": {"abs", "sqrt", "exp", "unique", "sort", "cumsum", "nan_to_num", "log"}, "math": {"sqrt", "ceil"}}
# arguments that change no answer, or that make an answer stop where it would be wrong
_KEPT_ARGUMENTS = {"strict", "dtype", "name", "validate", "copy", "told", "engine"}
# of these, the order of the arguments changes nothing
_IN_ANY_ORDER = {
    "min",
    "max",
    "minimum",
    "maximum",
    "fmin",
    "fmax",
    "hypot",
    "array_equal",
    "logical_and",
    "logical_or",
}
# parts of the code that decide nothing: types, texts and messages
_PASSED_OVER = (ast.JoinedStr, ast.Raise, ast.Import, ast.ImportFrom, ast.Global)
_NO_CODE = {"annotation", "returns", "decorator_list", "type_comment"}


class Mutant(NamedTuple):
    """One change of a module. ``place``: which of the module's changes; ``scope``: the function it is in, or ""."""

    place: int
    scope: str
    # the line of the source, and what of it is changed
    code: str
    # lines that hold what is changed, and the statement's first
    lines: tuple[int, ...]
    before: str
    after: str
    # done while the module is imported, by no call of a function
    at_import: bool


class _Spot(NamedTuple):
    """Where a node is kept: by its parent, in a field, perhaps in a list."""

    parent: ast.AST
    field: str
    index: int | None
    scope: tuple[str, ...]
    statement: int
    at_import: bool

    def put(self, node: ast.AST) -> None:
        if self.index is None:
            setattr(self.parent, self.field, node)
        else:
            getattr(self.parent, self.field)[self.index] = node


def mutants_of(source: str) -> list[Mutant]:
    """Return every change that is tried of a module's source, in the order of the source."""
    found, text = [], source.splitlines()
    for place, (spot, old, new) in enumerate(_changes(ast.parse(source))):
        lines = tuple(sorted({spot.statement, *range(old.lineno, (old.end_lineno or old.lineno) + 1)}))
        code = text[old.lineno - 1].strip()
        found.append(Mutant(place, ".".join(spot.scope), code, lines, _said(old), _said(new), spot.at_import))
    return found


def changed(source: str, place: int) -> ast.Module:
    """Return the module's tree with one change; its line numbers remain."""
    tree = ast.parse(source)
    for number, (spot, _, new) in enumerate(_changes(tree)):
        if number == place:
            spot.put(new)
            break
    return ast.fix_missing_locations(tree)


def _said(node: ast.AST) -> str:
    return ast.unparse(node).split("\n")[0]


def _changes(tree: ast.Module) -> Iterator[tuple[_Spot, ast.expr | ast.stmt, ast.AST]]:
    for spot, node in _spots(tree, (), 1, at_import=True):
        for new in _changes_of(node, spot):
            if ast.unparse(new) != ast.unparse(node):
                yield spot, node, ast.copy_location(new, node)


def _spots(
    parent: ast.AST, scope: tuple[str, ...], statement: int, *, at_import: bool
) -> Iterator[tuple[_Spot, ast.expr | ast.stmt]]:
    for field, value in ast.iter_fields(parent):
        if field in _NO_CODE:
            continue
        inside, within = at_import, scope
        if isinstance(parent, ast.FunctionDef) and field == "body":
            inside = False
        if isinstance(parent, ast.FunctionDef | ast.ClassDef) and field in {"body", "args"}:
            within = (*scope, parent.name)
        for index, node in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(node, _PASSED_OVER) or not isinstance(node, ast.AST) or (not scope and _is_names(node)):
                continue
            here = node.lineno if isinstance(node, ast.stmt) else statement
            if isinstance(node, ast.expr | ast.stmt):
                yield _Spot(parent, field, index if isinstance(value, list) else None, within, here, inside), node
            yield from _spots(node, within, here, at_import=inside)


def _is_names(node: ast.AST) -> bool:
    """Return whether it only lists names, or gives a type a name."""
    if not isinstance(node, ast.Assign) or not isinstance(node.targets[0], ast.Name):
        return False
    return node.targets[0].id == "__all__" or isinstance(node.value, ast.Subscript)


def _changes_of(node: ast.AST, spot: _Spot) -> Iterator[ast.AST]:  # noqa: C901 - a case per kind of change
    match node:
        case ast.BinOp(left, operator, right) if type(operator) in _OPERATORS:
            yield ast.BinOp(left, _OPERATORS[type(operator)](), right)
        case ast.AugAssign(target, operator, value) if type(operator) in _OPERATORS:
            yield ast.AugAssign(target, _OPERATORS[type(operator)](), value)
        case ast.Compare(left, [operator, *more], values):
            yield from (ast.Compare(left, [other(), *more], values) for other in _COMPARISONS[type(operator)])
        case ast.BoolOp(operator, values):
            yield ast.BoolOp(ast.Or() if isinstance(operator, ast.And) else ast.And(), values)
        case ast.UnaryOp(ast.Not() | ast.Invert() | ast.USub(), operand):
            yield operand
        case ast.Constant(value):
            yield from map(ast.Constant, _other_values(value))
        case ast.Call():
            yield from _changes_of_call(node)
        case ast.Expr(ast.Call()):
            yield ast.Pass()
        case ast.Continue() | ast.Break():
            yield ast.Break() if isinstance(node, ast.Continue) else ast.Continue()
    if spot.field in {"test", "ifs"} and not isinstance(node, ast.UnaryOp | ast.Compare):
        yield ast.UnaryOp(ast.Not(), deepcopy(node))


def _other_values(value: object) -> Iterator[object]:
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int):
        yield value + 1
        if value > 0:
            yield value - 1
    elif isinstance(value, float):
        yield value * 10 if value else 1.0
    elif isinstance(value, str) and value in _OTHER_TEXT:
        yield _OTHER_TEXT[value]


def _changes_of_call(call: ast.Call) -> Iterator[ast.AST]:
    function, arguments, keywords = call.func, call.args, call.keywords
    match function:
        case ast.Name(name) if name in {"min", "max", "any", "all"}:
            yield ast.Call(ast.Name(_OTHER_NAME[name], ast.Load()), arguments, keywords)
        case ast.Attribute(value, name):
            if name in _OTHER_NAME:
                yield ast.Call(ast.Attribute(value, _OTHER_NAME[name], ast.Load()), arguments, keywords)
            module = value.id if isinstance(value, ast.Name) else ""
            if module in _LEFT_OUT_OF or module == "shapely":
                if name in _LEFT_OUT_OF.get(module, ()) and arguments:
                    yield arguments[0]
            elif name in _LEFT_OUT:
                yield value
    called = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
    is_plain = not any(isinstance(argument, ast.Starred) for argument in arguments)
    if len(arguments) > 1 and is_plain and called not in _IN_ANY_ORDER:
        # of three, the last two: np.where(condition, this, that)
        *first, one, other = arguments if len(arguments) == 3 else (arguments[1], arguments[0])[::-1]
        rest = arguments[2:] if len(arguments) > 3 else []
        yield ast.Call(function, [*first, other, one, *rest], keywords)
    for keyword in keywords:
        if keyword.arg is not None and keyword.arg not in _KEPT_ARGUMENTS:
            yield ast.Call(function, arguments, [other for other in keywords if other is not keyword])
