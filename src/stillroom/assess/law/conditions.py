"""The rule language: a condition over facts, true, false or unknown (Kleene's three values).

A condition is a Python expression of names, constants, and / or / not, comparisons (chained too)
and `in` a tuple of constants. It is parsed, checked and walked; nothing is evaluated. What rests
on a missing fact is unknown, unless the other facts decide it: false and unknown is false, true
or unknown is true.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import NoReturn, TypeAlias

from stillroom.assess.law.variables import VARIABLES, Fact
from stillroom.assess.law.verdicts import GUARD, holds
from stillroom.errors import InputError, TableError

OPERATORS: Mapping[type[ast.cmpop], str] = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=",
}  # fmt: skip


@dataclass(frozen=True)
class Unknown:
    """Neither true nor false for want of these facts."""

    needs: tuple[str, ...]

    def __bool__(self) -> NoReturn:
        raise TypeError(f"unknown is neither true nor false: it needs {', '.join(self.needs)}.")


Truth: TypeAlias = bool | Unknown


def evaluate(condition: str, facts: Mapping[str, Fact], where: str = "condition") -> Truth:
    """Return what *condition* is for these facts.

    Args:
        condition: in the rule language.
        facts: name -> value; a name left out is unknown.
        where: of the condition, for messages.

    Raises:
        TableError: the condition is not of the rule language.
        InputError: a fact of the wrong type.
    """
    return _truth(parsed(condition, where), facts)


@cache
def parsed(condition: str, where: str = "condition") -> ast.expr:
    """Return the checked tree of a condition.

    Raises:
        TableError: not of the rule language, or a name that is not documented.
    """
    try:
        tree = ast.parse(condition.strip(), mode="eval").body
    except (SyntaxError, ValueError, RecursionError):
        raise TableError(f"{where}: {condition!r} is not a condition.") from None
    _check(tree, where)
    return tree


@cache
def names_in(condition: str) -> tuple[str, ...]:
    """Return the facts a condition speaks of, in order."""
    found = (n.id for n in ast.walk(parsed(condition)) if isinstance(n, ast.Name))
    return tuple(dict.fromkeys(found))


def _check(node: ast.expr, where: str) -> None:
    match node:
        case ast.BoolOp(values=parts):
            for part in parts:
                _check(part, where)
        case ast.UnaryOp(op=ast.Not(), operand=part):
            _check(part, where)
        case ast.Compare(left=left, ops=ops, comparators=right):
            for operator, operand in zip(ops, right, strict=True):
                _check_comparison(operator, operand, where)
            _check_operand(left, where)
        case ast.Name() | ast.Constant(value=bool()):
            _check_operand(node, where)
        case _:
            raise TableError(f"{where}: {ast.unparse(node)!r} is not allowed in a condition.")


def _check_comparison(operator: ast.cmpop, operand: ast.expr, where: str) -> None:
    if type(operator) in OPERATORS:
        _check_operand(operand, where)
    elif not (
        isinstance(operator, ast.In)
        and isinstance(operand, ast.Tuple)
        and all(isinstance(e, ast.Constant) for e in operand.elts)
    ):
        raise TableError(f"{where}: {ast.unparse(operand)!r} is not a tuple of constants.")


def _check_operand(node: ast.expr, where: str) -> None:
    if isinstance(node, ast.Name):
        if node.id not in VARIABLES:
            raise TableError(f"{where}: {node.id!r} is not a documented fact.")
    elif not (isinstance(node, ast.Constant) and isinstance(node.value, bool | int | float | str)):
        raise TableError(f"{where}: {ast.unparse(node)!r} is not a name or a constant.")


def _truth(node: ast.expr, facts: Mapping[str, Fact]) -> Truth:
    match node:
        case ast.BoolOp(op=ast.And(), values=parts):
            return _joined((_truth(p, facts) for p in parts), decisive=False)
        case ast.BoolOp(values=parts):
            return _joined((_truth(p, facts) for p in parts), decisive=True)
        case ast.UnaryOp(operand=part):
            inner = _truth(part, facts)
            return inner if isinstance(inner, Unknown) else not inner
        case ast.Compare(left=left, ops=ops, comparators=right):
            pairs = zip([left, *right], ops, right, strict=False)
            return _joined((_compare(a, op, b, facts) for a, op, b in pairs), decisive=False)
    value = _operand(node, facts)
    if isinstance(value, Unknown | bool):
        return value
    raise InputError(f"{ast.unparse(node)} must be true or false, got {value!r}.")


def _joined(parts: Iterator[Truth], decisive: bool) -> Truth:
    """Return *decisive* if any part is; unknown if any part is; otherwise its opposite."""
    needs: dict[str, None] = {}
    for part in parts:
        if isinstance(part, Unknown):
            needs |= dict.fromkeys(part.needs)
        elif part is decisive:
            return decisive
    return Unknown(tuple(needs)) if needs else not decisive


def _operand(node: ast.expr, facts: Mapping[str, Fact]) -> Fact | Unknown:
    if isinstance(node, ast.Constant):
        value: Fact = node.value  # type: ignore[assignment]  # checked when parsed
        return value
    name = ast.unparse(node)
    return facts[name] if name in facts else Unknown((name,))


def _compare(left: ast.expr, op: ast.cmpop, right: ast.expr, facts: Mapping[str, Fact]) -> Truth:
    if isinstance(op, ast.In):
        a = _operand(left, facts)
        return a if isinstance(a, Unknown) else a in ast.literal_eval(right)
    a, b = _operand(left, facts), _operand(right, facts)
    unknown = [name for x in (a, b) if isinstance(x, Unknown) for name in x.needs]
    if unknown:
        return Unknown(tuple(unknown))
    return _compared(a, OPERATORS[type(op)], b, f"{ast.unparse(left)} and {ast.unparse(right)}")


def _compared(a: object, operator: str, b: object, what: str) -> bool:
    if isinstance(a, str) and isinstance(b, str):
        return {
            "<": a < b, "<=": a <= b, ">": a > b, ">=": a >= b, "==": a == b, "!=": a != b,
        }[operator]  # fmt: skip
    if not (_is_number(a) and _is_number(b)):
        raise InputError(f"{what} cannot be compared: {a!r} {operator} {b!r}.")
    assert isinstance(a, int | float)
    assert isinstance(b, int | float)
    if operator in ("==", "!="):
        return (abs(a - b) <= GUARD) is (operator == "==")
    return holds(a, operator, b)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
