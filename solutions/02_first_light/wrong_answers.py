"""What learners of lab 02 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import WrongAnswer

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
        elif self.before and not down and self.held > 2 * mine_c.bounce:
            self.rest = {release}
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


def presses(down="not self.switch", wait_down="mine_c.bounce", wait_up="mine_c.bounce", counted="down"):
    return PRESSES.format(down=down, wait_down=wait_down, wait_up=wait_up, counted=counted)


def lock(reset=1, press="mine_c.bounce + 5", release="mine_c.bounce + 5"):
    return LOCK.format(reset=reset, press=press, release=release)


def trigger(body, loop="@clocked"):
    return TRIGGER.format(body="\n".join("        " + line for line in body.split("\n")), loop=loop)


ALL = "if self.a and self.b and self.c:\n    "

wrong_answers = [
    WrongAnswer("02-a", "no isolation", 'choice = {"card": "A12", "cards": -(-mine_a.lines // 16), "rate": 3125}', "card",
                alone=True),
    WrongAnswer("02-a", "a card for each line", 'choice = {**choice, "cards": mine_a.lines}', "cards", "lines", alone=True),
    WrongAnswer("02-a", "half the rate", 'choice = {**choice, "rate": choice["rate"] / 2}', "rate", "", alone=True),
    WrongAnswer("02-b", "one too many", BLINK.format(bits=16, last="mine_b.half"), "period", "off_by_one", alone=True),
    WrongAnswer("02-b", "a change each period", BLINK.format(bits=16, last="2 * mine_b.half - 1"),
                "period", "half_period", alone=True),
    WrongAnswer("02-b", "too narrow", BLINK.format(bits="mine_b.half.bit_length() - 1", last="mine_b.half"), "period", "narrow"),
    WrongAnswer("02-b", "a short flash", UNEVEN, "even", "even", alone=True),
    WrongAnswer("02-c", "active high", presses(down="self.switch != 0"), "rest", "active_high"),
    WrongAnswer("02-c", "the level", LEVEL, "clean", "level", alone=True),
    WrongAnswer("02-c", "counts the release too", presses(counted="True"), "clean", "clean"),
    WrongAnswer("02-c", "the first ticks counted", lock(reset=0), "rest", "rest", alone=True),
    WrongAnswer("02-c", "no pause after the press", lock(press="0"), "press", "bounce", alone=True),
    WrongAnswer("02-c", "no pause after the release", lock(release="0"), "release", "release", alone=True),
    WrongAnswer("02-d", "level counts pulses", 'counts = {**counts, "level": mine_d.pulses}', "level", "exchanged", alone=True),
    WrongAnswer("02-d", "both edges", 'counts = {**counts, "edge": 2 * mine_d.pulses}', "edge", "twice", alone=True),
    WrongAnswer("02-e", "lamp forgotten", "size = size - 1", "size", "lamp", alone=True),
    WrongAnswer("02-e", "one for each count", "size = mine_e.half", "size", "decimal", alone=True),
    WrongAnswer("02-f", "looks too seldom", trigger(ALL + "self.lamp = 1\nwait(97)", "@sequenced(every=101)"), "three", "short",
                alone=True),
    WrongAnswer("02-f", "two lines", trigger("if self.a and self.b:\n    self.lamp = 1"), "two", "two", alone=True),
    WrongAnswer("02-f", "waits first", trigger("until(self.a and self.b and self.c)\nwait(20)\nself.lamp = 1", "@sequenced"),
                "soon", "soon", alone=True),
    WrongAnswer("02-f", "goes off again", trigger("self.lamp = self.a and self.b and self.c"), "held", "held", alone=True),
    WrongAnswer("02-g", "step of 1", 'totals = {**totals, "stopped": mine_g.first}', "stopped", "step", alone=True),
    WrongAnswer("02-g", "settings survive", 'totals = {**totals, "after_reset": mine_g.step * mine_g.second}', "after_reset",
                "settings", alone=True),
]
