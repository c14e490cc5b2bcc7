"""Exercises of lab 01, "From gates to the fabric".  All numbers are invented.

Nothing here holds an answer: a check runs the design that it is given, or a design of its own, and measures; tables and
costs are worked out from what the exercise says.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

import numpy as np

from simkit import (
    AnalogOut,
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    Reg,
    Regs,
    bit,
    clocked,
    compile_design,
    ms,
    ns,
    sequenced,
    signed,
    tick,
    unsigned,
    us,
)
from simkit.bench import FanHouse, load
from simkit.check import AnswerFault, Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, endpoint

HZ = 40_000_000

# --- 01-a: fill a look-up table ---

GATES = {"NAND": lambda a, b: not (a and b), "NOR": lambda a, b: not (a or b), "XNOR": lambda a, b: a == b}
PICKS = {"b while c is 1, else a": lambda a, b, c: b if c else a, "a while c is 1, else b": lambda a, b, c: a if c else b}
RULES = {
    "a is 1 and, besides, b is 1 or c is 0": lambda a, b, c: a and (b or not c),
    "b is 1 and, besides, a is 1 or c is 0": lambda a, b, c: b and (a or not c),
    "c is 1, or a is 1 while b is 0": lambda a, b, c: c or (a and not b),
    "a is 1 or c is 1, but not while b is 1": lambda a, b, c: (a or c) and not b,
}


def draw_tables(rng):
    return {"gate": rng.choice(tuple(GATES)), "pick": rng.choice(tuple(PICKS)), "rule": rng.choice(tuple(RULES))}


def _outputs(meant, inputs):
    """The wanted outputs, row after row: input number k is bit k of the row's number."""
    return [int(bool(meant(*((row >> k) & 1 for k in range(inputs))))) for row in range(2**inputs)]


def judge_tables(answer, mine, seed):
    for name, meant, inputs in (("gate", GATES[mine.gate], 2), ("pick", PICKS[mine.pick], 3), ("rule", RULES[mine.rule], 3)):
        wanted, init = _outputs(meant, inputs), answer[name]
        if not 0 <= init < 1 << len(wanted):
            yield Result(name, False, f"0x{init:X}" if init >= 0 else init, f"{len(wanted)} bits", "", "bits")
            continue
        found = [(init >> row) & 1 for row in range(len(wanted))]
        right = sum(f == w for f, w in zip(found, wanted, strict=True))
        yield Result(name, found == wanted, f"{right} of {len(wanted)} rows right", None, "", _why_table(found, wanted, inputs))


def _why_table(found, wanted, inputs):
    if found == wanted[::-1]:
        return "mirrored"
    if all(f != w for f, w in zip(found, wanted, strict=True)):
        return "inverted"
    swapped = [wanted[int(f"{row:0{inputs}b}"[::-1], 2)] for row in range(len(wanted))]
    return "order" if found in (swapped, swapped[::-1]) else ""


# --- 01-b, 01-c: adders ---


def judge_full(netlist, mine, seed):
    changes = [(20 * row + 5, name, (row >> k) & 1) for row in range(8) for k, name in enumerate(("a", "b", "carry_in"))]
    run = drive(netlist, 180, changes)
    total, carry = ([run.at(name, 20 * row + 20) for row in range(8)] for name in ("total", "carry_out"))
    ones = [bin(row).count("1") for row in range(8)]
    yield _rows("total", total, [n % 2 for n in ones], {0xFE: "or", 0x66: "carry_forgotten", 0x69: "inverted"})
    yield _rows("carry", carry, [n // 2 for n in ones], {0x80: "all_three", 0x88: "carry_forgotten", 0xFE: "any", 0x17: "inverted"})


def _rows(name, found, wanted, known):
    right = sum(f == w for f, w in zip(found, wanted, strict=True))
    hint = known.get(sum(value << row for row, value in enumerate(found)), "")
    return Result(name, found == wanted, f"{right} of 8 rows right", "8 of 8", "", "still" if not any(found) else hint)


def draw_width(rng):
    return {"n": rng.integer(5, 8)}


def judge_ripple(netlist, mine, seed):
    n, rng = mine.n, Draw("ripple", seed)
    _must_hold(netlist, n)
    top = 1 << (n - 1)
    pairs = {"plain": _plain(rng, n), "carry": _inside(rng, n), "top": [(top, top)]}
    found = {name: _added(netlist, group) for name, group in pairs.items()}
    yield _sums("plain", pairs["plain"], found["plain"])
    yield _sums("carry", pairs["carry"], found["carry"], _why_carry(pairs["carry"], found["carry"]))
    [most] = found["top"]
    shown = f"{top} + {top} gives {most}"
    yield Result("top", most == 2 * top, shown, 2 * top, "", "last_carry" if most == 0 else "")
    used = _arithmetic(netlist)
    yield Result("tables", not used, f"{used} times + or -", "none", look=False)


def _arithmetic(netlist):
    """How many + and - work on what came from a or b; a loop may count with one of its own."""
    names = {endpoint(netlist, name).ports["value"] for name in "ab"}
    from_data, before = {port.node for port in netlist.outputs if port.name in names}, -1
    while len(from_data) > before:
        before = len(from_data)
        held = {k for k, reg in enumerate(netlist.regs) if reg.next in from_data or reg.name in names}
        from_data |= {k for k, node in enumerate(netlist.nodes)
                      if not from_data.isdisjoint(node.args) or (node.op == "reg" and node.attr in held)}
    return sum(netlist.nodes[k].op in ("add", "sub", "neg") for k in from_data)


def _must_hold(netlist, n):
    for name, bits in (("a", n), ("b", n), ("total", n + 1)):
        if endpoint(netlist, name).type.width < bits:
            raise AnswerFault(f"the register {name} needs {bits} bits, it is {endpoint(netlist, name).type}", "widths")


def _plain(rng, n):
    """Pairs without any carry: no place has two ones."""
    firsts = [rng.integer(1, (1 << n) - 2) for _ in range(6)]
    return [(a, rng.integer(0, (1 << n) - 1) & ~a) for a in firsts]


def _inside(rng, n):
    """Pairs whose carries stay inside: first one place far, then through as many places as there are."""
    half = (1 << (n - 1)) - 1
    place = rng.integer(0, n - 3)
    return [(1 << place, 1 << place), (half, 1), (1, half), (half - 1, 2), (half, half)]


def _added(netlist, pairs):
    changes = [(40 * i + 5, name, value) for i, pair in enumerate(pairs) for name, value in zip("ab", pair, strict=True)]
    run = drive(netlist, 40 * len(pairs) + 5, changes)
    return [run.at("total", 40 * i + 40) for i in range(len(pairs))]


def _sums(name, pairs, found, hint=""):
    wrong = [f"{a} + {b} gives {f}" for (a, b), f in zip(pairs, found, strict=True) if f != a + b]
    hint = "still" if not any(found) else hint
    return Result(name, not wrong, wrong[0] if wrong else "all sums right", "a + b", "", hint)


def _why_carry(pairs, found):
    if all(f == a ^ b for (a, b), f in zip(pairs, found, strict=True)):
        return "no_carry"
    return "one_place" if found[0] == sum(pairs[0]) else ""


# --- 01-d: two registers that swap ---


def draw_swap(rng):
    duty = rng.integer(11, 99)
    return {"duty": duty, "standby": duty + rng.integer(20, 100)}


def judge_swap(netlist, mine, seed):
    rng = Draw("swap", seed)
    many = 2 * rng.integer(3, 8) + 1
    lengths, at = (1, 2, many), (100, 200, 300)
    changes = [row for t, n in zip(at, lengths, strict=True) for row in ((t, "switch", 1), (t + n, "switch", 0))]
    run = drive(netlist, 400, changes)
    start, once, twice, last = (_pair(run, t) for t in (90, 190, 290, 390))
    hint = "exchanged" if start == (mine.standby, mine.duty) else ""
    yield Result("start", start == (mine.duty, mine.standby), _both(start), _both((mine.duty, mine.standby)), "", hint)
    if start[0] == start[1]:
        raise AnswerFault("the registers start with two equal numbers, so no swap can be seen", "start")
    swapped = start[::-1]
    idle = _moved_while_off(run, zip(at, lengths, strict=True))
    shown = "they change while the switch is off" if idle else _both(once)
    yield Result("swap", once == swapped and not idle, shown, _both(swapped), "", "idle" if idle else _why_swap(run, start, once))
    right = (twice, last) == (once, start) if once != swapped else (twice, last) == (swapped, start)
    hint = "edge" if twice == start and last == swapped else ""
    shown = f"after 2 more ticks {_both(twice)}, after {many} more {_both(last)}"
    yield Result("every", right and once != start, shown, f"{_both(swapped)}, then {_both(start)}", "", hint)


def _pair(run, at):
    return run.at("duty", at), run.at("standby", at)


def _both(pair):
    return f"{pair[0]} and {pair[1]}"


def _moved_while_off(run, pulses):
    """Whether a register changed when the switch had been off for more than the 30 ticks of delay that are free."""
    moves = np.concatenate([run.changes("duty"), run.changes("standby")])
    free = moves <= 2
    for start, length in pulses:
        free |= (moves >= start) & (moves <= start + length + 32)
    return not np.all(free)


def _why_swap(run, start, once):
    moves = run.changes("duty")
    if once == start:
        return "falls_back" if np.any((moves >= 100) & (moves < 190)) else "still"
    if once[0] == once[1]:
        return "copied"
    return "spare" if once[0] == start[1] else ""


# --- 01-e: a loop in space, a loop in time ---


class InSpace(Design):
    """The sum of the last n readings, in every tick."""

    reading = HostReg(unsigned(8))
    total = HostReg(unsigned(12), access="ro")

    def __init__(self, n):
        self.n = n
        self.last = Regs(unsigned(8), n)

    @clocked
    def add(self):
        self.last[0] = self.reading
        for i in range(1, self.n):
            self.last[i] = self.last[i - 1]
        total: unsigned(12) = 0
        for i in range(self.n):
            total = total + self.last[i]
        self.total = total


class InTime(Design):
    """The sum of n readings that come one after the other."""

    reading = HostReg(unsigned(8))
    total = HostReg(unsigned(12), access="ro")

    def __init__(self, n):
        self.n = n

    @sequenced
    def add(self):
        total: unsigned(12) = 0
        for _ in range(self.n):
            total = total + self.reading
            tick()
        self.total = total


def draw_loop(rng):
    return {"n": rng.integer(8, 15)}


def count_adders(netlist):
    """Adders as wide as the total."""
    return sum(node.op == "add" and node.type.width == 12 for node in netlist.nodes)


def ticks_per_total(netlist, n):
    """Ticks from one new total to the next, while a reading changes in every tick."""
    run = drive(netlist, 8 * n + 40, [(t, "reading", t % 200) for t in range(8 * n + 40)])
    return int(np.diff(run.changes("total"))[2])


def judge_loop(answer, mine, seed):
    n = mine.n
    space, time = compile_design(InSpace(n)), compile_design(InTime(n))
    wanted = {"space_adders": count_adders(space), "space_ticks": ticks_per_total(space, n),
              "time_adders": count_adders(time), "time_ticks": ticks_per_total(time, n)}
    for name, value in wanted.items():
        unit = "adders" if name.endswith("adders") else "ticks"
        yield Result(name, answer[name] == value, answer[name], None, unit, _why_loop(name, answer[name], n))


def _why_loop(name, found, n):
    if name == "space_adders":
        return "fence" if abs(found - n) <= 1 else ""
    if name == "time_ticks":
        return "handover" if abs(found - n) <= 2 else ""
    return ""


# --- 01-f: throughput ---


def draw_work(rng):
    taps, clock = rng.choice((24, 32, 48, 64)), rng.choice((80, 100, 120, 160))
    copies = round(3000 / clock * rng.choice((0.6, 0.7, 1.4, 1.6)))
    return {"taps": taps, "clock": clock, "rate": clock // 20 * rng.choice((3, 7, 9)), "copies": copies, "core": 3000}


def judge_work(answer, mine, seed):
    one = Fraction(mine.clock, mine.taps)
    found, hint = answer["one"], ""
    if abs(found - mine.clock) < 0.01 * mine.clock:
        hint = "clock_alone"
    elif abs(found - mine.clock * mine.taps) < 0.01 * mine.clock * mine.taps:
        hint = "upside_down"
    yield Result("one", abs(found - one) <= 0.01 * one, found, None, "MS/s", hint)
    work = Fraction(mine.rate * mine.taps, mine.clock)
    needed, found = -(-work.numerator // work.denominator), answer["needed"]
    hint = "round_up" if found in (needed - 1, needed + 1) else "all_taps" if found == mine.taps else ""
    yield Result("needed", found == needed, found, None, "multipliers", hint)
    best = "fabric" if mine.copies * mine.clock > mine.core else "core"
    yield Result("choice", answer["choice"] == best, answer["choice"])


# --- 01-g: reaction time ---


class Relays(Design):
    """One line in, two relays: one switched by the fabric, one by a program."""

    vibration = DigitalIn("switch")
    seen = HostReg(bit, access="ro")
    order = HostReg(bit)
    by_program = DigitalOut("fan A trip")
    by_fabric = DigitalOut("fan B trip")

    @clocked
    def watch(self):
        self.seen = self.vibration
        self.by_program = self.order
        self.by_fabric = self.vibration


def reactions(host, seed, count=100):
    """Reaction times in seconds: of the program on this host, and of the fabric."""
    bench = FanHouse(seed=seed)
    rig = load(Relays, bench, host=host)
    random = np.random.default_rng(seed)
    struck = []
    for _ in range(count):
        at = rig.now + us(20) + ns(int(random.integers(0, 50_000)))
        struck.append(at.seconds)
        bench.drive("switch", [(at, 1)])
        while not rig.host.seen:
            pass
        rig.host.order = 1
        bench.drive("switch", [(rig.ticks + 1, 0)])
        rig.run(ticks=8)
        rig.host.order = 0
    rig.run(ticks=8)
    return [rig.trace(relay).edges(1) / HZ - struck for relay in ("fan A trip", "fan B trip")]


SEEDS = tuple(range(1101, 1107))


@lru_cache(maxsize=2 * len(SEEDS))
def measured(host, seed):
    """The same, simulated once for each seed: many learners share one."""
    return reactions(host, seed)


DEADLINES = {"in_2_ms": 2e-3, "in_50_us": 50e-6, "in_200_ns": 200e-9}


def draw_reaction(rng):
    return {"seed": rng.choice(SEEDS), "own_us": rng.choice((2, 4, 100, 400))}


def judge_reaction(answer, mine, seed):
    desktop, fabric = measured("desktop", mine.seed)
    real_time, _ = measured("real-time", mine.seed)
    late, found = 100 * float(np.mean(desktop > 2e-3)), answer["late_percent"]
    hint = "share" if abs(100 * found - late) <= 1.5 else "early" if abs(100 - found - late) <= 1.5 else ""
    yield Result("late", abs(found - late) <= 1.5, found, None, "%", hint)
    worst, found = 1e6 * float(real_time.max()), answer["worst_us"]
    typical = abs(found - 1e6 * float(np.median(real_time))) < 2 or abs(found - 1e6 * float(real_time.mean())) < 2
    hint = "unit" if abs(1e6 * found - worst) <= 0.02 * worst else "typical" if typical else ""
    yield Result("worst", abs(found - worst) <= 0.02 * worst, found, None, "us", hint)
    times = {"desktop": desktop, "real-time": real_time, "fabric": fabric}
    for name, limit in {**DEADLINES, "in_own": mine.own_us * 1e-6}.items():
        slowest = next((who for who, took in times.items() if took.max() <= limit), "none")
        yield Result(name, answer[name] == slowest, answer[name], None, "", _why_choice(answer[name], slowest, times, limit))


def _why_choice(found, slowest, times, limit):
    if found == "none":
        return "who"
    if times[found].max() <= limit:
        return "faster_than_needed"
    return "sometimes" if times[found].min() < limit else "who"


# --- 01-h: the program crashes ---


class Station(Design):
    """Some jobs are done by the fabric, some by the program; which is which can be chosen."""

    vibration = DigitalIn("switch")
    lamp = DigitalOut("lamp")
    trip = DigitalOut("fan B trip")
    speed = AnalogOut("fan A speed")
    set_lamp = HostReg(bit)
    set_trip = HostReg(bit)
    set_speed = HostReg(signed(16))
    vibrates = HostReg(bit, access="ro")
    age = HostReg(unsigned(16), access="ro", unit="ms")
    blink = Reg(bit)

    def __init__(self, lamp_by, trip_by):
        self.lamp_by = lamp_by
        self.trip_by = trip_by

    @sequenced(every=ms(1))
    def each_ms(self):
        self.age = self.age + 1
        self.blink = not self.blink

    @clocked
    def outputs(self):
        self.vibrates = self.vibration
        self.speed = self.set_speed
        self.lamp = self.blink if self.lamp_by == "fabric" else self.set_lamp
        self.trip = self.vibration if self.trip_by == "fabric" else self.set_trip


def draw_station(rng):
    lamp_by, trip_by = rng.choice((("fabric", "program"), ("program", "fabric")))
    return {"lamp_by": lamp_by, "trip_by": trip_by, "speed": 500 * rng.integer(16, 50)}


CRASH = 200_000
"""Tick in which the program of the check crashes: 5 ms."""


def judge_station(answer, mine, seed):
    beats = [(40_000 * k + 20_000, "set_lamp", k % 2) for k in range(5)]
    host = [(100, "set_speed", mine.speed), *beats]
    netlist = compile_design(Station(mine.lamp_by, mine.trip_by))
    run = drive(netlist, CRASH + 240_000, [*host, (CRASH + 100_000, "switch", 1)])
    for name in ("lamp", "trip", "speed", "age"):
        trace = run.trace(name)
        after = trace.ticks > CRASH
        held = run.at(name, CRASH + 239_000)
        state = "goes on" if after.any() else "holds" if name == "speed" and held == mine.speed else "stops"
        yield Result(name, answer[name] == state, answer[name], None, "", _why_state(name, answer[name], state))


def _why_state(name, found, state):
    if name == "speed":
        return "register"
    return "fabric_needs_nobody" if state == "goes on" else "nobody_writes"


# --- 01-i: when a fixed chip pays ---


def draw_chip(rng):
    fpga, chip = rng.integer(36, 48), rng.integer(6, 12)
    masks = 50_000 * rng.integer(12, 30)
    download = rng.integer(1, 3)
    volume = masks * rng.choice((15, 18, 40, 50)) // (10 * (fpga - chip)) // 100 * 100
    return {"fpga": fpga, "chip": chip, "masks": masks, "volume": volume, "download": download,
            "exchange": download + rng.integer(3, 9)}


def _fpga(mine, pieces, upgrades=0):
    return pieces * (mine.fpga + upgrades * mine.download)


def _chip(mine, pieces, upgrades=0):
    return (1 + upgrades) * mine.masks + pieces * (mine.chip + upgrades * mine.exchange)


def judge_chip(answer, mine, seed):
    pieces = next(v for v in range(mine.masks // mine.fpga, 10**9) if _chip(mine, v) <= _fpga(mine, v))
    found, hint = answer["break_even"], ""
    if abs(found - mine.masks / mine.fpga) <= 1:
        hint = "difference"
    yield Result("break_even", abs(found - pieces) <= 1, found, None, "pieces", hint)
    for name, total in (("fpga_upgrade", _fpga), ("chip_upgrade", _chip)):
        wanted, found = total(mine, mine.volume, 1) - total(mine, mine.volume), answer[name]
        hint = "masks_again" if name == "chip_upgrade" and found == mine.volume * mine.exchange else ""
        hint = "extra" if found == total(mine, mine.volume, 1) else hint
        yield Result(name, abs(found - wanted) <= 0.001 * wanted, found, None, "euros", hint)
    best = "chip" if _chip(mine, mine.volume, 1) < _fpga(mine, mine.volume, 1) else "fpga"
    yield Result("choice", answer["choice"] == best, answer["choice"])


# --- what the learners are asked, and the hints ---

STILL = Hint(
    "Does the output ever become anything but 0?",
    "An output has the value that its loop assigns to it; a line that is missing leaves it at its start value.",
    "self.lamp = table(0b1110, self.a, self.b) gives the lamp a value in every tick.",
)
INVERTED = Hint(
    "Compare the first row with what is wanted. And the second?",
    "Every row is the opposite of the right one: a 1 in the table means that the output is 1 there.",
    "A gate that is 1 only in row 2 of 0 to 3 is 0b0100, not 0b1011.",
)
CHOICES = answers.Text(("desktop", "real-time", "fabric", "none"))
STATES = answers.Text(("goes on", "holds", "stops"))


def host_reg(name, access, kind=""):
    return answers.Port("host_reg", name=name, access=access, type=kind)


lab = Lab(
    "01_gates_to_fabric",
    "From gates to the fabric",
    [
        Exercise(
            "01-a",
            "Fill a look-up table",
            points=3,
            objective="fill a look-up table so that it is the gate that you want",
            kind=answers.Record(gate=answers.Number(whole=True), pick=answers.Number(whole=True),
                                rule=answers.Number(whole=True)),
            parameters=draw_tables,
            judge=judge_tables,
            answer="tables",
            criteria=[
                Criterion("gate", "the gate of two inputs is right in all rows", points=1, hint="rows"),
                Criterion("pick", "the selector is right in all rows", points=1, hint="rows"),
                Criterion("rule", "the rule is right in all rows", points=1, hint="rows"),
            ],
            hints={
                "rows": Hint(
                    "Which row is the first one that you filled in differently from what the words say?",
                    "Write all rows on paper: the row's number, its inputs, the output. Then read the outputs from the last "
                    "row down to row 0: that is the number in binary.",
                    "1 if a is 1 and b is 0: rows 0 to 3 give 0, 1, 0, 0. From row 3 down to row 0: 0b0010.",
                ),
                "mirrored": Hint(
                    "At which end of the number stands row 0?",
                    "Row 0 is the rightmost digit, the one that counts 1. Your table is the right one, read from the wrong end.",
                    "Rows 0 to 3 with outputs 1, 1, 0, 1 are 0b1011: the first row is the last digit.",
                ),
                "order": Hint(
                    "Which input counts 1 in the row's number, and which one counts 4?",
                    "The first input is the lowest bit of the row's number: row = a + 2 b + 4 c.",
                    "Row 3 is a = 1, b = 1, c = 0. Row 6 is a = 0, b = 1, c = 1.",
                ),
                "inverted": INVERTED,
                "bits": Hint(
                    "How many rows does a table with this number of inputs have?",
                    "n inputs have 2**n rows, and each row is one bit: 4 bits for two inputs, 8 bits for three.",
                    "The largest table of two inputs is 0b1111 = 0xF: always 1.",
                ),
            },
        ),
        Exercise(
            "01-b",
            "A full adder from two tables",
            points=3,
            objective="build an adder from look-up tables",
            kind=answers.Design(ports=[host_reg("a", "rw"), host_reg("b", "rw"), host_reg("carry_in", "rw"),
                                       host_reg("total", "ro"), host_reg("carry_out", "ro")]),
            judge=judge_full,
            answer="FullAdder",
            criteria=[
                Criterion("total", "total is right for all eight inputs", points=1.5, hint="count"),
                Criterion("carry", "carry_out is right for all eight inputs", points=1.5, hint="count"),
            ],
            hints={
                "still": STILL,
                "inverted": INVERTED,
                "count": Hint(
                    "How many of the three inputs are 1 in the row that is wrong?",
                    "Count the ones of a row and write the count in binary, two digits: the right digit is total, the left "
                    "one is carry_out.",
                    "Two ones: 2 is 10 in binary, so total is 0 and carry_out is 1.",
                ),
                "or": Hint(
                    "What is 1 + 1, and what does your total say?",
                    "total is the lower digit of the count, so with two ones it must be 0. An OR gives 1 there.",
                    "Ones 0, 1, 2, 3: lower digit 0, 1, 0, 1.",
                ),
                "carry_forgotten": Hint(
                    "Does your output change when only carry_in changes?",
                    "The carry from the place below counts like the other two inputs. The rows 4 to 7 are those with carry_in = 1.",
                    "a = 0, b = 1, carry_in = 1 is row 6: two ones.",
                ),
                "all_three": Hint(
                    "What is carried when two of the three inputs are 1?",
                    "Two ones are enough: 2 is 10 in binary. Your carry_out waits for the third.",
                    "In decimal, 7 + 5 carries: the sum of one place only has to reach 10.",
                ),
                "any": Hint(
                    "What is carried when a single input is 1?",
                    "One alone is written in its own place and carries nothing.",
                    "0 + 1 is 01: the left digit is 0.",
                ),
            },
        ),
        Exercise(
            "01-c",
            "A ripple adder",
            points=4,
            objective="build an adder from look-up tables",
            kind=answers.Design(ports=[host_reg("a", "rw"), host_reg("b", "rw"), host_reg("total", "ro")]),
            parameters=draw_width,
            judge=judge_ripple,
            answer="RippleAdder",
            criteria=[
                Criterion("plain", "numbers that need no carry are added", points=1, hint="places"),
                Criterion("carry", "a carry goes on to the places above", points=1, hint="chain"),
                Criterion("top", "the last carry is the highest bit of the total", points=1, hint="last_carry"),
                Criterion("tables", "it is made of tables, without + or -", points=1, hint="tables"),
            ],
            hints={
                "still": STILL,
                "places": Hint(
                    "Add 1 and 2. In which places do the ones of your total stand?",
                    "Place i of the total is made from a[i] and b[i]. cat(new, word) puts the new bit above the ones that are there.",
                    "Bits 1, 0, 1 from the lowest up: word = 1, then cat(0, word) = 01, then cat(1, word) = 101, which is 5.",
                ),
                "chain": Hint(
                    "Follow one carry on paper. Which line makes it, and which line uses it?",
                    "Each place uses the carry of the place below and makes the one for the place above: the name carry is "
                    "used first and assigned afterwards.",
                    "3 + 1: place 0 carries 1, place 1 adds 1 + 0 + 1 and carries 1, place 2 writes it: 100.",
                ),
                "no_carry": Hint(
                    "What does your adder make of 1 + 1?",
                    "Without carries it is a row of XOR gates. Each place needs three inputs: a[i], b[i] and the carry from below.",
                    "1 + 1: place 0 writes 0 and hands 1 to place 1.",
                ),
                "one_place": Hint(
                    "What happens in a place that gets a carry and has a single 1 itself?",
                    "Its count is two, so it carries as well. The carry must be made from three inputs, not from a[i] and b[i] alone.",
                    "7 + 1: the carry of place 0 makes place 1 carry, that makes place 2 carry.",
                ),
                "last_carry": Hint(
                    "Where does the carry of the highest place go?",
                    "The sum of two n-bit numbers can need n + 1 bits. The carry that is left over after the last place is that bit.",
                    "2 bits: 2 + 2 = 100. The places write 00, the carry left over is the 1.",
                ),
                "widths": Hint(
                    "How many bits do a, b and total need?",
                    "a and b have n bits, total has one more.",
                    "3 bits: 7 + 7 = 14 needs 4 bits.",
                ),
                "tables": Hint(
                    "Is there a + or a - left in the design?",
                    "This exercise is about what is under the +. Use table() for each place, or other gates.",
                    "A sum of two bits without carry is table(0b0110, a, b).",
                ),
            },
        ),
        Exercise(
            "01-d",
            "Two registers that swap",
            points=3,
            objective="say what registers do in one tick, and use it",
            kind=answers.Design(ports=[answers.Port("digital_in", terminal="switch"), host_reg("duty", "ro"),
                                       host_reg("standby", "ro")]),
            parameters=draw_swap,
            judge=judge_swap,
            answer="Handover",
            criteria=[
                Criterion("start", "the registers start with your two numbers", points=1, hint="start"),
                Criterion("swap", "one tick of the switch swaps them", points=1, hint="old"),
                Criterion("every", "they swap in every tick in which it is on", points=1, hint="every"),
            ],
            hints={
                "start": Hint(
                    "Which value has a register before anybody has assigned to it?",
                    "Its start value: reset= in its declaration. A register without one starts at 0 in this kit, and a real chip may differ.",
                    "Reg(unsigned(8), reset=17) is 17 in tick 0.",
                ),
                "exchanged": Hint(
                    "Which number belongs to which register in the beginning?",
                    "duty starts with the first of your two numbers, standby with the second.",
                    "duty = HostReg(unsigned(8), access=\"ro\", reset=17) starts as 17.",
                ),
                "old": Hint(
                    "Freeze the clock before the swap. What are the two old values?",
                    "Write both old values down; each register then takes one of them, both in the same moment.",
                    "Old 4 and 9. The first takes 9, the second takes 4. Nobody has seen a new value yet.",
                ),
                "still": STILL,
                "idle": Hint(
                    "What do your registers do while the switch is off?",
                    "They swap in every tick, since nothing asks for the switch. Only what stands under an if depends on it.",
                    "if self.switch: and below it, indented, the two assignments.",
                ),
                "falls_back": Hint(
                    "What do your registers do in the tick after the switch has gone off?",
                    "They swapped, and were then set back. A register that is not assigned keeps its value: leave out the else.",
                    "On for one tick: 4 and 9 become 9 and 4, and stay so until somebody assigns again.",
                ),
                "copied": Hint(
                    "Which value of the first register does your second line read?",
                    "Both registers hold the same: the second line was done after the first one's change. Two assignments "
                    "of the same tick both read old values, so put no tick and no wire between them.",
                    "With a tick() between: tick 0 first = 9, tick 1 second = first, which is 9 by now.",
                ),
                "spare": Hint(
                    "When does a third register show what you put into it?",
                    "One tick later. A spare register hands on an old value; a swap needs none.",
                    "spare = 4 assigned in tick 5 can be read as 4 in tick 6. Whoever reads it in tick 5 gets what was there before.",
                ),
                "every": Hint(
                    "With the switch on for 2 ticks, how many swaps are there? And for 3?",
                    "A clocked loop does its body in every tick: ask in it whether the switch is on now.",
                    "On for 3 ticks: swap, swap back, swap.",
                ),
                "edge": Hint(
                    "Does your design count presses, or ticks?",
                    "It swaps once for each press. The task wants one swap for each tick in which the switch is on.",
                    "On for 2 ticks: there and back, nothing has changed.",
                ),
            },
        ),
        Exercise(
            "01-e",
            "Copied in space, or reused in time",
            points=4,
            objective="tell a loop that costs hardware from a loop that costs time",
            kind=answers.Record(space_adders=answers.Number(whole=True), space_ticks=answers.Number(whole=True),
                                time_adders=answers.Number(whole=True), time_ticks=answers.Number(whole=True)),
            parameters=draw_loop,
            judge=judge_loop,
            answer="loops",
            criteria=[
                Criterion("space_adders", "adders in the loop copied in space", points=1, hint="adders"),
                Criterion("space_ticks", "ticks from total to total, in space", points=1, hint="one_tick"),
                Criterion("time_adders", "adders in the loop reused in time", points=1, hint="reused"),
                Criterion("time_ticks", "ticks from total to total, in time", points=1, hint="steps"),
            ],
            hints={
                "adders": Hint(
                    "How many additions does the one tick hold?",
                    "No tick lies between the additions, so none of them can wait for another one's adder: each has its own.",
                    "a + b + c in one tick takes two adders.",
                ),
                "fence": Hint(
                    "How many plus signs does a sum of two values have? Of three?",
                    "A sum of n values has n - 1 plus signs. Adding the first value to 0 needs no adder.",
                    "6 values: 5 adders.",
                ),
                "one_tick": Hint(
                    "How many clock edges lie between the values and their total?",
                    "A loop without tick() in it takes no time of its own. It is finished in the tick in which it begins.",
                    "A clocked loop has a new result in each tick, whatever its for loop counts to.",
                ),
                "reused": Hint(
                    "How many values are added in one tick?",
                    "One addition in a tick needs one adder; in the next tick the same adder is free again. "
                    "(The counter i is narrow and is not counted here.)",
                    "A cash desk adds all goods of a day, with one adder.",
                ),
                "steps": Hint(
                    "How many tick() does one turn of the loop pass?",
                    "Each addition takes a tick, and the turn ends in a tick of its own.",
                    "4 values took 5 ticks, as you saw; 20 values take 21.",
                ),
                "handover": Hint(
                    "In the example of 4 values, how many ticks lay between two totals?",
                    "One for each value, and one in which the total is handed over and the turn ends.",
                    "4 values: 5 ticks. 20 values: 21 ticks.",
                ),
            },
        ),
        Exercise(
            "01-f",
            "Throughput",
            points=3,
            objective="work out a throughput from the clock and the parallel work",
            kind=answers.Record(one=answers.Number(unit="MS/s"), needed=answers.Number(whole=True),
                                choice=answers.Text(("fabric", "core"))),
            parameters=draw_work,
            judge=judge_work,
            answer="work",
            criteria=[
                Criterion("one", "the sample rate of one multiplier", points=1, hint="rate"),
                Criterion("needed", "the number of multipliers for your rate", points=1, hint="needed"),
                Criterion("choice", "the faster of the two", points=1, hint="choice"),
            ],
            hints={
                "rate": Hint(
                    "How many ticks does one result take with one multiplier?",
                    "Results per second = ticks per second x multipliers / multiplications per result.",
                    "50 MHz, 10 multiplications per result, one multiplier: 5 million results a second.",
                ),
                "clock_alone": Hint(
                    "How many multiplications does one result need, and how many are done in a tick?",
                    "The clock alone says how often something is done, not how much. One multiplier does one product in a tick.",
                    "50 MHz, 10 multiplications per result: a result every 10 ticks, 5 million a second.",
                ),
                "upside_down": Hint(
                    "Can a result that needs many multiplications come more often than the clock ticks?",
                    "More work per result makes results rarer: divide by the multiplications per result.",
                    "10 multiplications at 50 MHz: 5 MS/s, not 500.",
                ),
                "needed": Hint(
                    "How many multiplications a second does your rate ask for?",
                    "Samples per second x multiplications per sample; then divide by what one multiplier does in a second.",
                    "4 MS/s x 30 = 120 million a second. At 50 MHz that is 2.4 multipliers' work, so 3.",
                ),
                "round_up": Hint(
                    "Is your multipliers' work a second at least what the rate asks for?",
                    "There is no half multiplier. Whatever is left over needs one more; an exact fit needs none more.",
                    "2.4 multipliers' work needs 3 of them, and 2.0 needs 2.",
                ),
                "all_taps": Hint(
                    "How many ticks are there from one sample to the next?",
                    "One multiplier for each product is needed only if a sample comes in every tick. Here there is time to reuse them.",
                    "A sample every 5 ticks and 30 products: 6 multipliers, each used 5 times.",
                ),
                "choice": Hint(
                    "How many multiplications does each of the two do in a microsecond?",
                    "Clock in MHz x multipliers working at once. The faster clock may lose.",
                    "20 multipliers at 50 MHz: 1000 in a microsecond; a core of 800 MHz that does one in each period: 800.",
                ),
            },
        ),
        Exercise(
            "01-g",
            "Who may trip the relay",
            points=6,
            objective="measure reaction times and choose who may meet a deadline",
            kind=answers.Record(late_percent=answers.Number(unit="%"), worst_us=answers.Number(unit="us"), in_2_ms=CHOICES,
                                in_50_us=CHOICES, in_200_ns=CHOICES, in_own=CHOICES),
            parameters=draw_reaction,
            judge=judge_reaction,
            answer="reaction",
            criteria=[
                Criterion("late", "how many of the desktop's reactions took longer than 2 ms", points=1, hint="late"),
                Criterion("worst", "the longest reaction of the real-time host", points=1, hint="worst"),
                Criterion("in_2_ms", "the choice for 2 ms", points=1, hint="who"),
                Criterion("in_50_us", "the choice for 50 us", points=1, hint="who"),
                Criterion("in_200_ns", "the choice for 200 ns", points=1, hint="who"),
                Criterion("in_own", "the choice for your own deadline", points=1, hint="who"),
            ],
            hints={
                "late": Hint(
                    "Which of the measured times are longer than 2 ms?",
                    "desktop > 2e-3 is an array of True and False; its mean is the share of True.",
                    "np.mean(np.array([1, 5, 2, 9]) > 4) is 0.5, which is 50 %.",
                ),
                "share": Hint(
                    "Is your number a share or a percentage?",
                    "The answer is asked in per cent: a half is 50.",
                    "A share of 0.07 is 7 %.",
                ),
                "early": Hint(
                    "Did you count the late ones, or the ones in time?",
                    "The two shares add up to 100 %. The task asks for those that took longer than 2 ms.",
                    "Of 20 reactions 3 are in time: 85 % are late.",
                ),
                "worst": Hint(
                    "Which of the measured times is the longest?",
                    "real_time.max() gives it in seconds; a second has 1 000 000 us.",
                    "0.000012 s is 12 us.",
                ),
                "typical": Hint(
                    "Which reaction of the relay will the blade care about?",
                    "You gave a typical time. A deadline is missed by the longest one, so that is the one to ask for.",
                    "Times 3, 4, 4, 11 us: typical 4, worst 11.",
                ),
                "unit": Hint(
                    "In which unit are the measured times, and in which is the answer wanted?",
                    "The times are in seconds; the answer is wanted in microseconds.",
                    "0.000012 s is 12 us.",
                ),
                "who": Hint(
                    "What is the longest reaction of each of the three, in the unit of the deadline?",
                    "Go from the slowest to the fastest and stop at the first one whose longest reaction is within the deadline.",
                    "Longest 30 ms, 40 us, 90 ns; deadline 1 ms: the desktop is out, the real-time host is the slowest that may.",
                ),
                "sometimes": Hint(
                    "Were all of its reactions in time, or only some?",
                    "A relay that trips in time in some of the cases is a relay that does not protect. The longest reaction decides.",
                    "99 of 100 reactions in 1 ms and one in 12 ms: for a deadline of 2 ms this host is out.",
                ),
                "faster_than_needed": Hint(
                    "Is there a slower one that is always in time too?",
                    "The question is for the slowest one that may. What is faster than needed costs more: a pin, a design, a test.",
                    "Deadline 1 s, longest reactions 30 ms, 40 us, 90 ns: the desktop will do, as far as this measurement says.",
                ),
            },
        ),
        Exercise(
            "01-h",
            "The program crashes",
            points=4,
            objective="say what goes on when the program on the host crashes",
            kind=answers.Record(lamp=STATES, trip=STATES, speed=STATES, age=STATES),
            parameters=draw_station,
            judge=judge_station,
            answer="crashed",
            criteria=[
                Criterion("lamp", "the blinking lamp", points=1, hint="path"),
                Criterion("trip", "the trip relay", points=1, hint="path"),
                Criterion("speed", "the speed command", points=1, hint="register"),
                Criterion("age", "the count of milliseconds", points=1, hint="path"),
            ],
            hints={
                "path": Hint(
                    "Which way does the signal take from its beginning to the output, and who stands in it?",
                    "If the whole way lies in the design, the program is not missed. If one step is the program's, it is missed for ever.",
                    "Button to design to program to design to horn: one step is the program's, so the horn stays as it is.",
                ),
                "fabric_needs_nobody": Hint(
                    "Is the program needed anywhere between cause and effect?",
                    "The loops of a design run as long as the chip has power and a clock. They do not notice that a program is gone.",
                    "A counter in the design counts on through the night while the computer restarts.",
                ),
                "nobody_writes": Hint(
                    "Who would have to write the register, and does anybody still write it?",
                    "What a program decides anew each time stops with the program: nobody makes the next decision.",
                    "A program that switches a horn on and off: after the crash the horn stays as it was.",
                ),
                "register": Hint(
                    "The program wrote this number once. Where is the number now?",
                    "It lies in a register of the design, and a register keeps its value until somebody writes another one. "
                    "Nothing new comes, and nothing gets lost.",
                    "A set-point of 40 % written in the morning is still 40 % in the evening, for better or worse.",
                ),
            },
        ),
        Exercise(
            "01-i",
            "When a fixed chip pays",
            points=4,
            objective="work out when a fixed chip pays, with and without a change in the field",
            kind=answers.Record(break_even=answers.Number(unit="pieces"), fpga_upgrade=answers.Number(unit="euros"),
                                chip_upgrade=answers.Number(unit="euros"), choice=answers.Text(("fpga", "chip"))),
            parameters=draw_chip,
            judge=judge_chip,
            answer="costs",
            criteria=[
                Criterion("break_even", "the number of pieces from which the chip is cheaper", points=1, hint="equal"),
                Criterion("fpga_upgrade", "the cost of one upgrade, FPGA", points=1, hint="upgrade_cost"),
                Criterion("chip_upgrade", "the cost of one upgrade, fixed chip", points=1, hint="upgrade_cost"),
                Criterion("choice", "the cheaper one, with one upgrade", points=1, hint="choice"),
            ],
            hints={
                "equal": Hint(
                    "For which number of pieces do both ways cost the same?",
                    "One-time cost = pieces x what is saved on each piece.",
                    "Masks for 90 000 euros, 20 euros saved on each piece: 4500 pieces.",
                ),
                "difference": Hint(
                    "Is a piece of the fixed chip free?",
                    "What counts is the difference of the two prices per piece, not the price of the FPGA.",
                    "30 euros against 10 euros: 20 euros saved on each piece.",
                ),
                "upgrade_cost": Hint(
                    "What has to be paid once, and what for each device?",
                    "One upgrade = what is paid once for it + number of devices x what is paid for each.",
                    "1000 devices at 4 euros each: 4000 euros; if masks for 90 000 euros come on top: 94 000 euros.",
                ),
                "masks_again": Hint(
                    "Where does the changed chip come from?",
                    "A changed fixed chip needs new masks: the one-time cost comes once more.",
                    "Masks for 90 000 euros and 1000 devices at 8 euros: 98 000 euros.",
                ),
                "extra": Hint(
                    "Is this the cost of the upgrade, or of everything?",
                    "Asked is only what the upgrade adds. The first masks and the first pieces are paid in any case.",
                    "Without upgrade 120 000 euros, with it 126 000 euros: the upgrade costs 6000 euros.",
                ),
                "choice": Hint(
                    "What do both ways cost in all, for your number of pieces, with one upgrade?",
                    "Add: one-time costs, pieces, and one upgrade. Beyond the break-even the chip may still lose, once it has to be changed.",
                    "Chip 90 000 + 50 000 + 98 000 = 238 000; FPGA 150 000 + 4000 = 154 000: the FPGA.",
                ),
            },
        ),
    ],
)
