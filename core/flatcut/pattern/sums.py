"""Sums and products in a typed length: what `expressions` reads where it is more than a figure.

    sum     := product (('+' | '-') product)*
    product := factor (('*' | '/') factor)*
    factor  := '-' factor | '(' sum ')' | QUANTITY | NAME | length(RUN) | drawn(RUN)
             | distance(PLACE, PLACE) | min(sum, sum ...) | max(sum, sum ...)

A run is as long as it is sewn, or, drawn, as it lies flat with its gathers, pleats and ease.

A name may hold a hyphen, so a minus between two names needs a space on each side. A quotient is worked out from the
left: `a/2/3` is a sixth of a, and a fraction as divisor stands in brackets. A number without a unit is a plain factor
inside a product; standing alone or added to a length it is in the units of the call.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TypeAlias

from flatcut.errors import UsageError, unknown
from flatcut.pattern.measuring import distance, drawn_run_length, run_length
from flatcut.pattern.places import Place, Rename, Run, parse_place, read_run, split_outside
from flatcut.pattern.values import Pattern
from flatcut.units import checked, factor, quantity, refuse_decimal_comma

FUNCTIONS = ("length", "drawn", "distance", "min", "max")

MOST_PARTS = 150
"""Figures, names, brackets and minus signs of a length: each may stand inside the last."""


@dataclass(frozen=True)
class _Number:
    text: str  # as typed, without the unit
    value: float
    unit: str


@dataclass(frozen=True)
class _Name:
    name: str


@dataclass(frozen=True)
class _Call:
    function: str
    inside: str  # as typed
    of: tuple[Run] | tuple[Place, Place]


@dataclass(frozen=True)
class _Most:
    function: str  # 'min' or 'max'
    of: tuple[Node, ...]


@dataclass(frozen=True)
class _Binary:
    sign: str
    left: Node
    right: Node


@dataclass(frozen=True)
class _Minus:
    of: Node


Node: TypeAlias = "_Number | _Name | _Call | _Most | _Binary | _Minus"
"""A part of a length, and what it is made of."""

_BINDING = {"+": 1, "-": 1, "*": 2, "/": 2}

_TOKEN = re.compile(
    r"""\s*(?:
      (?P<quantity>
          (?:\d+\s+)?\d+/\d+\s*(?:[A-Za-z]+)?(?![\w(])
        | (?:\d*\.\d+|\d+\.?)(?:[eE][+-]?\d+(?![A-Za-z]))?\s*[A-Za-z]*(?![\w(]))
    | (?P<call>[a-z]+)\(
    | (?P<name>[^\W\d_][\w-]*)
    | (?P<sign>[-+*/()])
    )""",
    re.VERBOSE,
)


_DIVISOR = re.compile(r"\s*(?P<quantity>\d+)(?P<call>(?!))?(?P<name>(?!))?(?P<sign>(?!))?(?=\s*/\s*\d)")
"""A whole number before another stroke: after a stroke it is a divisor, and no fraction begins with it."""


def _without_calls(text: str) -> str:
    """The text without what stands in the brackets of functions, where commas part places.

    >>> _without_calls("a + distance(at(p,q,0.5,0), r)/2")
    'a + distance()/2'
    """
    kept, depth = [], 0
    for k, letter in enumerate(text):
        if letter == "(" and (depth or text[k - 1 : k].isalpha()):
            kept += [letter] if not depth else []
            depth += 1
            continue
        if letter == ")" and depth:
            depth -= 1
        if not depth:
            kept.append(letter)
    return "".join(kept)


def read_length(text: str, *, units: str) -> tuple[str, float | None, Node | None]:
    """A typed length: how it is recorded, its mm where it needs no pattern, and else what it is made of.

    Errors: UsageError with one sentence.
    """
    refuse_decimal_comma(_without_calls(text))
    factor(units)
    node = _Parser(text).whole()
    dimension = _dimension(node, text)
    if dimension == 0:
        node = _with_unit(node, units)
    node = _promoted(node, units, text)
    in_mm = isinstance(node, _Number) and node.unit == "mm"
    shown = node.text if isinstance(node, _Number) and in_mm else _shown(node)
    return (shown, None, node) if _asks(node) else (shown, checked(_value(node, None), text), None)


def length_of(node: Node, pattern: Pattern) -> float:
    """Its mm on a pattern. Errors: UsageError for an unknown name."""
    return _value(node, pattern)


def with_names(node: Node, name: Rename) -> tuple[str, Node]:
    """The same where pieces have other names, and how it is recorded then."""
    new = _renamed(node, name)
    return _shown(new), new


class _Parser:
    def __init__(self, text: str, parts: int = 0) -> None:
        self._text = text
        self._at = 0
        self._parts = parts

    def _fail(self, wanted: str) -> UsageError:
        rest = self._text[self._at :].strip()
        where = f" at '{rest}'" if rest else " at its end"
        return UsageError(f"'{self._text}' is not a length{where}; {wanted}")

    def _next(self, *, divisor: bool = False) -> re.Match[str] | None:
        found = _TOKEN.match(self._text, self._at)
        plain = _DIVISOR.match(self._text, self._at) if divisor and found and found["quantity"] else None
        return plain or found

    def _sign(self, signs: str) -> str:
        match = self._next()
        if match and match["sign"] and match["sign"] in signs:
            self._at = match.end()
            return match["sign"]
        return ""

    def whole(self) -> Node:
        if not self._text.strip():
            raise UsageError("a length is empty; write a number with a unit, such as 10mm, 1cm or 3/8in")
        node = self._sum()
        if self._text[self._at :].strip():
            raise self._fail("write a sum or product of lengths, such as 'wrist + 5cm'")
        return node

    def _sum(self) -> Node:
        node = self._product()
        while sign := self._sign("+-"):
            node = _Binary(sign, node, self._product())
        return node

    def _product(self) -> Node:
        node = self._factor()
        while sign := self._sign("*/"):
            node = _Binary(sign, node, self._factor(divisor=sign == "/"))
        return node

    def _factor(self, *, divisor: bool = False) -> Node:
        self._parts += 1
        if self._parts > MOST_PARTS:
            raise UsageError(f"'{self._text}' has more than {MOST_PARTS} parts; store some of it with measure --as")
        match = self._next(divisor=divisor)
        if match is None:
            raise self._fail("write a number with a unit, such as 10mm, 1cm or 3/8in, or the name of a measurement")
        self._at = match.end()
        if match["quantity"]:
            found = quantity(match["quantity"])
            if found is None:
                raise self._fail("write a number with a unit, such as 10mm, 1cm or 3/8in")
            factor(found[1])
            typed = match["quantity"].strip()
            return _Number(typed.removesuffix(found[1]).strip(), found[0], found[1])
        if match["call"]:
            return self._call(match["call"])
        if match["name"]:
            return _Name(match["name"])
        if match["sign"] == "-":
            return _Minus(self._factor())
        if match["sign"] == "(":
            node = self._sum()
            if not self._sign(")"):
                raise self._fail("close the bracket")
            return node
        self._at = match.start()
        raise self._fail("a figure or a name is missing here")

    def _call(self, function: str) -> Node:
        if function not in FUNCTIONS:
            raise UsageError(f"'{function}(...)' is not known in a length; use {' or '.join(FUNCTIONS)}")
        depth, start = 1, self._at
        while depth:
            if self._at >= len(self._text):
                raise self._fail("close the bracket")
            depth += {"(": 1, ")": -1}.get(self._text[self._at], 0)
            self._at += 1
        inside = self._text[start : self._at - 1].strip()
        if function in ("min", "max"):
            return self._most(function, split_outside(inside, ","))
        if function in ("length", "drawn"):
            return _Call(function, inside, (read_run(inside),))
        ends = split_outside(inside, ",")
        if len(ends) != 2:
            raise UsageError(f"distance({inside}) takes two places with a comma between them")
        return _Call(function, inside, (parse_place(ends[0]), parse_place(ends[1])))

    def _most(self, function: str, texts: list[str]) -> Node:
        nodes = []
        for text in texts:
            inner = _Parser(text, self._parts)
            nodes.append(inner.whole())
            self._parts = inner._parts
        if len(nodes) < 2:
            raise UsageError(f"{function}(...) takes two lengths or more, with commas between them")
        return _Most(function, tuple(nodes))


def _dimension(node: Node, text: str) -> int:
    """0 for a plain number, 1 for a length."""
    if isinstance(node, _Most):
        return max(_dimension(one, text) for one in node.of)
    if isinstance(node, _Number):
        return 1 if node.unit else 0
    if isinstance(node, _Minus):
        return _dimension(node.of, text)
    if isinstance(node, _Binary):
        left, right = _dimension(node.left, text), _dimension(node.right, text)
        if node.sign in "+-":
            return max(left, right)
        if node.sign == "*":
            if left + right > 1:
                raise UsageError(f"'{text}' multiplies two lengths; multiply a length by a number")
            return left + right
        if right > left:
            raise UsageError(f"'{text}' divides a number by a length; divide a length by a number")
        return left - right
    return 1


def _with_unit(node: Node, units: str) -> Node:
    """A plain number read as a length in `units`."""
    if isinstance(node, _Number):
        return replace(node, unit=units)
    if isinstance(node, _Minus):
        return _Minus(_with_unit(node.of, units))
    if isinstance(node, _Most):
        return _Most(node.function, tuple(_with_unit(one, units) for one in node.of))
    if isinstance(node, _Binary) and node.sign in "+-":
        return _Binary(node.sign, _with_unit(node.left, units), _with_unit(node.right, units))
    if isinstance(node, _Binary) and isinstance(node.left, (_Number, _Minus)):
        return _Binary(node.sign, _with_unit(node.left, units), node.right)
    return _Binary("*", _Number("1", 1.0, units), node)


def _promoted(node: Node, units: str, text: str) -> Node:
    if isinstance(node, _Minus):
        return _Minus(_promoted(node.of, units, text))
    if isinstance(node, _Most):
        inner = [_promoted(one, units, text) for one in node.of]
        most = max(_dimension(one, text) for one in inner)
        return _Most(node.function, tuple(n if _dimension(n, text) == most else _with_unit(n, units) for n in inner))
    if not isinstance(node, _Binary):
        return node
    left, right = _promoted(node.left, units, text), _promoted(node.right, units, text)
    if node.sign in "+-" and _dimension(left, text) != _dimension(right, text):
        left = left if _dimension(left, text) else _with_unit(left, units)
        right = right if _dimension(right, text) else _with_unit(right, units)
    return _Binary(node.sign, left, right)


def _shown(node: Node, binding: int = 0) -> str:
    if isinstance(node, _Number):
        return f"{node.text}{node.unit}"
    if isinstance(node, _Name):
        return node.name
    if isinstance(node, _Call):
        return f"{node.function}({node.inside})"
    if isinstance(node, _Most):
        return f"{node.function}({', '.join(map(_shown, node.of))})"
    if isinstance(node, _Minus):
        return f"-{_shown(node.of, 3)}"
    own = _BINDING[node.sign]
    sign = f" {node.sign} " if own == 1 else node.sign
    right = own + 1 if node.sign in "-/" else own
    divisor = _shown(node.right, right)
    if node.sign == "/" and isinstance(node.right, _Number) and "/" in node.right.text:
        divisor = f"({divisor})"
    shown = f"{_shown(node.left, own)}{sign}{divisor}"
    return f"({shown})" if own < binding else shown


def _asks(node: Node) -> bool:
    """Whether the value needs a pattern."""
    if isinstance(node, _Binary):
        return _asks(node.left) or _asks(node.right)
    if isinstance(node, _Minus):
        return _asks(node.of)
    if isinstance(node, _Most):
        return any(map(_asks, node.of))
    return not isinstance(node, _Number)


def _value(node: Node, pattern: Pattern | None) -> float:
    if isinstance(node, _Number):
        return node.value * (factor(node.unit) if node.unit else 1.0)
    if isinstance(node, _Minus):
        return -_value(node.of, pattern)
    if isinstance(node, _Most):
        return {"min": min, "max": max}[node.function](_value(one, pattern) for one in node.of)
    if isinstance(node, _Binary):
        left, right = _value(node.left, pattern), _value(node.right, pattern)
        if node.sign == "/" and right == 0:
            raise UsageError("a length is divided by zero; write a divisor other than zero")
        return {"+": left + right, "-": left - right, "*": left * right, "/": left / (right or 1.0)}[node.sign]
    assert pattern is not None  # _asks() keeps names and calls from being valued without one
    if isinstance(node, _Name):
        return _measurement(node.name, pattern)
    return _called(node, pattern)


def _measurement(name: str, pattern: Pattern) -> float:
    known = {**pattern.body, **pattern.measures}
    if name not in known:
        if re.fullmatch(r"[^\W\d_][\w-]*-\d[\w.]*", name) or any(
            name.startswith(f"{k}-") and name[len(k) + 1 :] in known for k in known
        ):
            raise UsageError(f"'{name}' is read as one name; put a space on each side of the minus")
        raise unknown("measurement", name, known)
    return known[name]


def _called(node: _Call, pattern: Pattern) -> float:
    if len(node.of) == 1:
        return (drawn_run_length if node.function == "drawn" else run_length)(pattern, node.of[0])
    return distance(pattern, *node.of)


def _renamed(node: Node, name: Rename) -> Node:
    if isinstance(node, _Minus):
        return _Minus(_renamed(node.of, name))
    if isinstance(node, _Most):
        return _Most(node.function, tuple(_renamed(one, name) for one in node.of))
    if isinstance(node, _Binary):
        return _Binary(node.sign, _renamed(node.left, name), _renamed(node.right, name))
    if not isinstance(node, _Call):
        return node
    of = (node.of[0].renamed(name),) if len(node.of) == 1 else (node.of[0].renamed(name), node.of[1].renamed(name))
    return _Call(node.function, ",".join(map(str, of)), of)
