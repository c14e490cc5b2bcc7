"""Expressions: from Python's syntax tree to signals.

An expression's value is either *static* (any Python object known when the design is built: a number, a list, a
part) or a *signal* (:class:`simkit.lang.build.Value`).  Arithmetic of static values is Python's; as soon as a signal
takes part it is hardware (:mod:`simkit.lang.arithmetic`).  Unknown syntax is an error, never skipped.
"""

from __future__ import annotations

import ast
import difflib
import numbers
import operator
from collections.abc import Callable, Iterable, Sized
from fractions import Fraction
from itertools import islice
from typing import TYPE_CHECKING, Any

from ..netlist import BIT, Type, TypeFault
from . import arithmetic, foreign, functions, steps
from .build import Refused, Value
from .constants import Constant, typed
from .declare import Declared
from .design import Bound, Combinational, Design, LoopMethod, Method, Operation
from .memories import RegsPart
from .parts import Part, Storage
from .things import Condition, PartMethod, Unusable, contains_signal, describe, is_signal, uncalled

if TYPE_CHECKING:
    from .build import Builder
    from .circuit import Circuit
    from .env import Env, Frame
    from .execute import Executor
    from .loops import LoopInfo

BINARY = {
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
    ast.FloorDiv: "//",
    ast.Mod: "%",
    ast.Pow: "**",
    ast.BitAnd: "&",
    ast.BitOr: "|",
    ast.BitXor: "^",
    ast.LShift: "<<",
    ast.RShift: ">>",
    ast.MatMult: "@",
}
MAX_COMPARED = 256
MAX_UNROLLED = 100_000
MAX_BITS = 100_000
"""Longest whole number that is worked out while a design is built."""

COMPARE = {ast.Eq: "==", ast.NotEq: "!=", ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">="}
STATIC = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": operator.truediv,
    "//": operator.floordiv,
    "%": operator.mod,
    "**": operator.pow,
    "&": operator.and_,
    "|": operator.or_,
    "^": operator.xor,
    "<<": operator.lshift,
    ">>": operator.rshift,
    "@": operator.matmul,
    "==": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}

WHY_NOT = {
    ast.Lambda: ("a lambda is not hardware.", "Write a @combinational function with a name."),
    ast.Await: ("await is not hardware.", "Wait with until(condition) in a sequenced loop."),
    ast.Yield: ("yield is not hardware.", "End a tick with tick() in a sequenced loop."),
    ast.YieldFrom: ("yield is not hardware.", "End a tick with tick() in a sequenced loop."),
    ast.JoinedStr: ("text cannot exist in hardware: wires carry numbers.", "Record signals and format them in Python."),
    ast.Dict: (
        "a dictionary cannot exist in hardware.",
        "Keep constants in the design's __init__; keep changing values in Regs or Ram.",
    ),
    ast.Set: ("a set cannot exist in hardware.", "Use one bit for each element, or compare with each."),
    ast.DictComp: ("a dictionary cannot exist in hardware.", "Make the table in __init__."),
    ast.SetComp: ("a set cannot exist in hardware.", "Make the table in __init__."),
    ast.NamedExpr: (":= is not part of the language.", "Give the value a name on a line of its own."),
    ast.Starred: ("* is not part of the language here.", "Write the values out."),
    ast.Slice: ("Python slices count from the left and leave the end out, bits do neither.", "Write bits(x, hi, lo)."),
}


class Evaluator:
    """Evaluates expressions in the present environment.  :class:`simkit.lang.execute.Executor` adds statements."""

    whole: Executor  # this very object, for what needs all of it: parts and calls
    circuit: Circuit
    b: Builder
    loop: LoopInfo
    frame: Frame
    env: Env
    alone: ast.expr | None = None  # a call whose result nobody uses

    def evaluate(self, node: ast.expr) -> Any:
        """Static object, signal or part that ``node`` means."""
        method = getattr(self, f"_{type(node).__name__}", None)
        if method is None:
            why, instead = WHY_NOT.get(type(node), (f"{type(node).__name__} is not part of the language.", ""))
            self.frame.code.refuse(node, why, instead)
        try:
            return method(node)
        except Refused as error:
            self.frame.code.refuse(node, error.why, error.instead)
        except TypeFault as error:
            self.frame.code.refuse(node, f"{error}.")

    def at(self, node: ast.AST) -> None:
        """Nodes made from now on come from this place."""
        self.b.loc = self.frame.code.loc(node)

    def operand(self, x: Any) -> Any:
        """``x`` as something arithmetic takes: a signal or a plain number."""
        if isinstance(x, Part):
            return x.value(self.whole)
        if isinstance(x, Storage):
            return x.read(self.whole)
        if isinstance(x, Constant):
            return typed(self.b, x.kind, x)
        if isinstance(x, Value | bool | int | float | Fraction):
            return x
        if isinstance(x, numbers.Integral):
            return int(x)
        if isinstance(x, numbers.Real):
            return float(x)
        raise Refused(
            f"{describe(x)} has no value that wires could carry.",
            "Add () to call it." if uncalled(x) else "Write a number or a signal.",
        )

    def value_of(self, node: ast.expr) -> Any:
        """The operand that ``node`` means."""
        x = self.evaluate(node)
        try:
            return self.operand(x)
        except Refused as error:
            self.frame.code.refuse(node, error.why, error.instead)

    def condition(self, node: ast.expr) -> Any:
        """A static bool, or the node index of a bit."""
        x = self.evaluate(node)
        try:
            return self.truth(x)
        except Refused as error:
            self.frame.code.refuse(node, error.why, error.instead)

    def truth(self, x: Any) -> bool | int:
        """As :meth:`condition`, for a value."""
        if uncalled(x):
            raise Refused(f"{describe(x)} is not called here, so this would always count as true.", "Add ().")
        if not is_signal(x):
            if contains_signal(x):
                raise Refused("a list of signals is no condition.", "Compare its elements, or write any(…) or all(…).")
            return bool(x)
        value = self.operand(x)
        if value.type != BIT:
            raise Refused(f"a condition is one bit, but this is {value.type}.", "Compare it, for example with != 0.")
        known = self.b.known(value.node)
        return bool(known) if known is not None else Condition(value.node)

    def bit(self, x: Any) -> int:
        """Node of a truth value."""
        truth = self.truth(x)
        return truth if isinstance(truth, Condition) else self.b.const(int(truth), BIT)

    # --- names and places ---

    def _Constant(self, node: ast.Constant) -> Any:
        return node.value

    def _Name(self, node: ast.Name) -> Any:
        key = (self.frame.id, node.id)
        if key in self.env.locals:
            found = self.env.locals[key]
            if isinstance(found, Unusable):
                raise Refused(found.why, found.instead)
            return found
        if node.id in self.frame.code.assigned:
            raise Refused(
                f"{node.id} has no value yet on some way to this line in this turn.",
                "Assign it on every way that leads here; what must last from turn to turn belongs in a Reg.",
            )
        try:
            return self.static(self.frame.code.outer(node.id))
        except KeyError:
            near = difflib.get_close_matches(
                node.id, [*self.frame.code.function.__globals__, *self.frame.code.assigned], 1
            )
            hint = f"Did you mean {near[0]}?" if near else ""
            if hasattr(self.frame.design, node.id):
                hint = f"Did you mean self.{node.id}?"
            raise Refused(f"the name {node.id} is not known here.", hint) from None

    def static(self, x: Any) -> Any:
        """A Python object as the language sees it: a declaration is the part made from it."""
        return self.circuit.part(x) if isinstance(x, Declared) else x

    def _Attribute(self, node: ast.Attribute) -> Any:
        base = self.evaluate(node.value)
        self.at(node)
        return self.attribute_of(base, node.attr)

    def attribute_of(self, base: Any, name: str) -> Any:
        """``base.name``"""
        if isinstance(base, Part):
            if name in base.waiting or name in base.instant:
                return PartMethod(base, name)
            return base.attribute(self.whole, name)
        if isinstance(base, Value | Storage):
            raise Refused(f"a signal has no attribute {name!r}.")
        if isinstance(base, Bound):
            return self.loop_attribute(base, name)
        try:
            return self.static(foreign.attribute(base, name))
        except AttributeError:
            if isinstance(base, Design):
                names = [n for n in dir(base) if not n.startswith("_")]
                near = difflib.get_close_matches(name, names, 1)
                raise Refused(
                    f"{type(base).__name__} has no {name!r}.",
                    f"Did you mean {near[0]}?" if near else "Declare it as a class attribute, or set it in __init__.",
                ) from None
            raise Refused(f"{describe(base)} has no attribute {name!r}.") from None

    def loop_attribute(self, bound: Bound, name: str) -> Value:
        """``self.loop.late``: how often a paced loop came late."""
        if isinstance(bound.method, LoopMethod) and name == "late":
            return self.circuit.late_of(self.whole, bound)
        raise Refused(f"a method has no attribute {name!r} here.", "A loop with every= offers .late.")

    def _Subscript(self, node: ast.Subscript) -> Any:
        base = self.evaluate(node.value)
        if isinstance(node.slice, ast.Slice) and not is_signal(base):
            low, high, step = (
                None if part is None else self.evaluate(part)
                for part in (node.slice.lower, node.slice.upper, node.slice.step)
            )
            return base[low:high:step]
        index = self.evaluate(node.slice)
        self.at(node)
        if isinstance(base, Part) and type(base).index is not Part.index:
            return base.index(self.whole, self.operand(index) if is_signal(index) else index)
        if is_signal(base):
            return self._bit(self.operand(base), index)
        if is_signal(index):
            raise Refused(
                "a Python list can only be indexed by a number known when the design is built.",
                "Put the values into a Rom (read takes a tick) or into Regs.",
            )
        return self.element(base, index)

    def element(self, base: Any, index: Any) -> Any:
        """``base[index]`` of something known when the design is built."""
        try:
            return self.static(base[index])
        except (LookupError, TypeError) as error:
            raise Refused(f"{describe(base)} has no element {index!r} ({error}).") from None

    def _bit(self, value: Value, index: Any) -> Value:
        if is_signal(index):
            raise Refused(
                "a bit is chosen by a number known when the design is built.", "Shift first: bits(x >> i, 0, 0) == 1."
            )
        picked = arithmetic.bits(self.b, value, index, index)
        return Value(self.b.add("wrap", (picked.node,), BIT), BIT)

    def _Tuple(self, node: ast.Tuple) -> tuple[Any, ...]:
        return tuple(self.evaluate(item) for item in node.elts)

    def _List(self, node: ast.List) -> list[Any]:
        return [self.evaluate(item) for item in node.elts]

    # --- operators ---

    def _BinOp(self, node: ast.BinOp) -> Any:
        left, right = self.evaluate(node.left), self.evaluate(node.right)
        self.at(node)
        return self.binary(BINARY[type(node.op)], left, right)

    def binary(self, op: str, left: Any, right: Any) -> Any:
        """``left op right``, static if both are."""
        if not is_signal(left) and not is_signal(right):
            _refuse_endless(op, left, right)
            try:
                return STATIC[op](left, right)
            except (TypeError, ValueError, ArithmeticError) as error:
                raise Refused(f"Python cannot work out {describe(left)} {op} {describe(right)}: {error}.") from None
        return arithmetic.binary(self.b, op, self.operand(left), self.operand(right))

    def _UnaryOp(self, node: ast.UnaryOp) -> Any:
        x = self.evaluate(node.operand)
        self.at(node)
        if isinstance(node.op, ast.Not):
            return self._not(x)
        if is_signal(x):
            if isinstance(node.op, ast.UAdd):
                return self.operand(x)
            return arithmetic.unary(self.b, "-" if isinstance(node.op, ast.USub) else "~", self.operand(x))
        actions: dict[type[ast.unaryop], Callable[[Any], Any]] = {
            ast.USub: operator.neg,
            ast.UAdd: operator.pos,
            ast.Invert: operator.invert,
        }
        try:
            return actions[type(node.op)](x)
        except TypeError as error:
            raise Refused(f"{error}.") from None

    def _Compare(self, node: ast.Compare) -> Any:
        result: Any = True
        left = self.evaluate(node.left)
        for op, right_node in zip(node.ops, node.comparators, strict=True):
            right = self.evaluate(right_node)
            self.at(node)
            result = self._both(result, self._compare(op, left, right))
            left = right
        return result

    def _compare(self, op: ast.cmpop, left: Any, right: Any) -> Any:
        if isinstance(op, ast.In | ast.NotIn):
            if is_signal(right) or not isinstance(right, Iterable):
                raise Refused(
                    "'in' needs a list, tuple or range known when the design is built.", "Write x == a or x == b."
                )
            found: Any = False
            if is_signal(left) and isinstance(right, range) and len(right) > MAX_COMPARED:
                raise Refused(
                    f"'in' would become {len(right)} comparisons.",
                    f"Write {right[0]} <= x <= {right[-1]}, two of them.",
                )
            if not contains_signal(left) and not contains_signal(right):
                return (left in right) == isinstance(op, ast.In)
            for item in right:
                found = self._either(found, self.binary("==", left, item))
            return found if isinstance(op, ast.In) else self._not(found)
        if isinstance(op, ast.Is | ast.IsNot):
            if is_signal(left) or is_signal(right):
                raise Refused("'is' compares Python objects; signals are compared by value.", "Write == or !=.")
            return (left is right) == isinstance(op, ast.Is)
        return self.binary(COMPARE[type(op)], left, right)

    def _both(self, x: Any, y: Any) -> Any:
        if not is_signal(x):
            return y if x else x
        if not is_signal(y):
            return x if y else y
        return Value(self.b.both(self.bit(x), self.bit(y)), BIT)

    def _either(self, x: Any, y: Any) -> Any:
        if not is_signal(x):
            return x if x else y
        if not is_signal(y):
            return y if y else x
        return Value(self.b.either(self.bit(x), self.bit(y)), BIT)

    def _not(self, x: Any) -> Any:
        return Value(self.b.inverse(self.bit(x)), BIT) if is_signal(x) else not x

    def _BoolOp(self, node: ast.BoolOp) -> Any:
        result = self.evaluate(node.values[0])
        for item in node.values[1:]:
            result = self._and_or(isinstance(node.op, ast.And), node, result, item)
        return result

    def _and_or(self, both: bool, node: ast.BoolOp, left: Any, right_node: ast.expr) -> Any:
        if not is_signal(left):
            return self.evaluate(right_node) if bool(left) == both else left
        left_bit = self._as_bit(left, node)
        if any(isinstance(part, ast.Call) for part in ast.walk(right_node)):
            # Python asks the right side only if the left one leaves it open: so must an operation that acts.
            right = self.guarded(
                left_bit if both else self.b.inverse(left_bit),
                lambda: self._as_bit(self.evaluate(right_node), right_node),
            )
        else:
            right = self._as_bit(self.evaluate(right_node), right_node)
        self.at(node)
        return Value((self.b.both if both else self.b.either)(left_bit, right), BIT)

    def _as_bit(self, x: Any, node: ast.expr) -> int:
        try:
            return self.bit(x)
        except Refused as error:
            self.frame.code.refuse(node, error.why, error.instead)

    def guarded(self, condition: int, action: Callable[[], Any]) -> Any:
        """Do ``action``; what it drives counts only where ``condition`` is 1.  (Given by the executor.)"""
        raise NotImplementedError

    def _IfExp(self, node: ast.IfExp) -> Any:
        test = self.condition(node.test)
        if not isinstance(test, Condition):
            return self.evaluate(node.body if test else node.orelse)
        acts = any(isinstance(part, ast.Call) for branch in (node.body, node.orelse) for part in ast.walk(branch))
        if acts:
            yes = self.guarded(test, lambda: self.value_of(node.body))
            no = self.guarded(self.b.inverse(test), lambda: self.value_of(node.orelse))
        else:
            yes, no = self.value_of(node.body), self.value_of(node.orelse)
        self.at(node)
        return arithmetic.select(self.b, test, yes, no)

    # --- comprehensions over things known when the design is built ---

    def _ListComp(self, node: ast.ListComp) -> list[Any]:
        return list(self._comprehend(node))

    _GeneratorExp = _ListComp

    def _comprehend(self, node: Any) -> list[Any]:
        if len(node.generators) != 1 or not isinstance(node.generators[0].target, ast.Name):
            raise Refused("a comprehension here has one plain loop variable.", "Write for loops, one inside the other.")
        loop = node.generators[0]
        key = (self.frame.id, loop.target.id)
        before = self.env.locals.get(key)
        items = []
        for item in self.iterable(self.evaluate(loop.iter)):
            self.env.locals[key] = item
            if all(self._static_test(test) for test in loop.ifs):
                items.append(self.evaluate(node.elt))
        self.env.locals.pop(key, None)
        if before is not None:
            self.env.locals[key] = before
        return items

    def _static_test(self, node: ast.expr) -> bool:
        truth = self.condition(node)
        if isinstance(truth, Condition):
            self.frame.code.refuse(
                node,
                "this list would change its length with a signal; hardware cannot grow.",
                "Keep every element and choose inside it: (x if flag else 0).",
            )
        return bool(truth)

    def iterable(self, x: Any) -> list[Any]:
        """The elements of something known when the design is built."""
        if isinstance(x, RegsPart):
            return list(x.items)
        if is_signal(x) or not isinstance(x, Iterable) or isinstance(x, str | bytes):
            raise Refused(
                f"a loop goes over a range or a list known when the design is built, not over {describe(x)}.",
                "Write for i in range(n), or a list of constants, parts or Regs.",
            )
        items = list(islice(x, MAX_UNROLLED + 1))
        if len(items) > MAX_UNROLLED:
            times = f"{len(x)}" if isinstance(x, Sized) else f"more than {MAX_UNROLLED}"
            raise Refused(
                f"this loop would be copied out {times} times.", "Put a tick() in the body, so that a register counts."
            )
        return [self.static(item) for item in items]

    # --- calls ---

    def _Call(self, node: ast.Call) -> Any:
        function = self.evaluate(node.func)
        if isinstance(function, PartMethod) and function.name in function.part.waiting:
            self.refuse_waiting(node, f"{function.part.name}.{function.name}()")
        if function in (steps.tick, steps.wait, steps.until):
            self.refuse_waiting(node, f"{function.__name__}()")
        args = [self.evaluate(arg) for arg in node.args]
        options = {}
        for keyword in node.keywords:
            if keyword.arg is None:
                self.frame.code.refuse(keyword.value, "** is not part of the language here.", "Write the values out.")
            options[keyword.arg] = self.evaluate(keyword.value)
        self.at(node)
        return self.call(node, function, args, options)

    def refuse_waiting(self, node: ast.Call, name: str) -> None:
        """Say why an operation that takes ticks cannot stand inside an expression, or in a clocked loop."""
        if self.loop.kind == "clocked":
            raise Refused(
                f"{name} takes ticks, and a clocked loop has just one.",
                "Use a sequenced loop; in a clocked loop channels offer .valid and .value, queues .try_get() and .try_put().",
            )
        raise Refused(
            f"{name} takes ticks, so it cannot stand inside an expression.",
            "Give it a line of its own, such as v = …, and use v on the next line.",
        )

    def call(self, node: ast.Call, function: Any, args: list[Any], options: dict[str, Any]) -> Any:
        """``function(*args, **options)`` that takes no tick."""
        if isinstance(function, PartMethod):
            return function.part.call(self.whole, function.name, [self.operand(arg) for arg in args])
        if isinstance(function, Type):
            (x,) = args if len(args) == 1 and not options else self._wrong_count(str(function), 1, args)
            return arithmetic.convert(self.b, function, self.operand(x))
        if isinstance(function, Bound) and isinstance(function.method, Operation):
            return self.inline(node, function.method, function.design, args, options)
        if isinstance(function, Combinational):
            return self.inline(node, function, None, args, options)
        if isinstance(function, Bound) and isinstance(function.method, Combinational):
            return self.inline(node, function.method, None, args, options)
        if isinstance(function, Operation):
            raise Refused(
                f"{function.name} belongs to a class and there is no design here that it could work on.",
                "Make one in __init__, self.part = Part(), and call self.part." + f"{function.name}(…).",
            )
        if isinstance(function, Method | Bound):
            method = function.method if isinstance(function, Bound) else function
            raise Refused(
                f"{method.name} is a {method.kind} loop; loops run side by side and cannot be called.",
                "Pass values between loops through registers or queues; mark shared logic with @operation.",
            )
        handler = functions.find(function, args, options)
        if handler is not None:
            return functions.call(self.whole, function, handler, args, options)
        if any(contains_signal(x) for x in (*args, *options.values())):
            foreign.refuse_signals(function)
        return self.static(foreign.run(function, args, options, node is self.alone))

    def inline(self, node: ast.Call, method: Method, design: Any, args: list[Any], options: dict[str, Any]) -> Any:
        """Copy a function's body in.  (Given by the executor.)"""
        raise NotImplementedError

    def _wrong_count(self, name: str, count: int, args: list[Any]) -> Any:
        raise Refused(f"{name} takes {count} value{'s' if count != 1 else ''}, not {len(args)}.")


def _refuse_endless(op: str, left: Any, right: Any) -> None:
    """Refuse a number of so many digits that Python would be busy for minutes."""
    if op in ("<<", "**") and isinstance(left, int) and isinstance(right, int):
        bits = left.bit_length() + right if op == "<<" else left.bit_length() * right
        if bits > MAX_BITS:
            raise Refused(
                f"{describe(left)} {op} {describe(right)} has more than {MAX_BITS} bits.", "Use a smaller number."
            )
