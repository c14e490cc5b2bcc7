"""What learners of lab 02 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

BLINK = '''
class Blink(Design):
    lamp = DigitalOut("lamp")
    count = Reg(unsigned({bits}))

    @clocked
    def blink(self):
        if self.count == {last}:
            self.count = 0
            self.lamp = not self.lamp
        else:
            self.count = self.count + 1
'''
UNEVEN = '''
class Blink(Design):
    lamp = DigitalOut("lamp")

    @sequenced(every=2 * mine_b.half)
    def blink(self):
        self.lamp = 1
        wait(20)
        self.lamp = 0
'''
PRESSES = '''
class Presses(Design):
    switch = DigitalIn("switch")
    pressed = Reg(bit)
    same = Reg(unsigned(16))
    presses = HostReg(unsigned(16), access="ro")

    @clocked
    def count(self):
        down = {down}
        if down == self.pressed:
            self.same = 0
        elif self.same >= ({wait_down} if down else {wait_up}):
            self.pressed = down
            self.same = 0
            if {counted}:
                self.presses = self.presses + 1
        else:
            self.same = self.same + 1
'''
LEVEL = '''
class Presses(Design):
    switch = DigitalIn("switch")
    warm = Reg(unsigned(2))
    presses = HostReg(unsigned(16), access="ro")

    @clocked
    def count(self):
        if self.warm < 3:
            self.warm = self.warm + 1
        elif not self.switch:
            self.presses = self.presses + 1
'''
LOCK = '''
class Presses(Design):
    switch = DigitalIn("switch")
    before = Reg(bit, reset={reset})
    held = Reg(unsigned(16))
    rest = Reg(unsigned(16))
    presses = HostReg(unsigned(16), access="ro")

    @clocked
    def count(self):
        down = not self.switch
        self.before = down
        self.held = self.held + 1 if down else 0
        if self.rest > 0:
            self.rest = self.rest - 1
        elif down and not self.before:
            self.presses = self.presses + 1
            self.rest = {press}
        elif self.before and not down and self.held > 2 * mine_d.bounce:
            self.rest = {release}
'''
SWITCH_ONLY = '''
class Presses(Design):
    switch = DigitalIn("switch")
    before = Reg(bit, reset=1)
    presses = HostReg(unsigned(16), access="ro")

    @clocked
    def count(self):
        self.before = not self.switch
        if not self.switch and not self.before:
            self.presses = self.presses + 1
'''
AGAIN = '''
class Presses(Design):
    switch = DigitalIn("switch")
    presses = HostReg(unsigned(16), access="ro")

    @sequenced
    def count(self):
        wait(mine_d.bounce + 8)
        until(self.switch)
        wait(mine_d.bounce + 8)
        until(not self.switch)
        self.presses = self.presses + 1
        wait(37 * mine_d.bounce // 4)
        if not self.switch:
            self.presses = self.presses + 1
'''
METER = '''
class Meter(Design):
    step = HostReg(unsigned(8), reset={start})
    go = HostReg(bit)
    clear = HostReg(bit)
    total = HostReg(unsigned(32), access="ro")

    @clocked
    def count(self):
{body}
'''
TRIGGER = '''
class Trigger(Design):
    a = DigitalIn("switch")
    b = DigitalIn("switch 2")
    c = DigitalIn("fan A pulse")
    lamp = DigitalOut("lamp 2")

    {loop}
    def look(self):
{body}
'''


def indented(body):
    return "\n".join("        " + line for line in body.split("\n"))


def presses(down="not self.switch", wait_down="mine_d.bounce", wait_up="mine_d.bounce", counted="down"):
    return PRESSES.format(down=down, wait_down=wait_down, wait_up=wait_up, counted=counted)


def lock(reset=1, press="mine_d.bounce + 5", release="mine_d.bounce + 5"):
    return LOCK.format(reset=reset, press=press, release=release)


ADD = "self.total = self.total + self.step"


def meter(clear="if self.clear:", go="elif self.go:", add=ADD, more="", start="mine_f.step"):
    body = f"{clear}\n    self.total = 0\n{go}\n    {add}{more}"
    return METER.format(start=start, body=indented(body))


def trigger(body, loop="@clocked"):
    return TRIGGER.format(body=indented(body), loop=loop)


def reading(change):
    return f"reading = {{**reading, {change}}}"


ALL = "if self.a and self.b and self.c:\n    "
STAND = """
class Trigger(Design):
    a = DigitalIn("switch")
    b = DigitalIn("switch 2")
    c = DigitalIn("fan A pulse")
    lamp = DigitalOut("lamp 2")
    ticks = Reg(unsigned(3))

    @clocked
    def look(self):
        if not (self.a and self.b and self.c):
            self.ticks = 0
        elif self.ticks == mine_i.overlap:
            self.lamp = 1
        else:
            self.ticks = self.ticks + 1
"""
SEEN = """
class Trigger(Design):
    a = DigitalIn("switch")
    b = DigitalIn("switch 2")
    c = DigitalIn("fan A pulse")
    lamp = DigitalOut("lamp 2")
    seen = Reg(unsigned(3))

    @clocked
    def look(self):
        self.seen = self.seen | cat(self.a, self.b, self.c)
        if self.seen == 7:
            self.lamp = 1
"""

wrong_answers = [
    # 02-a
    WrongAnswer("02-a", "a card that does not do", 'choice = {"T24": {"card": "A12", "cards": -(-mine_a.lines // 16), "rate": 3125, '
                '"code_uv": 4882.8}}.get(choice["card"], {"card": "T24", "cards": -(-mine_a.lines // 8), "rate": 12.5, '
                '"code_uv": 0.0093132})', "card", alone=True),
    WrongAnswer("02-a", "a card for each line", 'choice = {**choice, "cards": mine_a.lines}', "cards", "lines", alone=True),
    WrongAnswer("02-a", "rounded down", 'choice = {**choice, "cards": choice["cards"] - 1}', "cards", "cards", alone=True),
    WrongAnswer("02-a", "half the rate", 'choice = {**choice, "rate": choice["rate"] / 2}', "rate", "", alone=True),
    WrongAnswer("02-a", "one side of the range", 'choice = {**choice, "code_uv": choice["code_uv"] / 2}', "code", "one_sign",
                alone=True),
    WrongAnswer("02-a", "in volts", 'choice = {**choice, "code_uv": choice["code_uv"] / 1e6}', "code", "volts", alone=True),
    # 02-b
    WrongAnswer("02-b", "one too many", BLINK.format(bits=16, last="mine_b.half"), "period", "off_by_one", alone=True),
    WrongAnswer("02-b", "a change each period", BLINK.format(bits=16, last="2 * mine_b.half - 1"),
                "period", "half_period", alone=True),
    WrongAnswer("02-b", "too narrow for its last value", BLINK.format(bits="(mine_b.half - 1).bit_length() - 1",
                                                                      last="mine_b.half - 1"), "period", "narrow"),
    WrongAnswer("02-b", "one too many, and too narrow for it", BLINK.format(bits="(mine_b.half - 1).bit_length()",
                                                                            last="mine_b.half"), "period", "narrow"),
    WrongAnswer("02-b", "a short flash", UNEVEN, "even", "even", alone=True),
    # 02-c
    WrongAnswer("02-c", "level counts pulses", 'counts = {**counts, "level": mine_c.pulses}', "level", "exchanged", alone=True),
    WrongAnswer("02-c", "both edges", 'counts = {**counts, "edge": 2 * mine_c.pulses}', "edge", "twice", alone=True),
    WrongAnswer("02-c", "one tick for each pulse too few", 'counts = {**counts, "level": mine_c.pulses * (mine_c.width - 1)}',
                "level", "each_tick", alone=True),
    # 02-d
    WrongAnswer("02-d", "active high", presses(down="self.switch != 0"), "rest", "active_high"),
    WrongAnswer("02-d", "the level", LEVEL, "clean", "level"),
    WrongAnswer("02-d", "a long press counts again", AGAIN, "clean", "clean", alone=True),
    WrongAnswer("02-d", "never counts", presses(counted="False"), "clean", "clean"),
    WrongAnswer("02-d", "counts the release too", presses(counted="True"), "clean", "clean"),
    WrongAnswer("02-d", "each falling edge", SWITCH_ONLY, "press", "bounce"),
    WrongAnswer("02-d", "the first ticks counted", lock(reset=0), "rest", "rest", alone=True),
    WrongAnswer("02-d", "no pause after the press", lock(press="0"), "press", "bounce", alone=True),
    WrongAnswer("02-d", "no pause after the release", lock(release="0"), "release", "release", alone=True),
    WrongAnswer("02-d", "waits a third of the chatter", presses(wait_down="mine_d.bounce // 3", wait_up="mine_d.bounce // 3"),
                "press", "bounce"),
    WrongAnswer("02-d", "waits too long", presses(wait_down="5 * mine_d.bounce"), "soon", "soon", alone=True),
    # 02-e
    WrongAnswer("02-e", "step of 1", 'totals = {**totals, "stopped": mine_e.first}', "stopped", "step", alone=True),
    WrongAnswer("02-e", "settings survive a reset", 'totals = {**totals, "after_reset": mine_e.step * mine_e.second}',
                "after_reset", "settings", alone=True),
    WrongAnswer("02-e", "the reset goes on", 'totals = {**totals, "after_reset": totals["stopped"] + mine_e.second}',
                "after_reset", "goes_on", alone=True),
    WrongAnswer("02-e", "a reset does nothing",
                'totals = {**totals, "after_reset": totals["stopped"] + mine_e.step * mine_e.second}', "after_reset",
                "both_kept", alone=True),
    WrongAnswer("02-e", "settings survive a reload", 'totals = {**totals, "after_reload": 1000 + mine_e.step * mine_e.second}',
                "after_reload", "settings", alone=True),
    WrongAnswer("02-e", "start value forgotten", 'totals = {**totals, "after_reload": 10 * mine_e.second}', "after_reload",
                "start", alone=True),
    # 02-f
    WrongAnswer("02-f", "the old start value", meter(start="1"), "start", "one", alone=True),
    WrongAnswer("02-f", "the step in the code", meter(add="self.total = self.total + mine_f.step"), "written", "written",
                alone=True),
    WrongAnswer("02-f", "a turn of two ticks", METER.format(start="mine_f.step", body=indented(
        "until(self.go)\nself.total = self.total + self.step\nif self.clear:\n    self.total = 0")).replace("@clocked", "@sequenced"),
                "start", "each_tick"),
    WrongAnswer("02-f", "go is not looked at", meter(go="else:"), "stop", "goes_on_counting", alone=True),
    WrongAnswer("02-f", "a stop is a reset", meter(more="\nelse:\n    self.total = 0"), "stop", "lost", alone=True),
    WrongAnswer("02-f", "clear only while stopped", meter(clear="if self.clear and not self.go:"), "clear", "clear", alone=True),
    WrongAnswer("02-f", "clear only while running", meter(clear="if self.clear and self.go:"), "clear", "clear", alone=True),
    # 02-g
    WrongAnswer("02-g", "lamp forgotten", "size = size - 1", "size", "lamp", alone=True),
    WrongAnswer("02-g", "room for N itself", "size = mine_g.half.bit_length() + 1", "size", "last", alone=True),
    WrongAnswer("02-g", "one for each count", "size = mine_g.half", "size", "decimal", alone=True),
    # 02-h
    WrongAnswer("02-h", "the row with 0", reading('"scarce": "block RAM"'), "scarce", "scarce", alone=True),
    WrongAnswer("02-h", "rounded up", reading('"copies": reading["copies"] + 1'), "copies", "whole", alone=True),
    WrongAnswer("02-h", "another row", reading('"copies": {"Smooth": 24_288 // 32, "Hours": 24_288 // 59, "Peak": 24_288 // 34}'
                                               '[mine_h.report.split()[0]]'), "copies", "other_row", alone=True),
    WrongAnswer("02-h", "slack at 40 MHz", reading('"slack_ns": reading["slack_ns"] + 25 - 1000 / mine_h.mhz'), "slack", "asked",
                alone=True),
    WrongAnswer("02-h", "sign turned", reading('"slack_ns": -reading["slack_ns"]'), "slack", "sign", alone=True),
    WrongAnswer("02-h", "in MHz", reading('"slack_ns": reached - mine_h.mhz'), "slack", "megahertz", alone=True),
    WrongAnswer("02-h", "a register on the path", reading('"gone": "ticks"'), "gone", "gone", alone=True),
    # 02-i
    WrongAnswer("02-i", "looks too seldom", trigger(ALL + "self.lamp = 1\nwait(97)", "@sequenced(every=101)"), "three", "short"),
    WrongAnswer("02-i", "waits until all three stand", STAND, "three", "short", alone=True),
    WrongAnswer("02-i", "stays dark", trigger("self.lamp = 0"), "three", "never"),
    WrongAnswer("02-i", "two lines", trigger("if self.a and self.b:\n    self.lamp = 1"), "two", "two", alone=True),
    WrongAnswer("02-i", "any line", trigger("if self.a or self.b or self.c:\n    self.lamp = 1"), "two", "two"),
    WrongAnswer("02-i", "one after the other", SEEN, "apart", "apart", alone=True),
    WrongAnswer("02-i", "waits first", trigger("until(self.a and self.b and self.c)\nwait(20)\nself.lamp = 1", "@sequenced"),
                "soon", "soon", alone=True),
    WrongAnswer("02-i", "goes off again", trigger("self.lamp = self.a and self.b and self.c"), "held", "held", alone=True),
]

BOTH_WAITS = "a count that is wrong here starts or ends the wait a little sooner, and the longest chatter still fits"
allowed = [
    Allowed("02-d", "self.same = 0 -> pass", "the ticks of a chatter are too few to add up to a press"),
    Allowed("02-d", "0 -> 1", BOTH_WAITS),
    Allowed("02-d", "self.same >= mine_d.bounce -> self.same > mine_d.bounce", BOTH_WAITS),
    Allowed("02-d", "1 -> 2", "two stretches of half the chatter do not fit into it"),
]
