"""Random expressions of the language, each with its value worked out apart from the kit."""

from __future__ import annotations

import random
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from simkit.netlist import BIT, Type, make
from tests.designs.oracle import Context, Number, resized, wrapped
from tests.designs.statements import Expr, Function

WIDTHS = (2, 3, 4, 5, 8, 8, 12, 16, 16, 24, 31, 32, 33)
COMPARES = {
    "==": lambda x, y: x == y,
    "!=": lambda x, y: x != y,
    "<": lambda x, y: x < y,
    "<=": lambda x, y: x <= y,
    ">": lambda x, y: x > y,
    ">=": lambda x, y: x >= y,
}
BITWISE = {"&": lambda x, y: x & y, "|": lambda x, y: x | y, "^": lambda x, y: x ^ y}


def random_kind(rng: random.Random) -> Type:
    pick = rng.random()
    if pick < 0.15:
        return BIT
    if pick < 0.75:
        return make(rng.choice(("unsigned", "unsigned", "signed")), rng.choice(WIDTHS))
    left = rng.randrange(0, 9)
    return make(rng.choice(("ufixed", "sfixed")), left, rng.randrange(-12, 1))


def random_number(rng: random.Random, kind: Type) -> Number:
    raw = rng.choice((0, 1, -1, kind.low, kind.high, kind.high - 1, rng.randint(kind.low, kind.high), rng.randrange(8)))
    raw = raw if kind.holds(raw) else rng.randint(kind.low, kind.high)
    return raw * kind.step if kind.fixed else raw


def literal(kind: Type, number: Number) -> Expr:
    """A typed constant."""
    if kind.fixed:
        exact = float(number) if Fraction(float(number)) == number else number
        return Expr(f"const({exact!r}, {kind})", kind, lambda c: number)
    return Expr(f"{kind}({number})", kind, lambda c: number)


def cut_quotient(x: int, y: int) -> int:
    return 0 if y == 0 else abs(x) // abs(y) * (1 if (x < 0) == (y < 0) else -1)


def fixed_of(kind: Type) -> Type:
    return kind if kind.fixed else make("sfixed" if kind.signed else "ufixed", kind.left, 0)


def fits(inner: Type, outer: Type) -> bool:
    return (
        inner.right >= outer.right
        and outer.low * outer.step <= inner.low * inner.step
        and inner.high * inner.step <= outer.high * outer.step
    )


class Expressions:
    """Makes expressions of a wanted type from what a place can read.

    Parameters
    ----------
    rng : random.Random
    readable : list of Expr, what may be read by name
    functions : list of Function, @combinational ones that may be called
    acting : list of Expr, bits whose evaluation does something (used in conditions only)
    """

    def __init__(self, rng: random.Random, readable: list[Expr], functions: list[Function]) -> None:
        self.rng, self.readable, self.functions = rng, readable, functions

    def expr(self, kind: Type, depth: int = 2) -> Expr:
        """A random expression of a type."""
        if depth <= 0 or self.rng.random() < 0.25:
            return self.leaf(kind)
        if kind == BIT:
            return self.bit(depth)
        if self.rng.random() < 0.15:
            return self.choice(kind, depth)
        if self.functions and self.rng.random() < 0.1:
            return self.fit(self.called(depth), kind)
        maker = self.rng.choice(
            (
                self.sum,
                self.sum,
                self.product,
                self.bitwise,
                self.shift,
                self.sign,
                self.extreme,
                self.quotient,
                self.pieces,
            )
        )
        return self.fit(maker(kind, depth), kind)

    def leaf(self, kind: Type) -> Expr:
        same = [item for item in self.readable if item.kind == kind]
        if same and self.rng.random() < 0.75:
            return self.rng.choice(same)
        if self.readable and self.rng.random() < 0.6:
            return self.fit(self.rng.choice(self.readable), kind)
        return literal(kind, random_number(self.rng, kind))

    def number(self, kind: Type) -> tuple[str, Number]:
        """A plain number that takes the type of what it meets."""
        number = random_number(self.rng, kind)
        return (repr(float(number)) if kind.fixed else str(number)), number

    # --- operators ---

    def operands(self, kind: Type, depth: int) -> tuple[Expr, Expr]:
        """Two operands of one signedness, perhaps of different size."""
        other = kind
        if not kind.fixed and self.rng.random() < 0.3:
            other = make(kind.kind, self.rng.choice(WIDTHS))
        pair = self.expr(kind, depth - 1), self.expr(other, depth - 1)
        return pair if self.rng.random() < 0.5 else pair[::-1]

    def sum(self, kind: Type, depth: int) -> Expr:
        sign = self.rng.choice("+-")
        x, y = self.operands(kind, depth)
        if self.rng.random() < 0.2 and not kind.fixed:
            text, number = self.number(x.kind)
            y = Expr(f"({text})" if number < 0 else text, x.kind, lambda c: number)
        if kind.fixed:
            result = make(kind.kind, max(x.kind.left, y.kind.left) + 1, min(x.kind.right, y.kind.right))
        else:
            result = x.kind if x.kind.width >= y.kind.width else y.kind
        action = (lambda a, b: a + b) if sign == "+" else (lambda a, b: a - b)
        return Expr(f"({x.text} {sign} {y.text})", result, lambda c: wrapped(action(x.value(c), y.value(c)), result))

    def product(self, kind: Type, depth: int) -> Expr:
        x, y = self.operands(kind, depth)
        if x.kind.width + y.kind.width > 72:
            return x
        if kind.fixed:
            result = make(kind.kind, x.kind.left + y.kind.left + 1, x.kind.right + y.kind.right)
        else:
            result = make(kind.kind, x.kind.width + y.kind.width)
        return Expr(f"({x.text} * {y.text})", result, lambda c: wrapped(x.value(c) * y.value(c), result))

    def quotient(self, kind: Type, depth: int) -> Expr:
        if kind.fixed or kind.width > 24:
            return self.sum(kind, depth)
        x, y = self.expr(kind, depth - 1), self.expr(kind, depth - 1)
        op = self.rng.choice(("/", "%", "rem"))
        if op == "/":
            return Expr(f"({x.text} / {y.text})", kind, lambda c: wrapped(cut_quotient(x.value(c), y.value(c)), kind))
        if op == "%":

            def modulus(c: Context) -> Number:
                a, b = x.value(c), y.value(c)
                return a % b if b else 0

            return Expr(f"({x.text} % {y.text})", kind, modulus)

        def remainder(c: Context) -> Number:
            a, b = x.value(c), y.value(c)
            return a - b * cut_quotient(a, b) if b else 0

        return Expr(f"rem({x.text}, {y.text})", kind, remainder)

    def bitwise(self, kind: Type, depth: int) -> Expr:
        if kind.fixed:
            return self.sum(kind, depth)
        x, y = self.expr(kind, depth - 1), self.expr(kind, depth - 1)
        if self.rng.random() < 0.2:
            return Expr(f"(~{x.text})", kind, lambda c: wrapped(-1 - x.value(c), kind))
        op = self.rng.choice(list(BITWISE))
        return Expr(f"({x.text} {op} {y.text})", kind, lambda c: BITWISE[op](x.value(c), y.value(c)))

    def shift(self, kind: Type, depth: int) -> Expr:
        x, op = self.expr(kind, depth - 1), self.rng.choice(("<<", ">>"))
        if self.rng.random() < 0.5:
            places = self.rng.randrange(kind.width + 3)
            count = Expr(str(places), kind, lambda c: places)
        else:
            count = self.expr(make("unsigned", self.rng.choice((2, 3, 5))), depth - 1)

        def shifted(c: Context) -> Number:
            raw, n = int(Fraction(x.value(c)) / kind.step), int(count.value(c))
            return wrapped((raw << n if op == "<<" else raw >> n) * kind.step, kind)

        return Expr(f"({x.text} {op} {count.text})", kind, shifted)

    def sign(self, kind: Type, depth: int) -> Expr:
        if not kind.signed:
            return self.sum(kind, depth)
        x, name = self.expr(kind, depth - 1), self.rng.choice(("-", "abs"))
        result = make(kind.kind, kind.left + 1, kind.right) if kind.fixed else kind
        if name == "-":
            return Expr(f"(-{x.text})", result, lambda c: wrapped(-x.value(c), result))
        return Expr(f"abs({x.text})", result, lambda c: wrapped(abs(x.value(c)), result))

    def extreme(self, kind: Type, depth: int) -> Expr:
        name, action = self.rng.choice((("min", min), ("max", max)))
        xs = [self.expr(kind, depth - 1) for _ in range(self.rng.choice((2, 2, 3)))]
        return Expr(f"{name}({', '.join(x.text for x in xs)})", kind, lambda c: action(x.value(c) for x in xs))

    def pieces(self, kind: Type, depth: int) -> Expr:
        """bits(…) or cat(…)."""
        if kind.fixed or kind.signed:
            return self.extreme(kind, depth)
        if self.rng.random() < 0.5 or kind.width < 2:
            source = make(self.rng.choice(("unsigned", "signed")), kind.width + self.rng.randrange(6))
            low = self.rng.randrange(source.width - kind.width + 1)
            x = self.expr(source, depth - 1)
            return Expr(
                f"bits({x.text}, {low + kind.width - 1}, {low})", kind, lambda c: (int(x.value(c)) >> low) & kind.high
            )
        split = self.rng.randrange(1, kind.width)
        high, low_part = (
            self.expr(make("unsigned", kind.width - split), depth - 1),
            self.expr(make("unsigned", split), depth - 1),
        )
        return Expr(
            f"cat({high.text}, {low_part.text})", kind, lambda c: (int(high.value(c)) << split) | int(low_part.value(c))
        )

    def choice(self, kind: Type, depth: int) -> Expr:
        test, yes, no = self.expr(BIT, depth - 1), self.expr(kind, depth - 1), self.expr(kind, depth - 1)
        return Expr(
            f"({yes.text} if {test.text} else {no.text})",
            kind,
            lambda c: yes.value(c) if test.value(c) else no.value(c),
        )

    def called(self, depth: int) -> Expr:
        function = self.rng.choice(self.functions)
        args = [self.expr(kind, depth - 1) for _, kind in function.parameters]
        assert function.result is not None
        return Expr(
            f"{function.name}({', '.join(arg.text for arg in args)})",
            function.result,
            lambda c: function.at_once(c, [arg.value(c) for arg in args]),
        )

    # --- bits ---

    def bit(self, depth: int) -> Expr:
        pick = self.rng.random()
        if pick < 0.45:
            return self.comparison(depth)
        if pick < 0.65:
            x, y = self.expr(BIT, depth - 1), self.expr(BIT, depth - 1)
            if self.rng.random() < 0.5:
                return Expr(f"({x.text} and {y.text})", BIT, lambda c: int(bool(x.value(c) and y.value(c))))
            return Expr(f"({x.text} or {y.text})", BIT, lambda c: int(bool(x.value(c) or y.value(c))))
        if pick < 0.75:
            x = self.expr(BIT, depth - 1)
            return Expr(f"(not {x.text})", BIT, lambda c: int(not x.value(c)))
        if pick < 0.85:
            x, y = self.expr(BIT, depth - 1), self.expr(BIT, depth - 1)
            op, action = self.rng.choice(
                (("^", lambda a, b: a ^ b), ("==", lambda a, b: int(a == b)), ("!=", lambda a, b: a ^ b))
            )
            return Expr(f"({x.text} {op} {y.text})", BIT, lambda c: action(x.value(c), y.value(c)))
        kind = make("unsigned", self.rng.choice(WIDTHS))
        if self.rng.random() < 0.3:
            x, among = self.leaf(kind), tuple(int(random_number(self.rng, kind)) for _ in range(3))
            return Expr(f"({x.text} in {among})", BIT, lambda c: int(x.value(c) in among))
        x, index = self.leaf(kind), self.rng.randrange(kind.width)
        return Expr(f"{x.text}[{index}]", BIT, lambda c: (int(x.value(c)) >> index) & 1)

    def comparison(self, depth: int) -> Expr:
        kind = random_kind(self.rng)
        while kind == BIT:
            kind = random_kind(self.rng)
        xs = list(self.operands(kind, depth))
        if self.rng.random() < 0.25:
            xs.append(self.expr(kind, depth - 1))
        if self.rng.random() < 0.4:
            text, number = self.number(kind)
            place = self.rng.randrange(len(xs))
            if xs[1 - place if len(xs) == 2 else place - 1 if place else 1].kind == kind:
                xs[place] = Expr(text, kind, lambda c: number)
        ops = [self.rng.choice(list(COMPARES)) for _ in xs[1:]]
        text = xs[0].text + "".join(f" {op} {x.text}" for op, x in zip(ops, xs[1:], strict=True))

        def compared(c: Context) -> int:
            values = [x.value(c) for x in xs]
            return int(all(COMPARES[op](a, b) for op, a, b in zip(ops, values, values[1:], strict=False)))

        return Expr(f"({text})", BIT, compared)

    # --- from one type to another ---

    def fit(self, x: Expr, kind: Type) -> Expr:
        """``x`` in another type."""
        if x.kind == kind:
            return x
        if kind == BIT:
            return Expr(f"({x.text} != 0)", BIT, lambda c: int(x.value(c) != 0))
        if x.kind == BIT:
            yes, no = (literal(kind, random_number(self.rng, kind)) for _ in range(2))
            return Expr(
                f"({yes.text} if {x.text} else {no.text})", kind, lambda c: yes.value(c) if x.value(c) else no.value(c)
            )
        if x.kind.signed != kind.signed:
            return self.fit(self.other_sign(x), kind)
        if fits(x.kind, kind) and x.kind.fixed == kind.fixed and self.rng.random() < 0.5:
            return Expr(f"{kind}({x.text})", kind, x.value)
        return self.resized(x, kind)

    def other_sign(self, x: Expr) -> Expr:
        name = {"unsigned": "signed", "signed": "unsigned", "ufixed": "sfixed", "sfixed": "ufixed"}[x.kind.kind]
        if not x.kind.signed and self.rng.random() < 0.5:  # one bit more: the number is kept
            wide = make(name, x.kind.left + 1, x.kind.right) if x.kind.fixed else make(name, x.kind.width + 1)
            return Expr(f"{wide}({x.text})", wide, x.value)
        same = make(name, x.kind.left, x.kind.right) if x.kind.fixed else make(name, x.kind.width)
        return Expr(f"{same}({x.text})", same, lambda c: wrapped(x.value(c), same))

    def resized(self, x: Expr, kind: Type) -> Expr:
        overflow = self.rng.choice((None, None, "saturate", "wrap"))
        rounding = self.rng.choice((None, None, "nearest", "truncate"))
        if kind.right > x.kind.left + 1:  # nothing is left of the number: fixed_pkg then gives sign bits
            rounding = "truncate"
        styles = "".join(
            f", {name}={style!r}" for name, style in (("overflow", overflow), ("round", rounding)) if style
        )
        have = x.kind
        return Expr(
            f"resize({x.text}, {kind}{styles})", kind, lambda c: resized(x.value(c), have, kind, overflow, rounding)
        )


def reader(name: str) -> Callable[[Context], Number]:
    return lambda c: c.machine.old[name]


def local(name: str) -> Callable[[Context], Any]:
    return lambda c: c.locals[name]
