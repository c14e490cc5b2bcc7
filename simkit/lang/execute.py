"""Statements: how a loop's body becomes states, each one tick's logic.

A loop is executed symbolically.  Starting from a *state* (a place in the body where a tick begins), statements
run until every way has met the end of its tick.  Both branches of an ``if`` are run and their results merged by
multiplexers, so a state costs one pass over the code however many ways lead through it.  ``env.active`` is the condition, within
this tick, that control gets to the statement at hand; whatever is driven under it is driven only then.

Where a tick ends in the middle of the body, the place is a :class:`Here`: the statement, its block, and what encloses
the block.  Going on from there means running the rest of the block and then leaving it, block by block (``resume``).
"""

from __future__ import annotations

import ast
import dataclasses
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from ..netlist import Loc, Type, make
from ..netlist.check import LIMITS
from . import arithmetic
from .build import Refused, Value
from .declare import AnalogOut
from .design import Design
from .enclosing import (
    CountOuter,
    IfOuter,
    LoopOuter,
    TopOuter,
    UnrolledOuter,
    WhileOuter,
    range_type,
    without_docstring,
)
from .env import Env, Frame, Here, Kept, Key, Outer, State, agreed, join, merge, told_with_calls
from .operations import Operations
from .parts import Drive, Part, Storage
from .source import HardwareError, code_of
from .things import Condition, Unusable, describe, is_signal, uncalled

if TYPE_CHECKING:
    from .circuit import Circuit
    from .loops import LoopInfo

MAX_STATES = 20_000
MAX_COPIES = 300_000
ELSE = "Note in a local or a register that break happened, and test it with if after the loop."


class Executor(Operations):
    """Turns one loop into drives.  ``run`` gives, for each state, what it drives."""

    def __init__(self, circuit: Circuit, loop: LoopInfo) -> None:
        self.whole = self
        self.circuit = circuit
        self.b = circuit.b
        self.loop = loop
        code = code_of(loop.method.function)
        self.top = Frame((), code, loop.design, loop.name)
        self.frame = self.top
        self.env = Env(self.b.one)
        self.states: dict[tuple[Any, ...], State] = {}
        self.queue: list[State] = []
        self.slots: dict[tuple[Key, Type], Storage] = {}
        self.goes_to = Drive(f"{loop.name} state", make("unsigned", 16), self.b.const(0, make("unsigned", 16)))
        self.done: dict[State, dict[Drive, int]] = {}

    # --- running all states ---

    def run(self) -> dict[State, dict[Drive, int]]:
        """Execute every state that can be reached; states are executed again when an entry turns out to know less."""
        body = without_docstring(self.frame.code.tree.body)
        arguments = self.frame.code.tree.args
        if len(arguments.args) != 1 or arguments.vararg or arguments.kwonlyargs or arguments.kwarg:
            self.frame.code.refuse(
                self.frame.code.tree,
                f"the loop {self.loop.name} takes only self: nobody calls it.",
                "Keep constants in __init__ and values that change in registers.",
            )
        self.bind(self.top, self.frame.code.tree.args.args[0].arg, self.loop.design)
        start = self.state(("start",), "start", lambda ex: ex.start(body), self.frame.code.loc(self.frame.code.tree))
        start.entry = dict(self.env.locals)
        self.queue.append(start)
        while self.queue:
            state = self.queue.pop(0)
            self.frame = state.frame
            self.env = Env(self.b.one, {key: self.restored(key, item) for key, item in (state.entry or {}).items()})
            try:
                state.action(self)
            except HardwareError as error:
                raise told_with_calls(error, self.frame) from None
            self.done[state] = self.env.drives
        return self.done

    def bind(self, frame: Frame, name: str, value: Any) -> None:
        """Give a parameter its value."""
        self.env.locals[frame.id, name] = value

    def start(self, body: list[ast.stmt]) -> None:
        top = TopOuter()
        self.block(body, 0, top)
        top.resume(self)

    def state(self, path: tuple[Any, ...], name: str, action: Callable[[Executor], None], loc: Loc) -> State:
        """The state at a place, made when it is first reached."""
        if path not in self.states:
            if len(self.states) >= MAX_STATES:
                raise Refused(
                    f"the loop {self.loop.name} has more than {MAX_STATES} states.",
                    "Use range(n) with a tick inside, so that a register counts.",
                )
            self.states[path] = State(len(self.states), name, self.frame, action, loc)
        return self.states[path]

    def restored(self, key: Key, item: Any) -> Any:
        """A local as a tick that resumes finds it: in its register, or a constant."""
        return Value(item.leaf, item.kind) if isinstance(item, Storage) else item

    def goto(self, state: State) -> None:
        """End the tick here: the next one begins in ``state``, and locals go into registers."""
        keep = self._save_locals() if state is not self.states["start",] else state.entry
        if state.entry is None:
            state.entry = keep
            self.queue.append(state)
        elif keep is not state.entry:
            known = agreed(state.entry, keep or {})
            if known != state.entry:
                state.entry = known
                if state not in self.queue:
                    self.queue.append(state)
        self.drive(self.goes_to, self.b.const(state.index, self.goes_to.kind))
        self.env.active = self.b.zero

    def _save_locals(self) -> dict[Key, Any]:
        keep: dict[Key, Any] = {}
        for key, item in self.env.locals.items():
            if isinstance(item, Value):
                slot = self._slot(key, item.type)
                if item.node != slot.leaf:
                    self.drive(slot.drive, item.node)
                keep[key] = slot
            else:
                keep[key] = item
        return keep

    def _slot(self, key: Key, kind: Type) -> Storage:
        """The register that holds a local from tick to tick: one for each type that the name takes on."""
        if (key, kind) not in self.slots:
            name = ".".join(filter(None, (self.loop.name, *_frame_names(key[0]), key[1])))
            self.slots[key, kind] = Storage(self.circuit, self.circuit.free_name(name), kind, 0, "local", self.b.loc)
        return self.slots[key, kind]

    # --- what parts ask for ---

    def drive(self, drive: Drive, node: int) -> None:
        """From here on in this tick, ``drive`` is ``node`` (where control gets here)."""
        self.own(drive, drive.verb)
        if drive.once and drive in self.env.used:
            raise Refused(
                f"{drive.once}, and line {self.env.used[drive].line} has used {drive.name} in this tick.",
                "Put a tick() between the two, or make them the two branches of one if … else.",
            )
        self.env.used[drive] = self.b.loc
        self.env.drives[drive] = self.b.choose(self.env.active, node, self.driven(drive), drive.kind)

    def driven(self, drive: Drive) -> int:
        """What a drive is so far in this tick."""
        return self.env.drives.get(drive, drive.default)

    def own(self, drive: Drive, verb: str) -> None:
        """Refuse a second loop that decides the same thing."""
        if drive.owner is None:
            drive.owner, drive.first = self.loop, self.b.loc
        elif drive.owner is not self.loop:
            raise Refused(
                f"{drive.name} belongs to the loop {drive.owner.name} (line {drive.first.line}) and "
                f"{self.loop.name} {verb} it too: {drive.why}.",
                "Give it one loop; let the other one ask by a register or a queue of its own.",
            )

    def reads(self, storage: Storage) -> None:
        """Note a read, to check its clock and to warn of a read after a write in one tick."""
        self.circuit.note_read(storage, self.loop, self.b.loc._replace(file=self.frame.code.text.filename))
        written = self.env.used.get(storage)
        if written is not None:
            self.circuit.warn(
                self.b.loc,
                f"{storage.name} is read here in the same tick in which line {written.line} writes it: "
                "this reads the value from before the write, which is seen from the next tick on.",
            )

    def at_clock(self, clock: int, name: str) -> None:
        """Refuse ports of the fabric clock in loops of another one."""
        if self.loop.clock != clock:
            raise Refused(
                f"{name} belongs to the fabric clock and {self.loop.name} runs on another one.",
                "Carry the value across with a Synchronizer, a Handshake or a Fifo.",
            )

    def keep(self, value: Value) -> Kept:
        """A hidden local, the same one each time this place is executed."""
        return Kept(self, (self.frame.id, f"word_{self.b.loc.line}_{self.b.loc.col}"), value)

    # --- blocks and statements ---

    def block(self, statements: list[ast.stmt], index: int, outer: Outer) -> None:
        """Run a block from ``index`` on, as far as this tick goes."""
        for i in range(index, len(statements)):
            if self.env.active == self.b.zero:
                return
            here = Here(statements, i, outer, (*outer.path, i), self.frame)
            self.statement(statements[i], here)

    def go_on(self, here: Here) -> None:
        """Run what follows the statement at ``here``, then leave its block."""
        self.frame = here.frame
        self.block(here.block, here.index + 1, here.outer)
        here.outer.resume(self)

    def statement(self, node: ast.stmt, here: Here) -> None:
        method = getattr(self, f"_{type(node).__name__}", None)
        code = self.frame.code
        if method is None or not isinstance(node, ast.stmt):
            why, instead = STATEMENTS.get(type(node), (f"{type(node).__name__} is not part of the language.", ""))
            code.refuse(node, why, instead)
        self.at(node)
        try:
            self._count_copy()
            method(node, here)
        except Refused as error:
            code.refuse(node, error.why, error.instead)
        except RecursionError:
            code.refuse(node, "this is nested too deeply to be read.", "Give parts of it names on lines of their own.")

    def _count_copy(self) -> None:
        """Stop a design that grows out of hand while the line that makes it grow is known."""
        self.circuit.copies += 1
        if self.circuit.copies > MAX_COPIES or len(self.b.netlist.nodes) > LIMITS["nodes"]:
            raise Refused(
                f"the design is too large here: {self.circuit.copies} lines copied out, "
                f"{len(self.b.netlist.nodes)} operations (at most {MAX_COPIES} and {LIMITS['nodes']}).",
                "Put a tick() inside the for loop, so that one copy is used again and again.",
            )

    def _Pass(self, node: ast.Pass, here: Here) -> None:
        pass

    def _Expr(self, node: ast.Expr, here: Here) -> None:
        if isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            return
        if self.waiting_call(node.value, here, lambda ex, value: None):
            return
        self.alone = node.value
        value = self.evaluate(node.value)
        if uncalled(value):
            raise Refused(f"{describe(value)} is not called here.", "Add ().")
        if not isinstance(node.value, ast.Call):
            hint = (
                "Did you mean = instead of ==?"
                if isinstance(node.value, ast.Compare)
                else "Assign it to something, or leave it out."
            )
            raise Refused("this line computes a value that goes nowhere.", hint)

    def _Assign(self, node: ast.Assign, here: Here) -> None:
        def put(ex: Executor, value: Any) -> None:
            for target in node.targets:
                ex.assign(target, value)

        if not self.waiting_call(node.value, here, put):
            value = self.settled(self.evaluate(node.value))
            self.at(node)
            put(self, value)

    def settled(self, x: Any) -> Any:
        """What ``name = x`` gives the name: of an analog output the code that stands there now, not the channel."""
        if is_signal(x):
            return self.operand(x) if isinstance(x, Part) and isinstance(x.declared, AnalogOut) else x
        return tuple(self.settled(item) for item in x) if isinstance(x, tuple) else x

    def _AnnAssign(self, node: ast.AnnAssign, here: Here) -> None:
        kind = self.evaluate(node.annotation)
        if not isinstance(kind, Type):
            self.frame.code.refuse(
                node.annotation,
                f"after the colon stands a type, not {describe(kind)}.",
                "Write for example count: unsigned(8) = 0.",
            )
        if node.value is None:
            raise Refused("this gives a type but no value.", "Write for example count: unsigned(8) = 0.")

        def put(ex: Executor, value: Any) -> None:
            ex.assign(node.target, arithmetic.store(ex.b, ex.operand(value), kind, ast.unparse(node.target)))

        if not self.waiting_call(node.value, here, put):
            put(self, self.evaluate(node.value))

    def _AugAssign(self, node: ast.AugAssign, here: Here) -> None:
        if any(isinstance(part, ast.Call) and self.waits_call(part) for part in ast.walk(node.value)):
            raise Refused(
                "the right side takes ticks, so the left side would be read in another tick.",
                "Give the waiting part a line of its own first.",
            )
        load = ast.copy_location(_as_load(node.target), node.target)
        combined = ast.copy_location(ast.BinOp(load, node.op, node.value), node)
        value = self.evaluate(combined)
        self.at(node)
        self.assign(node.target, value)

    def assign(self, target: ast.expr, value: Any) -> None:
        """``target = value``"""
        try:
            self._assign(target, value)
        except Refused as error:
            self.frame.code.refuse(target, error.why, error.instead)

    def _assign(self, target: ast.expr, value: Any) -> None:
        if isinstance(target, ast.Name):
            self._assign_local(target.id, value)
        elif isinstance(target, ast.Tuple | ast.List):
            if any(isinstance(part, ast.Starred) for part in target.elts):
                raise Refused("* is not part of the language here.", "Write the names out.")
            several = isinstance(value, tuple | list) and not isinstance(value, Value)
            items = [self.static(item) for item in value] if several else None
            if items is None or len(items) != len(target.elts):
                raise Refused(
                    f"there are {len(target.elts)} names here for {describe(value) if items is None else f'{len(items)} values'}."
                )
            for part, item in zip(target.elts, items, strict=True):
                self.assign(part, item)
        elif isinstance(target, ast.Attribute):
            self._assign_attribute(target, value)
        elif isinstance(target, ast.Subscript):
            base, index = self.evaluate(target.value), self.evaluate(target.slice)
            if isinstance(base, list | tuple | dict) and not is_signal(base) and not is_signal(index):
                part = self.element(base, index)
                if isinstance(part, Part):
                    self._store(target, part, value)
                    return
            if not isinstance(base, Part):
                raise Refused(
                    f"{describe(base)} cannot change while the hardware runs.",
                    "Use Regs (registers by index) or a Ram.",
                )
            base.store_index(self, self.operand(index) if is_signal(index) else index, self.operand(value))
        else:
            raise Refused(f"nothing can be assigned to {type(target).__name__}.")

    def _assign_local(self, name: str, value: Any) -> None:
        if (
            isinstance(self.env.locals.get((self.frame.id, name)), Design)
            and self.env.locals[self.frame.id, name] is self.frame.design
        ):
            raise Refused(f"{name} is the design itself and cannot become something else.", "Choose another name.")
        self.env.locals[self.frame.id, name] = self.held(value)

    def _assign_attribute(self, target: ast.Attribute, value: Any) -> None:
        base = self.evaluate(target.value)
        if not isinstance(base, Design):
            raise Refused(f"{describe(base)} has nothing that can be assigned to.", "Assign to a register of a design.")
        part = self.attribute_of(base, target.attr) if hasattr(base, target.attr) else None
        if not isinstance(part, Part):
            name = ast.unparse(target)
            if part is None:
                raise Refused(
                    f"{type(base).__name__} has no register {target.attr}.",
                    f"Declare it in the class: {target.attr} = Reg(unsigned(8)).",
                )
            raise Refused(
                f"{name} is a constant: it was fixed when the design was built.",
                f"Declare {target.attr} = Reg(…) for a value that changes.",
            )
        self._store(target, part, value)

    def _store(self, target: ast.expr, part: Part, value: Any) -> None:
        """Assign to a part, and remember where, for the warning about a read after it."""
        self.at(target)
        part.store(self, self.operand(value))
        storage = getattr(part, "storage", None)
        if storage is not None:
            self.env.used[storage] = self.b.loc

    # --- branches ---

    def _If(self, node: ast.If, here: Here) -> None:
        test = self.condition(node.test)
        if not isinstance(test, Condition):
            self.block(node.body if test else node.orelse, 0, IfOuter(here, bool(test)))
            return
        before = self.env
        results = []
        for branch in (True, False):
            self.env = before.fork()
            self.block(node.body if branch else node.orelse, 0, IfOuter(here, branch))
            results.append(self.env)
        self.at(node)
        self.env = self.merge(test, *results)

    def merge(self, condition: int, yes: Env, no: Env) -> Env:
        """One environment for both ways."""
        return merge(self.b, condition, yes, no)

    def leave(self, to: Any, value: Any = None) -> None:
        """Control leaves this place for another one, which takes it up by :meth:`rejoin`."""
        way = self.env.way(value)
        before = self.env.exits.get(to)
        self.env.exits[to] = way if before is None else join(self.b, way.active, way, before)
        self.env.active = self.b.zero

    def rejoin(self, to: Any) -> Any:
        """Take up the ways that left for ``to``; the value they brought."""
        way = self.env.exits.pop(to, None)
        if way is None:
            return None
        value = way.value
        if value is not None and self.env.active != self.b.zero:
            value = Unusable(
                f"{self.frame.code.tree.name} returns a value on some ways only.", "End it with a return on every way."
            )
        self.env.take(join(self.b, way.active, dataclasses.replace(way, value=None), self.env.way()))
        return value

    def guarded(self, condition: int, action: Callable[[], Any]) -> Any:
        before = self.env
        self.env = before.fork()
        result = action()
        self.env = self.merge(condition, self.env, before)
        return result

    # --- loops in time ---

    def _While(self, node: ast.While, here: Here) -> None:
        if node.orelse:
            self.frame.code.refuse(node.orelse[0], "else after while is not part of the language.", ELSE)
        if self.loop.kind == "clocked":
            raise Refused(
                "a while loop needs many ticks, and a clocked loop has just one.",
                "Use if here, or a sequenced loop with tick() inside the while.",
            )
        self.while_head(node, here)

    def while_head(self, node: ast.While, here: Here) -> None:
        """Ask the condition; run the body up to its first tick where it holds."""
        test = self.condition(node.test)
        if test is False:
            return
        outer = WhileOuter(here, node)
        if test is True:
            self._repeat(node, outer, self.env)
            return
        before = self.env
        again, leave = before.fork(), before.fork()
        self._repeat(node, outer, again)
        self.at(node)
        self.env = self.merge(test, self.env, leave)

    def _repeat(self, node: ast.While | ast.For, outer: LoopOuter, env: Env) -> None:
        """Run a body that must end its tick on every way, except by ``break``."""
        self.env = env
        self.block(node.body, 0, outer)
        self.rejoin(outer.again)
        if self.env.active != self.b.zero:
            kind = "while" if isinstance(node, ast.While) else "for"
            self.frame.code.refuse(
                node,
                f"this {kind} loop can come round again without a tick: it would have to run for ever within one tick.",
                "Put tick() (or another waiting operation) on every way through the body.",
            )
        self.rejoin(outer.broken)

    def _For(self, node: ast.For, here: Here) -> None:
        if node.orelse:
            self.frame.code.refuse(node.orelse[0], "else after for is not part of the language.", ELSE)
        source = self.evaluate(node.iter)
        takes_ticks = self.waits_block(node.body)
        if takes_ticks and self.loop.kind == "clocked":
            self.frame.code.refuse(
                node, "the body of this loop takes ticks, and a clocked loop has just one.", "Use a sequenced loop."
            )
        if takes_ticks and isinstance(source, range):
            self._count(node, here, source)
            return
        try:
            items = self.iterable(source)
        except Refused as error:
            self.frame.code.refuse(node.iter, error.why, error.instead)
        UnrolledOuter(here, node, items, 0).run(self)

    def _count(self, node: ast.For, here: Here, source: range) -> None:
        """A loop over a range whose body takes ticks: a register counts."""
        if not isinstance(node.target, ast.Name):
            self.frame.code.refuse(node.target, "the loop variable of a range is one name.")
        if not source:
            return
        kind = range_type(source)
        CountOuter(here, node, source, kind).body(self, Value(self.b.const(source[0], kind), kind))

    def _Break(self, node: ast.Break, here: Here) -> None:
        self.leave(_loop_around(here).broken)

    def _Continue(self, node: ast.Continue, here: Here) -> None:
        self.leave(_loop_around(here).again)


# --- small helpers ---------------------------------------------------------------------------------

STATEMENTS = {
    ast.Import: (
        "an import is done when Python runs, not when hardware does.",
        "Put it at the top of the cell or file.",
    ),
    ast.ImportFrom: (
        "an import is done when Python runs, not when hardware does.",
        "Put it at the top of the cell or file.",
    ),
    ast.Try: ("hardware raises no exceptions.", "Test the condition with if."),
    ast.Raise: ("hardware raises no exceptions.", "Set a bit that others can see."),
    ast.With: ("with is not part of the language.", ""),
    ast.Global: ("there are no global variables in hardware.", "Declare a Reg."),
    ast.Nonlocal: ("there are no outer variables in hardware.", "Declare a Reg."),
    ast.Delete: ("hardware cannot be deleted while it runs.", ""),
    ast.FunctionDef: (
        "a function inside a loop is not part of the language.",
        "Make it a @combinational function or an @operation of the class.",
    ),
    ast.AsyncFunctionDef: ("async is not part of the language.", ""),
    ast.ClassDef: ("a class inside a loop is not part of the language.", ""),
    ast.Assert: (
        "hardware cannot stop with an error.",
        "Set a bit that others can see, or check the recording in Python.",
    ),
    ast.AsyncFor: ("async is not part of the language.", ""),
    ast.AsyncWith: ("async is not part of the language.", ""),
    ast.Match: ("match is not part of the language.", "Write if … elif … else."),
}


def _loop_around(here: Here) -> LoopOuter:
    outer: Any = here.outer
    while isinstance(outer, IfOuter):
        outer = outer.here.outer
    return outer


def _as_load(target: ast.expr) -> ast.expr:
    if isinstance(target, ast.Name):
        return ast.Name(target.id, ast.Load())
    if isinstance(target, ast.Attribute):
        return ast.Attribute(target.value, target.attr, ast.Load())
    assert isinstance(target, ast.Subscript)
    return ast.Subscript(target.value, target.slice, ast.Load())


def _frame_names(frame_id: tuple[Any, ...]) -> list[str]:
    return [name for name, _ in frame_id]
