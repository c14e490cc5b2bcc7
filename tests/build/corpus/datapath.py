"""Arithmetic and logic between registers: adders, multipliers, comparisons, multiplexers, shifts."""

from __future__ import annotations

from simkit import (
    Clock,
    Design,
    DigitalOut,
    HostReg,
    Reg,
    Regs,
    bit,
    bits,
    cat,
    clocked,
    combinational,
    rem,
    resize,
    signed,
    unsigned,
)


class MultiplyAdd(Design):
    """A product, a sum and a comparison in one tick; ``stages`` registers in between."""

    lamp = DigitalOut("lamp")

    def __init__(self, width: int, stages: int) -> None:
        wide = 2 * width + 1
        self.stages = stages
        self.wide = wide
        self.a = HostReg(signed(width))
        self.b = HostReg(signed(width))
        self.offset = HostReg(signed(2 * width))
        self.limit = HostReg(signed(wide))
        self.p = Reg(signed(2 * width))
        self.total = Reg(signed(wide))

    @clocked
    def run(self):
        product = self.a * self.b
        if self.stages >= 1:
            self.p = product
        summand = self.p if self.stages >= 1 else product
        total = resize(summand, signed(self.wide)) + resize(self.offset, signed(self.wide))
        if self.stages >= 2:
            self.total = total
        self.lamp = (self.total if self.stages >= 2 else total) > self.limit


class Adder(Design):
    """One wide sum between registers."""

    def __init__(self, width: int) -> None:
        self.a = HostReg(unsigned(width))
        self.b = HostReg(unsigned(width))
        self.total = HostReg(unsigned(width), access="ro")
        self.x = Reg(unsigned(width))
        self.y = Reg(unsigned(width))

    @clocked
    def run(self):
        self.x = self.a
        self.y = self.b
        self.total = self.x + self.y


class AdderTree(Design):
    """The sum of n registers in one tick."""

    total = HostReg(unsigned(24), access="ro")

    def __init__(self, n: int) -> None:
        self.n = n
        self.x = Regs(unsigned(16), n)
        self.new = HostReg(unsigned(16))

    @clocked
    def run(self):
        self.x[0] = self.new
        for i in range(1, self.n):
            self.x[i] = self.x[i - 1]
        total = unsigned(24)(0)
        for i in range(self.n):
            total = total + self.x[i]
        self.total = total


class Compare(Design):
    """Greatest of four, and whether it is inside a window."""

    low = HostReg(signed(24), reset=-500)
    high = HostReg(signed(24), reset=500)
    inside = DigitalOut("lamp")
    greatest = HostReg(signed(24), access="ro")

    def __init__(self) -> None:
        self.x = [HostReg(signed(24)) for _ in range(4)]

    @clocked
    def run(self):
        m = max(max(self.x[0], self.x[1]), max(self.x[2], self.x[3]))
        self.greatest = m
        self.inside = self.low <= m and m <= self.high


class Select(Design):
    """A register file of n words read and written by index."""

    index = HostReg(unsigned(5))
    value = HostReg(unsigned(16))
    store = HostReg(bit)
    out = HostReg(unsigned(16), access="ro")

    def __init__(self, n: int) -> None:
        self.n = n
        self.file = Regs(unsigned(16), n)

    @clocked
    def run(self):
        i = bits(self.index, self.n.bit_length() - 2, 0)
        if self.store:
            self.file[i] = self.value
        self.out = self.file[i]


class Shifter(Design):
    """A value shifted by a signal, both ways."""

    value = HostReg(unsigned(32))
    by = HostReg(unsigned(5))
    left = HostReg(unsigned(32), access="ro")
    right = HostReg(signed(32), access="ro")

    @clocked
    def run(self):
        self.left = self.value << self.by
        self.right = signed(32)(self.value) >> self.by


class Popcount(Design):
    """How many bits are 1, parity, and the place of the first 1."""

    word = HostReg(unsigned(32))
    ones = HostReg(unsigned(6), access="ro")
    odd = DigitalOut("lamp")
    first = HostReg(unsigned(6), access="ro")

    @clocked
    def run(self):
        n = unsigned(6)(0)
        odd = bits(self.word, 0, 0) == 1
        first = unsigned(6)(32)
        for i in range(32):
            n = n + bits(self.word, i, i)
            if i > 0:
                odd = odd ^ (bits(self.word, i, i) == 1)
        for i in range(31, -1, -1):
            first = unsigned(6)(i) if bits(self.word, i, i) == 1 else first
        self.ones = n
        self.odd = odd
        self.first = first


class Crc(Design):
    """CRC-16 of one byte in each tick (polynomial 0x1021)."""

    byte = HostReg(unsigned(8))
    crc = HostReg(unsigned(16), access="ro", reset=0xFFFF)

    @clocked
    def run(self):
        c = self.crc ^ (unsigned(16)(self.byte) << 8)
        for _ in range(8):
            c = (c << 1) ^ 0x1021 if bits(c, 15, 15) == 1 else c << 1
        self.crc = c


class Lfsr(Design):
    """A maximal-length shift register of 32 bits."""

    word = HostReg(unsigned(32), access="ro", reset=1)

    @clocked
    def run(self):
        w = self.word
        new = bits(w, 31, 31) ^ bits(w, 21, 21) ^ bits(w, 1, 1) ^ bits(w, 0, 0)
        self.word = cat(bits(w, 30, 0), new)


class Divide(Design):
    """A division in one tick: the slowest thing a learner can write in one line."""

    a = HostReg(unsigned(12))
    b = HostReg(unsigned(12), reset=1)
    q = HostReg(unsigned(12), access="ro")
    r = HostReg(unsigned(12), access="ro")

    @clocked
    def run(self):
        self.q = self.a / self.b
        self.r = rem(self.a, self.b)


class Logic(Design):
    """Rounds of bitwise logic, no arithmetic."""

    word = HostReg(unsigned(32))
    key = HostReg(unsigned(32), reset=0x1234_5678)
    out = HostReg(unsigned(32), access="ro")

    def __init__(self, rounds: int) -> None:
        self.rounds = rounds

    @clocked
    def run(self):
        x = self.word
        for i in range(self.rounds):
            turned = cat(bits(x, 26, 0), bits(x, 31, 27))
            x = (turned & self.key) ^ (x | (turned ^ (i * 0x0101_0101)))
        self.out = x


class Squares(Design):
    """n squares and their sum, each on a multiplier of its own."""

    total = HostReg(signed(40), access="ro")

    def __init__(self, n: int, width: int) -> None:
        self.n = n
        self.x = [HostReg(signed(width)) for _ in range(n)]
        self.p = Regs(signed(2 * width), n)

    @clocked
    def run(self):
        total = signed(40)(0)
        for i in range(self.n):
            self.p[i] = self.x[i] * self.x[i]
            total = total + self.p[i]
        self.total = total


class Wide(Design):
    """A product wider than one multiplier of the chip."""

    a = HostReg(signed(32))
    b = HostReg(signed(32))
    x = Reg(signed(32))
    y = Reg(signed(32))
    p = HostReg(signed(64), access="ro")

    @clocked
    def run(self):
        self.x = self.a
        self.y = self.b
        self.p = self.x * self.y


@combinational
def larger(a, b):
    return a if a > b else b


class Sorter(Design):
    """Four values in order, in one tick (five exchanges)."""

    sum = HostReg(unsigned(12), access="ro")

    def __init__(self) -> None:
        self.x = [HostReg(unsigned(12)) for _ in range(4)]
        self.y = Regs(unsigned(12), 4)

    @clocked
    def run(self):
        a0, a1 = min(self.x[0], self.x[1]), larger(self.x[0], self.x[1])
        a2, a3 = min(self.x[2], self.x[3]), larger(self.x[2], self.x[3])
        b0, b2 = min(a0, a2), larger(a0, a2)
        b1, b3 = min(a1, a3), larger(a1, a3)
        self.y[0] = b0
        self.y[1] = min(b1, b2)
        self.y[2] = larger(b1, b2)
        self.y[3] = b3
        self.sum = self.y[0] ^ self.y[1] ^ self.y[2] ^ self.y[3]


class Pipeline(Design):
    """A sum of products over three ticks, asked to run fast."""

    clock = Clock(120_000_000)
    out = HostReg(signed(36), access="ro")

    def __init__(self) -> None:
        self.x = [HostReg(signed(16)) for _ in range(4)]
        self.k = [HostReg(signed(16), reset=3 + i) for i in range(4)]
        self.p = Regs(signed(32), 4)
        self.s = Regs(signed(34), 2)

    @clocked
    def run(self):
        for i in range(4):
            self.p[i] = self.x[i] * self.k[i]
        for i in range(2):
            self.s[i] = resize(self.p[2 * i], signed(34)) + self.p[2 * i + 1]
        self.out = resize(self.s[0], signed(36)) + self.s[1]


DESIGNS = {
    "multiply add compare 18": lambda: MultiplyAdd(18, 0),
    "multiply add compare 18, one stage": lambda: MultiplyAdd(18, 1),
    "multiply add compare 12, two stages": lambda: MultiplyAdd(12, 2),
    "adder 16": lambda: Adder(16),
    "adder 64": lambda: Adder(64),
    "adder tree 4": lambda: AdderTree(4),
    "adder tree 12": lambda: AdderTree(12),
    "compare": Compare,
    "select 8": lambda: Select(8),
    "select 32": lambda: Select(32),
    "shifter": Shifter,
    "popcount": Popcount,
    "crc": Crc,
    "lfsr": Lfsr,
    "divide": Divide,
    "logic 2": lambda: Logic(2),
    "logic 6": lambda: Logic(6),
    "squares 4": lambda: Squares(4, 18),
    "wide product": Wide,
    "sorter": Sorter,
    "pipeline": Pipeline,
}
