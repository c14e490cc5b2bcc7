"""A small writer of LLVM IR text.

It offers the methods of ``llvmlite.ir.IRBuilder`` that the operator table uses, but appends lines of text,
which is several times faster than building objects and printing them.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple


class Int(NamedTuple):
    """The LLVM integer type of ``width`` bits; calling it makes a constant."""

    width: int

    def __call__(self, number: int) -> Value:
        number &= (1 << self.width) - 1
        return Value(self, ("true" if number else "false") if self.width == 1 else str(number))

    def __str__(self) -> str:
        return f"i{self.width}"


integer = lru_cache(maxsize=8192)(Int)
I1, I64 = integer(1), integer(64)


class Value(NamedTuple):
    """An LLVM value: its type and how the text calls it."""

    type: Int
    ref: str


class Builder:
    """Appends instructions; every method returns the result's :class:`Value`."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.long_divisions: set[Int] = set()
        self._count = 0

    def name(self) -> str:
        self._count += 1
        return f"%v{self._count}"

    def label(self, name: str) -> None:
        self.lines.append(f"{name}:")

    def line(self, text: str) -> None:
        self.lines.append(text)

    def put(self, kind: Int, text: str) -> Value:
        """One instruction with a result of type ``kind``."""
        name = self.name()
        self.lines.append(f"{name} = {text}")
        return Value(kind, name)

    def _binary(self, op: str, a: Value, b: Value) -> Value:
        return self.put(a.type, f"{op} i{a.type.width} {a.ref}, {b.ref}")

    def add(self, a: Value, b: Value) -> Value:
        return self._binary("add", a, b)

    def sub(self, a: Value, b: Value) -> Value:
        return self._binary("sub", a, b)

    def mul(self, a: Value, b: Value) -> Value:
        return self._binary("mul", a, b)

    def udiv(self, a: Value, b: Value) -> Value:
        if a.type.width <= 64:
            return self._binary("udiv", a, b)
        # LLVM would call a C library here, which a just-in-time compiler cannot count on finding.
        self.long_divisions.add(a.type)
        return self.put(a.type, f"call {a.type} @udiv_{a.type}({a.type} {a.ref}, {b.type} {b.ref})")

    def urem(self, a: Value, b: Value) -> Value:
        if a.type.width <= 64:
            return self._binary("urem", a, b)
        return self.sub(a, self.mul(self.udiv(a, b), b))

    def sdiv(self, a: Value, b: Value) -> Value:
        if a.type.width <= 64:
            return self._binary("sdiv", a, b)
        quotient = self.udiv(self._magnitude(a), self._magnitude(b))
        opposite = self.icmp_signed("<", self.xor(a, b), a.type(0))
        return self.select(opposite, self.neg(quotient), quotient)

    def srem(self, a: Value, b: Value) -> Value:
        if a.type.width <= 64:
            return self._binary("srem", a, b)
        return self.sub(a, self.mul(self.sdiv(a, b), b))

    def _magnitude(self, a: Value) -> Value:
        return self.select(self.icmp_signed("<", a, a.type(0)), self.neg(a), a)

    def and_(self, a: Value, b: Value) -> Value:
        return self._binary("and", a, b)

    def or_(self, a: Value, b: Value) -> Value:
        return self._binary("or", a, b)

    def xor(self, a: Value, b: Value) -> Value:
        return self._binary("xor", a, b)

    def shl(self, a: Value, b: Value) -> Value:
        return self._binary("shl", a, b)

    def lshr(self, a: Value, b: Value) -> Value:
        return self._binary("lshr", a, b)

    def ashr(self, a: Value, b: Value) -> Value:
        return self._binary("ashr", a, b)

    def neg(self, a: Value) -> Value:
        return self.put(a.type, f"sub {a.type} 0, {a.ref}" if a.type.width > 1 else f"sub i1 false, {a.ref}")

    def not_(self, a: Value) -> Value:
        return self.put(a.type, f"xor {a.type} {a.ref}, {'-1' if a.type.width > 1 else 'true'}")

    def icmp_signed(self, sign: str, a: Value, b: Value) -> Value:
        return self.put(I1, f"icmp {_SIGNED[sign]} i{a.type.width} {a.ref}, {b.ref}")

    def icmp_unsigned(self, sign: str, a: Value, b: Value) -> Value:
        return self.put(I1, f"icmp {_UNSIGNED[sign]} i{a.type.width} {a.ref}, {b.ref}")

    def select(self, condition: Value, yes: Value, no: Value) -> Value:
        kind = f"i{yes.type.width}"
        return self.put(yes.type, f"select i1 {condition.ref}, {kind} {yes.ref}, {kind} {no.ref}")

    def zext(self, a: Value, kind: Int) -> Value:
        return self.put(kind, f"zext i{a.type.width} {a.ref} to i{kind.width}")

    def sext(self, a: Value, kind: Int) -> Value:
        return self.put(kind, f"sext i{a.type.width} {a.ref} to i{kind.width}")

    def trunc(self, a: Value, kind: Int) -> Value:
        return self.put(kind, f"trunc i{a.type.width} {a.ref} to i{kind.width}")

    def ctpop(self, a: Value) -> Value:
        return self.put(a.type, f"call {a.type} @llvm.ctpop.{a.type}({a.type} {a.ref})")

    def integer(self, width: int) -> Int:
        """The integer type of ``width`` bits."""
        return integer(width)

    # --- beyond the operator table ---

    def resize(self, a: Value, width: int, signed: bool) -> Value:
        """``a`` cut or extended to ``width`` bits, by its sign if ``signed``."""
        if a.type.width == width:
            return a
        if a.type.width > width:
            return self.trunc(a, integer(width))
        return (self.sext if signed else self.zext)(a, integer(width))

    def address(self, offset: int | Value, base: str = "%s") -> Value:
        """Address of byte ``offset`` beyond ``base``."""
        where = f"i64 {offset}" if isinstance(offset, int) else f"{offset.type} {offset.ref}"
        return Value(I64, self.put(I64, f"getelementptr i8, ptr {base}, {where}").ref)

    def load(self, kind: Int, address: Value, volatile: bool = False) -> Value:
        return self.put(kind, f"load {'volatile ' if volatile else ''}{kind}, ptr {address.ref}, align {_align(kind)}")

    def store(self, value: Value, address: Value) -> None:
        self.lines.append(f"store {value.type} {value.ref}, ptr {address.ref}, align {_align(value.type)}")

    def branch(self, label: str) -> None:
        self.lines.append(f"br label %{label}")

    def branch_if(self, condition: Value, yes: str, no: str, likely: bool | None = None) -> None:
        weights = {None: "", True: ", !prof !0", False: ", !prof !1"}[likely]
        self.lines.append(f"br i1 {condition.ref}, label %{yes}, label %{no}{weights}")

    def phi(self, kind: Int, *arms: tuple[Value, str]) -> Value:
        return self.put(kind, phi_text(kind, arms))


def phi_text(kind: Int, arms: tuple[tuple[Value, str], ...]) -> str:
    return f"phi {kind} " + ", ".join(f"[ {value.ref}, %{label} ]" for value, label in arms)


def long_division(kind: Int) -> str:
    """A function for the quotient of two unsigned values, one bit after another."""
    wide = integer(kind.width + 1)
    return f"""
define internal {kind} @udiv_{kind}({kind} %a, {kind} %b) noinline {{
entry:
  %divisor = zext {kind} %b to {wide}
  br label %step
step:
  %left = phi i32 [ {kind.width}, %entry ], [ %fewer, %step ]
  %digits = phi {kind} [ %a, %entry ], [ %shifted, %step ]
  %rest = phi {wide} [ 0, %entry ], [ %kept, %step ]
  %quotient = phi {kind} [ 0, %entry ], [ %longer, %step ]
  %top = lshr {kind} %digits, {kind.width - 1}
  %shifted = shl {kind} %digits, 1
  %digit = zext {kind} %top to {wide}
  %doubled = shl {wide} %rest, 1
  %next = or {wide} %doubled, %digit
  %fits = icmp uge {wide} %next, %divisor
  %less = sub {wide} %next, %divisor
  %kept = select i1 %fits, {wide} %less, {wide} %next
  %room = shl {kind} %quotient, 1
  %one = zext i1 %fits to {kind}
  %longer = or {kind} %room, %one
  %fewer = sub i32 %left, 1
  %more = icmp ne i32 %fewer, 0
  br i1 %more, label %step, label %end
end:
  ret {kind} %longer
}}"""


def _align(kind: Int) -> int:
    return 8 if kind.width >= 64 else max(kind.width // 8, 1)


_SIGNED = {"==": "eq", "!=": "ne", "<": "slt", "<=": "sle", ">": "sgt", ">=": "sge"}
_UNSIGNED = {"==": "eq", "!=": "ne", "<": "ult", "<=": "ule", ">": "ugt", ">=": "uge"}
