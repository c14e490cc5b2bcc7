"""Exercises of lab 02, "First light".  All numbers are invented.

Nothing here holds an answer: a judge reads the parts list, or runs the design that it is given, and measures.
"""

from __future__ import annotations

import re

import numpy as np

from simkit import Design, DigitalIn, DigitalOut, HostReg, Reg, bit, clocked, compile_design, unsigned
from simkit.bench import CARDS, FanHouse, load
from simkit.check import Criterion, Draw, Exercise, Hint, Lab, Result, answers, drive, flip_flops

# --- 02-a: choose a card ---

NEEDS = {
    "V24": {"lines": (5, 11), "volts": (3, 4), "rate": (20_000, 40_000), "step_uv": (60, 200), "isolation": (30, 50)},
    "T24": {"lines": (9, 20), "volts": (0.04, 0.07), "rate": (1, 1), "step_uv": (3, 6), "isolation": (100, 200)},
    "A16": {"lines": (5, 11), "volts": (7, 9), "rate": (60_000, 90_000), "step_uv": (600, 900), "isolation": (100, 250)},
    "A12": {"lines": (17, 40), "volts": (7, 9), "rate": (1_000, 3_000), "step_uv": (6_000, 20_000), "isolation": (0, 0)},
}
"""A need for each card, so that every card is the right one for some learner."""


def draw_need(rng):
    ranges = NEEDS[rng.choice(tuple(NEEDS))]
    return {"lines": rng.integer(*ranges["lines"]), "volts": round(rng.real(*ranges["volts"], 0.01), 2),
            "rate": rng.integer(*ranges["rate"]), "step_uv": rng.integer(*ranges["step_uv"]),
            "isolation": rng.integer(*ranges["isolation"])}


def per_line(card):
    """Samples/s of each line of a full card at its top rate."""
    return float(max(card.rates_hz)) / (card.channels if card.scanned else 1)


def code_uv(card):
    """One code of a card in microvolts: both signs of its range in 2**bits steps."""
    return 2e6 * card.converter.range_v / 2**card.converter.bits


def lacks(card, mine):
    """The needs that a card does not meet."""
    found = {"range": card.converter.range_v >= mine.volts, "rate": per_line(card) >= mine.rate,
             "resolution": code_uv(card) <= mine.step_uv, "isolation": card.isolation_v >= mine.isolation}
    return [name for name, met in found.items() if not met]


def cards_for(card, mine):
    """How many of these cards serve all lines."""
    return -(-mine.lines // card.channels)


def judge_need(answer, mine, seed):
    card = CARDS[answer["card"]]
    missing = lacks(card, mine)
    yield Result("card", not missing, answer["card"], None, "", missing[0] if missing else "")
    suited = [one for one in CARDS.values() if not lacks(one, mine)] if not missing else [card]
    count, fewest = cards_for(card, mine), min(cards_for(one, mine) for one in suited)
    hint = "lines" if answer["cards"] == mine.lines else "other_card" if answer["cards"] == count else ""
    yield Result("cards", answer["cards"] == count == fewest, answer["cards"], None, "cards", hint)
    rate, found = per_line(card), answer["rate"]
    hint = "shared" if card.scanned and found == float(max(card.rates_hz)) else ""
    yield Result("rate", abs(found - rate) <= 0.01 * rate, found, None, "samples/s", hint)
    code, found = code_uv(card), answer["code_uv"]
    hint = "one_sign" if abs(2 * found - code) <= 0.02 * code else "volts" if abs(1e6 * found - code) <= 0.02 * code else ""
    yield Result("code", abs(found - code) <= 0.02 * code, found, None, "uV", hint)


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
    if found is None:
        yield Result("period", False, f"{len(on) + len(off)} changes in {12 * period} ticks", period, "ticks", "narrow")
        yield Result("even", False, "no blinking lamp", hint="narrow")
        return
    yield Result("period", found == period and steady, found, period, "ticks", hint)
    width = int(off[off > on[-2]][0] - on[-2])
    yield Result("even", abs(2 * width - found) <= 1, width, f"half of {found}", "ticks")


# --- 02-d: count presses ---


def draw_presses(rng):
    return {"bounce": rng.integer(40, 80)}


def chatters(at, level, bounce, rng):
    """Two contacts that come to rest at ``level`` within ``bounce`` ticks: one that turns often, one with long stretches."""
    places = sorted({0, *(rng.integer(3, bounce - 3) for _ in range(4)), bounce})
    for turns in (places[: len(places) - 1 + len(places) % 2], (0, 9 * bounce // 20, 9 * bounce // 10)):
        yield [(at + place, "switch", level if n % 2 == 0 else 1 - level) for n, place in enumerate(turns)]


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
    by = run.at("presses", 14 * bounce) - rest
    yield Result("soon", by >= 1, f"{by} after {4 * bounce} ticks", 1, "presses")
    down, more = _bouncing(netlist, bounce, rng, rest)
    yield Result("press", down == 1, down, 1, "presses", "none" if not down else "")
    yield Result("release", more == 0 and one > 0, more if one else "none of any kind", 0, "presses", "" if one else "none")


def _bouncing(netlist, bounce, rng, rest):
    """What a press that chatters counts, and what a release that chatters adds: of two contacts, the worse one."""
    at, quiet = 10 * bounce, [(0, "switch", 1), (10 * bounce, "switch", 0)]
    runs = [drive(netlist, 30 * bounce, [(0, "switch", 1), *changes]) for changes in chatters(at, 0, bounce, rng)]
    down = max((run.at("presses", 18 * bounce) - rest for run in runs), key=lambda found: abs(found - 1))
    runs = [drive(netlist, 40 * bounce, [*quiet, *changes]) for changes in chatters(18 * bounce, 1, bounce, rng)]
    return down, max(run.at("presses", 39 * bounce) - run.at("presses", 17 * bounce) for run in runs)


# --- 02-c: edge against level ---


def draw_edges(rng):
    return {"pulses": rng.integer(4, 9), "width": rng.integer(5, 12)}


class Both(Design):
    """Counts a line by its level and by its rising edge: the design of exercise 02-c."""

    line = DigitalIn("fan A pulse")
    before = Reg(bit)
    level = HostReg(unsigned(16), access="ro")
    edge = HostReg(unsigned(16), access="ro")

    @clocked
    def count(self):
        self.before = self.line
        if self.line:
            self.level = self.level + 1
            if not self.before:
                self.edge = self.edge + 1


def pulse_train(mine):
    """The line of exercise 02-c: pulses that begin 40 ticks apart."""
    begins = [40 * (n + 1) for n in range(mine.pulses)]
    return [change for at in begins for change in ((at, "fan A pulse", 1), (at + mine.width, "fan A pulse", 0))]


def judge_edges(answer, mine, seed):
    end = 40 * (mine.pulses + 2)
    run = drive(compile_design(Both), end + 1, pulse_train(mine))
    for name, other in (("level", "edge"), ("edge", "level")):
        right, found = run.at(name, end), answer[name]
        hint = "twice" if found == 2 * mine.pulses else "exchanged" if found == run.at(other, end) else ""
        yield Result(name, found == right, found, None, "counts", hint)


# --- 02-g: the size of a counter ---


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
    return {"half": rng.choice((1024, 2048, 4096, 8192, 16_384, 32_768))}


def judge_size(answer, mine, seed):
    right = flip_flops(compile_design(Divider(mine.half)))
    hint = {right - 1: "lamp", right + 1: "last"}.get(answer, "decimal" if answer > 2 * right else "")
    yield Result("size", answer == right, answer, None, "flip-flops", hint)


# --- 02-i: three lines at once ---

LINES = ("switch", "switch 2", "fan A pulse")
LONG = 300
"""Ticks for which all three lines are 1 in the run that shows whether a trigger fires at all."""


def draw_trigger(rng):
    return {"overlap": rng.integer(2, 3)}


def fires(netlist, lines, overlap, length=None):
    """These lines go up one after the other, in ticks 100, 120 and 140.

    They come down together after ``overlap`` ticks of all three, or each after ``length`` ticks.
    """
    rises = [(tick, line) for line, tick in zip(LINES, (100, 120, 140), strict=True) if line in lines]
    changes = [(tick, line, 1) for tick, line in rises]
    changes += [(tick + length if length else 140 + overlap, line, 0) for tick, line in rises]
    return drive(netlist, 400 + overlap, changes)


def judge_trigger(netlist, mine, seed):
    short, lasting = fires(netlist, LINES, mine.overlap), fires(netlist, LINES, LONG)
    ever = len(lasting.changes("lamp 2", 1)) > 0
    yield Result("three", len(short.changes("lamp 2", 1)) > 0, "fires" if len(short.changes("lamp 2", 1)) else "silent",
                 "fires", "", "" if ever else "never", _fired(short))
    pairs = (LINES[:2], LINES[1:], LINES[::2])
    two = {" + ".join(pair): fires(netlist, pair, mine.overlap) for pair in pairs}
    bad = {name: run for name, run in two.items() if len(run.changes("lamp 2", 1))}
    hint, never = "" if ever else "never", _fired(lasting)
    yield Result("two", ever and not bad, ", ".join(bad) or "silent", "silent", "", hint,
                 _silent(next(iter(bad.values()))) if bad else never)
    run = fires(netlist, LINES, 0, length=10)
    apart = len(run.changes("lamp 2", 1)) > 0
    yield Result("apart", ever and not apart, "fires" if apart else "silent", "silent", "", "two" if bad else hint,
                 _silent(run) if apart else never)
    late = int(lasting.changes("lamp 2", 1)[0]) - 140 if ever else None
    yield Result("soon", ever and late <= 6, late, "at most 6", "ticks", hint, never)
    held = lasting.at("lamp 2", 140 + LONG + 150)
    yield Result("held", held == 1, held, 1, "", hint, never)


def _fired(run):
    """A look at a lamp that should come on when the last line has, and stay on."""
    return lambda: run.look(expected={"lamp 2": [(0, 0), (140 + 3, 1)]}, around=(95, 165))


def _silent(run):
    """A look at a lamp that should stay dark."""
    return lambda: run.look(expected={"lamp 2": [(0, 0)]}, around=(95, 165))


# --- 02-e: stop, reset, reload ---


class Runs(Design):
    """Adds a step in each tick: the design of exercise 02-e."""

    step = HostReg(unsigned(8), reset=1)
    total = HostReg(unsigned(32), access="ro")

    @clocked
    def count(self):
        self.total = self.total + self.step


class Changed(Design):
    """As Runs, with other start values: what exercise 02-e reloads."""

    step = HostReg(unsigned(8), reset=10)
    total = HostReg(unsigned(32), access="ro", reset=1000)

    @clocked
    def count(self):
        self.total = self.total + self.step


def draw_runs(rng):
    return {"first": rng.integer(200, 400), "second": rng.integer(50, 150), "step": rng.integer(3, 7)}


def _totals(mine):
    """What the bench shows after the stop, after the reset and after the reload."""
    rig = load(Runs, FanHouse(), record=[])
    rig.host.step = mine.step
    found = {"stopped": rig.run(ticks=mine.first).host.total}
    found["after_reset"] = rig.reset().run(ticks=mine.second).host.total
    rig.host.step = mine.step
    found["after_reload"] = rig.download(Changed).run(ticks=mine.second).host.total
    return found


def judge_runs(answer, mine, seed):
    totals = _totals(mine)
    for name, right in totals.items():
        found = answer[name]
        near = abs(found - right) <= 2 * mine.step
        yield Result(name, near, found, None, "", _why_runs(name, found, totals["stopped"], mine))


def _why_runs(name, found, stopped, mine):
    kept = mine.step * mine.second
    wrong = {"stopped": {"step": mine.first},
             "after_reset": {"settings": kept, "goes_on": stopped + mine.second, "both_kept": stopped + kept},
             "after_reload": {"settings": 1000 + kept, "start": 10 * mine.second, "old_start": mine.second}}
    return next((hint for hint, value in wrong[name].items() if abs(found - value) <= 2 * mine.step), "")


# --- 02-f: a changed design, loaded again ---


def draw_meter(rng):
    return {"step": rng.integer(11, 19)}


def judge_meter(netlist, mine, seed):
    rng = Draw("meter", seed)
    one, two = rng.integer(40, 80), rng.integer(100, 140)
    run = drive(netlist, 400, [(10, "go", 1)])
    slope = run.at("total", 110) - run.at("total", 100)
    yield Result("start", slope == 10 * mine.step, f"{slope} in 10 ticks", 10 * mine.step, "", _why_slope(slope, mine.step))
    run = drive(netlist, 400, [(10, "go", 1), (20, "step", one)])
    other = run.at("total", 110) - run.at("total", 100)
    hint = "each_tick" if _why_slope(other, one) == "each_tick" else ""
    yield Result("written", other == 10 * one, f"{other} in 10 ticks", 10 * one, "", hint)
    yield _stop(netlist, one, other)
    run = drive(netlist, 400, [(10, "go", 1), (20, "step", two), (200, "clear", 1), (250, "clear", 0)])
    cleared, again = run.at("total", 240), run.at("total", 300) > run.at("total", 290)
    still = drive(netlist, 400, [(10, "go", 1), (200, "go", 0), (250, "clear", 1), (290, "clear", 0)]).at("total", 280)
    shown = f"{cleared} while it runs, {still} after a stop" + ("" if again else ", and it never goes on")
    yield Result("clear", cleared == still == 0 and again, shown, "0 and 0")


def _why_slope(slope, step):
    """What a sum grows by in 10 ticks, and what it should grow by in one."""
    if not slope:
        return "still"
    if slope == 10:
        return "one"
    return "each_tick" if slope in [step * turns for turns in range(1, 10)] else ""


def _stop(netlist, step, slope):
    """A pause of 100 ticks must cost what 100 ticks add (10 times ``slope``), no more and no less."""
    changes = [(10, "go", 1), (20, "step", step)]
    through = drive(netlist, 400, changes).at("total", 390)
    run = drive(netlist, 400, [*changes, (200, "go", 0), (300, "go", 1)])
    before, held, after = (run.at("total", tick) for tick in (220, 295, 390))
    hint = "goes_on_counting" if held != before else "lost" if held < run.at("total", 195) else ""
    waiting = drive(netlist, 100).at("total", 90)
    right = before == held > 0 and through - after == 10 * slope and waiting == 0
    return Result("stop", right, f"{before}, then {held}", "the same, and more than 0", "", hint,
                  lambda: run.look("total", at=202, around=(196, 304), note="go is 0 from tick 200 to 300: total must stand"))


# --- 02-h: read the build report ---

REPORTS = (
    """Smooth on LFE5U-25F-8

  LUTs             32 of 24288     0.1 %   and 53 for pins and port link
  flip-flops       48 of 24288     0.2 %   and 93 for pins and port link
  block RAM         0 of 56        0.0 %
  multipliers       1 of 28        3.6 %

  clock fabric: 40 MHz asked, 116.6 MHz reached: met by 16.42 ns
      0.40 ns  register                     station.py:7
      1.86 ns  carry chain, 7 bits          station.py:14
      4.01 ns  multiplier                   station.py:14
      2.20 ns  carry chain, 16 bits         station.py:15
      0.12 ns  into smooth                  station.py:9

  warning: station.py:10: largest is not on the chip: no output depends on it.
""",
    """Hours on LFE5U-25F-8

  LUTs             95 of 24288     0.4 %   and 35 for pins and port link
  flip-flops       59 of 24288     0.2 %   and 43 for pins and port link
  block RAM         0 of 56        0.0 %
  multipliers       0 of 28        0.0 %

  clock fabric: 40 MHz asked, 251.7 MHz reached: met by 21.03 ns
      0.40 ns  ticks                        station.py:23
      0.85 ns  look-up table                station.py:31
      0.93 ns  look-up table                station.py:31
      1.01 ns  look-up table                station.py:31
      0.79 ns  into ticks                   station.py:31

  warning: station.py:25: spare is not on the chip: no output depends on it.
""",
    """Peak on LFE5U-25F-8

  LUTs             34 of 24288     0.1 %   and 52 for pins and port link
  flip-flops       48 of 24288     0.2 %   and 76 for pins and port link
  block RAM         0 of 56        0.0 %
  multipliers       0 of 28        0.0 %

  clock fabric: 40 MHz asked, 326.7 MHz reached: met by 21.94 ns
      0.40 ns  raw                          station.py:41
      0.94 ns  look-up table
      1.14 ns  carry chain, 2 bits          station.py:43
      0.58 ns  register

  warning: station.py:44: before is not on the chip: no output depends on it.
""",
)
"""What the tools said of three designs, for chips of the size that this course uses."""
RATES = {"Smooth": (80, 125, 150), "Hours": (200, 300, 320), "Peak": (250, 400, 420)}


def draw_report(rng):
    report = rng.choice(REPORTS)
    return {"report": report, "mhz": rng.choice(RATES[report.split()[0]])}


def rows(report):
    """The resources of a report: name to (used by the design, there are on the chip)."""
    found = re.findall(r"^ +(LUTs|flip-flops|block RAM|multipliers) +([0-9]+) of ([0-9]+)", report, re.MULTILINE)
    return {name: (int(used), int(there)) for name, used, there in found}


def judge_report(answer, mine, seed):
    copies = {name: there // used for name, (used, there) in rows(mine.report).items() if used}
    scarce = min(copies, key=lambda name: copies[name])
    yield Result("scarce", answer["scarce"] == scarce, answer["scarce"], None)
    found = answer["copies"]
    hint = "whole" if found == copies[scarce] + 1 else "other_row" if found in copies.values() else ""
    yield Result("copies", found == copies[scarce], found, None, "copies", hint)
    reached = float(re.search(r"([0-9.]+) MHz reached", mine.report)[1])
    slack, found = 1000 / mine.mhz - 1000 / reached, answer["slack_ns"]
    hint = "sign" if abs(found + slack) < 0.05 else "asked" if abs(found - 25 + 1000 / reached) < 0.05 else (
        "megahertz" if abs(abs(found) - abs(reached - mine.mhz)) < 0.5 else "")
    yield Result("slack", abs(found - slack) < 0.05, found, None, "ns", hint)
    gone = re.search(r"(\w+) is not on the chip", mine.report)[1]
    yield Result("gone", answer["gone"].strip().removeprefix("self.") == gone, answer["gone"], None)


# --- what the learners are asked, and the hints ---

lab = Lab(
    "02_first_light",
    "First light",
    [
        Exercise(
            "02-a", "Choose the card", points=4, objective="choose channels from a measurement need",
            kind=answers.Record(card=answers.Text(choices=tuple(CARDS)), cards=answers.Number(unit="cards", whole=True),
                                rate=answers.Number(unit="samples/s"), code_uv=answers.Number(unit="uV")),
            parameters=draw_need, judge=judge_need, answer="choice",
            criteria=[
                Criterion("card", "the card meets range, rate, resolution and isolation", points=1, hint="range"),
                Criterion("cards", "the fewest cards that serve all lines", points=1, hint="cards"),
                Criterion("rate", "the top rate of one line on the chosen card", points=1, hint="rate"),
                Criterion("code", "one code of the chosen card", points=1, hint="resolution"),
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
                "other_card": Hint("Does another card meet the needs as well, with more channels on each?",
                                   "Go down the parts list: every card that meets all four needs is a candidate.",
                                   "20 lines: 5 cards of 4 channels, or 2 of 16."),
                "one_sign": Hint("How many volts lie between the two ends of the range?",
                                 "A range of +-R volts is 2 R wide: both signs share the codes.",
                                 "+-10 V in 12 bits: 20 V / 4096 = 4883 uV."),
                "volts": Hint("In which unit is code_uv?", "Microvolts: a volt is 1 000 000 of them.",
                              "20 V / 4096 = 0.004883 V = 4883 uV."),
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
                "narrow": Hint("Does your condition ever come true? What is the largest number that your register can show?",
                               "If the number you compare with is larger, the comparison never comes true.",
                               "4 bits end at 15. A comparison with 16 waits for ever."),
                "even": Hint("For how many ticks is the lamp on?", "On and off must take the same number of ticks.",
                             "A period of 6: 3 on, 3 off."),
            },
        ),
        Exercise(
            "02-c", "Edge against level", points=2, objective="predict what an edge and a level count",
            kind=answers.Record(level=answers.Number(unit="counts", whole=True),
                                edge=answers.Number(unit="counts", whole=True)),
            parameters=draw_edges, judge=judge_edges, answer="counts",
            criteria=[Criterion("level", "what the level counts", points=1, hint="each_tick"),
                      Criterion("edge", "what the edge counts", points=1, hint="each_pulse")],
            hints={
                "each_tick": Hint("In how many ticks is the line 1?", "Each of them adds one: pulses times width.",
                                  "2 pulses of 3 ticks: 6."),
                "each_pulse": Hint("How often does the line go from 0 to 1?", "Once in each pulse.", "2 pulses: 2."),
                "twice": Hint("Which edges are counted?", "A pulse has two edges, one up and one down. Only the one up is counted.",
                              "5 pulses have 10 edges, and 5 of them go up."),
                "exchanged": Hint("Does a level see a pulse or a tick?", "A level counts ticks, an edge counts pulses.",
                                  "2 pulses of 3 ticks: level 6, edge 2."),
            },
        ),
        Exercise(
            "02-d", "Count presses", points=5, objective="count the presses of a bouncing, active-low switch",
            kind=answers.Design(ports=[answers.Port("digital_in", terminal="switch"),
                                       answers.Port("host_reg", name="presses", access="ro")]),
            parameters=draw_presses, judge=judge_presses, answer="Presses",
            criteria=[
                Criterion("rest", "a switch at rest is not counted", points=1, hint="rest"),
                Criterion("clean", "a press without bouncing counts once", points=1, hint="clean"),
                Criterion("soon", "a press is counted soon enough", points=1, hint="soon"),
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
                "soon": Hint("How long does your design look at the line before it counts?",
                             "As long as the chatter may last, and not much longer.",
                             "Chatter of 40 ticks: believe the line after 45 equal ticks, not after 400."),
                "none": Hint("Is a press counted at all?", "Here presses stays where it was. Look at a press without chatter first.",
                             "pressed goes from 0 to 1: then presses + 1."),
                "bounce": Hint("How many edges has one press of a chattering contact?",
                               "Take a new level only after it has stood for longer than the chatter lasts.",
                               "0 1 0 1 1 1 1: with a wait of 3 equal ticks there is one change."),
                "release": Hint("What does the contact do when it opens?",
                                "It chatters as well. The new level must stand before it counts, both ways.",
                                "1 0 1 0 0 0 0: one release and no press."),
            },
        ),
        Exercise(
            "02-e", "Stop, reset, reload", points=3, objective="predict what survives a stop, a reset and a reload",
            kind=answers.Record(stopped=answers.Number(whole=True), after_reset=answers.Number(whole=True),
                                after_reload=answers.Number(whole=True)),
            parameters=draw_runs, judge=judge_runs, answer="totals",
            criteria=[Criterion("stopped", "the total where the run stops", points=1, hint="total"),
                      Criterion("after_reset", "the total after a reset and the second run", points=1, hint="again"),
                      Criterion("after_reload", "the total after the reload and the third run", points=1, hint="reload")],
            hints={
                "total": Hint("What is added in each tick?", "The step, once a tick.", "10 ticks with a step of 2: 20."),
                "step": Hint("Which step did the host write?", "That one is added, not 1.", "10 ticks with a step of 2: 20."),
                "again": Hint("What does a register show after a reset?", "Its start value.", "From 0: 5 ticks with 1: 5."),
                "settings": Hint("Is the host's step a register too?",
                                 "Yes: a reset and a reload set it to its start value, like all others.",
                                 "Written 2, start value 1: after the reset it is 1."),
                "goes_on": Hint("Where does the second run start?", "A reset sets all registers back to their start values.",
                                "20 before, 5 ticks after: 5 and not 25."),
                "both_kept": Hint("Which registers does a reset set back?",
                                  "All of them: the total, and the step that the host wrote.",
                                  "From 0, with step 1: 5 ticks make 5."),
                "reload": Hint("What does each register of the changed design start with?",
                               "The value in its reset=. Nothing comes over from the design before.",
                               "Start at 500 with a step of 3: after 20 ticks 560."),
                "start": Hint("With which number does total start?", "total has a start value too: reset=1000.",
                              "Start at 500 with a step of 3: after 20 ticks 560."),
                "old_start": Hint("Which design runs in the third run?", "The changed one, with its own start values.",
                                  "Start at 500 with a step of 3: after 20 ticks 560."),
            },
        ),
        Exercise(
            "02-f", "A changed design, loaded again", points=4, objective="change a design and load it again",
            kind=answers.Design(ports=[answers.Port("host_reg", name="step", access="rw"),
                                       answers.Port("host_reg", name="go", access="rw"),
                                       answers.Port("host_reg", name="clear", access="rw"),
                                       answers.Port("host_reg", name="total", access="ro")]),
            parameters=draw_meter, judge=judge_meter, answer="Meter",
            criteria=[Criterion("start", "it adds your step if nobody wrote one", points=1, hint="start"),
                      Criterion("written", "it adds the step that the host wrote", points=1, hint="written"),
                      Criterion("stop", "total stands while go is 0, and goes on from there", points=1, hint="stop"),
                      Criterion("clear", "clear sets total to 0, running or not", points=1, hint="clear")],
            hints={
                "start": Hint("With which value does the register step start?", "With the one in its reset=.",
                              "HostReg(unsigned(8), reset=3) shows 3 until the host writes another."),
                "one": Hint("Who writes the step after a reload?", "Nobody. A reload sets step to its start value, still 1 here.",
                            "HostReg(unsigned(8), reset=3) shows 3 until the host writes another."),
                "each_tick": Hint("In how many of 10 ticks does your design add?",
                                  "A turn of a sequenced loop that waits for something takes more than one tick. Ask in each tick.",
                                  "until(go), then add: a turn of 2 ticks, so 5 steps in 10 ticks."),
                "still": Hint("What does total do while go is 1?", "It grows by step in each tick. Here it stands still.",
                              "go = 1, step = 3: 0 3 6 9."),
                "written": Hint("Where does your design read the step?",
                                "From the register self.step. A number in the code is fixed when the design is loaded.",
                                "self.total + 3 adds 3 whatever the host writes."),
                "stop": Hint("What happens to total while go is 0?", "Nothing: it is not assigned, so it keeps its value.",
                             "With step 3: 12 15 15 15 18, where go was 0 for two ticks."),
                "goes_on_counting": Hint("Does your design look at go?", "Add the step only in ticks in which go is 1.",
                                         "With step 3: 12 15 15 15 18, where go was 0 for two ticks."),
                "lost": Hint("Who sets total back when go goes to 0?",
                             "Your design does. A stop is no reset: assign nothing while go is 0.",
                             "A register that is not assigned keeps its value."),
                "clear": Hint("What if clear and go are 1 in the same tick, and what if only clear is?",
                              "total must be 0 in both cases: ask for clear first.",
                              "if clear ... elif go ...: the first that holds decides."),
            },
        ),
        Exercise(
            "02-g", "The size of a counter", points=1, objective="predict the size of a design",
            kind=answers.Number(unit="flip-flops", whole=True),
            parameters=draw_size, judge=judge_size, answer="size",
            criteria=[Criterion("size", "the number of flip-flops", points=1, hint="bits")],
            hints={
                "bits": Hint("How many bits hold the counter's last value?", "The smallest n with 2**n above it; "
                             "and each register of one bit adds one.", "0 to 99: 7 bits, and 1 for the lamp: 8."),
                "lamp": Hint("What else keeps its value from tick to tick?", "The lamp's output is a register too.",
                             "A counter of 7 bits and a lamp: 8."),
                "last": Hint("Which is the last number that the counter must show?",
                             "For N ticks it runs from 0 to N - 1, so N itself need not fit.",
                             "0 to 15 are 16 ticks: 4 bits, though 16 itself needs 5."),
                "decimal": Hint("Does a flip-flop hold a number or a bit?", "A bit. n of them hold 2**n values.",
                                "100 values: 7 bits."),
            },
        ),
        Exercise(
            "02-h", "Read the build report", points=4, objective="read a build report",
            kind=answers.Record(scarce=answers.Text(choices=("LUTs", "flip-flops", "block RAM", "multipliers")),
                                copies=answers.Number(unit="copies", whole=True), slack_ns=answers.Number(unit="ns"),
                                gone=answers.Text()),
            parameters=draw_report, judge=judge_report, answer="reading",
            criteria=[Criterion("scarce", "the resource that runs out first", points=1, hint="scarce"),
                      Criterion("copies", "how many copies fit", points=1, hint="copies"),
                      Criterion("slack", "the time left over at your clock", points=1, hint="slack"),
                      Criterion("gone", "the register that is not on the chip", points=1, hint="gone")],
            hints={
                "scarce": Hint("Which resource does the design use up the quickest, compared with what the chip has?",
                               "The one with the largest per cent. Rows with 0 never run out.",
                               "40 LUTs of 1000 and 1 multiplier of 10: the multipliers, 10 % against 4 %."),
                "copies": Hint("How many times does one copy go into what the chip has?",
                               "Divide what the chip has by what the design uses, and round down.",
                               "3 of 1000: 333 copies."),
                "whole": Hint("Is there room for the last copy?", "A part of a copy is none: round down.", "3 of 1000: 333."),
                "other_row": Hint("Which row ends first?", "All copies need all resources, so the scarcest row decides.",
                                  "LUTs for 25 copies, multipliers for 10: 10 copies."),
                "slack": Hint("How long is one period of your clock, and how long the slowest path?",
                              "1000 divided by the MHz gives ns. Slack is your period minus the period that was reached.",
                              "Reached 200 MHz: 5 ns. At 100 MHz: 10 ns - 5 ns = +5 ns."),
                "asked": Hint("For which clock does the report say 'met by'?", "For the one asked, 40 MHz. Yours is faster.",
                              "Reached 200 MHz: 5 ns. At 40 MHz 20 ns are left, at 100 MHz 5 ns."),
                "sign": Hint("Is time left over, or missing?", "Left over is plus, missing is minus.",
                             "Period 4 ns, path 5 ns: -1 ns."),
                "megahertz": Hint("In which unit is a slack?", "In ns. Turn both rates into periods, then subtract.",
                                  "200 MHz and 100 MHz: 5 ns and 10 ns."),
                "gone": Hint("Which line of the report speaks of a register that is left out?",
                             "The warning at its end. The tools drop what no output depends on.",
                             "'lost is not on the chip': the answer is lost."),
            },
        ),
        Exercise(
            "02-i", "Three lines at once", points=5, objective="build a trigger that a fixed instrument does not have",
            kind=answers.Design(ports=[*(answers.Port("digital_in", terminal=line) for line in LINES),
                                       answers.Port("digital_out", terminal="lamp 2")]),
            parameters=draw_trigger, judge=judge_trigger, answer="Trigger",
            criteria=[Criterion("three", "it fires when all three lines are 1 at once", points=1, hint="short"),
                      Criterion("two", "it stays silent for any two of them", points=1, hint="two"),
                      Criterion("apart", "it stays silent if each was 1, but never all at once", points=1, hint="apart"),
                      Criterion("soon", "it fires soon enough", points=1, hint="soon"),
                      Criterion("held", "the lamp stays on afterwards", points=1, hint="held")],
            hints={
                "never": Hint("When does your lamp come on at all?", "In a run with all three lines at 1 for 300 ticks it stays dark.",
                              "Condition true: assign 1 to the lamp."),
                "short": Hint("For how many ticks are all three lines 1?",
                              "Few. A loop that is busy elsewhere misses them: ask in each tick.",
                              "An overlap of 4 ticks, a loop that looks every 10: mostly missed."),
                "two": Hint("Which lines does your condition ask for?", "All three, in the same tick: and, not or.",
                            "1 1 0 is not 1 1 1."),
                "apart": Hint("Does your design remember a line that has gone down again?",
                              "Ask for the lines as they are in this tick, not as they have been.",
                              "1 0 0, then 0 1 0, then 0 0 1: never 1 1 1."),
                "soon": Hint("What stands between the condition and the lamp?",
                             "Two registers of the synchroniser and the lamp's own. No wait is needed.",
                             "Lines up in tick 10, lamp in tick 13."),
                "held": Hint("Who switches the lamp off?", "Nobody. Assign 1 when the condition holds, and nothing otherwise.",
                             "A register that is not assigned keeps its value."),
            },
        ),
    ],
)
