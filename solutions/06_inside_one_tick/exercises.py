"""Exercises of lab 06, "Inside one tick".  All numbers are invented.

Nothing here holds an answer: a check runs the design that it is given, or a copy of one that the notebook shows, and measures.
Clock rates are those of the estimate; the limits leave more room than the estimate is off.
"""

from __future__ import annotations

import functools

import numpy as np

from simkit import Design, HostReg, Regs, bits, clocked, compile_design, resize, signed, unsigned
from simkit.build import estimate
from simkit.check import AnswerFault, Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, flip_flops


def mhz(netlist):
    """Rate of the fabric clock that the estimate expects."""
    return float(estimate(netlist).rates_mhz["fabric"])


def seen(run, name):
    """Value of an output or host register in every tick."""
    trace = run.trace(name)
    return np.asarray(trace.values)[np.searchsorted(trace.ticks, np.arange(run.ticks), "right") - 1]


def faster(netlist, least):
    reached = mhz(netlist)
    return reached >= least, f"about {reached:.0f}"


# --- 06-a: count the logic ---


class Excess(Design):
    """By how much the power of fan B's bearing is above its limit: the design of exercise 06-a."""

    x = HostReg(signed(16))
    gain = HostReg(signed(16))
    trim = HostReg(signed(16))
    limit = HostReg(signed(36))
    over = HostReg(signed(36), access="ro")
    taps = Regs(signed(16), 8)

    def __init__(self, n):
        self.n = n

    @clocked
    def go(self):
        self.taps[0] = self.x
        for i in range(1, self.n):
            self.taps[i] = self.taps[i - 1]
        total = resize(self.taps[0], signed(20))
        for i in range(1, self.n):
            total = total + self.taps[i]
        power = total * self.gain + self.x * self.trim
        self.over = power - self.limit if power > self.limit else 0


COUNTED = {"add", "sub", "mul", "lt", "le", "mux"}
"""What counts as an operator; joining, cutting and widening wires costs no logic."""


def operators(netlist, register):
    """How many operators stand before a register, and how many of them on the longest way from another register."""
    last = next(reg.next for reg in netlist.regs if reg.name == register)
    depth, counted = {}, set()

    def visit(index):
        if index not in depth:
            node = netlist.nodes[index]
            before = max((visit(a) for a in node.args), default=0)
            depth[index] = before + (node.op in COUNTED)
            if node.op in COUNTED:
                counted.add(index)
        return depth[index]

    longest = visit(last)
    return len(counted), longest


def draw_count(rng):
    return {"n": rng.integer(4, 8)}


def judge_count(answer, mine, seed):
    altogether, longest = operators(compile_design(Excess(mine.n)), "over")
    found = answer["longest"]
    hint = "altogether" if found == altogether else "off_by_one" if abs(found - longest) == 1 else ""
    yield Result("longest", found == longest, found, None, "operators", hint)
    found = answer["altogether"]
    hint = "off_by_one" if abs(found - altogether) == 1 else ""
    yield Result("altogether", found == altogether, found, None, "operators", hint)


# --- 06-b: the line that limits the clock ---

LINES = ("power", "loudest", "share")


class Station(Design):
    """Three results in one tick, of which some can be left out: the design of exercise 06-b."""

    x = HostReg(signed(16))
    gain = HostReg(signed(16))
    weight = HostReg(signed(16))
    level = HostReg(unsigned(16))
    whole = HostReg(unsigned(16), reset=1)
    power = HostReg(signed(48), access="ro")
    loudest = HostReg(unsigned(16), access="ro")
    share = HostReg(unsigned(16), access="ro")
    taps = Regs(unsigned(16), 10)

    def __init__(self, n, w, power=True, loudest=True, share=True):
        self.n = n
        self.w = w
        self.wanted = [power, loudest, share]

    @clocked
    def go(self):
        self.taps[0] = self.level
        for i in range(1, self.n):
            self.taps[i] = self.taps[i - 1]
        if self.wanted[0]:
            self.power = self.x * self.gain * self.weight
        if self.wanted[1]:
            best = self.taps[0]
            for i in range(1, self.n):
                best = max(best, self.taps[i])
            self.loudest = best
        if self.wanted[2]:
            part = bits(self.level, self.w - 1, 0)
            self.share = resize(part / bits(self.whole, self.w - 1, 0), unsigned(16))


CASES = ((3, 8), (8, 7), (3, 3), (9, 3), (4, 3), (6, 9))
"""Levels compared, and bits divided: each of the three lines is the slowest in some case, by 15 % or more."""


def draw_station(rng):
    n, w = rng.choice(CASES)
    return {"n": n, "w": w}


@functools.cache
def line_mhz(n, w, *lines):
    return mhz(compile_design(Station(n, w, **{line: line in lines for line in LINES})))


def judge_station(answer, mine, seed):
    slowest = sorted(LINES, key=lambda line: line_mhz(mine.n, mine.w, line))
    found = answer["limits"]
    yield Result("limits", found == slowest[0], found, None, "", "fastest" if found == slowest[2] else "")
    found = answer["next"]
    hint = "same" if found == answer["limits"] else ""
    yield Result("next", found == slowest[1], found, None, "", hint)
    after, now = line_mhz(mine.n, mine.w, *slowest[1:]), line_mhz(mine.n, mine.w, *LINES)
    found = answer["mhz"]
    hint = "before" if abs(found - now) < 0.05 * now else "ns" if abs(1e3 / max(found, 1e-9) - after) < 0.1 * after else ""
    yield Result("mhz", abs(found - after) < 0.1 * after, found, None, "MHz", hint)


# --- 06-c: a tree ---

TREE_MHZ = 70


def draw_tree(rng):
    return {"n": rng.integer(9, 12)}


def judge_tree(netlist, mine, seed):
    rng = Draw("tree", seed)
    levels = [rng.integer(0, 60_000) for _ in range(60)]
    run = drive(netlist, 100, [(5 + k, "level", level) for k, level in enumerate(levels)])
    level, shown = seen(run, "level"), seen(run, "loudest")
    wanted = np.array([level[max(t - mine.n + 1, 0) : t + 1].max() for t in range(run.ticks)])
    fits = [int(np.sum(shown[late:] == wanted[: len(wanted) - late])) + late for late in range(1, 9)]
    alive = bool(shown.any())
    late = fits.index(max(fits)) + 1
    right = [(0, 0), *((t + late, int(value)) for t, value in enumerate(wanted[: len(wanted) - late]))]
    yield Result("right", alive and max(fits) == run.ticks, f"right in {max(fits)} of {run.ticks} ticks" if alive else "it stays 0", "in all",
                 look=run.look("level", expected={"loudest": right}))
    single = drive(netlist, 60, [(10, "level", 50_000)]).changes("loudest")
    ticks = int(single[0]) - 11 if len(single) else None
    yield Result("ticks", ticks is not None and ticks <= 2, ticks, "at most 2", "ticks")
    met, found = faster(netlist, TREE_MHZ)
    yield Result("rate", met and alive, found, f"at least {TREE_MHZ}", "MHz")


# --- 06-d: a pipeline ---

SET = ("x", "gain", "offset", "weight")
WIDTHS = {"x": 9, "gain": 8, "offset": 17, "weight": 16}


def draw_pipeline(rng):
    return {"mhz": 5 * rng.integer(21, 24)}


def sets(rng, count):
    """Random input sets."""
    return [{name: rng.integer(-(2 ** (bits_ - 1)) + 1, 2 ** (bits_ - 1) - 1) for name, bits_ in WIDTHS.items()}
            for _ in range(count)]


def result_of(one):
    return (one["x"] * one["gain"] + one["offset"]) * one["weight"]


def fed(netlist, given, every, names=SET):
    """Sets written ``every`` ticks, from tick 9 on (so that they stand in the registers from tick 10 on)."""
    changes = [(9 + every * k, name, one[name]) for k, one in enumerate(given) for name in names]
    return drive(netlist, 9 + every * len(given) + 40, changes)


def comes_after(netlist, rng):
    """Ticks from a new x to its result, everything else standing still; None if nothing comes."""
    settings = [(1, "gain", 100), (1, "offset", rng.integer(1, 99)), (1, "weight", 300)]
    changed = drive(netlist, 120, [*settings, (59, "x", 77)]).changes("y")
    late = [int(tick) - 60 for tick in changed if tick >= 60]
    return late[0] if late else None


def right_with(netlist, given, every, latency, wanted):
    """How many results are right when a set stays for ``every`` ticks."""
    shown = seen(fed(netlist, given, every), "y")
    at = [10 + every * k + latency for k in range(len(given))]
    return sum(int(shown[t]) == want for t, want in zip(at, wanted, strict=True))


def judge_pipeline(answer, mine, seed):
    netlist, rng = answer["design"], Draw("pipeline", seed)
    given = sets(rng, 24)
    wanted = [result_of(one) for one in given]
    latency = comes_after(netlist, rng)
    if latency is None or latency > 24:
        raise AnswerFault("y shows nothing within 24 ticks of a new x", "chain")
    slow = seen(fed(netlist, given, 32), "y")
    good = sum(int(slow[10 + 32 * k + 31]) == want for k, want in enumerate(wanted))
    yield Result("right", good == len(given), f"{good} of {len(given)} right", "all", "")
    good = right_with(netlist, given, 1, latency, wanted)
    hint = "begin" if any(loop.kind == "sequenced" for loop in netlist.loops) else ""
    yield Result("together", good == len(given), f"{good} of {len(given)} right", "all", "", hint)
    met, found = faster(netlist, mine.mhz)
    yield Result("rate", met, found, f"at least {mine.mhz}", "MHz")
    found = answer["latency"]
    hint = "one_tick" if abs(found - latency) == 1 else ""
    yield Result("latency", found == latency, found, None, "ticks", hint)
    found, rate = answer["per_second"], mine.mhz * 1e6
    hint = "divided" if latency > 1 and abs(found * latency - rate) < 0.02 * rate else ""
    hint = "unit" if abs(found * 1e6 - rate) < 0.02 * rate else hint
    yield Result("throughput", abs(found - rate) < 0.02 * rate, found, None, "results a second", hint)


# --- 06-e: valid and ready ---


def draw_stall(rng):
    return {"gain": rng.integer(5, 40), "offset": rng.integer(100, 900)}


def pattern(rng, name, ticks, share):
    """Changes of a line that is 1 in about ``share`` of the ticks, at random."""
    return [(tick, name, int(rng.real(0, 1) < share)) for tick in range(5, ticks)]


def passed_on(netlist, mine, ticks, changes):
    """The numbers that the sink took, in order, the results expected, and how many were given."""
    run = drive(netlist, ticks, changes)
    taken, shown, given = seen(run, "taken"), seen(run, "out"), seen(run, "given")
    at = np.flatnonzero(np.diff(taken)) + 1
    found = [int(shown[t]) for t in at]
    steps = np.diff(taken)[at - 1]
    return found, [k * mine.gain + mine.offset for k in range(1, len(found) + 1)], run, bool(np.all(steps == 1)), given


def _first_wrong(found, wanted):
    for k, (a, b) in enumerate(zip(found, wanted, strict=True)):
        if a != b:
            return f"word {k + 1} is {a}, not {b}"
    return f"{len(found)} words right"


def judge_stall(netlist, mine, seed):
    rng = Draw("stall", seed)
    always = [(4, "offer", 1), (4, "ready", 1)]
    found, wanted, run, single, _ = passed_on(netlist, mine, 220, always)
    good = found == wanted and single and len(found) > 20
    yield Result("right", good, _first_wrong(found, wanted), "every word right")
    count = run.at("taken", 110) - run.at("taken", 30)
    yield Result("full", count == 80, count, "80 words in 80 ticks", "", "half" if 35 <= count <= 60 else "")
    gaps = [(4, "ready", 1), *pattern(rng, "offer", 150, 0.4), (150, "offer", 0)]
    found, wanted, run, _, given = passed_on(netlist, mine, 190, gaps)
    good = found == wanted and run.at("taken", 189) == int(given[-1]) and len(found) > 10
    shown = f"{run.at('taken', 189)} taken of {int(given[-1])} given; {_first_wrong(found, wanted)}"
    yield Result("gaps", good, shown, "as many as were given, all right")
    stalls = [*pattern(rng, "offer", 150, 0.6), *pattern(rng, "ready", 160, 0.5), (150, "offer", 0), (160, "ready", 1)]
    found, wanted, run, _, given = passed_on(netlist, mine, 200, stalls)
    lost = run.at("taken", 199) - int(given[-1])
    shown = f"{run.at('taken', 199)} taken of {int(given[-1])} given; {_first_wrong(found, wanted)}"
    hint = "twice" if lost > 0 else ""
    yield Result("stall", found == wanted and lost == 0 and len(found) > 10, shown, "as many as were given, all right", "", hint)
    yield _standing(netlist)


def _standing(netlist):
    """While the sink is not ready it takes nothing, and only what finds room is given."""
    run = drive(netlist, 160, [(4, "offer", 1), (4, "ready", 1), (60, "ready", 0)])
    moved, inside = run.at("taken", 150) - run.at("taken", 64), run.at("given", 150) - run.at("taken", 150)
    shown = f"{moved} taken while not ready, {inside} given but not taken"
    return Result("standing", moved == 0 and 0 <= inside <= 6, shown, "0 taken, at most 6 waiting inside")


# --- 06-f: the feedback loop ---

SMOOTH_MHZ = 130


def draw_smooth(rng):
    return {"gain": rng.integer(20, 90), "apart": rng.integer(6, 10)}


def smooth(codes, gain):
    """Levels after each code, as the task says."""
    level, rows = 0, []
    for code in codes:
        level += ((abs(code >> 8) - level) * gain) >> 8
        rows.append(level)
    return rows


def judge_smooth(netlist, mine, seed):
    rng, apart = Draw("smooth", seed), mine.apart
    codes = [rng.integer(-(2**23) + 1, 2**23 - 1) for _ in range(30)]
    start = rng.integer(20, 40)
    end = start + apart * len(codes)
    run = drive(netlist, end + 40 * apart, [(start + apart * k, "fan B bearing", code) for k, code in enumerate(codes)])
    shown = [run.at("level", start + apart * k + apart) for k in range(len(codes))]
    wanted = smooth(codes, mine.gain)
    wrong = sum(a != b for a, b in zip(shown, wanted, strict=True))
    hint = "interleaved" if shown[0] == wanted[0] else ""
    yield Result("samples", wrong == 0, f"{len(codes) - wrong} of {len(codes)} levels right", "all", "", hint)
    late, alive = seen(run, "level")[end:], len(run.changes("level")) > 0
    still = bool(np.all(late == late[0]))
    shown = "it never moves" if not alive else "it stands still" if still else "it moves"
    moved = end + int(np.argmax(late != late[0]))
    yield Result("silence", alive and still, shown, "it stands still, after it has moved", "", "",
                 lambda: run.look("level", at=moved, around=(end - apart, moved + apart), note="no sample comes any more"))
    met, found = faster(netlist, SMOOTH_MHZ)
    yield Result("rate", met and alive, found, f"at least {SMOOTH_MHZ}", "MHz")


# --- 06-g: one multiplier for four channels ---


def draw_shared(rng):
    return {"gains": [rng.integer(-30_000, 30_000) | 1 for _ in range(4)], "ticks": rng.integer(11, 14)}


def judge_shared(netlist, mine, seed):
    rng = Draw("shared", seed)
    rounds = [[rng.integer(-30_000, 30_000) for _ in range(4)] for _ in range(12)]
    at = [20 + 67 * k + rng.integer(0, 9) for k in range(len(rounds))]
    changes = [(tick, f"x{c}", xs[c]) for tick, xs in zip(at, rounds, strict=True) for c in range(4)]
    run = drive(netlist, at[-1] + 80, changes)
    wanted = [[x * g for x, g in zip(xs, mine.gains, strict=True)] for xs in rounds]
    late, soon = ([[run.at(f"y{c}", tick + 1 + ticks) for c in range(4)] for tick in at] for ticks in (55, mine.ticks))
    wrong = sum(a != b for found, want in zip(late, wanted, strict=True) for a, b in zip(found, want, strict=True))
    yield Result("products", wrong == 0, f"{48 - wrong} of 48 right", "all", "", _why_product(late, rounds, mine))
    early = sum(a != b for found, last in zip(soon, late, strict=True) for a, b in zip(found, last, strict=True))
    alive = any(any(row) for row in late)
    yield Result("ticks", alive and early == 0, f"{early if alive else 48} of 48 not there in time", f"all there after {mine.ticks} ticks")
    used = estimate(netlist).usage["multipliers"]
    yield Result("multipliers", alive and used <= 1, used, "at most 1", "multipliers")


def _why_product(found, rounds, mine):
    """A result that belongs to a neighbour: the marks of the steps and their data have got out of step."""
    for shift in (1, 2, 3):
        moved = [[xs[(c + shift) % 4] * mine.gains[(c + shift) % 4] for c in range(4)] for xs in rounds]
        mixed = [[xs[(c + shift) % 4] * mine.gains[c] for c in range(4)] for xs in rounds]
        other = [[xs[c] * mine.gains[(c + shift) % 4] for c in range(4)] for xs in rounds]
        if found in (moved, mixed, other):
            return "neighbour"
    return ""


# --- 06-h: three clocks ---

RATES = {"at_40": 40, "at_80": 80, "at_150": 150}
SETTINGS = ("gain", "offset", "weight", "limit")


def draw_three(rng):
    return {"limit": 1000 * rng.integer(2000, 9000)}


def judge_three(answer, mine, seed):
    rng = Draw("three", seed)
    latency = {name: comes_after_limit(answer[name], mine, rng) for name in RATES}
    bad = [name for name in RATES if latency[name] is None or not limited(answer[name], mine, rng, latency[name])]
    yield Result("right", not bad, f"wrong: {', '.join(bad)}" if bad else "all three right", "all three right")
    reached = {name: mhz(answer[name]) for name in RATES}
    slow = [name for name, asked in RATES.items() if reached[name] < asked]
    hint = "more" if slow == ["at_150"] else ""
    yield Result("rates", not slow, ", ".join(f"about {r:.0f}" for r in reached.values()), "at least 40, 80, 150", "MHz", hint)
    yield _cost(answer)
    times = {name: 1e3 / RATES[name] * (latency[name] or 0) for name in ("at_40", "at_150")}
    found = {name: answer[name.replace("at", "ns")] for name in times}
    ok = all(times[name] and abs(found[name] - times[name]) < 0.02 * times[name] for name in times)
    hint = "ticks" if any(abs(found[name] - (latency[name] or 0)) < 0.01 for name in times) else ""
    yield Result("latency", ok, ", ".join(f"{value:g}" for value in found.values()), None, "ns", hint)


def comes_after_limit(netlist, mine, rng):
    changed = drive(netlist, 120, [(1, "gain", 100), (1, "offset", rng.integer(1, 99)), (1, "weight", 30),
                                   (1, "limit", mine.limit), (59, "x", 77)]).changes("y")
    late = [int(tick) - 60 for tick in changed if tick >= 60]
    return late[0] if late else None


def limited(netlist, mine, rng, latency):
    """Whether a new x in each tick gives the right result in each tick, below the limit and above it."""
    xs = [rng.integer(-255, 255) for _ in range(40)]
    gain, offset, weight = rng.integer(60, 127), rng.integer(-20_000, 20_000), rng.integer(8000, 30_000)
    changes = [(1, "gain", gain), (1, "offset", offset), (1, "weight", weight), (1, "limit", mine.limit)]
    shown = seen(drive(netlist, 160, changes + [(59 + k, "x", x) for k, x in enumerate(xs)]), "y")
    wanted = [min((x * gain + offset) * weight, mine.limit) for x in xs]
    return [int(v) for v in shown[60 + latency : 100 + latency]] == wanted


def _cost(answer):
    size = [flip_flops(answer[name]) for name in RATES]
    ports = sum(end.type.width for end in answer["at_40"].endpoints if end.kind == "host_reg")
    hint = "registers" if size[0] > ports else ""
    return Result("cost", size[0] <= ports and size[0] < size[1] < size[2], ", ".join(map(str, size)) + " flip-flops",
                  f"{ports}, then more each time", "", hint)


# --- what the learners are asked, and the hints ---


def _reg(name, kind="", access="rw"):
    return answers.Port("host_reg", name=name, type=kind, access=access)


def _ports(*extra):
    names = [_reg(name, f"signed({width})") for name, width in WIDTHS.items()]
    return answers.Design(ports=[*names, *extra, _reg("y", "signed(34)", "ro")])


ONE_TICK = Hint(
    "In which tick does the value stand in its register, and in which tick does the result?",
    "Each register on the way costs one tick, the last one (the result) too; the one that you start from does not count.",
    "x | add | r | double | y: x shows 5 in tick 10, r shows 6 in tick 11, y shows 12 in tick 12. That is 2 ticks.",
)
PAIRS = Hint(
    "Which set does each of the two operands of your last line belong to?",
    "Count registers along every way from an input to the line: the counts must be equal. A value that is used one stage later "
    "needs a register of its own to wait in.",
    "a*b + c with the product in a register: c needs a register too. Without one, 2*10 of this tick meets the c of the next.",
)
CUT = Hint(
    "What stands between two neighbouring registers of your design now?",
    "Only a register between two operators cuts a way. One more register after the whole chain delays the result and leaves the "
    "longest way as it was.",
    "10 ns of logic and two registers after it: still 10 ns. A register in the middle: 5 ns and 5 ns.",
)

lab = Lab(
    "06_inside_one_tick",
    "Inside one tick",
    [
        Exercise(
            "06-a",
            "Count the logic",
            points=2,
            objective="count the logic between two registers",
            kind=answers.Record(longest=answers.Number(whole=True), altogether=answers.Number(whole=True)),
            parameters=draw_count,
            judge=judge_count,
            answer="count",
            criteria=[
                Criterion("longest", "the operators on the longest way are counted", points=1, hint="longest"),
                Criterion("altogether", "all operators before over are counted", points=1, hint="all"),
            ],
            hints={
                "longest": Hint(
                    "Which operator has to wait for which?",
                    "Start at over and go back, at each operator to the operand that comes last, until you are at a register.",
                    "(a + b) * c > d: the addition, then the product, then the comparison: 3 in a row.",
                ),
                "altogether": Hint(
                    "Do all operators wait for each other?",
                    "What stands side by side works at the same time. Only a chain adds up its delays.",
                    "a*b + c*d has 3 operators, and 2 on each way: one product, then the sum.",
                ),
                "off_by_one": Hint(
                    "How many additions do n numbers need? And is there something that chooses at the end?",
                    "n numbers need n - 1 additions. An if/else is an operator too: it waits for its condition.",
                    "Three numbers, added and compared, then one of two values chosen: 2 + 1 + 1 = 4 in a row.",
                ),
                "all": Hint(
                    "Which operators did you meet while reading, line by line?",
                    "Count each +, -, *, comparison and if/else once, and the loop's addition as often as the loop runs.",
                    "a + b - c if a > c else 0: one addition, one subtraction, one comparison, one choice: 4.",
                ),
            },
        ),
        Exercise(
            "06-b",
            "The line that limits the clock",
            points=3,
            objective="find the line that limits the clock",
            kind=answers.Record(limits=answers.Text(LINES), next=answers.Text(LINES), mhz=answers.Number(unit="MHz")),
            parameters=draw_station,
            judge=judge_station,
            answer="clock",
            criteria=[
                Criterion("limits", "the line that limits the clock is found", points=1, hint="limits"),
                Criterion("next", "so is the line that limits it after that", points=1, hint="next"),
                Criterion("mhz", "the rate without the first one is right", points=1, hint="mhz"),
            ],
            hints={
                "limits": Hint(
                    "What rate does each line reach alone?",
                    "Ask the estimate for the station with one line at a time. The slowest line sets the clock of all.",
                    "Lines that reach 90, 50 and 70 MHz alone: together they run at about 50 MHz.",
                ),
                "fastest": Hint(
                    "Is a high rate a long way or a short one?",
                    "The period is 1/rate: the line with the lowest rate has the longest way, and limits the clock.",
                    "20 MHz is 50 ns, 100 MHz is 10 ns.",
                ),
                "next": Hint(
                    "Leave out the first one. Which of the other two is slower?",
                    "Mending the slowest way only uncovers the next one.",
                    "Alone 90, 50 and 70 MHz: first the line of 50, then that of 70.",
                ),
                "same": Hint(
                    "Can a line that has been left out still limit anything?",
                    "`next` is the slowest of the two lines that remain.",
                    "Alone 90, 50 and 70 MHz: limits the 50, next the 70.",
                ),
                "mhz": Hint(
                    "Have you asked the estimate for the two remaining lines together?",
                    "Give False for the line that limits, and read the rate of the clock.",
                    "Station(5, 5, power=False) has the two lines loudest and share.",
                ),
                "before": Hint(
                    "Is that the rate with or without the slowest line?",
                    "This is the rate of the whole station. Asked is what it would be if the slowest line were done elsewhere.",
                    "Alone 90, 50 and 70 MHz: 50 with all three, 70 without the slowest.",
                ),
                "ns": Hint(
                    "Which unit is asked for?",
                    "1000 / (time in ns) is the rate in MHz.",
                    "12.5 ns are 80 MHz.",
                ),
            },
        ),
        Exercise(
            "06-c",
            "Balance a tree",
            points=3,
            objective="balance a tree",
            kind=answers.Design(ports=[_reg("level", "unsigned(16)"), _reg("loudest", "unsigned(16)", "ro")]),
            parameters=draw_tree,
            judge=judge_tree,
            answer="Loudest",
            criteria=[
                Criterion("right", "loudest is the largest of your last levels", points=1, hint="window"),
                Criterion("ticks", "it is there after 2 ticks", points=1, hint="ticks"),
                Criterion("rate", "it runs fast enough", points=1, hint="chain"),
            ],
            hints={
                "window": Hint(
                    "Does each of your levels take part, the first and the last too?",
                    "In a tree every number stands at exactly one leaf. An odd one out goes to the next row as it is.",
                    "5 numbers: two pairs and one alone; then a pair and one alone; then a pair.",
                ),
                "ticks": Hint(
                    "How many registers are there between level and loudest?",
                    "taps[0] is one, loudest the second. A tree needs no register inside.",
                    "level shows 7 in tick 10, taps[0] in tick 11, loudest in tick 12.",
                ),
                "chain": Hint(
                    "How many comparisons does the first number go through?",
                    "Pairs first, then pairs of winners: n numbers need as many rows as n can be halved, rounded up.",
                    "16 numbers: 8 pairs, 4, 2, 1: 4 comparisons in a row. As a chain: 15.",
                ),
            },
        ),
        Exercise(
            "06-d",
            "A pipeline",
            points=5,
            objective="pipeline a multiply-add chain, and state its latency and its throughput",
            kind=answers.Record(
                design=_ports(), latency=answers.Number(whole=True), per_second=answers.Number(unit="results a second")
            ),
            parameters=draw_pipeline,
            judge=judge_pipeline,
            answer="pipeline",
            criteria=[
                Criterion("right", "inputs that stand still give the right y", points=1, hint="chain"),
                Criterion("together", "a new set in each tick is not mixed with its neighbours", points=1, hint="pairs"),
                Criterion("rate", "it runs fast enough", points=1, hint="cut"),
                Criterion("latency", "its latency is stated", points=1, hint="latency"),
                Criterion("throughput", "its throughput is stated", points=1, hint="throughput"),
            ],
            hints={
                "chain": Hint(
                    "Does y hold (x * gain + offset) * weight, in enough bits?",
                    "Widen before you add: the sum of a 17-bit product and a 17-bit offset needs 18 bits.",
                    "100 * 100 + 30 000 is 40 000; in 16 signed bits it shows -25 536.",
                ),
                "pairs": PAIRS,
                "cut": CUT,
                "latency": ONE_TICK,
                "one_tick": ONE_TICK,
                "throughput": Hint(
                    "How often may a new set begin?",
                    "In a pipeline a new set begins in every tick, whatever the latency is.",
                    "50 MHz and 6 stages: 50 million results a second, each of them 6 ticks old.",
                ),
                "unit": Hint(
                    "Results a second, or millions of them?",
                    "A rate in MHz is a million times smaller than the same rate in results a second.",
                    "One result in each tick at 50 MHz: 50e6 results a second.",
                ),
                "begin": Hint(
                    "How often can your loop begin with a new set?",
                    "A sequenced loop does one set after the other; in a clocked loop with registers between the parts a new set begins in every tick.",
                    "A sequenced loop of three ticks takes every third set and never sees the others.",
                ),
                "divided": Hint(
                    "Two questions: when does the first result come, and how often the next?",
                    "The stages work on different sets at the same time, so latency does not divide the throughput.",
                    "A line of 6 workers, one piece a minute each: a piece takes 6 minutes, and each minute one is finished.",
                ),
            },
        ),
        Exercise(
            "06-e",
            "Valid and ready",
            points=5,
            objective="pass words from stage to stage with valid and ready, and stall",
            kind=answers.Design(
                ports=[_reg("offer", "bit"), _reg("ready", "bit"), _reg("given", "unsigned(8)", "ro"),
                       _reg("taken", "unsigned(8)", "ro"), _reg("out", "unsigned(16)", "ro")]
            ),
            parameters=draw_stall,
            judge=judge_stall,
            answer="Stall",
            criteria=[
                Criterion("right", "with no gap and no stall all words are right", points=1, hint="right"),
                Criterion("full", "a word moves in every tick", points=1, hint="full"),
                Criterion("gaps", "a gap in the offer is no word", points=1, hint="mark"),
                Criterion("stall", "no word is lost or doubled by stalls", points=1, hint="lost"),
                Criterion("standing", "while the sink is not ready, all stand still", points=1, hint="sink"),
            ],
            hints={
                "right": Hint(
                    "Which number is the first one given, and in which tick does taken change together with out?",
                    "The numbers are 1, 2, 3, ...: given + 1, and given counts them. out and taken change in the same tick.",
                    "gain 3, offset 10: out shows 13 when taken goes to 1, 16 when it goes to 2.",
                ),
                "full": Hint(
                    "May a stage take a new word in the tick in which it passes the old one on?",
                    "A stage has room if it is empty, or if the stage after it takes its word in this tick.",
                    "If a stage waits until it is empty, a word moves in every other tick only.",
                ),
                "half": Hint(
                    "May a stage take a new word in the tick in which it passes the old one on?",
                    "Room = empty, *or* the next stage takes the word in this very tick.",
                    "Two people hand on buckets: the left hand takes the next one while the right hand gives one away.",
                ),
                "mark": Hint(
                    "What moves along when no number is offered?",
                    "A valid mark goes through the same registers as the data. Only a valid word is counted by the sink.",
                    "Offered 1 0 1: the marks of a stage one tick later are 1 0 1. The word in the middle means nothing.",
                ),
                "lost": Hint(
                    "Is there a tick in which a stage takes a new word while the next one has not taken the old one?",
                    "Each stage asks the *next* stage whether it takes. A ready line skips no stage.",
                    "b full and the sink not ready: b keeps its word, so a must keep its own too.",
                ),
                "twice": Hint(
                    "Is there a tick in which a stage keeps a word that the next one has already taken?",
                    "A word moves if and only if both sides say so, in the same tick: the taker takes it, and the giver gives it up.",
                    "b empty, a full, the sink not ready: b takes the word, so a must become empty or take another.",
                ),
                "sink": Hint(
                    "In which ticks does the sink count?",
                    "A word moves in a tick in which valid and ready are both 1, and in no other.",
                    "valid 1 1 1, ready 0 1 0: one word has moved.",
                ),
            },
        ),
        Exercise(
            "06-f",
            "A loop that no pipeline helps",
            points=3,
            objective="mend a feedback loop that a pipeline would break",
            kind=answers.Design(
                ports=[answers.Port("analog_in", terminal="fan B bearing"), _reg("level", "signed(17)", "ro")]
            ),
            parameters=draw_smooth,
            judge=judge_smooth,
            answer="Smooth",
            criteria=[
                Criterion("samples", "after each sample the level is right", points=1, hint="formula"),
                Criterion("silence", "without a new sample the level stands still", points=1, hint="mark"),
                Criterion("rate", "it runs fast enough", points=1, hint="steps"),
            ],
            hints={
                "formula": Hint(
                    "Is the first level right? Try one sample by hand.",
                    "Upper 16 bits of the code, magnitude, minus level, times gain, shifted right by 8, added to level.",
                    "Gain 64, level 100, magnitude 200: (200 - 100) * 64 >> 8 = 25, so the level goes to 125.",
                ),
                "interleaved": Hint(
                    "Which level does the second sample start from: the one after the first sample, or an older one?",
                    "One turn of the loop takes several ticks now. New data may enter only when the turn before is over.",
                    "y = y + 1 with two ticks in the loop: 1 1 2 2 3 3. One new value every two ticks: 1 2 3.",
                ),
                "mark": Hint(
                    "How often does the level move per sample?",
                    "State may change only when a new sample is there: send accel.valid along with the data, through as many registers.",
                    "A level that moves in each of 10 ticks between two samples has moved 10 times as far as it should.",
                ),
                "steps": Hint(
                    "How many operators still stand between two registers?",
                    "Samples are several ticks apart, so magnitude and difference, product, and sum can have a tick each.",
                    "12 ns of logic in one tick: 80 MHz. In three ticks of 4 ns: about 220 MHz.",
                ),
            },
        ),
        Exercise(
            "06-g",
            "One multiplier for four channels",
            points=3,
            objective="share one multiplier between four channels",
            kind=answers.Design(
                ports=[*[_reg(f"x{c}", "signed(16)") for c in range(4)],
                       *[_reg(f"y{c}", "signed(32)", "ro") for c in range(4)]]
            ),
            parameters=draw_shared,
            judge=judge_shared,
            answer="Shared",
            criteria=[
                Criterion("products", "each channel gets its own product", points=1, hint="formula"),
                Criterion("ticks", "all four are there in time", points=1, hint="round"),
                Criterion("multipliers", "there is one multiplier", points=1, hint="one"),
            ],
            hints={
                "formula": Hint(
                    "Which channels are wrong?",
                    "Channel c: y = x times its own gain, in 32 bits, again and again.",
                    "Gains 3, 5, 7, 9 and x = 10 everywhere: 30, 50, 70, 90.",
                ),
                "neighbour": Hint(
                    "When the product is there, which channel does your counter point to?",
                    "If operands or product wait in a register, the channel number must wait just as long.",
                    "turn 0 1 2 3, product one tick later: the product of channel 0 is there while turn is 1.",
                ),
                "round": Hint(
                    "How many ticks does one round of the four channels take?",
                    "A channel may have to wait for a whole round, and then for its own product: plan 4 or 5 ticks a round.",
                    "A round of 5 ticks: the worst wait is 5 ticks, plus 2 for the product.",
                ),
                "one": Hint(
                    "How often does * stand in your circuit, after loops are copied out?",
                    "Choose the operands first, then multiply once. A * in each branch is a multiplier for each branch.",
                    "p = (a if first else b) * g has one; p = a*g if first else b*g may have two.",
                ),
            },
        ),
        Exercise(
            "06-h",
            "Three clocks",
            points=4,
            objective="meet 40, 80 and 150 MHz, and say what it costs",
            kind=answers.Record(
                **{name: _ports(_reg("limit", "signed(34)")) for name in RATES},
                ns_40=answers.Number(unit="ns"),
                ns_150=answers.Number(unit="ns"),
            ),
            parameters=draw_three,
            judge=judge_three,
            answer="three",
            criteria=[
                Criterion("right", "all three give the right y for a new x in each tick", points=1, hint="right"),
                Criterion("rates", "they reach 40, 80 and 150 MHz", points=1, hint="cut"),
                Criterion("cost", "each slower one has fewer flip-flops", points=1, hint="cost"),
                Criterion("latency", "the first and the last latency are right, in ns", points=1, hint="latency"),
            ],
            hints={
                "right": Hint(
                    "What does y show below the limit, and what above?",
                    "y is the smaller of the result and the limit. gain, offset, weight and limit stand still here; x does not.",
                    "Limit 50: results 20, 80, 49 show as 20, 50, 49.",
                ),
                "cut": CUT,
                "more": Hint(
                    "Which operators still share a tick in your fastest design?",
                    "6.7 ns hold one product, with room for hardly anything besides. Give every operator its own tick.",
                    "product 5 ns, sum 2 ns: one tick of 7 ns, or two of at most 5 ns.",
                ),
                "cost": Hint(
                    "Do all three need the registers that the fastest one has?",
                    "A register that the clock does not ask for costs flip-flops and a tick. Take out what is not needed.",
                    "One cut of 20 bits instead of three: 40 flip-flops saved.",
                ),
                "registers": Hint(
                    "At 40 MHz there are 25 ns. How long does the whole chain take?",
                    "If the chain fits in one period, it needs no register besides its inputs and its result.",
                    "12 ns of logic at 50 MHz: 20 ns are there, so no cut is needed.",
                ),
                "latency": Hint(
                    "How many ticks, and how long is a tick at that clock?",
                    "Latency in ns = ticks from x to y, times the period of the clock asked for: 25 ns, or 6.67 ns.",
                    "3 ticks at 100 MHz are 30 ns.",
                ),
                "ticks": Hint(
                    "Which unit is asked for?",
                    "Multiply the ticks by the period of the clock.",
                    "3 ticks at 100 MHz are 30 ns.",
                ),
            },
        ),
    ],
)
