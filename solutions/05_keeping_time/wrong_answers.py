"""What learners of lab 05 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

STEADY = '''
class Steady(Design):
    switch = DigitalIn("switch")
    lamp = DigitalOut("lamp")
    working = DigitalOut("lamp 2")

    @sequenced(every={every})
    def turn(self):
        self.lamp = not self.lamp
        self.working = 1
        wait({work})
        self.working = 0
        {rest}
'''
WORK = "mine_b.long if self.switch else mine_b.short"

TIMER = '''
class PulseTimer(Design):
    pulse = DigitalIn("fan A pulse")
    width = HostReg(unsigned(16), access="ro", unit="ticks")
    now = Reg(unsigned({bits}))
    start = Reg(unsigned({bits}))

    @clocked
    def clock(self):
        self.now = self.now + 1

    @sequenced
    def measure(self):
        until(self.pulse)
        {first}
        self.start = self.now
        until(not self.pulse)
        {last}
'''

TACHO = '''
class Tacho(Design):
    pulse = DigitalIn("fan A pulse")
    limit = HostReg(unsigned({bits}), reset={reset}, unit="ticks")
    period = HostReg(unsigned({bits}), access="ro", unit="ticks")
    turning = HostReg(bit, access="ro")
    before = Reg(bit)
    seen = Reg(bit)
    age = Reg(unsigned({bits}))

    @clocked
    def watch(self):
        self.before = self.pulse
        if self.pulse and not self.before:
            if {known}:
                self.period = self.age
                self.turning = 1
            self.seen = 1
            self.age = {start}
        elif self.age < self.limit:
            self.age = self.age + 1
        else:
            {silent}
'''
FORGET = "self.seen = 0; self.turning = 0; self.period = 0"

PWM = '''
class Pwm(Design):
    lamp = DigitalOut("lamp")
    duty = HostReg(unsigned({duty}), unit="ticks")
    count = Reg(unsigned({count}))

    @clocked
    def run(self):
        self.lamp = {on}
        self.count = 0 if self.count {wrap} else self.count + 1
'''

TWO = '''
class TwoRates(Design):
    working = DigitalOut("lamp")
    sampling = DigitalOut("lamp 2")
    turns = Reg(unsigned(16))
{loops}
'''
FAST = '''
    @sequenced(every={every})
    def fast(self):
        self.sampling = not self.sampling
'''
SLOW = '''
    @sequenced(every={every})
    def slow(self):
        self.working = 1
        wait({work})
        self.working = 0
'''


def steady(every="mine_b.period", work=WORK, rest="pass"):
    return STEADY.format(every=every, work=work, rest=rest)


def timer(first="", last="self.width = self.now - self.start", bits=16):
    return TIMER.format(first=first, last=last, bits=bits)


def tacho(reset="slowest_turn", known="self.seen", start="1", silent=FORGET, bits=25):
    return TACHO.format(reset=reset, known=known, start=start, silent=silent, bits=bits)


def pwm(on="self.count < self.duty", wrap="== mine_g.period - 1", duty="duty_bits", count="duty_bits"):
    return PWM.format(on=on, wrap=wrap, duty=duty, count=count)


def two(*loops):
    return TWO.format(loops="".join(loops))


fast, slow = FAST.format(every='rate["ticks"]'), SLOW.format(every="ms(1)", work="mine_i.work")

wrong_answers = [
    # 05-a
    WrongAnswer("05-a", "the wait alone", "period_us = mine_a.pause * 0.025", "period", "work_forgotten"),
    WrongAnswer("05-a", "the turn's last tick forgotten", "period_us = (mine_a.steps + mine_a.pause) * 0.025", "period",
                "last_tick"),
    WrongAnswer("05-a", "a tick for the assignment", "period_us = (mine_a.steps + mine_a.pause + 2) * 0.025", "period",
                "free_ticks"),
    WrongAnswer("05-a", "in nanoseconds", "period_us = (mine_a.steps + mine_a.pause + 1) * 25", "period", "unit"),
    # 05-b
    WrongAnswer("05-b", "a wait after the work", steady("None", rest="wait(mine_b.period)"), "period", "after_work"),
    WrongAnswer("05-b", "one tick too slow", steady("mine_b.period + 1"), "period", "one_tick", alone=True),
    WrongAnswer("05-b", "the rest of the short turn waited for",
                steady("None", rest="wait(mine_b.period - mine_b.short - 1)"), "steady", "after_work", alone=True),
    WrongAnswer("05-b", "microseconds for ticks", steady("us(mine_b.period)"), "period", "slow"),
    WrongAnswer("05-b", "short work only", steady(work="mine_b.short"), "work", "work", alone=True),
    # 05-c
    WrongAnswer("05-c", "500 turns divided by the frequency",
                'diagnosis = {"late": 500 // mine_c.often, "longest": 799 - mine_c.work}', "late", "lost_turns", alone=True),
    WrongAnswer("05-c", "no tick left for the start",
                'diagnosis = {"late": rig.late["turn"], "longest": 800 - mine_c.work}', "longest", "room", alone=True),
    WrongAnswer("05-c", "far from the limit", 'diagnosis = {"late": rig.late["turn"], "longest": 10}', "longest",
                "longest", alone=True),
    # 05-d
    WrongAnswer("05-d", "off by one", timer(last="self.width = self.now - self.start + 1"), "exact", "one_tick",
                alone=True),
    WrongAnswer("05-d", "a live count", timer(last="self.width = self.now - self.start").replace(
        "self.start = self.now", "self.start = self.now\n        while self.pulse:\n"
        "            self.width = self.now - self.start\n            tick()"), "exact", "kept", alone=True),
    WrongAnswer("05-d", "wrap not handled", timer(last="self.width = self.now - self.start if self.now > self.start "
                                                       "else self.start - self.now"), "wrap", "wrap", alone=True),
    WrongAnswer("05-d", "wrap handled as 65535", timer(last="self.width = self.now - self.start if self.now > self.start "
                                                            "else 65535 - self.start + self.now"), "wrap",
                "wrap_by_one", alone=True),
    WrongAnswer("05-d", "a look every 8 ticks", timer(first="wait(8)", last="self.width = self.now - self.start + 8"),
                "short", "neighbours", alone=True),
    WrongAnswer("05-d", "32 bits to be safe", timer(last="self.width = resize(self.now - self.start, unsigned(16))",
                                                    bits=32).replace("class", "from simkit import resize\nclass", 1),
                "size", "size", alone=True),
    WrongAnswer("05-d", "the pulses add up", timer(last="self.width = self.start").replace("self.start = self.now", "self.start = 0")
                .replace("until(not self.pulse)", "while self.pulse:\n            self.start = self.start + 1\n            tick()"),
                "wrap", "adds_up"),
    # 05-e
    WrongAnswer("05-e", "turns per second", 'methods = {**methods, "gate_step": gate_step / 60}', "gate",
                "per_minute", alone=True),
    WrongAnswer("05-e", "step of the period in r/s", 'methods = {**methods, "period_step": period_step / 60}',
                "period", "per_minute", alone=True),
    WrongAnswer("05-e", "half a count", 'methods = {**methods, "gate_step": gate_step / 2}', "gate", "gate",
                alone=True),
    WrongAnswer("05-e", "the coarser one", 'methods = {**methods, "choice": "gate" if methods["choice"] == "period" else "period"}',
                "choice", "choice", alone=True),
    # 05-f
    WrongAnswer("05-f", "one tick too few", tacho(start="0"), "speed", "one_tick", alone=True),
    WrongAnswer("05-f", "the first interval is taken for a turn",
                tacho(known="True", silent="self.turning = 0; self.period = 0"), "first", "first"),
    WrongAnswer("05-f", "frozen at the last speed", tacho(silent="self.seen = 0"), "stop", "frozen"),
    WrongAnswer("05-f", "the stop is taken for a turn", tacho(silent="self.turning = 0; self.period = 0"), "again",
                "again", alone=True),
    WrongAnswer("05-f", "the edge after a stop is forgotten at once", """
class Tacho(Design):
    pulse = DigitalIn("fan A pulse")
    limit = HostReg(unsigned(25), reset=slowest_turn)
    period = HostReg(unsigned(25), access="ro")
    turning = HostReg(bit, access="ro")
    before = Reg(bit)
    seen = Reg(bit)
    age = Reg(unsigned(26))

    @clocked
    def watch(self):
        self.before = self.pulse
        self.age = self.age + 1
        if self.pulse and not self.before:
            if self.seen:
                self.period = resize(self.age, unsigned(25))
                self.turning = 1
            self.seen = 1
            self.age = 1
        if self.age > self.limit:
            self.seen = 0
            self.turning = 0
            self.period = 0
""".replace("class", "from simkit import resize\nclass", 1), "again", "lost_edge", alone=True),
    WrongAnswer("05-f", "limit in seconds and minutes mixed up", tacho(reset="HZ // mine_f.slowest"), "limit",
                "per_minute", alone=True),
    WrongAnswer("05-f", "an edge must last two ticks",
                tacho().replace("self.pulse and not self.before:", "self.pulse and self.before and not self.older:")
                .replace("self.before = self.pulse", "self.before = self.pulse; self.older = self.before")
                .replace("seen = Reg(bit)", "seen = Reg(bit); older = Reg(bit)"), "neighbours", "neighbours", alone=True),
    WrongAnswer("05-f", "limit halved", tacho(reset="slowest_turn // 2"), "limit", "limit", alone=True),
    # 05-g
    WrongAnswer("05-g", "N + 1 ticks", pwm(wrap="== mine_g.period"), "period", "n_plus_one"),
    WrongAnswer("05-g", "0 % is not off", pwm(on="self.count <= self.duty"), "ends", "zero"),
    WrongAnswer("05-g", "one tick too long", pwm(on="self.duty > 0 and self.count <= self.duty"), "high", "compare",
                alone=True),
    WrongAnswer("05-g", "100 % is not on", pwm(on="self.count < self.duty and self.count < mine_g.period - 1"), "ends",
                "full", alone=True),
    WrongAnswer("05-g", "duty too narrow", pwm(duty="duty_bits - 1"), "ends", "narrow", alone=True),
    WrongAnswer("05-g", "32 bits to be safe", pwm(count="32", duty="32"), "size", "size", alone=True),
    # 05-h
    WrongAnswer("05-h", "rounded away from the nearest", 'rate = {**rate, "ticks": rate["ticks"] + 1}', "ticks",
                "rounding", alone=True),
    WrongAnswer("05-h", "error of the period", 'rate = {**rate, "ppm": -rate["ppm"]}', "ppm", "sign", alone=True),
    WrongAnswer("05-h", "in per cent", 'rate = {**rate, "ppm": rate["ppm"] / 1e4}', "ppm", "million", alone=True),
    # 05-i
    WrongAnswer("05-i", "fast loop one tick too slow", two(FAST.format(every='rate["ticks"] + 1'), slow), "fast",
                "one_tick", alone=True),
    WrongAnswer("05-i", "everything in one loop", two('''
    @sequenced(every=rate["ticks"])
    def both(self):
        self.sampling = not self.sampling
        if self.turns == 40_000 // rate["ticks"] - 1:
            self.turns = 0
            self.working = 1
            wait(mine_i.work)
            self.working = 0
        else:
            self.turns = self.turns + 1
'''), "fast", "disturbed"),
    WrongAnswer("05-i", "the slow rate derived from the fast one", two('''
    @sequenced(every=rate["ticks"])
    def fast(self):
        self.sampling = not self.sampling
        self.turns = 0 if self.turns == 40_000 // rate["ticks"] - 1 else self.turns + 1
''', '''
    @sequenced
    def slow(self):
        until(self.turns == 0)
        self.working = 1
        wait(mine_i.work)
        self.working = 0
        until(self.turns != 0)
'''), "slow", "multiple", alone=True),
    WrongAnswer("05-i", "half of the work", two(fast, SLOW.format(every="ms(1)", work="mine_i.work // 2")), "work", "work",
                alone=True),
]

allowed = [
    Allowed("05-f", "self.age < self.limit -> self.age <= self.limit", "the task accepts a stop that is noticed 20 ticks late"),
]
