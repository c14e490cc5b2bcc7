"""What learners of lab 09 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

TOGETHER = '''
class Together(Design):
    go = HostReg(bit)
    switch = DigitalIn("switch")
    lamp, lamp_2 = DigitalOut("lamp"), DigitalOut("lamp 2")
    phase = Reg(unsigned(10))

    @clocked
    def beat(self):
        {beat}

    @sequenced
    def fan_a(self):
        until({a})
        self.lamp = 1
        wait(10)
        self.lamp = 0
        if self.switch:
            wait(mine_b.work)
        {rest}

    @sequenced
    def fan_b(self):
        until({b})
        self.lamp_2 = 1
        wait(10)
        self.lamp_2 = 0
'''
BEAT = "self.phase = self.phase + 1 if self.go and self.phase != mine_b.period - 1 else 0"


def together(beat=BEAT, a="self.go and self.phase == 0", b="self.go and self.phase == mine_b.lag", rest="pass"):
    return TOGETHER.format(beat=beat, a=a, b=b, rest=rest)


TRIGGER = '''
class Trigger(Design):
    accel, switch = AnalogIn("fan B bearing"), DigitalIn("switch")
    level, index = HostReg(signed(24), reset=1000), HostReg(unsigned(4))
    word, stamp = HostReg(signed(24), access="ro"), HostReg(unsigned(32), access="ro")
    done = HostReg(bit, access="ro")
    store, now = Ram(signed(24), 16), Reg(unsigned(32))
    place, first = Reg(unsigned(4)), Reg(unsigned(4))
    filled, left = Reg(unsigned(4)), Reg(unsigned(4))
    last, fired = Reg(signed(24)), Reg(bit)

    @clocked
    def run(self):
        self.now = self.now + 1
        self.store.request(self.first + self.index)
        self.word = self.store.word
        if self.accel.valid{store}:
            self.store[self.place] = self.accel.value
            self.place, self.last = self.place + 1, self.accel.value
            if self.fired:
                self.left = self.left - 1
                self.done = {done}
            elif {few}:
                self.filled = self.filled + 1
            elif {fire}:
                self.fired = 1
                {stamp}
                self.left, self.first = {left}, {first}
        {after}
'''
FIRE = "self.switch and self.last < self.level and self.accel.value >= self.level"


def trigger(store=" and not self.done", done="self.left == 1", few="self.filled < mine_c.pre", fire=FIRE,
            stamp="self.stamp = self.now", left="15 - mine_c.pre", first="self.place - mine_c.pre", after="pass"):
    return TRIGGER.format(store=store, done=done, few=few, fire=fire, stamp=stamp, left=left, first=first, after=after)


ALIGNED = '''
class Aligned(Design):
    fan_a, fan_b = AnalogIn("fan A bearing"), AnalogIn("fan B bearing")
    a, b = HostReg(signed(24), access="ro"), HostReg(signed(24), access="ro")
    taps = Regs(signed(24), 6)
    late = Reg(signed(24))

    @sequenced
    def align(self):
        new = self.fan_a.read()
        self.taps[0] = new
        for i in range(1, 6):
            self.taps[i] = self.taps[i - 1]
        newer = resize(self.taps[{whole}], signed({bits})) * signed(6)({one})
        older = resize(self.taps[{whole} + 1], signed({bits})) * signed(6)({two})
        self.a = resize({total}, signed(24))
        {b}
'''


def aligned(whole="mine_e.whole - 1", one="16 - mine_e.part", two="mine_e.part", bits=30, total="(newer + older) >> 4",
            b="self.b = self.fan_b.value"):
    return ALIGNED.format(whole=whole, one=one, two=two, bits=bits, total=total, b=b)


CARRY = '''
class Carry(Design):
    switch, seen = DigitalIn("switch"), HostReg(unsigned(16), access="ro")
    before, flag = Reg(bit), Synchronizer()
    last, total = Reg(bit), Reg(unsigned(16))
    hold = Reg(unsigned(8))
    back = Handshake(unsigned(16))

    @clocked
    def fabric(self):
        self.before = self.switch
        {fabric}

    @clocked(clock=slow)
    def card(self):
        self.last = self.flag
        self.back.try_put(self.total)
        if {card}:
            self.total = self.total + 1

    @sequenced
    def show(self):
        self.seen = self.back.get()
'''
TURN_OVER = '''if self.switch and not self.before:
            self.flag = not self.flag'''
STRETCH = '''if self.switch and not self.before:
            self.hold = {n}
        elif self.hold > 0:
            self.hold = self.hold - 1
        self.flag = self.hold > 0'''


def carry(fabric=TURN_OVER, card="self.flag != self.last"):
    return CARRY.format(fabric=fabric, card=card)


SAFE = '''
class Safe(Design):
    shown, count, caught = HostReg(unsigned(8), access="ro"), Reg(unsigned(8)), Reg(unsigned(8))
    code = Reg(unsigned(8))

    @sequenced(clock=other)
    def card(self):
        self.count = self.count + 1
        self.code = {code}
        wait(4)

    @clocked
    def fabric(self):
        {read}
        self.caught = unsafe_cross(self.code)

across = {{**across, "design": Safe}}
'''
BACK = '''b = self.caught ^ (self.caught >> 4)
        b = b ^ (b >> 2)
        self.shown = b ^ (b >> 1)'''


def safe(code="self.count ^ (self.count >> 1)", read=BACK):
    return SAFE.format(code=code, read=read)


BEHIND = '''
from simkit import Fifo

class Safe(Design):
    shown, count = HostReg(unsigned(8), access="ro"), Reg(unsigned(8))
    link, queue = Fifo(unsigned(8), 4), Fifo(unsigned(8), 32)

    @sequenced(clock=other)
    def card(self):
        self.count = self.count + 1
        self.link.try_put(self.count)
        wait(4)

    @clocked
    def fabric(self):
        if self.link.try_get():
            self.queue.try_put(self.link.value)

    @sequenced
    def show(self):
        until(self.queue.count > 10)
        self.shown = self.queue.get()

across = {**across, "design": Safe}
'''

SLOW_READER = '''
class Safe(Design):
    shown, count = HostReg(unsigned(8), access="ro"), Reg(unsigned(8))
    link = Handshake(unsigned(8))

    @sequenced(clock=other)
    def card(self):
        self.count = self.count + 1
        self.link.try_put(self.count)
        wait(4)

    @sequenced
    def fabric(self):
        v = self.link.get()
        self.shown = v
        wait(20)

across = {**across, "design": Safe}
'''

wrong_answers = [
    # 09-a
    WrongAnswer("09-a", "difference of the periods", "apart = mine_a.two - mine_a.one", "apart", "periods"),
    WrongAnswer("09-a", "the delay of one loop", "apart = -mine_a.go % mine_a.two", "apart", "one_loop"),
    WrongAnswer("09-a", "one tick more", "apart = apart + 1", "apart", "one_tick"),
    WrongAnswer("09-a", "they start together", "apart = 0", "apart", "multiples"),
    # 09-b
    WrongAnswer("09-b", "lag one tick too long", together(b="self.go and self.phase == mine_b.lag + 1"), "start", "one_tick",
                alone=True),
    WrongAnswer("09-b", "the same number in both loops", together(b="self.go and self.phase == 0"), "start", "start",
                alone=True),
    WrongAnswer("09-b", "fan A does not wait for go", together(a="self.phase == 0"), "start", "early"),
    WrongAnswer("09-b", "lamp 2 never flashes", together(b="self.go and self.phase == mine_b.period"), "start", "silent"),
    WrongAnswer("09-b", "N + 1 ticks", together(BEAT.replace("mine_b.period - 1", "mine_b.period")), "period", "one_tick",
                alone=True),
    WrongAnswer("09-b", "twice the period", together(BEAT.replace("mine_b.period - 1", "1023")), "period", "period"),
    WrongAnswer("09-b", "flashes of one tick", together().replace("wait(10)", "tick()"), "period", "length", alone=True),
    WrongAnswer("09-b", "paced by a wait", together(
        a="self.go", rest="wait(mine_b.period - 12)"), "held", "held", alone=True),
    WrongAnswer("09-b", "the counter only pauses", together(
        "if self.go:\n            self.phase = self.phase + 1 if self.phase != mine_b.period - 1 else 0"), "again", "again",
        alone=True),
    WrongAnswer("09-b", "nobody stops", together("if self.go or self.phase != 0:\n            self.phase = self.phase + 1 if "
        "self.phase != mine_b.period - 1 else 1", a="self.phase == 1", b="self.phase == mine_b.lag + 1"), "again", "stopped"),
    # 09-c
    WrongAnswer("09-c", "never with the switch on", trigger(fire=FIRE.replace("self.switch", "not self.switch")), "fires", "never"),
    WrongAnswer("09-c", "sixteen more samples", trigger(done="self.left == 0").replace("- mine_c.pre, self.place", ", self.place"),
                "fires", "fires"),
    WrongAnswer("09-c", "place off by one", trigger(first="self.place - mine_c.pre + 1", left="16 - mine_c.pre"), "place",
                "one_sample", alone=True),
    WrongAnswer("09-c", "the record begins at the trigger", trigger(first="self.place"), "place", "place", alone=True),
    WrongAnswer("09-c", "one sample too many", trigger(left="16 - mine_c.pre"), "place", "order", alone=True),
    WrongAnswer("09-c", "the switch forgotten", trigger(fire=FIRE.replace("self.switch and ", "")), "lines", "gate", alone=True),
    WrongAnswer("09-c", "above instead of crossing", trigger(fire="self.switch and self.accel.value >= self.level"), "lines",
                "edge", alone=True),
    WrongAnswer("09-c", "pre-trigger not filled", trigger(few="False and self.filled < 1"), "early", "early", alone=True),
    WrongAnswer("09-c", "samples counted for a stamp", trigger(stamp="self.stamp = self.counted").replace("self.last = self.place + 1, self.accel.value",
        "self.last = self.place + 1, self.accel.value\n            self.counted = self.counted + 1").replace(
        "fired = Reg(signed(24)), Reg(bit)", "fired = Reg(signed(24)), Reg(bit)\n    counted = Reg(unsigned(32))"), "stamp", "stamp",
        alone=True),
    WrongAnswer("09-c", "stamp of the end", trigger(
        stamp="pass", after="if self.fired and not self.done:\n            self.stamp = self.now"), "stamp", "moving", alone=True),
    WrongAnswer("09-c", "the record goes on", trigger(
        store="", fire=FIRE, done="self.done or self.left == 1").replace("if self.fired:", "if self.fired and not self.done:")
        .replace("elif self.filled", "elif not self.fired and self.filled").replace("elif self.switch", "elif not self.fired and self.switch"),
        "fires", "fires"),
    WrongAnswer("09-c", "a later crossing moves the stamp", trigger(
        after="if self.accel.valid and self.done and self.last < self.level and self.accel.value >= self.level:\n"
              "            self.stamp = self.now"), "kept", "kept", alone=True),
    # 09-d
    WrongAnswer("09-d", "a step for each channel", 'channels = {**channels, "degrees": 360 * mine_d.tone * mine_d.used / mine_d.rate}',
                "degrees", "last_channel", alone=True),
    WrongAnswer("09-d", "the next channel", 'channels = {**channels, "degrees": 360 * mine_d.tone / mine_d.rate}', "degrees",
                "next_channel", alone=True),
    WrongAnswer("09-d", "radians", 'channels = {**channels, "degrees": np.radians(degrees)}', "degrees", "degrees", alone=True),
    WrongAnswer("09-d", "the other card",
                'channels = {**channels, "card": "at once" if channels["card"] == "in turn" else "in turn"}', "card", "card",
                alone=True),
    WrongAnswer("09-d", "all start together", 'channels = {**channels, "amps": mine_d.fans * mine_d.start_a}', "amps", "together",
                alone=True),
    WrongAnswer("09-d", "the starting one alone", 'channels = {**channels, "amps": mine_d.start_a}', "amps", "amps", alone=True),
    # 09-e
    WrongAnswer("09-e", "one sample too many", aligned(whole="mine_e.whole"), "whole", "whole", alone=True),
    WrongAnswer("09-e", "the late channel delayed", aligned(b="self.b = self.a").replace("self.fan_a.read", "self.fan_X.read")
                .replace("self.fan_b.value", "self.fan_a.value").replace("self.fan_X", "self.fan_b")
                .replace("self.a = resize", "self.b = resize").replace("self.b = self.a", "self.a = self.fan_a.value"), "whole",
                "other_side"),
    WrongAnswer("09-e", "weights swapped", aligned(one="mine_e.part", two="16 - mine_e.part"), "part", "swapped", alone=True),
    WrongAnswer("09-e", "rounded to a sample", aligned(one="16", two="0"), "part", "rounded", alone=True),
    WrongAnswer("09-e", "an eighth lost", aligned(one="18 - mine_e.part", two="mine_e.part - 2"), "part", "part", alone=True),
    WrongAnswer("09-e", "b one tick later", aligned(b="self.late = self.fan_b.value\n        tick()\n        self.b = self.late"),
                "together", "together", alone=True),
    WrongAnswer("09-e", "the sum wraps", aligned(total="signed(24)(bits(newer + older, 27, 4))", bits=30)
                .replace("class", "from simkit import bits\nclass", 1).replace(
                    "signed(24)(bits(newer + older, 27, 4))", "signed(23)(bits(newer + older, 26, 4))"), "ends", "ends", alone=True),
    # 09-f
    WrongAnswer("09-f", "pulses sent as they are", carry("self.flag = self.switch", "self.flag and not self.last"), "every", "lost"),
    WrongAnswer("09-f", "only rises counted", carry(card="self.flag and not self.last"), "every", "every"),
    WrongAnswer("09-f", "the first one skipped", carry(card="self.flag != self.last and (self.total > 0 or self.armed)").replace(
        "hold = Reg(unsigned(8))", "hold, armed = Reg(unsigned(8)), Reg(bit)").replace(
        "self.last = self.flag", "self.last = self.flag\n        if self.flag != self.last:\n            self.armed = 1"), "every", "one"),
    WrongAnswer("09-f", "made longer", carry(STRETCH.format(n=20), "self.flag and not self.last"), "close", "merged", alone=True),
    WrongAnswer("09-f", "made so long that close ones melt", carry(STRETCH.format(n=24), "self.flag and not self.last"), "close",
                "merged", alone=True),
    WrongAnswer("09-f", "both edges of the switch", carry('if self.switch != self.before and (self.switch or self.hold > 2):\n'
        '            self.flag = not self.flag\n        self.hold = self.hold + 1 if self.switch and self.hold < 9 else '
        '0 if not self.switch else self.hold'), "long", "long", alone=True),
    # 09-g
    WrongAnswer("09-g", "old or new", 'across = {**across, "values": 2}', "values", "old_new", alone=True),
    WrongAnswer("09-g", "any of 256", 'across = {**across, "values": 256}', "values", "all", alone=True),
    WrongAnswer("09-g", "the bits that change", 'across = {**across, "values": bin(mine_g.value ^ (mine_g.value + 1)).count("1")}',
                "values", "bits", alone=True),
    WrongAnswer("09-g", "one too few", 'across = {**across, "values": across["values"] - 1}', "values", "values", alone=True),
    WrongAnswer("09-g", "two registers for each bit", safe("self.count", "self.shown = self.caught"), "steps", "steps", alone=True),
    WrongAnswer("09-g", "not turned back", safe(read="self.shown = self.caught"), "steps", "after"),
    WrongAnswer("09-g", "a slow reader", SLOW_READER, "steps", "missing"),
    WrongAnswer("09-g", "behind a queue", BEHIND, "fresh", "fresh", alone=True),
    # 09-h
    WrongAnswer("09-h", "in seconds", 'failing = {**failing, "sheet_hours": sheet}', "sheet", "unit", alone=True),
    WrongAnswer("09-h", "changes forgotten", 'failing = {**failing, "sheet_hours": sheet / 3600 * mine_h.changes}', "sheet", "rates",
                alone=True),
    WrongAnswer("09-h", "half the clock", 'failing = {**failing, "sheet_hours": sheet / 1800}', "sheet", "sheet", alone=True),
    WrongAnswer("09-h", "decimal logarithm", 'failing = {**failing, "tau_ps": failing["tau_ps"] * np.log(10)}', "tau", "log10",
                alone=True),
    WrongAnswer("09-h", "tau in ns", 'failing = {**failing, "tau_ps": failing["tau_ps"] / 1000}', "tau", "unit", alone=True),
    WrongAnswer("09-h", "tau of the data sheet", 'failing = {**failing, "tau_ps": mine_h.sheet_tau_ps}', "tau", "tau", alone=True),
    WrongAnswer("09-h", "per minute taken for per second", 'failing = {**failing, "years": failing["years"] / 60}', "full", "minute",
                alone=True),
    WrongAnswer("09-h", "in seconds, not years", 'failing = {**failing, "years": failing["years"] * 365.25 * 86400}', "full", "year",
                alone=True),
    WrongAnswer("09-h", "the last row", 'failing = {**failing, "years": 60 / mine_h.failures[-1] / 365.25 / 86400}', "full", "full",
                alone=True),
]

allowed = [
    Allowed("09-b", "if self.switch: wait(mine_b.work) -> if not self.switch: wait(mine_b.work)",
            "the work has no effect of its own that shows outside; it may only not disturb"),
    Allowed("09-f", "self.switch and (not self.before) -> not self.switch and self.before",
            "a pulse may be counted at its end"),
]
