"""What one turn of a sequenced loop does in which tick, read from the netlist alone.

A state of the loop is a tick (or a wait of several).  What is assigned in it is found from the multiplexers that the state selects.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..netlist import Netlist, Node
from ..view.loops import Part, schedule
from ..view.picture import Picture


@dataclass(frozen=True)
class StateStep:
    """One state: its earliest tick in a turn, how long it lasts at least, the lines that act in it, the states that may follow."""

    name: str
    tick: int
    ticks: int
    waits: bool
    lines: tuple[int, ...]
    follows: tuple[str, ...]


def steps_of(netlist: Netlist, loop: str) -> list[StateStep]:
    """The states of a loop in the order of their earliest ticks.

    Raises ValueError for an unknown loop, or one that has no states because it does all in one tick.
    """
    found = next((item for item in netlist.loops if item.name == loop), None)
    if found is None:
        raise ValueError(
            f"there is no loop {loop!r}; loops: {', '.join(item.name for item in netlist.loops) or 'none'}"
        )
    if not found.state:
        raise ValueError(f"{loop} does everything in one tick, so there is nothing to draw")
    return _States(netlist, found.state).steps()


def turn_figure(netlist: Netlist, loop: str) -> Picture:
    """The schedule of one turn: a bar for each state at its earliest tick, with the lines that act in it; waits open."""
    steps = steps_of(netlist, loop)
    parts = [Part(step.name, step.tick, step.ticks, step.waits, _lines(step.lines)) for step in steps]
    period = next(item.period for item in netlist.loops if item.name == loop)
    return schedule(parts, period, title=f"{netlist.name}: one turn of {loop}, every wait as short as it can be")


def _lines(lines: tuple[int, ...]) -> str:
    return f"line{'s' * (len(lines) > 1)} {', '.join(map(str, lines))}" if lines else ""


class _States:
    def __init__(self, netlist: Netlist, state: str) -> None:
        self.net = netlist
        self.index = next(i for i, reg in enumerate(netlist.regs) if reg.name == state)
        self.reg = netlist.regs[self.index]
        self.names = self.reg.states

    def steps(self) -> list[StateStep]:
        lasts = {k: self._ticks(k) for k in range(len(self.names))}
        follows = {k: sorted(self._next(self.reg.next, k)) for k in range(len(self.names))}
        first = {0: 0}
        todo = [0]
        while todo:  # shortest way, since every state lasts at least a tick
            todo.sort(key=first.__getitem__)
            k = todo.pop(0)
            for after in follows[k]:
                if after != k and first[k] + lasts[k] < first.get(after, 1 << 60):
                    first[after] = first[k] + lasts[k]
                    todo.append(after)
        return [
            StateStep(
                self.names[k],
                first[k],
                lasts[k],
                self.names[k].startswith("waits"),
                self._lines(k),
                tuple(self.names[a] for a in follows[k]),
            )
            for k in sorted(first, key=lambda k: (first[k], k))
        ]

    # --- what a node is in a state ---

    def _known(self, index: int, state: int) -> int | None:
        """Value of a condition where it follows from the state alone."""
        node, nodes = self.net.nodes[index], self.net.nodes
        if node.op == "const":
            return node.attr
        if node.op in ("eq", "ne"):
            a, b = (nodes[i] for i in node.args)
            if a.op == "reg" and a.attr == self.index and b.op == "const":
                return int((state == b.attr) == (node.op == "eq"))
        if node.op == "not":
            inner = self._known(node.args[0], state)
            return None if inner is None else 1 - inner
        if node.op in ("and", "or"):
            values = [self._known(i, state) for i in node.args]
            forced = 0 if node.op == "and" else 1
            return forced if forced in values else None if None in values else 1 - forced
        return None

    def _next(self, index: int, state: int) -> set[int]:
        """States that may follow."""
        node = self.net.nodes[index]
        if node.op == "const":
            return {node.attr}
        if node.op == "mux":
            known = self._known(node.args[0], state)
            legs = node.args[1:] if known is None else (node.args[2 - known],)
            return set().union(*(self._next(leg, state) for leg in legs))
        if node.op == "wrap":
            return self._next(node.args[0], state)
        return {state}

    # --- lines and lengths ---

    def _lines(self, state: int) -> tuple[int, ...]:
        """Lines of what registers, timers and memories take in a state and do not take in all others."""
        found: set[int] = set()
        file = self.reg.loc.file
        for index in self._drivers():
            node = self._chosen(index, state)
            if node is not None and node.loc.line and node.loc.file == file:
                found.add(node.loc.line)
        return tuple(sorted(found))

    def _drivers(self) -> Iterator[int]:
        net = self.net
        yield from (reg.next for i, reg in enumerate(net.regs) if i != self.index and reg.kind != "count")
        yield from (write.data for write in net.writes)

    def _chosen(self, index: int, state: int) -> Node | None:
        """The expression that a driver takes because of the state; None if the state does not matter or the value is held."""
        decided = False
        place = self.net.nodes[index].loc
        node = self.net.nodes[index]
        while node.op == "mux":
            known = self._known(node.args[0], state)
            if known is None:
                break
            decided = decided or bool(known)
            node = self.net.nodes[node.args[2 - known]]
        if not decided:
            return None
        return node if node.args else node._replace(loc=place)

    def _ticks(self, state: int) -> int:
        """Ticks that a state lasts at least: the constant with which its timer was loaded, if it waits for one."""
        if not self.names[state].startswith("waits"):
            return 1
        before = [k for k in range(len(self.names)) if k != state and state in self._next(self.reg.next, k)]
        loads: set[int] = set()
        for timer in self.net.timers:
            if self._waits_for(timer.load, state):
                loads = loads.union(*(self._counts(timer.value, k) for k in before))
        return 1 + min(loads) if loads else 1

    def _waits_for(self, load: int, state: int) -> bool:
        """True if leaving the state depends on the timer that this bit loads."""
        timer = next(i for i, t in enumerate(self.net.timers) if t.load == load)
        todo, seen = [self.reg.next], set[int]()
        while todo:
            index = todo.pop()
            node = self.net.nodes[index]
            if index in seen:
                continue
            seen.add(index)
            if node.op == "expired" and node.attr == timer:
                return True
            if node.op == "mux":
                known = self._known(node.args[0], state)
                todo += node.args if known is None else (node.args[2 - known],)
            else:
                todo += node.args
        return False

    def _counts(self, index: int, state: int) -> set[int]:
        """Constants that a timer may be loaded with in a state."""
        node = self.net.nodes[index]
        if node.op == "const":
            return {node.attr} - {0}
        if node.op == "mux":
            known = self._known(node.args[0], state)
            legs = node.args[1:] if known is None else (node.args[2 - known],)
            return set().union(*(self._counts(leg, state) for leg in legs))
        return self._counts(node.args[0], state) if node.op == "wrap" else set()
