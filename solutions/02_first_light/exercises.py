"""Exercises of lab 02, "First light".  All numbers are invented.

Nothing here holds an answer: a judge reads the parts list, or runs the design that it is given, and measures.
"""

from __future__ import annotations

import numpy as np

from simkit import Design, DigitalOut, HostReg, Reg, clocked, compile_design, unsigned
from simkit.bench import CARDS, FanHouse, load
from simkit.check import Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, flip_flops

# --- 02-a: choose a card ---

NEEDS = {
    "V24": {"lines": (5, 11), "volts": (3, 4), "rate": (20_000, 40_000), "step_uv": (20, 200), "isolation": (30, 50)},
    "T24": {"lines": (9, 20), "volts": (0.04, 0.07), "rate": (1, 1), "step_uv": (1, 5), "isolation": (100, 200)},
    "A16": {"lines": (5, 11), "volts": (7, 9), "rate": (60_000, 90_000), "step_uv": (400, 900), "isolation": (100, 250)},
}


def draw_need(rng):
    ranges = NEEDS[rng.choice(tuple(NEEDS))]
    return {"lines": rng.integer(*ranges["lines"]), "volts": rng.real(*ranges["volts"], 0.01),
            "rate": rng.integer(*ranges["rate"]), "step_uv": rng.integer(*ranges["step_uv"]),
            "isolation": rng.integer(*ranges["isolation"])}


def per_line(card):
    """Samples/s of each line of a full card at its top rate."""
    return float(max(card.rates_hz)) / (card.channels if card.scanned else 1)


def lacks(card, mine):
    """The needs that a card does not meet."""
    converter = card.converter
    found = {"range": converter.range_v >= mine.volts, "rate": per_line(card) >= mine.rate,
             "resolution": 2e6 * converter.range_v / 2**converter.bits <= mine.step_uv,
             "isolation": card.isolation_v >= mine.isolation}
    return [name for name, met in found.items() if not met]


def judge_need(answer, mine, seed):
    card = CARDS[answer["card"]]
    missing = lacks(card, mine)
    yield Result("card", not missing, answer["card"], None, "", missing[0] if missing else "")
    count = -(-mine.lines // card.channels)
    yield Result("cards", answer["cards"] == count, answer["cards"], None, "cards",
                 "lines" if answer["cards"] == mine.lines else "")
    rate = per_line(card)
    hint = "shared" if card.scanned and answer["rate"] == float(max(card.rates_hz)) else ""
    yield Result("rate", abs(answer["rate"] - rate) <= 0.01 * rate, answer["rate"], None, "samples/s", hint)


# --- 02-b: a lamp with an exact period ---


def draw_blink(rng):
    return {"half": rng.choice((128, 256, 512))}


def judge_blink(netlist, mine, seed):
    period = 2 * mine.half
    run = drive(netlist, 12 * period)
    on, off = run.changes("lamp", 1), run.changes("lamp", 0)
    gaps = np.diff(on)
    found = int(gaps[-1]) if len(gaps) else None
    hint = {period + 2: "off_by_one", period + 1: "off_by_one", 2 * period: "half_period"}.get(found, "")
    steady = len(set(gaps[1:].tolist())) <= 1
    yield Result("period", found == period and steady, found, period, "ticks", "narrow" if found is None else hint)
    width = int(off[off > on[-2]][0] - on[-2]) if found else None
    yield Result("even", found is None or abs(2 * width - found) <= 1, width, "half of the period", "ticks")


# --- 02-c: count presses ---


def draw_presses(rng):
    return {"bounce": rng.integer(40, 80)}


def chatter(at, level, bounce, rng):
    """A contact that ends at ``level``, after some turns to and fro within ``bounce`` ticks."""
    places = sorted({0, *(rng.integer(3, bounce - 3) for _ in range(4)), bounce})
    return [(at + place, "switch", level if n % 2 == 0 else 1 - level)
            for n, place in enumerate(places[: len(places) - 1 + len(places) % 2])]


def judge_presses(netlist, mine, seed):
    rng, bounce = Draw("presses", seed), mine.bounce
    run = drive(netlist, 30 * bounce, [(0, "switch", 1)])
    rest = run.at("presses", 29 * bounce)
    clean = [(0, "switch", 1), (10 * bounce, "switch", 0), (20 * bounce, "switch", 1)]
    run = drive(netlist, 30 * bounce, clean)
    shown = [run.at("presses", part * bounce) for part in (9, 19, 29)]
    hint = "active_high" if shown[0] == shown[1] < shown[2] else ""          # counted when it was let go
    yield Result("rest", rest == 0, rest, 0, "presses", hint)
    one = run.at("presses", 29 * bounce) - rest
    yield Result("clean", one == 1, one, 1, "presses", "level" if one > bounce else "")
    at = 10 * bounce
    down = drive(netlist, 30 * bounce, [(0, "switch", 1), *chatter(at, 0, bounce, rng)]).at("presses", 29 * bounce)
    down -= rest
    many = one > bounce
    yield Result("press", many or down == min(one, 1), down, 1, "presses")
    quiet = [(0, "switch", 1), (at, "switch", 0)]
    up = drive(netlist, 40 * bounce, [*quiet, *chatter(20 * bounce, 1, bounce, rng)])
    more = up.at("presses", 39 * bounce) - up.at("presses", 19 * bounce)
    yield Result("release", many or more == 0, more, 0, "presses")


# --- 02-d: edge against level ---


def draw_edges(rng):
    return {"pulses": rng.integer(4, 9), "width": rng.integer(5, 12)}


class Counters(Design):
    """A line made inside: ``pulses`` times high for ``width`` ticks, counted by level and by edge."""

    age = Reg(unsigned(12))
    before = Reg(unsigned(1))
    level = HostReg(unsigned(12), access="ro")
    edge = HostReg(unsigned(12), access="ro")

    def __init__(self, pulses, width):
        self.pulses, self.width = pulses, width

    @clocked
    def count(self):
        line = self.age % 32 < self.width and self.age < 32 * self.pulses
        self.age = self.age + 1
        self.before = 1 if line else 0
        if line:
            self.level = self.level + 1
            if self.before == 0:
                self.edge = self.edge + 1


def judge_edges(answer, mine, seed):
    run = drive(compile_design(Counters(mine.pulses, mine.width)), 32 * mine.pulses + 40)
    for name in ("level", "edge"):
        right = run.at(name, 32 * mine.pulses + 30)
        hint = "twice" if answer[name] == 2 * mine.pulses else "exchanged" if answer[name] != right else ""
        yield Result(name, answer[name] == right, answer[name], None, "counts", hint)


# --- 02-e: the size of a counter ---


class Divider(Design):
    """A lamp that changes its level each ``half`` ticks."""

    lamp = DigitalOut("lamp")

    def __init__(self, half):
        self.half = half
        self.count = Reg(unsigned((half - 1).bit_length()))

    @clocked
    def turn(self):
        last = self.count == self.half - 1
        self.count = 0 if last else self.count + 1
        if last:
            self.lamp = not self.lamp


def draw_size(rng):
    return {"half": rng.integer(600, 60_000)}


def judge_size(answer, mine, seed):
    right = flip_flops(compile_design(Divider(mine.half)))
    hint = "lamp" if answer == right - 1 else "decimal" if answer > 2 * right else ""
    yield Result("size", answer == right, answer, None, "flip-flops", hint)


# --- 02-f: three lines at once ---

LINES = ("switch", "switch 2", "fan A pulse")


def draw_trigger(rng):
    return {"overlap": rng.integer(3, 6)}


def fires(netlist, mine, lines, at=(100, 120, 140)):
    """A run in which these lines go up one after the other and stay up for ``overlap`` ticks together."""
    end = max(at) + mine.overlap
    changes = [(tick, line, 1) for line, tick in zip(LINES, at, strict=True) if line in lines]
    changes += [(end, line, 0) for line in lines]
    return drive(netlist, end + 200, changes)


def judge_trigger(netlist, mine, seed):
    run = fires(netlist, mine, LINES)
    on = run.changes("lamp 2", 1)
    all_three = len(on) > 0 and int(on[0]) >= 140
    yield Result("three", len(on) > 0, "fires" if len(on) else "silent", "fires")
    pairs = (LINES[:2], LINES[1:], LINES[::2])
    bad = [" + ".join(pair) for pair in pairs if len(fires(netlist, mine, pair).changes("lamp 2", 1))]
    yield Result("two", not bad, ", ".join(bad) or "silent", "silent")
    late = int(on[0]) - 140 if all_three else None
    yield Result("soon", late is None or late <= 6, late, "at most 6", "ticks")
    held = run.at("lamp 2", 140 + mine.overlap + 150) if len(on) else 1
    yield Result("held", held == 1, held, 1)


# --- 02-g: reset and reload ---


class Runs(Design):
    """Counts ticks up, by a step that the host may change."""

    step = HostReg(unsigned(8), reset=1)
    total = HostReg(unsigned(32), access="ro")

    @clocked
    def count(self):
        self.total = self.total + self.step


def draw_runs(rng):
    return {"first": rng.integer(200, 400), "second": rng.integer(50, 150), "step": rng.integer(3, 7)}


def judge_runs(answer, mine, seed):
    rig = load(Runs, FanHouse(), record=[])
    rig.host.step = mine.step
    rig.run(ticks=mine.first)
    stopped = rig.host.total
    rig.reset()
    rig.run(ticks=mine.second)
    reset = rig.host.total
    for name, right in (("stopped", stopped), ("after_reset", reset)):
        found = answer[name]
        near = abs(found - right) <= 2 * mine.step
        yield Result(name, near, found, None, "", _why_runs(name, found, stopped, mine))


def _why_runs(name, found, stopped, mine):
    if name == "stopped":
        return "step" if abs(found - mine.first) <= 2 else ""
    if abs(found - stopped) > 2 * mine.step and abs(found - mine.step * mine.second) <= 2 * mine.step:
        return "settings"
    return "goes_on" if found > stopped else ""


# --- what the learners are asked, and the hints ---

lab = Lab(
    "02_first_light",
    "First light",
    [
        Exercise(
            "02-a", "Choose the card", points=3, objective="choose channels from a measurement need",
            kind=answers.Record(card=answers.Text(choices=tuple(CARDS)), cards=answers.Number(unit="cards", whole=True),
                                rate=answers.Number(unit="samples/s")),
            parameters=draw_need, judge=judge_need, answer="choice",
            criteria=[
                Criterion("card", "the card meets range, rate, resolution and isolation", points=1, hint="range"),
                Criterion("cards", "the fewest of these cards that serve all lines", points=1, hint="cards"),
                Criterion("rate", "the top rate of one line on the chosen card", points=1, hint="rate"),
            ],
            hints={
                "range": Hint("Does the peak of your signal fit between the ends of the card's range?",
                              "A signal beyond the range is clipped, and no later step brings it back.",
                              "A peak of 6 V on a card of +-5 V is lost above 5 V."),
                "rate": Hint("How many samples a second does one line get?",
                             "A card that samples in turn divides its rate among the lines; one that samples at once does not.",
                             "50000 in all over 5 lines: 10000 for each."),
                "resolution": Hint("How many volts is one code of this card?",
                                   "The whole range, both signs, divided by 2 to the number of bits.",
                                   "+-10 V in 12 bits: 20 V / 4096 = 4.88 mV."),
                "isolation": Hint("How many volts lie between the sensor's ground and yours?",
                                  "The card must stand that voltage, whatever the signal itself is.",
                                  "A sensor at 100 V against earth needs a card isolated for more than 100 V."),
                "cards": Hint("How many channels has one card?", "Divide the lines by the channels and round up.",
                              "9 lines on cards of 4: 2.25, so 3 cards."),
                "lines": Hint("Does each line need a card of its own?", "A card has several channels. Divide and round up.",
                              "9 lines on cards of 4: 3 cards."),
                "shared": Hint("Is that the rate of the card or of a line?", "In turn means that the channels share one "
                               "converter. Full cards divide the rate by their channels.",
                               "50000 in all over 16 lines: 3125 for each."),
            },
        ),
        Exercise(
            "02-b", "A lamp with an exact period", points=3, objective="build a lamp with an exact period",
            kind=answers.Design(ports=[answers.Port("digital_out", terminal="lamp")]),
            parameters=draw_blink, judge=judge_blink, answer="Blink",
            criteria=[
                Criterion("period", "the lamp comes on once in exactly your period", points=2, hint="period"),
                Criterion("even", "it is on for half of its period", points=1, hint="even"),
            ],
            hints={
                "period": Hint("How many ticks lie between two risings of the lamp?",
                               "A period is on time plus off time, each one run of the counter.",
                               "On for 3 ticks and off for 3: a period of 6."),
                "off_by_one": Hint("How many values does your counter take in one run?",
                                   "0 counts too: from 0 to N there are N + 1 values.",
                                   "0, 1, 2, 3 are four ticks. For three, go back after 2."),
                "half_period": Hint("How many changes of level has one full blink?",
                                    "Two: on and off. Between two changes lies half a period.",
                                    "A period of 10 ticks: change the level every 5."),
                "narrow": Hint("What is the largest number that your register can show?",
                               "If the number you compare with is larger, the comparison never comes true.",
                               "4 bits end at 15. A comparison with 16 waits for ever."),
                "even": Hint("For how many ticks is the lamp on?", "On and off must take the same number of ticks.",
                             "A period of 6: 3 on, 3 off."),
            },
        ),
        Exercise(
            "02-c", "Count presses", points=4, objective="count the presses of a bouncing, active-low switch",
            kind=answers.Design(ports=[answers.Port("digital_in", terminal="switch"),
                                       answers.Port("host_reg", name="presses", access="ro")]),
            parameters=draw_presses, judge=judge_presses, answer="Presses",
            criteria=[
                Criterion("rest", "a switch at rest is not counted", points=1, hint="rest"),
                Criterion("clean", "a press without bouncing counts once", points=1, hint="clean"),
                Criterion("press", "a bouncing press counts once", points=1, hint="bounce"),
                Criterion("release", "a bouncing release counts nothing", points=1, hint="release"),
            ],
            hints={
                "rest": Hint("What does your design do in its first ticks?",
                             "The synchroniser starts at 0, which looks like a press until the line's 1 came through.",
                             "With two registers, the first two ticks read 0 at rest."),
                "active_high": Hint("Which level has the line while nobody presses?",
                                    "1. Invert it once, where it comes in, and use the positive name behind that.",
                                    "pressed = not door; from there on 1 means pressed."),
                "clean": Hint("At which instant is a press a press?", "When pressed changes from 0 to 1, once.",
                              "0 0 1 1 1 0: one press."),
                "level": Hint("In how many ticks is the switch pressed?",
                              "A level is true in each of them. An edge is true in one.",
                              "0 0 1 1 1 0: the level counts 3, the edge 1."),
                "bounce": Hint("How many edges has one press of a chattering contact?",
                               "Take a new level only after it has stood for longer than the chatter lasts.",
                               "0 1 0 1 1 1 1: with a wait of 3 equal ticks there is one change."),
                "release": Hint("What does the contact do when it opens?",
                                "It chatters as well. The new level must stand before it counts, both ways.",
                                "1 0 1 0 0 0 0: one release and no press."),
            },
        ),
        Exercise(
            "02-d", "Edge against level", points=2, objective="predict what an edge and a level count",
            kind=answers.Record(level=answers.Number(unit="counts", whole=True),
                                edge=answers.Number(unit="counts", whole=True)),
            parameters=draw_edges, judge=judge_edges, answer="counts",
            criteria=[Criterion("level", "what the level counts", points=1, hint="each_tick"),
                      Criterion("edge", "what the edge counts", points=1, hint="each_pulse")],
            hints={
                "each_tick": Hint("In how many ticks is the line 1?", "Each of them adds one: pulses times width.",
                                  "2 pulses of 3 ticks: 6."),
                "each_pulse": Hint("How often does the line go from 0 to 1?", "Once in each pulse.", "2 pulses: 2."),
                "twice": Hint("Which edges are counted?", "Rising ones only. The falling edge adds nothing.", "2 pulses: 2."),
                "exchanged": Hint("Does a level see a pulse or a tick?", "A level counts ticks, an edge counts pulses.",
                                  "2 pulses of 3 ticks: level 6, edge 2."),
            },
        ),
        Exercise(
            "02-e", "The size of a counter", points=1, objective="predict the size of a design",
            kind=answers.Number(unit="flip-flops", whole=True),
            parameters=draw_size, judge=judge_size, answer="size",
            criteria=[Criterion("size", "the number of flip-flops", points=1, hint="bits")],
            hints={
                "bits": Hint("How many bits hold the counter's last value?", "The smallest n with 2**n above it; "
                             "and each register of one bit adds one.", "0 to 99: 7 bits, and 1 for the lamp: 8."),
                "lamp": Hint("What else keeps its value from tick to tick?", "The lamp's output is a register too.",
                             "A counter of 7 bits and a lamp: 8."),
                "decimal": Hint("Does a flip-flop hold a number or a bit?", "A bit. n of them hold 2**n values.",
                                "100 values: 7 bits."),
            },
        ),
        Exercise(
            "02-f", "Three lines at once", points=4, objective="build a trigger that a fixed instrument does not have",
            kind=answers.Design(ports=[*(answers.Port("digital_in", terminal=line) for line in LINES),
                                       answers.Port("digital_out", terminal="lamp 2")]),
            parameters=draw_trigger, judge=judge_trigger, answer="Trigger",
            criteria=[Criterion("three", "it fires when all three lines are 1 at once", points=1, hint="short"),
                      Criterion("two", "it stays silent for any two of them", points=1, hint="two"),
                      Criterion("soon", "it fires soon enough", points=1, hint="soon"),
                      Criterion("held", "the lamp stays on afterwards", points=1, hint="held")],
            hints={
                "short": Hint("For how many ticks are all three lines 1?",
                              "Few. A loop that is busy elsewhere misses them: ask in each tick.",
                              "An overlap of 4 ticks, a loop that looks every 10: mostly missed."),
                "two": Hint("Which lines does your condition ask for?", "All three, in the same tick: and, not or.",
                            "1 1 0 is not 1 1 1."),
                "soon": Hint("What stands between the condition and the lamp?",
                             "Two registers of the synchroniser and the lamp's own. No wait is needed.",
                             "Lines up in tick 10, lamp in tick 13."),
                "held": Hint("Who switches the lamp off?", "Nobody. Assign 1 when the condition holds, and nothing otherwise.",
                             "A register that is not assigned keeps its value."),
            },
        ),
        Exercise(
            "02-g", "Stop and reset", points=2, objective="predict what survives a reset",
            kind=answers.Record(stopped=answers.Number(whole=True), after_reset=answers.Number(whole=True)),
            parameters=draw_runs, judge=judge_runs, answer="totals",
            criteria=[Criterion("stopped", "the total where the run stops", points=1, hint="total"),
                      Criterion("after_reset", "the total after a reset and the second run", points=1, hint="again")],
            hints={
                "total": Hint("What is added in each tick?", "The step, once a tick.", "10 ticks with a step of 2: 20."),
                "step": Hint("Which step did the host write?", "That one is added, not 1.", "10 ticks with a step of 2: 20."),
                "again": Hint("What does a register show after a reset?", "Its start value.", "From 0: 5 ticks with 1: 5."),
                "settings": Hint("Is the host's step a register too?", "Yes, and a reset sets it back like all others.",
                                 "Written 2, start value 1: after the reset it is 1."),
                "goes_on": Hint("Where does the second run start?", "A reset sets all registers back to their start values.",
                                "20 before, 5 ticks after: 5 and not 25."),
            },
        ),
    ],
)
