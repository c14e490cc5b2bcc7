"""What learners of lab 10 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

HOLD = '''
class Hold(Design):
    def __init__(self, n):
        self.n = n
        self.run = Reg(unsigned({width}))

    @operation
    def step(self, over):
        full = {full}
        if not over:
            {below}
        elif {counts}:
            self.run = self.run + 1
        return over and full

class Alarms(Design):
    accel, limit = AnalogIn("fan A bearing"), HostReg(signed(24))
    on_1, on_2 = HostReg(bit, access="ro"), HostReg(bit, access="ro")
    on_8, on_n = HostReg(bit, access="ro"), HostReg(bit, access="ro")

    def __init__(self):
        self.one, self.two, self.eight, self.mine = Hold(1), Hold(2), Hold(8), Hold(mine_a.n)

    @clocked
    def watch(self):
        if self.accel.valid:
            over = self.accel.value > self.limit
            self.on_1 = self.one.step(over)
            self.on_2 = self.two.step(over)
            self.on_8 = self.eight.step(over)
            self.on_n = self.mine.step(over)
'''
FULL, LEAST = "self.run == self.n - 1", "max((n - 1).bit_length(), 1)"


def hold(width=LEAST, full=FULL, below="self.run = 0", counts="not full"):
    return HOLD.format(width=width, full=full, below=below, counts=counts)


SHARED = '''
class Shared(Design):
    go, channel, mean = HostReg(bit), HostReg(unsigned(4)), HostReg(unsigned(15), access="ro")
    bank, means = Regs(signed(8), 8), Regs(unsigned(15), 8)
    before, turn = Reg(bit), Reg(unsigned(4), reset=8)

    def __init__(self):
        self.x = [HostReg(signed(8)) for _ in range(8)]

    @clocked
    def run(self):
        self.before = self.go
        i = bits(self.turn, 2, 0)
        {product}
        old = self.means[{place}]
        if self.go and {rise}:
            self.turn = 0
            for k in range(8):
                self.bank[k] = self.x[k]
        elif self.turn < 8:
            self.turn = self.turn + 1
            self.means[{place}] = old - (old >> mine_c.shift) + (square >> mine_c.shift)

    @clocked
    def show(self):
        self.mean = self.means[bits(self.channel, 2, 0)]
'''
ONE = "square = bits(self.bank[i] * self.bank[i], 14, 0)"
LIVE = """x = self.x[7]
        for k in range(7):
            if i == k:
                x = self.x[k]
        square = bits(x * x, 14, 0)"""
EIGHT = """square = bits(self.bank[7] * self.bank[7], 14, 0)
        for k in range(7):
            if i == k:
                square = bits(self.bank[k] * self.bank[k], 14, 0)"""


def shared(product=ONE, place="i", rise="not self.before"):
    return SHARED.format(product=product, place=place, rise=rise)


TEST = '''
def test(host):
    rng = random.Random(1)
    words = {words}
    host.words.write(words)
    host.wait(ms(20))
    got = [int(y) for y in host.results.read()]
    return {answer}
'''
CORNERS = "[-32768, -32767, -1, 0, 1, 32767]"
MANY = "[rng.randrange(-32768, 32768) for _ in range(400)]"


def bench(words=f"{CORNERS} + {MANY}", answer="sum(y != model(x) for x, y in zip(words, got)) + len(words) - len(got)"):
    return TEST.format(words=words, answer=answer)


LINE = '''
class Bytes(Design):
    def __init__(self, words, bytes):
        self.words, self.bytes = words, bytes

    @sequenced
    def run(self):
        word = self.words.get()
        high, low = bits(word, 15, 8), bits(word, 7, 0)
        {first}
        {second}

class Line(Design):
    offer, ready, given = HostReg(bit), HostReg(bit), Reg(unsigned(16), reset=mine_e.base)
    taken, out = HostReg(unsigned(16), access="ro"), HostReg(unsigned(8), access="ro")
    left, right = Handshake(unsigned(16)), Fifo(unsigned(8), 2)

    def __init__(self):
        self.block = Bytes(self.left, self.right)

    @clocked
    def source(self):
        if self.offer:
            if self.left.try_put(self.given + 1):
                self.given = self.given + 1

    @clocked
    def sink(self):
        if self.ready:
            if self.right.try_get():
                self.out = self.right.value
                self.taken = self.taken + 1
'''
A, B = 'high if mine_e.first == "high" else low', 'low if mine_e.first == "high" else high'


def line(first=f"self.bytes.put({A})", second=f"self.bytes.put({B})"):
    return LINE.format(first=first, second=second)


SPI = '''
half = {half}
class Spi(Design):
    def __init__(self, select, clock, data):
        self.select, self.clock, self.data = select, clock, data

    @operation
    def exchange(self):
        shift = unsigned(mine_f.bits)(0)
        self.select = 0
        wait(half)
        for _ in range(mine_f.bits):
            self.clock = 1
            shift = {shift}
            wait(half)
            self.clock = 0
            wait(half)
        {more}
        self.select = 1
        return {result}

class Reader(Design):
    select, clock = DigitalOut("converter select", reset=1), DigitalOut("converter clock")
    data, value = DigitalIn("converter data"), HostReg(signed(16), access="ro")

    def __init__(self):
        self.spi = Spi(self.select, self.clock, self.data)

    @sequenced(every=1000)
    def go(self):
        value = self.spi.exchange()
        self.value = value
'''
SHIFT = "cat(bits(shift, mine_f.bits - 2, 0), unsigned(1)(self.data))"


def spi(half="mine_f.lag + 3", shift=SHIFT, more="pass", result="resize(signed(mine_f.bits)(shift), signed(16))"):
    return SPI.format(half=half, shift=shift, more=more, result=result)


SEALED = '''
class Sealed(Design):
    text = HostStream(unsigned(9), 64, "from_host")
    sums = HostStream(unsigned(16), 16, "to_host")
    bytes_seen, started = Reg(unsigned(8)), Reg(bit)

    def __init__(self):
        self.core = VerilogCore("data/crc16.v", top="crc16")

    @sequenced
    def run(self):
        self.core.seed = {seed}
        self.core.start = {start}
        self.started = 1
        tick()
        self.core.start = 0
        self.bytes_seen = 0
        last: bit = 0
        while not last:
            word = self.text.get()
            self.core.data = bits(word, 7, 0)
            self.core.take = 1
            tick()
            {take}
            self.core.take = 0
            self.bytes_seen = self.bytes_seen + 1
            last = {last}
        {end}
        self.sums.put(self.core.crc ^ {xor})
'''


def sealed(seed="mine_g.seed", start="1", take="pass", last="word[8]", end="tick()", xor="mine_g.last"):
    return SEALED.format(seed=seed, start=start, take=take, last=last, end=end, xor=xor)


wrong_answers = [
    # 10-a
    WrongAnswer("10-a", "a constant of the old loop", hold(full="self.run == min(self.n, 8) - 1"), "usual", "usual", alone=True),
    WrongAnswer("10-a", "one sample late", hold(width="n.bit_length()", full="self.run == self.n"), "usual", "late"),
    WrongAnswer("10-a", "full, whatever this sample is", hold().replace("return over and full", "return full"), "usual", "below"),
    WrongAnswer("10-a", "n = 1 needs two samples", hold(full="self.run == max(self.n, 2) - 1"), "edges", "edges", alone=True),
    WrongAnswer("10-a", "the count wraps", hold(full="self.run >= self.n - 1", counts="True"), "stays", "stays", alone=True),
    WrongAnswer("10-a", "all samples counted, in a row or not", hold(below="pass"), "edges", "edges"),
    WrongAnswer("10-a", "16 bits for every n", hold(width="16"), "size", "size", alone=True),
    WrongAnswer("10-a", "no bit for n = 1", hold(width="(n - 1).bit_length()"), ""),
    # 10-b
    WrongAnswer("10-b", "one multiplier", 'cost = {**cost, "multipliers": 1}', "multipliers", "multipliers", alone=True),
    WrongAnswer("10-b", "the state is shared as well", 'cost = {**cost, "state": 2 * mine_b.width - 1}', "state", "shared", alone=True),
    WrongAnswer("10-b", "a mean as wide as a sample", 'cost = {**cost, "state": mine_b.n * mine_b.width}', "state", "width", alone=True),
    WrongAnswer("10-b", "ticks of a channel forgotten", 'cost = {**cost, "most": 40_000 // mine_b.khz}', "most", "most", alone=True),
    # 10-c
    WrongAnswer("10-c", "one mean for all", shared(place="0").replace("bits(self.channel, 2, 0)", "0"), "values", "mixed"),
    WrongAnswer("10-c", "the shift of the example", shared().replace("mine_c.shift", "6"), "values", "values"),
    WrongAnswer("10-c", "the level of go", shared(rise="self.turn == 8"), "once", "once", alone=True),
    WrongAnswer("10-c", "the samples read when their turn comes", shared(LIVE), "instant", "instant", alone=True),
    WrongAnswer("10-c", "the fall of go", shared(rise="True"), "instant", "instant", alone=True),
    WrongAnswer("10-c", "a square one bit too narrow", shared(ONE.replace("14", "13")), "values", "values"),
    WrongAnswer("10-c", "eight products, one chosen", shared(EIGHT), "size", "size", alone=True),
    # 10-d
    WrongAnswer("10-d", "always fails", bench(answer="len(words)"), "right", "always"),
    WrongAnswer("10-d", "a model that cuts", bench(answer="sum(y != max(-mine_d.limit, min(mine_d.limit, x * mine_d.gain // 8)) for x, y in zip(words, got))"),
                "right", "right"),
    WrongAnswer("10-d", "words that divide evenly", bench("[-32768, 0] + [8 * rng.randrange(-4096, 4096) for _ in range(400)]"), "rounding", "rounding",
                alone=True),
    WrongAnswer("10-d", "one end of the range only", bench("[-32768] + [rng.randrange(-5000, 5000) for _ in range(400)]"), "clip", "clip", alone=True),
    WrongAnswer("10-d", "random words only", bench(MANY), "corner", "corner", alone=True),
    WrongAnswer("10-d", "few words", bench(f"{CORNERS} + list(range(-16, 16))"), "lost", "lost", alone=True),
    # 10-e
    WrongAnswer("10-e", "the other order", line(f"self.bytes.put({B})", f"self.bytes.put({A})"), "order", "swapped", alone=True),
    WrongAnswer("10-e", "the first byte twice", line(second=f"self.bytes.put({A})"), "order", "order", alone=True),
    WrongAnswer("10-e", "offered once, ready or not", line(second=f"self.bytes.try_put({B})\n        tick()"), "stall", "stall", alone=True),
    WrongAnswer("10-e", "a pause to be safe", line(second=f"self.bytes.put({B})\n        wait(8)"), "pace", "pace", alone=True),
    # 10-f
    WrongAnswer("10-f", "lowest bit first", spi(shift="cat(unsigned(1)(self.data), bits(shift, mine_f.bits - 1, 1))"), "word", "lowest"),
    WrongAnswer("10-f", "too fast for the lag", spi(half="4"), "word", "early"),
    WrongAnswer("10-f", "taken after the fall", spi(shift="shift").replace(
        "            self.clock = 0\n            wait(half)\n", f"            self.clock = 0\n            wait(half)\n            shift = {SHIFT}\n", 1), "word", "next"),
    WrongAnswer("10-f", "no sign", spi(result="resize(signed(16)(shift), signed(16))"), "sign", "sign", alone=True),
    WrongAnswer("10-f", "one pulse too many", spi(more="self.clock = 1\n        wait(half)\n        self.clock = 0\n        wait(half)"), "frame", "frame", alone=True),
    WrongAnswer("10-f", "slow to be safe", spi(half="30"), "time", "time", alone=True),
    # 10-g
    WrongAnswer("10-g", "the sum without the last byte", sealed(end="pass"), "check", "early"),
    WrongAnswer("10-g", "the start value of the core", sealed(seed="0"), "check", "start"),
    WrongAnswer("10-g", "each byte twice", sealed(take="tick()"), "check", "twice"),
    WrongAnswer("10-g", "another last value", sealed(xor="mine_g.last ^ 0x00FF"), "check", "check"),
    WrongAnswer("10-g", "nine bytes counted", sealed(last="self.bytes_seen == 8"), "others", "others", alone=True),
    WrongAnswer("10-g", "started once only", sealed(start="0 if self.started else 1"), "again", "again", alone=True),
]

allowed = [
    Allowed("10-f", "3 -> 4", "any half period that is long enough and keeps the frame within its limit is right"),
    Allowed("10-f", "wait(half) -> wait(half + 1)", "the same"),
]
