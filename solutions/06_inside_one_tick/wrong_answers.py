"""What learners of lab 06 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

LOUDEST = '''
class Loudest(Design):
    level = HostReg(unsigned(16))
    loudest = HostReg(unsigned(16), access="ro")
    taps = Regs(unsigned(16), mine_c.n)
    rows = Regs(unsigned(16), 6)

    @clocked
    def go(self):
        for i in range(mine_c.n):
            self.taps[i] = self.taps[i - 1] if i else self.level
        x = [self.taps[i] if i < {n} else 0 for i in range(12)]
        {rest}
'''
TREE = '''y = [max(x[2 * i], x[2 * i + 1]) for i in range(6)]
        self.loudest = max(max(max(y[0], y[1]), max(y[2], y[3])), max(y[4], y[5]))'''
CUT_TREE = '''for i in range(6):
            self.rows[i] = max(x[2 * i], x[2 * i + 1])
        y = [self.rows[i] for i in range(6)]
        self.loudest = max(max(max(y[0], y[1]), max(y[2], y[3])), max(y[4], y[5]))'''
CHAIN = '''best = x[0]
        for i in range(1, mine_c.n):
            best = max(best, x[i])
        self.loudest = best'''

WEIGHTED = '''
class Weighted(Design):
    x = HostReg(signed(9))
    gain = HostReg(signed(8))
    offset = HostReg(signed(17))
    weight = HostReg(signed(16))
    y = HostReg(signed(34), access="ro")
    product = Reg(signed(17))
    offset_1 = Reg(signed(17))
    total = Reg(signed(18))
    weight_1 = Reg(signed(16))
    weight_2 = Reg(signed(16))
    whole = Reg(signed(34))

    @clocked
    def go(self):
        {rest}

pipeline = {{"design": Weighted, "latency": {latency}, "per_second": {rate}}}
'''
STAGES = '''self.product = self.x * self.gain
        self.offset_1 = self.offset
        self.weight_1 = self.weight
        self.total = {total}
        self.weight_2 = self.weight_1
        self.y = self.total * {weight}'''
WHOLE = '''self.whole = (resize(self.x * self.gain, signed(18)) + self.offset) * self.weight
        self.y = self.whole'''
ONE_BY_ONE = '''self.product = self.x * self.gain
        tick()
        self.total = resize(self.product, signed(18)) + self.offset
        tick()
        self.y = self.total * self.weight'''
SUM = "resize(self.product, signed(18)) + self.offset_1"

STALL = '''
class Stall(Design):
    offer = HostReg(bit)
    ready = HostReg(bit)
    given = HostReg(unsigned(8), access="ro")
    taken = HostReg(unsigned(8), access="ro")
    out = HostReg(unsigned(16), access="ro")
    a = Reg(unsigned(16))
    a_valid = Reg(bit)
    b = Reg(unsigned(16))
    b_valid = Reg(bit)

    @clocked
    def go(self):
        b_room = {b_room}
        a_room = {a_room}
        if {sink}:
            self.out = self.b
            self.taken = self.taken + 1
        if b_room:
            self.b = self.a + mine_e.offset
            self.b_valid = {mark}
        if a_room:
            self.a_valid = self.offer
            if self.offer:
                self.a = (self.given + {first}) * unsigned(8)(mine_e.gain)
                self.given = self.given + 1
'''

HALF = STALL.split("        b_room =")[0] + '''        if self.b_valid and self.ready:
            self.out = self.b
            self.taken = self.taken + 1
            self.b_valid = 0
        if self.a_valid and not self.b_valid:
            self.b = self.a + mine_e.offset
            self.b_valid = 1
            self.a_valid = 0
        if self.offer and not self.a_valid:
            self.a = (self.given + 1) * unsigned(8)(mine_e.gain)
            self.given = self.given + 1
            self.a_valid = 1
'''

SMOOTH = '''
class Smooth(Design):
    accel = AnalogIn("fan B bearing")
    level = HostReg(signed(17), access="ro")
    size = Reg(signed(17))
    away = Reg(signed(18))
    step = Reg(signed(36))
    marks = Regs(bit, 3)
    left = Reg(unsigned(5))

    @clocked
    def go(self):
        again = self.left == 1
        self.marks[0] = {valid}
        self.marks[1] = self.marks[0]
        self.marks[2] = self.marks[1]
        self.size = {size}
        self.away = resize(self.size, signed(18)) - self.level
        self.step = self.away * mine_f.gain
        {rest}
        if {when}:
            self.level = resize(self.level + ({step} >> 8), signed(17))
'''
AGAIN = '''if self.accel.valid or again:
            self.left = mine_f.apart
        elif self.left > 0:
            self.left = self.left - 1'''

SHARED = '''
class Shared(Design):
    x0 = HostReg(signed(16))
    x1 = HostReg(signed(16))
    x2 = HostReg(signed(16))
    x3 = HostReg(signed(16))
    y0 = HostReg(signed(32), access="ro")
    y1 = HostReg(signed(32), access="ro")
    y2 = HostReg(signed(32), access="ro")
    y3 = HostReg(signed(32), access="ro")
    turn = Reg(unsigned({bits}))
    before = Reg(unsigned({bits}))
    x = Reg(signed(16))
    gain = Reg(signed(16))

    @clocked
    def go(self):
        g = [signed(16)(n) for n in mine_g.gains]
        self.turn = self.turn + 1
        self.before = self.turn
        now = {now}
        done = {done}
        self.x = pick(now, self.x0, self.x1, self.x2, self.x3)
        self.gain = pick({gains}, g[0], g[1], g[2], g[3])
        product = {product}
        {store}
'''
STORE = '''if done == 0:
            self.y0 = product
        elif done == 1:
            self.y1 = product
        elif done == 2:
            self.y2 = product
        else:
            self.y3 = product'''
APART = "; ".join(f"self.y{c} = self.x{c} * g[{c}]" for c in range(4))

TOP_CUT = '''
class TopCut(Ports):
    whole = Reg(signed(34))
    ready = Reg(signed(34))

    @clocked
    def go(self):
        self.whole = (resize(self.x * self.gain, signed(18)) + self.offset) * self.weight
        self.ready = min(self.whole, self.limit)
        self.y = self.ready
three = dict(three, at_150=TopCut, ns_150=3 * 1000 / 150)
'''
NO_LIMIT = '''
class Free(Ports):
    product = Reg(signed(17))
    total = Reg(signed(18))
    whole = Reg(signed(34))

    @clocked
    def go(self):
        self.product = self.x * self.gain
        self.total = resize(self.product, signed(18)) + self.offset
        self.whole = self.total * self.weight
        self.y = self.whole
three = dict(three, at_150=Free)
'''


def loudest(rest=TREE, n="mine_c.n"):
    return LOUDEST.format(rest=rest, n=n)


def weighted(rest=None, latency=3, rate="mine_d.mhz * 1e6", total=SUM, weight="self.weight_2"):
    return WEIGHTED.format(rest=rest or STAGES.format(total=total, weight=weight), latency=latency, rate=rate)


def stall(b_room="self.ready or not self.b_valid", a_room="b_room or not self.a_valid", sink="self.b_valid and self.ready",
          mark="self.a_valid", first="1"):
    return STALL.format(b_room=b_room, a_room=a_room, sink=sink, mark=mark, first=first)


def smooth(valid="self.accel.valid", size="abs(upper(self.accel.value))", rest="pass", when="self.marks[2]",
           step="self.step"):
    return SMOOTH.format(valid=valid, size=size, rest=rest, when=when, step=step)


def shared(bits=2, now="self.turn", done="self.before", gains="now", product="self.x * self.gain", store=STORE):
    return SHARED.format(bits=bits, now=now, done=done, gains=gains, product=product, store=store)


wrong_answers = [
    # 06-a
    WrongAnswer("06-a", "all of them in a row", 'count = {"longest": mine_a.n + 5, "altogether": mine_a.n + 5}', "longest",
                "altogether", alone=True),
    WrongAnswer("06-a", "n additions for n numbers", 'count = {"longest": mine_a.n + 4, "altogether": mine_a.n + 6}', "longest",
                "off_by_one"),
    WrongAnswer("06-a", "one addition for the loop", 'count = {"longest": mine_a.n + 3, "altogether": 7}', "altogether", "all",
                alone=True),
    WrongAnswer("06-a", "the choice forgotten", 'count = {"longest": mine_a.n + 3, "altogether": mine_a.n + 4}', "altogether",
                "off_by_one", alone=True),
    # 06-b
    WrongAnswer("06-b", "the highest rate limits", 'clock = dict(clock, limits=third)', "limits", "fastest", alone=True),
    WrongAnswer("06-b", "the second slowest limits", 'clock = dict(clock, limits=second, next=first)', "limits", "limits"),
    WrongAnswer("06-b", "the fastest is next", 'clock = dict(clock, next=third)', "next", "next", alone=True),
    WrongAnswer("06-b", "the same again", 'clock = dict(clock, next=first)', "next", "same", alone=True),
    WrongAnswer("06-b", "the rate of the whole", 'clock = dict(clock, mhz=mhz(Station(mine_b.n, mine_b.w)))', "mhz", "before",
                alone=True),
    WrongAnswer("06-b", "in nanoseconds", 'clock = dict(clock, mhz=1e3 / clock["mhz"])', "mhz", "ns", alone=True),
    WrongAnswer("06-b", "the rates added up", 'clock = dict(clock, mhz=alone[second] + alone[third])', "mhz", "mhz", alone=True),
    # 06-c
    WrongAnswer("06-c", "a chain", loudest(CHAIN), "rate", "chain", alone=True),
    WrongAnswer("06-c", "one level forgotten", loudest(n="mine_c.n - 1"), "right", "window", alone=True),
    WrongAnswer("06-c", "a register in the tree", loudest(CUT_TREE), "ticks", "ticks", alone=True),
    # 06-d
    WrongAnswer("06-d", "a register after the whole chain", weighted(WHOLE, latency=2), "rate", "cut", alone=True),
    WrongAnswer("06-d", "the weight of a later set", weighted(weight="self.weight_1"), "together", "pairs", alone=True),
    WrongAnswer("06-d", "only the products are cut",
                weighted(total="resize(self.product, signed(18)) + self.offset", weight="self.weight"), "together", "pairs",
                alone=True),
    WrongAnswer("06-d", "the sum in 16 bits",
                weighted(total='resize(resize(self.product, signed(16), overflow="wrap") + '
                               'resize(self.offset_1, signed(16), overflow="wrap"), signed(18))'), "right", "chain"),
    WrongAnswer("06-d", "registers inside counted", weighted(latency=2), "latency", "one_tick", alone=True),
    WrongAnswer("06-d", "latency of one tick for a pipeline", weighted(latency=1), "latency", "latency", alone=True),
    WrongAnswer("06-d", "throughput divided by latency", weighted(rate="mine_d.mhz * 1e6 / 3"), "throughput", "divided",
                alone=True),
    WrongAnswer("06-d", "throughput in millions", weighted(rate="mine_d.mhz"), "throughput", "unit", alone=True),
    WrongAnswer("06-d", "twice the rate", weighted(rate="2e6 * mine_d.mhz"), "throughput", "throughput", alone=True),
    WrongAnswer("06-d", "a sequenced loop", weighted(ONE_BY_ONE).replace("@clocked", "@sequenced"), "together", "begin"),
    # 06-e
    WrongAnswer("06-e", "begins with 0", stall(first="0"), "right", "right"),
    WrongAnswer("06-e", "only when empty", HALF, "full", "half", alone=True),
    WrongAnswer("06-e", "the middle word is always valid", stall(mark="1"), "gaps", "mark"),
    WrongAnswer("06-e", "ready skips a stage", stall(a_room="self.ready or not self.a_valid"), "stall", "twice", alone=True),
    WrongAnswer("06-e", "the stages do not wait", stall(b_room="bit(1)", a_room="bit(1)"), "stall", "lost"),
    WrongAnswer("06-e", "the sink never says no", stall(sink="self.b_valid", b_room="bit(1)"), "standing", "sink", alone=True),
    # 06-f
    WrongAnswer("06-f", "in one tick", "Smooth = InOneTick", "rate", "steps", alone=True),
    WrongAnswer("06-f", "a pipeline that runs in every tick", smooth(when="bit(1)"), "silence", "mark"),
    WrongAnswer("06-f", "runs on without samples", smooth(valid="self.accel.valid or again", rest=AGAIN),
                "silence", "mark", alone=True),
    WrongAnswer("06-f", "the mark comes before the data", smooth(when="self.marks[0]"), "samples", "formula", alone=True),
    WrongAnswer("06-f", "the magnitude is forgotten", smooth(size="upper(self.accel.value)"), "samples", alone=True),
    WrongAnswer("06-f", "an older level", smooth(step="(resize(self.size, signed(18)) - self.older) * mine_f.gain").replace(
        "    left = ", "    older = Reg(signed(17))\n    left = ").replace(
        "            self.level = ", "            self.older = self.level\n            self.level = "), "samples", "interleaved"),
    # 06-g
    WrongAnswer("06-g", "the counter has gone on", shared(done="self.turn"), "products", "neighbour", alone=True),
    WrongAnswer("06-g", "the gain of the channel before", shared(gains="self.before"), "products", "neighbour", alone=True),
    WrongAnswer("06-g", "one gain for all", shared(gains="unsigned(2)(0)"), "products", "formula", alone=True),
    WrongAnswer("06-g", "a multiplier each", shared(store=APART), "multipliers", "one", alone=True),
    WrongAnswer("06-g", "a slow round", shared(bits=5, now="bits(self.turn, 4, 3)", done="bits(self.before, 4, 3)"), "ticks",
                "round", alone=True),
    # 06-h
    WrongAnswer("06-h", "the slow one three times", 'three = dict(three, at_80=At40, at_150=At40, ns_150=1000 / 150)', "rates",
                "cut"),
    WrongAnswer("06-h", "two cuts at the end", TOP_CUT, "rates", "more", alone=True),
    WrongAnswer("06-h", "no limit at 150 MHz", NO_LIMIT, "right", "right", alone=True),
    WrongAnswer("06-h", "the fastest one three times",
                'three = dict(three, at_40=At150, at_80=At150, ns_40=100)', "cost", "registers", alone=True),
    WrongAnswer("06-h", "the fastest one twice", 'three = dict(three, at_80=At150)', "cost", "cost", alone=True),
    WrongAnswer("06-h", "ticks for nanoseconds", 'three = dict(three, ns_40=1, ns_150=4)', "latency", "ticks", alone=True),
    WrongAnswer("06-h", "the inside registers counted", 'three = dict(three, ns_150=3 * 1000 / 150)', "latency", "latency",
                alone=True),
]

allowed = [
    Allowed("06-e", "self.ready or not self.b_valid -> self.ready", "a stage may wait for the sink although it is empty"),
    Allowed("06-g", "self.turn + 1 -> self.turn - 1", "the channels may take turns in any order"),
]
