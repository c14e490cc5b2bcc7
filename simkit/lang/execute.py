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
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from ..netlist import BIT, Loc, Type, make
from . import arithmetic, steps
from .build import Refused, Value
from .declare import DigitalIn, DigitalOut, HostReg, Reg, Synchronizer
from .design import Bound, Combinational, Design, Method, Operation
from .evaluate import Condition, Evaluator, PartMethod, Unusable, describe, is_signal
from .parts import Drive, Part, Storage, Wait
from .source import Code, code_of
from .waiting import waits

if TYPE_CHECKING:
    from .circuit import Circuit, LoopInfo

Key = tuple[Any, str]
MAX_STATES = 20_000
MAX_UNROLLED = 100_000
MAX_CALLS = 60


@dataclass(eq=False)
class Frame:
    """One call: the loop itself, or a function copied into it."""

    id: Any
    code: Code
    design: Any
    path: str
    caller: Frame | None = None


@dataclass(frozen=True)
class Here:
    """A statement's place: block, position, what encloses the block, and a path that tells it from all other places."""

    block: list[ast.stmt]
    index: int
    outer: Outer
    path: tuple[Any, ...]
    frame: Frame


class Outer:
    """What encloses a block.  ``resume`` goes on after the block's end, in a tick that began inside it."""

    path: tuple[Any, ...] = ()

    def resume(self, ex: Executor) -> None:
        raise NotImplementedError


@dataclass(eq=False)
class State:
    """A place where a tick begins.  ``entry`` holds the locals that have a value there on every way."""

    index: int
    name: str
    frame: Frame
    action: Callable[[Executor], None]
    loc: Loc
    entry: dict[Key, Any] | None = None


@dataclass
class Env:
    """What is known at a point of one tick."""

    active: int
    locals: dict[Key, Any] = field(default_factory=dict)
    drives: dict[Drive, int] = field(default_factory=dict)
    flags: dict[Any, int] = field(default_factory=dict)
    returns: dict[Any, Any] = field(default_factory=dict)
    written: dict[Storage, Loc] = field(default_factory=dict)

    def fork(self) -> Env:
        return Env(self.active, dict(self.locals), dict(self.drives), dict(self.flags), dict(self.returns), dict(self.written))


class Kept:
    """A value held for the rest of a waiting operation, in a local that has no name in the source."""

    def __init__(self, ex: Executor, key: Key, value: Value) -> None:
        self.ex, self.key, self.value = ex, key, value

    def set(self) -> None:
        self.ex.env.locals[self.key] = self.value

    def get(self) -> Value:
        return self.ex.env.locals[self.key]


class Executor(Evaluator):
    """Turns one loop into drives.  ``run`` gives, for each state, what it drives."""

    def __init__(self, circuit: Circuit, loop: LoopInfo) -> None:
        self.circuit = circuit
        self.b = circuit.b
        self.loop = loop
        code = code_of(loop.method.function)
        self.top = Frame((), code, loop.design, loop.name)
        self.frame = self.top
        self.env = Env(self.b.one)
        self.states: dict[tuple[Any, ...], State] = {}
        self.queue: list[State] = []
        self.slots: dict[Key, Storage] = {}
        self.goes_to = Drive(f"{loop.name} state", make("unsigned", 16), self.b.const(0, make("unsigned", 16)))
        self.done: dict[State, dict[Drive, int]] = {}

    # --- running all states ---

    def run(self) -> dict[State, dict[Drive, int]]:
        """Execute every state that can be reached; states are executed again when an entry turns out to know less."""
        body = _without_docstring(self.frame.code.tree.body)
        arguments = self.frame.code.tree.args
        if len(arguments.args) != 1 or arguments.vararg or arguments.kwonlyargs or arguments.kwarg:
            self.frame.code.refuse(self.frame.code.tree, f"the loop {self.loop.name} takes only self: nobody calls it.",
                                   "Keep constants in __init__ and values that change in registers.")
        self.bind(self.top, self.frame.code.tree.args.args[0].arg, self.loop.design)
        start = self.state(("start",), "start", lambda ex: ex.start(body), self.frame.code.loc(self.frame.code.tree))
        start.entry = dict(self.env.locals)
        self.queue.append(start)
        while self.queue:
            state = self.queue.pop(0)
            self.frame = state.frame
            self.env = Env(self.b.one, {key: self.restored(key, item) for key, item in (state.entry or {}).items()})
            state.action(self)
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
                raise Refused(f"the loop {self.loop.name} has more than {MAX_STATES} states.", "Use range(n) with a tick inside, so that a register counts.")
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
            known = _agreed(state.entry, keep or {})
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
                slot = self.slots.get(key)
                if slot is None:
                    name = ".".join(filter(None, (self.loop.name, *_frame_names(key[0]), key[1])))
                    slot = self.slots[key] = Storage(self.circuit, self.circuit.free_name(name), item.type, 0, "local", self.b.loc)
                if slot.kind != item.type:
                    keep[key] = Unusable(f"{key[1]} lives across a tick, so it is a register of {slot.kind}; here it became {item.type}.",
                                         f"Write resize(…, {slot.kind}) where it is assigned, so that it keeps one type.")
                    continue
                if item.node != slot.leaf:
                    self.drive(slot.drive, item.node)
                keep[key] = slot
            else:
                keep[key] = item
        return keep

    # --- what parts ask for ---

    def drive(self, drive: Drive, node: int) -> None:
        """From here on in this tick, ``drive`` is ``node`` (where control gets here)."""
        self.own(drive, "writes")
        self.env.drives[drive] = self.b.choose(self.env.active, node, self.driven(drive), drive.kind)

    def driven(self, drive: Drive) -> int:
        """What a drive is so far in this tick."""
        return self.env.drives.get(drive, drive.default)

    def own(self, drive: Drive, verb: str) -> None:
        """Refuse a second loop that decides the same thing."""
        if drive.owner is None:
            drive.owner, drive.first = self.loop, self.b.loc
        elif drive.owner is not self.loop:
            raise Refused(f"{drive.name} belongs to the loop {drive.owner.name} (line {drive.first.line}) and "
                          f"{self.loop.name} {verb} it too: two drivers on one wire.",
                          "Give it one loop; let the other one ask by a register or a queue of its own.")

    def reads(self, storage: Storage) -> None:
        """Note a read, to check its clock and to warn of a read after a write in one tick."""
        self.circuit.note_read(storage, self.loop, self.b.loc)
        written = self.env.written.get(storage)
        if written is not None:
            self.circuit.warn(self.b.loc, f"{storage.name} is read here in the same tick in which line {written.line} writes it: "
                                          "this reads the value from before the write, which is seen from the next tick on.")

    def at_clock(self, clock: int, name: str) -> None:
        """Refuse ports of the fabric clock in loops of another one."""
        if self.loop.clock != clock:
            raise Refused(f"{name} belongs to the fabric clock and {self.loop.name} runs on another one.",
                          "Carry the value across with a Synchronizer, a Handshake or a Fifo.")

    def keep(self, value: Value) -> Kept:
        """A hidden local, the same one each time this place is executed."""
        return Kept(self, (self.frame.id, f"${self.b.loc.line}.{self.b.loc.col}"), value)

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
            method(node, here)
        except Refused as error:
            code.refuse(node, error.why, error.instead)

    def _Pass(self, node: ast.Pass, here: Here) -> None:
        pass

    def _Expr(self, node: ast.Expr, here: Here) -> None:
        if isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            return
        if self.waiting_call(node.value, here, lambda ex, value: None):
            return
        value = self.evaluate(node.value)
        if not isinstance(node.value, ast.Call):
            hint = "Did you mean = instead of ==?" if isinstance(node.value, ast.Compare) else "Assign it to something, or leave it out."
            raise Refused("this line computes a value that goes nowhere.", hint)
        if isinstance(value, PartMethod | Method):
            raise Refused(f"{describe(value)} is not called here.", "Add ().")

    def _Assign(self, node: ast.Assign, here: Here) -> None:
        def put(ex: Executor, value: Any) -> None:
            for target in node.targets:
                ex.assign(target, value)

        if not self.waiting_call(node.value, here, put):
            value = self.evaluate(node.value)
            self.at(node)
            put(self, value)

    def _AnnAssign(self, node: ast.AnnAssign, here: Here) -> None:
        kind = self.evaluate(node.annotation)
        if not isinstance(kind, Type):
            self.frame.code.refuse(node.annotation, f"after the colon stands a type, not {describe(kind)}.", "Write for example count: unsigned(8) = 0.")
        if node.value is None:
            raise Refused("this gives a type but no value.", "Write for example count: unsigned(8) = 0.")

        def put(ex: Executor, value: Any) -> None:
            ex.assign(node.target, arithmetic.store(ex.b, ex.operand(value), kind, ast.unparse(node.target)))

        if not self.waiting_call(node.value, here, put):
            put(self, self.evaluate(node.value))

    def _AugAssign(self, node: ast.AugAssign, here: Here) -> None:
        if any(isinstance(part, ast.Call) and self.waits_call(part) for part in ast.walk(node.value)):
            raise Refused("the right side takes ticks, so the left side would be read in another tick.", "Give the waiting part a line of its own first.")
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
            items = list(value) if isinstance(value, tuple | list) else None
            if items is None or len(items) != len(target.elts):
                raise Refused(f"there are {len(target.elts)} names here for {describe(value) if items is None else f'{len(items)} values'}.")
            for part, item in zip(target.elts, items, strict=True):
                self.assign(part, item)
        elif isinstance(target, ast.Attribute):
            self._assign_attribute(target, value)
        elif isinstance(target, ast.Subscript):
            base, index = self.evaluate(target.value), self.evaluate(target.slice)
            if not isinstance(base, Part):
                raise Refused(f"{describe(base)} cannot change while the hardware runs.", "Use Regs (registers by index) or a Ram.")
            base.store_index(self, self.operand(index) if is_signal(index) else index, self.operand(value))
        else:
            raise Refused(f"nothing can be assigned to {type(target).__name__}.")

    def _assign_local(self, name: str, value: Any) -> None:
        value = self.held(value)
        key = (self.frame.id, name)
        if any(flag != self.b.zero for flag in self.env.flags.values()) and self.env.active != self.b.one and key in self.env.locals:
            value = self._merged_local(key, self.env.active, value, self.env.locals[key])
        self.env.locals[key] = value

    def _assign_attribute(self, target: ast.Attribute, value: Any) -> None:
        base = self.evaluate(target.value)
        if not isinstance(base, Design):
            raise Refused(f"{describe(base)} has nothing that can be assigned to.")
        part = self.attribute_of(base, target.attr) if hasattr(base, target.attr) else None
        if not isinstance(part, Part):
            name = ast.unparse(target)
            if part is None:
                raise Refused(f"{type(base).__name__} has no register {target.attr}.", f"Declare it in the class: {target.attr} = Reg(unsigned(8)).")
            raise Refused(f"{name} is a constant: it was fixed when the design was built.", f"Declare {target.attr} = Reg(…) for a value that changes.")
        self.at(target)
        part.store(self, self.operand(value))
        storage = getattr(part, "storage", None)
        if storage is not None:
            self.env.written[storage] = self.b.loc

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
        b = self.b
        bit = lambda x, y: b.choose(condition, x, y, BIT)  # noqa: E731
        drives = {d: b.choose(condition, yes.drives.get(d, d.default), no.drives.get(d, d.default), d.kind)
                  for d in dict.fromkeys((*yes.drives, *no.drives))}
        flags = {f: bit(yes.flags.get(f, b.zero), no.flags.get(f, b.zero)) for f in dict.fromkeys((*yes.flags, *no.flags))}
        returns = {f: self._merged(condition, yes.returns.get(f, _MISSING), no.returns.get(f, _MISSING), "the returned value")
                   for f in dict.fromkeys((*yes.returns, *no.returns))}
        env = Env(bit(yes.active, no.active), {}, drives, flags, returns, {**yes.written, **no.written})
        ended = [e.active == b.zero and all(flag == b.zero for flag in e.flags.values()) for e in (yes, no)]
        if ended[0] != ended[1]:
            env.locals = dict((no if ended[0] else yes).locals)
        else:
            for key in dict.fromkeys((*yes.locals, *no.locals)):
                env.locals[key] = self._merged(condition, yes.locals.get(key, _MISSING), no.locals.get(key, _MISSING), key[1])
        return env

    def _merged_local(self, key: Key, condition: int, yes: Any, no: Any) -> Any:
        return self._merged(condition, yes, no, key[1])

    def _merged(self, condition: int, yes: Any, no: Any, name: str) -> Any:
        if yes is no or yes is _MISSING and isinstance(no, Unusable) or no is _MISSING and isinstance(yes, Unusable):
            return yes if yes is not _MISSING else no
        if yes is _MISSING or no is _MISSING:
            return Unusable(f"{name} has no value yet on some way to this line in this turn.", "Give it a value on every way, for example before the if.")
        if isinstance(yes, Unusable) or isinstance(no, Unusable):
            return yes if isinstance(yes, Unusable) else no
        if _number(yes) and _number(no):
            if not isinstance(yes, Value) and not isinstance(no, Value) and yes == no:
                return yes
            try:
                return arithmetic.select(self.b, condition, yes, no)
            except Refused as error:
                return Unusable(f"{name} is not of one type here: {error.why}", error.instead)
        if type(yes) is type(no) and isinstance(yes, tuple | list) and len(yes) == len(no):
            return type(yes)(self._merged(condition, x, y, name) for x, y in zip(yes, no, strict=True))
        return Unusable(f"{name} is {describe(yes)} on one way and {describe(no)} on another; a wire cannot be both.",
                        "Use two names, or one number type on both ways.")

    def guarded(self, condition: int, action: Callable[[], Any]) -> Any:
        before = self.env
        self.env = before.fork()
        result = action()
        self.env = self.merge(condition, self.env, before)
        return result

    # --- loops in time ---

    def _While(self, node: ast.While, here: Here) -> None:
        if node.orelse:
            self.frame.code.refuse(node.orelse[0], "else after while is not part of the language.")
        if self.loop.kind == "clocked":
            raise Refused("a while loop needs many ticks, and a clocked loop has just one.", "Use if here, or a sequenced loop with tick() inside the while.")
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
        env.flags[outer.broken] = env.flags[outer.again] = self.b.zero
        self.block(node.body, 0, outer)
        left = self.b.either(self.env.active, self.env.flags.pop(outer.again, self.b.zero))
        if left != self.b.zero:
            kind = "while" if isinstance(node, ast.While) else "for"
            self.frame.code.refuse(node, f"this {kind} loop can come round again without a tick: it would have to run for ever within one tick.",
                                   "Put tick() (or another waiting operation) on every way through the body.")
        self.env.active = self.env.flags.pop(outer.broken, self.b.zero)

    def _For(self, node: ast.For, here: Here) -> None:
        if node.orelse:
            self.frame.code.refuse(node.orelse[0], "else after for is not part of the language.")
        source = self.evaluate(node.iter)
        takes_ticks = self.waits_block(node.body)
        if takes_ticks and self.loop.kind == "clocked":
            self.frame.code.refuse(node, "the body of this loop takes ticks, and a clocked loop has just one.", "Use a sequenced loop.")
        if takes_ticks and isinstance(source, range):
            self._count(node, here, source)
            return
        try:
            items = self.iterable(source)
        except Refused as error:
            self.frame.code.refuse(node.iter, error.why, error.instead)
        if len(items) > MAX_UNROLLED:
            self.frame.code.refuse(node.iter, f"this loop would be copied out {len(items)} times.", "Put a tick() in the body, so that a register counts.")
        UnrolledOuter(here, node, items, 0).run(self)

    def _count(self, node: ast.For, here: Here, source: range) -> None:
        """A loop over a range whose body takes ticks: a register counts."""
        if not isinstance(node.target, ast.Name):
            self.frame.code.refuse(node.target, "the loop variable of a range is one name.")
        if not source:
            return
        kind = _range_type(source)
        CountOuter(here, node, source, kind).body(self, Value(self.b.const(source[0], kind), kind))

    def _Break(self, node: ast.Break, here: Here) -> None:
        self._leave(here, "broken")

    def _Continue(self, node: ast.Continue, here: Here) -> None:
        self._leave(here, "again")

    def _leave(self, here: Here, way: str) -> None:
        outer: Any = here.outer
        while isinstance(outer, IfOuter):
            outer = outer.here.outer
        flag = getattr(outer, way)
        self.env.flags[flag] = self.b.either(self.env.flags.get(flag, self.b.zero), self.env.active)
        self.env.active = self.b.zero

    # --- operations that wait ---

    def waits_call(self, node: ast.expr) -> bool:
        """True if ``node`` is a call that takes ticks."""
        return waits(node, self.frame.code, self.frame.design)

    def waits_block(self, body: list[ast.stmt]) -> bool:
        """True if any statement of a block takes ticks."""
        return any(waits(statement, self.frame.code, self.frame.design) for statement in body)

    def waiting_call(self, node: ast.expr, here: Here, put: Callable[[Executor, Any], None]) -> bool:
        """If ``node`` is a call that takes ticks, do it, give its result to ``put`` in the tick after, and say True."""
        if not isinstance(node, ast.Call) or not self.waits_call(node):
            return False
        function = self.evaluate(node.func)
        if self.loop.kind == "clocked":
            name = f"{function.part.name}.{function.name}()" if isinstance(function, PartMethod) else f"{ast.unparse(node.func)}()"
            self.frame.code.refuse(node, f"{name} takes ticks, and a clocked loop has just one.",
                                   "Use a sequenced loop; in a clocked loop channels offer .valid and .value, queues .try_get() and .try_put().")
        if node.keywords and not isinstance(function, Bound):
            raise Refused(f"{ast.unparse(node.func)} takes no keywords.")
        if isinstance(function, Bound) and isinstance(function.method, Operation):
            args = [self.evaluate(arg) for arg in node.args]
            options = {str(k.arg): self.evaluate(k.value) for k in node.keywords}
            self.at(node)
            CallOuter(here, self.enter(node, function.method, function.design, args, options), put).run(self)
            return True
        self._step(node, function, here, put)
        return True

    def _step(self, node: ast.Call, function: Any, here: Here, put: Callable[[Executor, Any], None]) -> None:
        if function is steps.until:
            if len(node.args) != 1:
                raise Refused("until() takes one condition.")
            # Asked anew in each tick, so the expression itself is kept, not its value.
            wait = Wait(ready=lambda: self._as_bit(self.evaluate(node.args[0]), node.args[0]))
        else:
            args = [self.evaluate(arg) for arg in node.args]
            self.at(node)
            if isinstance(function, PartMethod):
                wait = function.part.wait(self, function.name, [self.operand(arg) for arg in args])
            elif function is steps.wait:
                wait = self._pause(args)
            elif not args:
                wait = Wait()
            else:
                raise Refused("tick() takes no value.", "Write wait(n) for n ticks.")
        self._do_wait(node, wait, here, put)

    def _pause(self, args: list[Any]) -> Wait:
        if len(args) != 1:
            raise Refused("wait() takes one number of ticks.")
        if not is_signal(args[0]):
            ticks = self.circuit.ticks(args[0], self.loop.clock)
            if ticks == 1:
                return Wait()
            kind = make("unsigned", (ticks - 1).bit_length())
            count = Value(self.b.const(ticks - 1, kind), kind)
        else:
            value = self.operand(args[0])
            if value.type.kind != "unsigned" or value.type.width > 62:
                raise Refused(f"wait() takes an unsigned number of ticks of at most 62 bits, not {value.type}.")
            some = self.b.add("ne", (value.node, self.b.const(0, value.type)), BIT)
            less = self.b.add("sub", (value.node, self.b.const(1, value.type)), value.type)
            count = Value(self.b.choose(some, less, value.node, value.type), value.type)
        timer = self.circuit.timer_of(self.loop)
        return Wait(begin=lambda: timer.load(self, count), ready=lambda: timer.expired, check_now=False, same_tick=True)

    def _do_wait(self, node: ast.Call, wait: Wait, here: Here, put: Callable[[Executor, Any], None]) -> None:
        line = self.frame.code.loc(node)
        where = f"line {line.line}"

        def after(ex: Executor) -> None:
            ex.at(node)
            put(ex, wait.result() if wait.result else None)
            ex.go_on(here)

        def ask(ex: Executor) -> None:
            ex.at(node)
            assert wait.ready is not None
            ready = wait.ready()
            before = ex.env
            ex.env = before.fork()
            if wait.take:
                wait.take()
            ex.goto(next_state)
            ended, ex.env = ex.env, before.fork()
            ex.goto(waiting)
            ex.env = ex.merge(ready, ended, ex.env)

        def when_ready(ex: Executor) -> None:
            ex.at(node)
            assert wait.ready is not None
            ready, before = wait.ready(), ex.env
            ex.env = before.fork()
            ex.goto(waiting)
            stays, ex.env = ex.env, before
            after(ex)
            ex.env = ex.merge(ready, ex.env, stays)

        if wait.begin:
            wait.begin()
        if wait.same_tick:
            waiting = self.state((*here.path, "wait"), f"waits {where}", when_ready, line)
            self.goto(waiting)
            return
        next_state = self.state((*here.path, "after"), f"after {where}", after, line)
        if wait.ready is None:
            self.goto(next_state)
            return
        waiting = self.state((*here.path, "wait"), f"waits {where}", ask, line)
        if wait.check_now:
            ask(self)
        else:
            self.goto(waiting)

    # --- functions copied in ---

    def enter(self, node: ast.Call, method: Method, design: Any, args: list[Any], options: dict[str, Any]) -> Frame:
        """A frame with the parameters bound."""
        depth, frame = 0, self.frame
        while frame is not None:
            if frame.code.function is method.function and frame.design is design:
                raise Refused(f"{method.name} calls itself: hardware cannot copy itself into itself.", "Write a loop with a tick inside.")
            depth, frame = depth + 1, frame.caller  # type: ignore[assignment]
        if depth > MAX_CALLS:
            raise Refused("calls are nested too deep.")
        code = code_of(method.function)
        place = (node.lineno, node.col_offset)
        frame = Frame((*self.frame.id, (method.name, place)), code, design, f"{self.frame.path}.{method.name}", self.frame)
        for name, value in self._bind_arguments(code, method, design, args, options).items():
            self.bind(frame, name, value)
        return frame

    def _bind_arguments(self, code: Code, method: Method, design: Any, args: list[Any], options: dict[str, Any]) -> dict[str, Any]:
        spec = code.tree.args
        if spec.vararg or spec.kwarg:
            code.refuse(code.tree, f"{method.name} takes a fixed list of values: * and ** are not part of the language.")
        names = [a.arg for a in (*spec.posonlyargs, *spec.args)]
        given = ([] if isinstance(method, Combinational) else [design]) + args
        if len(given) > len(names):
            raise Refused(f"{method.name} takes {len(names) - (len(given) - len(args))} values, not {len(args)}.")
        bound = dict(zip(names, given, strict=False))
        for name, value in options.items():
            if name in bound or name not in (*names, *(a.arg for a in spec.kwonlyargs)):
                raise Refused(f"{method.name} has no free parameter {name!r}.")
            bound[name] = value
        defaults = dict(zip(reversed(names), reversed(method.function.__defaults__ or ()), strict=False)) | (method.function.__kwdefaults__ or {})
        for name in (*names, *(a.arg for a in spec.kwonlyargs)):
            if name not in bound and name not in defaults:
                raise Refused(f"{method.name} needs a value for {name!r}.")
            bound.setdefault(name, defaults.get(name))
        return {name: self.held(value) for name, value in bound.items()}

    def held(self, x: Any) -> Any:
        """What a name holds: the value that a register has now; channels, queues and memories stay what they are."""
        if isinstance(x, Storage) or isinstance(x, Part) and isinstance(x.declared, PLAIN):
            return self.operand(x)
        return x

    def inline(self, node: ast.Call, method: Method, design: Any, args: list[Any], options: dict[str, Any]) -> Any:
        code = code_of(method.function)
        if waits(code.tree, code, design):
            self.refuse_waiting(node, f"{method.name}()")
        frame = self.enter(node, method, design, args, options)
        outer = FunctionOuter(frame, (*_path(self.frame), node.lineno, node.col_offset))
        caller, self.frame = self.frame, frame
        self.env.flags[frame.id] = self.b.zero
        self.block(_without_docstring(code.tree.body), 0, outer)
        result = self.leave_function(frame)
        self.frame = caller
        self.at(node)
        return result

    def leave_function(self, frame: Frame) -> Any:
        """Join the ways that returned with the one that fell off the end; give the returned value."""
        returned = self.env.flags.pop(frame.id, self.b.zero)
        if frame.id in self.env.returns and self.env.active != self.b.zero and self.env.returns[frame.id] is not None:
            self.env.returns[frame.id] = Unusable(f"{frame.code.tree.name} returns a value on some ways only.", "End it with a return on every way.")
        self.env.active = self.b.either(self.env.active, returned)
        for key in [key for key in self.env.locals if key[0][:len(frame.id)] == frame.id]:
            del self.env.locals[key]
        result = self.env.returns.pop(frame.id, None)
        if isinstance(result, Unusable):
            raise Refused(result.why, result.instead)
        return result

    def _Return(self, node: ast.Return, here: Here) -> None:
        frame, b = self.frame, self.b
        if frame is self.top:
            if node.value is not None:
                raise Refused("a loop returns nothing: nobody called it.", "Assign to a register or an output.")
            self.goto(self.states["start",])
            return
        value = None if node.value is None else self.evaluate(node.value)
        if isinstance(value, Part | Storage):
            value = self.operand(value)
        if frame.id in self.env.returns:
            value = self._merged(self.env.active, value, self.env.returns[frame.id], "the returned value")
        self.env.returns[frame.id] = value
        self.env.flags[frame.id] = b.either(self.env.flags.get(frame.id, b.zero), self.env.active)
        self.env.active = b.zero


# --- what encloses a block -----------------------------------------------------------------------


class TopOuter(Outer):
    """The body of the loop: its end is the end of the turn."""

    def resume(self, ex: Executor) -> None:
        if ex.env.active != ex.b.zero:
            ex.frame = ex.top
            ex.goto(ex.states["start",])


class IfOuter(Outer):
    """A branch: after it comes what follows the if."""

    def __init__(self, here: Here, branch: bool) -> None:
        self.here = here
        self.path = (*here.path, branch)

    def resume(self, ex: Executor) -> None:
        ex.go_on(self.here)


class LoopOuter(Outer):
    """A body that may be left by ``break`` or ``continue``; ``broken`` and ``again`` are the flags of these."""

    def __init__(self, here: Here, node: Any, part: Any = "body") -> None:
        self.here = here
        self.node = node
        self.path = (*here.path, part)
        self.broken = (self.path, here.frame.id, "broken")
        self.again = (self.path, here.frame.id, "again")

    def take_flags(self, ex: Executor) -> int:
        """Join ``continue`` with the end of the body; give the condition of ``break``."""
        again = ex.env.flags.pop(self.again, ex.b.zero)
        ex.env.active = ex.b.either(ex.env.active, again)
        return ex.env.flags.pop(self.broken, ex.b.zero)


class WhileOuter(LoopOuter):
    """The body of a while: at its end the condition is asked again."""

    def resume(self, ex: Executor) -> None:
        broken = self.take_flags(ex)
        if ex.env.active != ex.b.zero:
            ex.frame = self.here.frame
            ex.at(self.node)
            ex.while_head(self.node, self.here)
        ex.env.active = ex.b.either(ex.env.active, broken)
        ex.go_on(self.here)


class CountOuter(LoopOuter):
    """The body of a for over a range that takes ticks; a register holds the index."""

    def __init__(self, here: Here, node: ast.For, source: range, kind: Type) -> None:
        super().__init__(here, node)
        self.source, self.kind = source, kind
        self.key: Key = (here.frame.id, f"{node.target.id}#{node.lineno}")  # type: ignore[attr-defined]

    def body(self, ex: Executor, index: Value) -> None:
        """Run the body for one index, up to its first tick."""
        ex.env.locals[self.key] = index
        ex.env.locals[self.here.frame.id, self.node.target.id] = index
        ex._repeat(self.node, self, ex.env)

    def resume(self, ex: Executor) -> None:
        broken = self.take_flags(ex)
        ex.frame = self.here.frame
        ex.at(self.node)
        if ex.env.active != ex.b.zero:
            index: Value = ex.env.locals[self.key]
            last = ex.b.add("eq", (index.node, ex.b.const(self.source[-1], self.kind)), BIT)
            more = ex.b.add("add", (index.node, ex.b.const(self.source.step, _step_type(self.source.step))), self.kind)
            leave, ex.env = ex.env, ex.env.fork()
            self.body(ex, Value(more, self.kind))
            ex.at(self.node)
            ex.env = ex.merge(last, leave, ex.env)
        ex.env.active = ex.b.either(ex.env.active, broken)
        ex.go_on(self.here)


class UnrolledOuter(LoopOuter):
    """One copy of the body of a for that is copied out."""

    def __init__(self, here: Here, node: ast.For, items: list[Any], number: int) -> None:
        super().__init__(here, node, number)
        self.items, self.number = items, number
        self.broken = ((*here.path, "for"), here.frame.id, "broken")

    def run(self, ex: Executor) -> None:
        """This copy and all that follow."""
        broken = ex.b.zero
        for number in range(self.number, len(self.items)):
            if ex.env.active == ex.b.zero:
                break
            copy = UnrolledOuter(self.here, self.node, self.items, number)
            ex.assign(self.node.target, self.items[number])
            ex.block(self.node.body, 0, copy)
            broken = ex.b.either(broken, copy.take_flags(ex))
            if broken != ex.b.zero:
                ex.env.flags[self.broken] = broken  # keeps later copies from changing what the broken way left
        ex.env.flags.pop(self.broken, None)
        ex.env.active = ex.b.either(ex.env.active, broken)

    def resume(self, ex: Executor) -> None:
        broken = self.take_flags(ex)
        ex.frame = self.here.frame
        if broken != ex.b.zero:
            ex.env.flags[self.broken] = broken
        UnrolledOuter(self.here, self.node, self.items, self.number + 1).run(ex)
        ex.env.active = ex.b.either(ex.env.active, broken)
        ex.go_on(self.here)


class FunctionOuter(Outer):
    """The body of a function that takes no tick; it is never resumed."""

    def __init__(self, frame: Frame, path: tuple[Any, ...]) -> None:
        self.path = (*path, "call")


class CallOuter(Outer):
    """The body of an operation that takes ticks."""

    def __init__(self, here: Here, frame: Frame, put: Callable[[Executor, Any], None]) -> None:
        self.here, self.frame, self.put = here, frame, put
        self.path = (*here.path, "call")

    def run(self, ex: Executor) -> None:
        ex.frame = self.frame
        ex.env.flags[self.frame.id] = ex.b.zero
        ex.block(_without_docstring(self.frame.code.tree.body), 0, self)
        self._leave(ex)

    def _leave(self, ex: Executor) -> None:
        if ex.env.active != ex.b.zero or ex.env.flags.get(self.frame.id, ex.b.zero) != ex.b.zero:
            result = ex.leave_function(self.frame)
            ex.frame = self.here.frame
            self.put(ex, result)
        ex.frame = self.here.frame

    def resume(self, ex: Executor) -> None:
        self._leave(ex)
        ex.go_on(self.here)


# --- small helpers ---------------------------------------------------------------------------------

_MISSING = object()

PLAIN = (Reg, DigitalIn, DigitalOut, HostReg, Synchronizer)
"""Declarations that are nothing but their value."""

STATEMENTS = {
    ast.Import: ("an import is done when Python runs, not when hardware does.", "Put it at the top of the cell or file."),
    ast.ImportFrom: ("an import is done when Python runs, not when hardware does.", "Put it at the top of the cell or file."),
    ast.Try: ("hardware raises no exceptions.", "Test the condition with if."),
    ast.Raise: ("hardware raises no exceptions.", "Set a bit that others can see."),
    ast.With: ("with is not part of the language.", ""),
    ast.Global: ("there are no global variables in hardware.", "Declare a Reg."),
    ast.Nonlocal: ("there are no outer variables in hardware.", "Declare a Reg."),
    ast.Delete: ("hardware cannot be deleted while it runs.", ""),
    ast.FunctionDef: ("a function inside a loop is not part of the language.", "Make it a @combinational function or an @operation of the class."),
    ast.AsyncFunctionDef: ("async is not part of the language.", ""),
    ast.ClassDef: ("a class inside a loop is not part of the language.", ""),
    ast.Assert: ("hardware cannot stop with an error.", "Set a bit that others can see, or check the recording in Python."),
    ast.AsyncFor: ("async is not part of the language.", ""),
    ast.AsyncWith: ("async is not part of the language.", ""),
    ast.Match: ("match is not part of the language.", "Write if … elif … else."),
}


def _number(x: Any) -> bool:
    return isinstance(x, Value | bool | int | float | Fraction)


def _without_docstring(body: list[ast.stmt]) -> list[ast.stmt]:
    first = body[0]
    is_text = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str)
    return body[1:] if is_text else body


def _as_load(target: ast.expr) -> ast.expr:
    if isinstance(target, ast.Name):
        return ast.Name(target.id, ast.Load())
    if isinstance(target, ast.Attribute):
        return ast.Attribute(target.value, target.attr, ast.Load())
    assert isinstance(target, ast.Subscript)
    return ast.Subscript(target.value, target.slice, ast.Load())


def _agreed(a: dict[Key, Any], b: dict[Key, Any]) -> dict[Key, Any]:
    """Locals that have a value on both ways into a state; a constant that differs is no constant."""
    both = {}
    for key, item in a.items():
        if key not in b:
            continue
        other = b[key]
        if item is other or isinstance(item, Unusable):
            both[key] = item
        elif isinstance(other, Unusable):
            both[key] = other
        elif not isinstance(item, Storage) and not isinstance(other, Storage) and type(item) is type(other) and item == other:
            both[key] = item
        else:
            both[key] = Unusable(f"{key[1]} lives across a tick but is a plain number on one of the ways here, so it is not known how many bits it needs.",
                                 f"Give it a type where it starts: {key[1]}: unsigned(8) = 0.")
    return both


def _range_type(source: range) -> Type:
    low, high = min(source[0], source[-1]), max(source[0], source[-1])
    if low >= 0:
        return make("unsigned", max(1, high.bit_length()))
    return make("signed", max(low.bit_length() if low < -1 else 1, high.bit_length()) + 1)


def _step_type(step: int) -> Type:
    return make("signed", step.bit_length() + 1)


def _frame_names(frame_id: tuple[Any, ...]) -> list[str]:
    return [name for name, _ in frame_id]


def _path(frame: Frame) -> tuple[Any, ...]:
    return frame.id
