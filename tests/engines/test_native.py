"""The native engine beyond its values: skipping, stopping, streaming, limits."""

from __future__ import annotations

import _thread
import threading

import numpy as np
import pytest

from simkit.engines import EngineFault, Events, Recording, make_engine
from simkit.engines.native import NativeEngine
from simkit.engines.reference import ReferenceEngine
from simkit.netlist import BIT, Clock, Input, Mem, Netlist, Node, Output, Read, Reg, Timer, Type, Write, check, make
from tests.benchmarks.netlists import Maker, always_active, paced, sampled, wide_logic, with_counters
from tests.netlist.random_netlists import random_netlist

U = lambda n: make("unsigned", n)  # noqa: E731


def recorded(
    net: Netlist, kind: str, ticks: int, events: Events | None = None, names: list[str] | None = None
) -> dict[str, list]:
    engine, recording = make_engine(net, kind=kind), Recording(names or list(net.signals()))
    engine.record(recording)
    engine.run(ticks, events) if events else engine.run(ticks)
    return {
        n: list(zip(*(a.tolist() for a in (recording.trace(n).ticks, recording.trace(n).values)), strict=True))
        for n in recording.names
    }


@pytest.mark.parametrize("net", [always_active(), paced(2), wide_logic(400)], ids=lambda n: n.name)
def test_same_changes_as_the_reference(net: Netlist) -> None:
    assert recorded(net, "native", 1700) == recorded(net, "reference", 1700)


def test_a_paced_loop_costs_its_active_ticks() -> None:
    """A day of a loop at 1 kHz has 3.5e12 ticks; ten bench minutes of it take well under ten seconds."""
    engine = make_engine(paced())
    engine.run(1)
    engine.run(40_000_000 * 10)
    assert engine.ticks() == 400_000_001


def test_free_running_counters_run_alone() -> None:
    """With a counter that never rests, the rest of the design is still not computed while it is idle."""

    class Unaware(NativeEngine):
        patience = 2**62

    net, seen = with_counters(8), {}
    for kind in (Unaware, NativeEngine):
        engine, recording = kind(net), Recording(["pulse", "total_3", "speed_7"])
        engine.record(recording)
        engine.run(100_000)
        engine.run(400_000)
        seen[kind] = [
            (t.ticks.tolist(), t.values.tolist(), engine.peek("ticks")) for t in map(recording.trace, recording.names)
        ]
    assert seen[Unaware] == seen[NativeEngine]
    assert len(seen[NativeEngine][0][0]) == 501 and engine.peek("ticks") == 500_000


def test_restless_registers_stop_for_events_and_timers() -> None:
    m = Maker("with_input")
    m.net = with_counters(1)
    m.net.inputs = [Input("go", BIT, 0, strobe=True)]
    seen = m.reg("seen", U(8))
    m.when(m.op("input", BIT), seen, m.op("add", U(8), seen, m.const(1, U(1))))
    net = m.done()
    events = Events.of(net, [(t, "go", 1) for t in range(3000, 60_000, 7919)])
    names = ["seen", "pulse", "total_0", "speed_0"]
    found = recorded(net, "native", 60_000, events, names)
    assert found == recorded(net, "reference", 60_000, events, names)
    assert [t for t, _ in found["seen"]] == [0, *range(3001, 60_000, 7919)]


def test_an_idle_design_reaches_its_limit_at_once() -> None:
    m = Maker("idle")
    m.out("held", m.reg("r", U(8), 7))
    engine = make_engine(m.done())
    engine.run(2**61)
    assert (engine.ticks(), engine.peek("held")) == (2**61, 7)
    with pytest.raises(EngineFault, match=r"2\*\*62"):
        engine.run(2**62)


def test_stop_from_another_thread_and_go_on() -> None:
    engine = make_engine(always_active())
    assert isinstance(engine, NativeEngine)
    engine.run(1)
    timer = threading.Timer(0.2, engine.stop)
    timer.start()
    engine.run(10**12)  # a hundred minutes, if stop() did not work
    assert engine.stopped
    reached = engine.ticks()
    assert 1 < reached < 10**12
    engine.run(1000)
    assert engine.ticks() == reached + 1000 and engine.peek("ticks") == (reached + 1000) % 2**32


def test_keyboard_interrupt_keeps_the_state() -> None:
    engine = make_engine(always_active())
    engine.run(1)
    timer = threading.Timer(0.2, _thread.interrupt_main)
    timer.start()
    with pytest.raises(KeyboardInterrupt):
        engine.run(10**12)
    reached = engine.ticks()
    engine.run(5)
    assert engine.ticks() == reached + 5 and engine.peek("ticks") == (reached + 5) % 2**32


def test_interrupt_drops_no_event() -> None:
    net = sampled()
    changes = [(t, n, v) for t in range(0, 4000, 3) for n, v in (("accel.value", t), ("accel.valid", 1))]
    whole, parts = make_engine(net), make_engine(net)
    whole.run(5000, Events.of(net, changes))
    parts.run(1, Events.of(net, changes))
    for _ in range(4999):
        parts.run(1)
    assert parts.peek("total") == whole.peek("total") == sum(range(0, 4000, 3))


def test_other_threads_run_meanwhile() -> None:
    engine, seen = make_engine(always_active()), []
    engine.run(1)
    worker = threading.Thread(target=engine.run, args=(60_000_000,))
    worker.start()
    while worker.is_alive():
        seen.append(engine.ticks())
    worker.join()
    assert len(seen) > 1000


def test_recording_longer_than_its_table() -> None:
    """More changes than fit the record table: none is lost, order is kept."""
    net = always_active()
    engine, recording = make_engine(net), Recording(["ticks", "parity"])
    engine.record(recording)
    engine.run(200_000)
    trace = recording.trace("ticks")
    assert np.array_equal(trace.ticks, np.arange(200_000)) and np.array_equal(trace.values, np.arange(200_000))
    bits = np.array([int(t).bit_count() & 1 for t in trace.ticks - 1])
    parity = recording.trace("parity")
    assert all(parity.at(t) == (bits[t] if t else 0) for t in range(0, 200_000, 997))


def test_a_name_recorded_twice_gives_its_changes_once() -> None:
    for kind in ("native", "reference"):
        engine, recording = make_engine(always_active(), kind=kind), Recording(["ticks", "ticks"])
        engine.record(recording)
        engine.run(4)
        assert recording.trace("ticks").ticks.tolist() == [0, 1, 2, 3]


def test_recording_can_start_late_and_stop() -> None:
    engine, recording = make_engine(always_active()), Recording(["ticks"])
    engine.run(10)
    engine.record(recording)
    engine.run(5)
    engine.record(None)
    engine.run(5)
    assert recording.trace("ticks").ticks.tolist() == [10, 11, 12, 13, 14]


def test_reset_starts_again() -> None:
    engine = make_engine(paced())
    engine.run(10_000)
    first = engine.peek("total_0")
    engine.reset()
    assert engine.ticks() == 0 and engine.peek("total_0") == 0
    engine.run(10_000)
    assert engine.peek("total_0") == first


def test_wide_values_are_python_ints() -> None:
    kind = make("signed", 200)
    net = Netlist(
        "wide", clocks=[Clock("fabric", 10)], inputs=[Input("x", kind, 0)], nodes=[Node("input", (), kind, 0)]
    )
    assert recorded(check(net), "native", 3, Events.of(net, [(0, "x", -(2**150)), (1, "x", 2**199 - 1)]))["x"] == [
        (0, -(2**150)),
        (1, 2**199 - 1),
    ]
    full = make("unsigned", 64)
    net = Netlist(
        "full", clocks=[Clock("fabric", 10)], inputs=[Input("x", full, 0)], nodes=[Node("input", (), full, 0)]
    )
    assert recorded(check(net), "native", 3, Events.of(net, [(1, "x", 2**64 - 1)]))["x"] == [(0, 0), (1, 2**64 - 1)]


def test_too_wide_goes_to_the_reference() -> None:
    net = check(Netlist("w", clocks=[Clock("fabric", 10)], nodes=[Node("const", (), U(300), 1)]))
    with pytest.raises(EngineFault, match="300 bits.*256"):
        NativeEngine(net)
    assert isinstance(make_engine(net), ReferenceEngine)
    with pytest.raises(EngineFault, match="no engine 'quick'"):
        make_engine(net, kind="quick")


@pytest.mark.parametrize("kind", ["native", "reference"])
def test_faults_say_what_is_wrong(kind: str) -> None:
    net = sampled()
    engine = make_engine(net, kind=kind)
    with pytest.raises(EngineFault, match="no signal 'nothing'"):
        engine.record(Recording(["nothing"]))
    with pytest.raises(EngineFault, match="no signal 'nothing'"):
        engine.peek("nothing")
    engine.run(10, Events.of(net, [(20, "accel.value", 1)]))
    with pytest.raises(EngineFault, match="tick 5 of 'accel.value' comes too late"):
        engine.run(1, Events.of(net, [(5, "accel.value", 1)]))
    with pytest.raises(EngineFault, match="tick 19 of 'accel.valid' comes too late"):
        engine.run(1, Events.of(net, [(19, "accel.valid", 1)]))
    with pytest.raises(EngineFault, match="does not fit"):
        engine.run(1, Events(np.array([30]), np.array([1]), np.array([2])))
    with pytest.raises(EngineFault, match="names input 9"):
        engine.run(1, Events(np.array([30]), np.array([9]), np.array([0])))


@pytest.mark.parametrize("kind", ["native", "reference"])
def test_strobes_last_one_tick_and_look_zero_from_outside(kind: str) -> None:
    net = sampled()
    rows = [(3, "accel.valid", 1), (4, "accel.valid", 1), (8, "accel.valid", 1), (3, "accel.value", 5)]
    assert recorded(net, kind, 12, Events.of(net, rows), ["accel.valid"])["accel.valid"] == [
        (0, 0),
        (3, 1),
        (5, 0),
        (8, 1),
        (9, 0),
    ]
    engine = make_engine(net, kind=kind)
    engine.run(4, Events.of(net, rows))
    assert engine.peek("accel.valid") == 0 and engine.peek("total") == 5
    first = [(0, "accel.value", 7), (0, "accel.valid", 1)]  # nothing is before tick 0, and a strobe lasts there too
    assert recorded(net, kind, 6, Events.of(net, first), ["accel.valid"])["accel.valid"] == [(0, 1), (1, 0)]


# --- hostile netlists ------------------------------------------------------------------------------


def _memory_design(depth: int, width: int, addr: Type) -> Netlist:
    """Writes and reads wherever the inputs say."""
    word = U(width)
    net = Netlist("memory", clocks=[Clock("fabric", 10)])
    net.inputs = [Input("addr", addr, 0), Input("data", word, 0)]
    net.mems = [Mem("before", word, depth, (1,)), Mem("m", word, depth), Mem("after", word, depth, (1,))]
    net.nodes = [
        Node("input", (), addr, 0),
        Node("input", (), word, 1),
        Node("const", (), BIT, 1),
        Node("rdata", (), word, 0),
        Node("rdata", (), word, 1),
        Node("rdata", (), word, 2),
        Node("const", (), addr, 0),
    ]
    net.reads = [Read("q", 1, 0, 0, 2), Read("low", 0, 0, 6, 2), Read("high", 2, 0, 6, 2)]
    net.writes = [Write(1, 0, 0, 1, 2)]
    net.outputs = [Output(n, word, 0, 3 + i) for i, n in enumerate(("q_out", "low_out", "high_out"))]
    return check(net)


@pytest.mark.parametrize("width", [1, 8, 9, 31, 64, 65, 256])
@pytest.mark.parametrize("depth", [1, 3, 16])
def test_no_address_leaves_its_memory(depth: int, width: int) -> None:
    for addr in (U(1), U(4), U(64), U(200)):
        net = _memory_design(depth, width, addr)
        places = [
            a for a in (depth - 1, depth, depth + 1, 2 * depth, 2**31, 2**61 - 1, 2**63, addr.high) if addr.holds(a)
        ]
        rows = [
            (4 * t + at, n, v)
            for t, a in enumerate(places)
            for at, n, v in ((0, "addr", a), (0, "data", 2**width - 1 - t % 2))
        ]
        ticks = 4 * len(places) + 4
        assert recorded(net, "native", ticks, Events.of(net, rows)) == recorded(
            net, "reference", ticks, Events.of(net, rows)
        )


def test_extreme_rates_and_resets() -> None:
    clocks = [Clock("fabric", 10**12), Clock("slowest", 1, 10**9), Clock("slow", 1, 3)]
    net = Netlist("rates", clocks=clocks, regs=[Reg(f"n{i}", U(40), 0, i, 2 * i + 1) for i in range(3)])
    for i in range(3):
        net.nodes += [Node("reg", (), U(40), i), Node("not", (2 * i,), U(40))]
    engine = make_engine(check(net))
    engine.run(100_001)
    assert [engine.ticks(c) for c in range(3)] == [100_001, 0, 0] and engine.peek("n0") == 2**40 - 1


def test_clocks_do_not_drift() -> None:
    """A clock of 44.1 kHz has no whole number of picoseconds; after a minute it is still exact, idle ticks skipped."""
    net = Netlist("drift", clocks=[Clock("fabric", 40_000_000), Clock("audio", 44_100)])
    net.timers = [Timer("t", 20, 5, 1, 0, 1)]
    net.nodes = [
        Node("expired", (), BIT, 0),
        Node("const", (), U(20), 999),
        Node("reg", (), U(32), 0),
        Node("const", (), U(1), 1),
        Node("add", (2, 3), U(32)),
        Node("mux", (0, 4, 2), U(32)),
    ]
    net.regs = [Reg("turns", U(32), 0, 1, 5)]
    engine = make_engine(check(net))
    engine.run(60 * 40_000_000)
    assert engine.ticks(1) == 60 * 44_100 and engine.peek("turns") == -(-(60 * 44_100 - 5) // 1000)


def test_quick_code_is_replaced_while_a_design_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    net = always_active()
    want = recorded(net, "reference", 3000)
    monkeypatch.setattr("simkit.engines.native.jit.LARGE", 0)
    monkeypatch.setattr("simkit.engines.native.engine.QUICK_SECONDS", 0.0)
    assert recorded(net, "native", 3000) == want
    engine = make_engine(net)
    assert isinstance(engine, NativeEngine)
    engine.run(10)
    ((code, _),) = engine._programs.values()
    assert not code.quick, "replaced after its first call"


def _watched(engine: NativeEngine, until: int) -> int:
    """Runs on to ``until``, tick by tick where the engine says that it rests, and checks that nothing moves there; gives the
    number of such ticks."""
    names, rested = list(engine.netlist.signals()), 0
    while engine.ticks() < until:
        rests = engine.rests_until()
        before = {name: engine.peek(name) for name in names}
        ticks = list(range(engine.ticks() + 1, min(rests, until, engine.ticks() + 40) + 1))
        for tick in [*ticks, rests] if ticks and rests <= until else ticks:
            engine.run(tick - engine.ticks())
            assert {name: engine.peek(name) for name in names} == before
        rested += len(ticks)
        engine.run(13)
    return rested


@pytest.mark.parametrize("seed", range(12))
def test_nothing_moves_while_a_random_design_rests(seed: int) -> None:
    net, rested = random_netlist(seed), 0
    engine = NativeEngine(net, seed)
    for start in range(0, 1500, 300):
        changes = [(engine.ticks(), port.name, port.type.high) for port in net.inputs if not port.clock]
        engine.run(1, Events.of(net, changes[start // 300 % 3 :: 3]))
        rested += _watched(engine, start + 300)
    assert engine.rests_until() >= engine.ticks() and (rested == 0 or len(net.clocks) == 1)


def test_a_paced_design_rests_until_a_timer_ends() -> None:
    engine = NativeEngine(paced(2))
    assert _watched(engine, 200_000) > 100
    assert NativeEngine(always_active()).rests_until() == 0


def test_an_event_ends_the_rest() -> None:
    """An echo of an input: at rest for ever, until the input changes."""
    net = Netlist("echo", clocks=[Clock("fabric", 40_000_000)])
    net.inputs.append(Input("x", U(8), 0))
    net.nodes += [Node("input", (), U(8), 0), Node("reg", (), U(8), 0)]
    net.regs.append(Reg("y", U(8), 0, 0, 0))
    net.outputs.append(Output("out", U(8), 0, 1))
    engine = NativeEngine(check(net))
    engine.run(50)
    assert engine.rests_until() > 10**9
    engine.run(51, Events.of(net, [(100, "x", 7)]))
    assert engine.rests_until() == engine.ticks() == 101 and engine.peek("out") == 7
    engine.run(9, Events.of(net, [(105, "x", 9)]))
    assert engine.rests_until() > 10**9 and engine.peek("out") == 9
