"""What learners of lab 03 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

COMMAND = '''
class Command(Design):
    base = HostReg(signed(mine_b.bits))
    trim = HostReg(signed(mine_b.bits))
    command = HostReg(signed(mine_b.bits), access="ro")

    @clocked
    def add(self):
        wide = resize(self.base, signed(mine_b.bits + 1)) + self.trim
        top, bottom = signed(mine_b.bits).high, signed(mine_b.bits).low
        self.command = {value}
'''
HELD = 'resize({}, signed(mine_b.bits), overflow="saturate")'

CORRECTED = '''
class Corrected(Design):
    raw = HostReg(unsigned(mine_c.bits))
    offset = HostReg(signed(8))
    value = HostReg(signed({bits}), access="ro")

    @clocked
    def correct(self):
        self.value = {value}
'''

SCALED = '''
class Scaled(Design):
    sample = HostReg(signed(16))
    gain = HostReg(signed(16))
    result = HostReg(signed(16), access="ro")

    @clocked
    def scale(self):
        product = self.sample * self.gain
        self.result = {value}
'''

ROUNDER = '''
class Rounder(Design):
    x = HostReg(signed(16))
    y = HostReg(signed(16 - mine_e.drop), access="ro")

    @clocked
    def round(self):
        narrow, half = signed(16 - mine_e.drop), 2 ** (mine_e.drop - 1)
        self.y = {value}
'''

LEVEL = '''
class Level(Design):
    accel = AnalogIn("fan B bearing")
    level = HostReg(signed(40), access="ro")
    taps = Regs(signed(25), mine_g.taps + 1)
    count = Reg(unsigned(6))
    kept = Reg(signed(40))

    @sequenced
    def measure(self):
        code = self.accel.read()
        self.taps[0] = {magnitude}
        for i in range(1, mine_g.taps + 1):
            self.taps[i] = self.taps[i - 1]
        tick()
        {rest}
'''
WIDE_ABS = "abs(resize(code, signed(25)))"
SUM = ("total = sum(resize(self.taps[i], signed({bits})) for i in range({first}, {stop}))\n"
       "        self.level = total >> (mine_g.taps.bit_length() - 1)")

WATCH = '''
class Watch(Design):
    level = HostReg(unsigned(24))
    restart = HostReg(bit)
    state = HostReg(unsigned(2), access="ro")
    relay = DigitalOut("fan B trip")
    lamp = DigitalOut("lamp")
    count = Reg(unsigned(10))

    @clocked
    def decide(self):
        loud = self.level {above} mine_h.limit
        self.relay = {relay}
        if self.state == QUIET:
            {quiet}
            if loud:
                self.state = LOUD
        elif self.state == LOUD:
            self.count = self.count + 1
            if not loud:
                self.state = QUIET
            elif self.count >= {hold}:
                self.state = {tripped}
        elif {out}:
            self.state = QUIET
            self.count = 0

    @sequenced(every={blink})
    def alive(self):
        {lamp}
'''

ONE_LOOP = '''
class Watch(Design):
    level = HostReg(unsigned(24))
    restart = HostReg(bit)
    state = HostReg(unsigned(2), access="ro")
    relay = DigitalOut("fan B trip")
    lamp = DigitalOut("lamp")
    count = Reg(unsigned(10))
    left = Reg(unsigned(8))

    @sequenced
    def everything(self):
        while self.level <= mine_h.limit:
            self.left = 0 if self.left == mine_h.blink - 1 else self.left + 1
            if self.left == 0:
                self.lamp = not self.lamp
            tick()
        self.state = LOUD
        self.count = 0
        tick()
        while self.level > mine_h.limit and self.count < mine_h.hold:
            self.count = self.count + 1
            tick()
        if self.level > mine_h.limit:
            self.state = TRIPPED
            self.relay = 1
            until(self.restart and self.level <= mine_h.limit)
        self.state = QUIET
        self.relay = 0
        tick()
'''


def command(value):
    return COMMAND.format(value=value)


def corrected(value, bits="mine_c.bits + 2"):
    return CORRECTED.format(value=value, bits=bits)


def scaled(value):
    return SCALED.format(value=value)


def rounder(value):
    return ROUNDER.format(value=value)


def level(magnitude=WIDE_ABS, rest="", bits=40, first=0, stop="mine_g.taps"):
    return LEVEL.format(magnitude=magnitude, rest=rest or SUM.format(bits=bits, first=first, stop=stop))


def watch(above=">", relay="self.state == TRIPPED", quiet="self.count = 0", hold="mine_h.hold", tripped="TRIPPED",
          out="self.restart and not loud", blink="blink", lamp="self.lamp = not self.lamp"):
    return WATCH.format(above=above, relay=relay, quiet=quiet, hold=hold, tripped=tripped, out=out, blink=blink, lamp=lamp)


def widths(name, value):
    return f'widths = {{**widths, "{name}": {value}}}'


SHIFTED = 'resize(product >> {}, signed(16), overflow="{}")'

wrong_answers = [
    # 03-a
    WrongAnswer("03-a", "bits for N values instead of N + 1", widths("count", 'widths["count"] - 1'), "count", "power_of_two",
                alone=True),
    WrongAnswer("03-a", "one bit for each sample", widths("total", "mine_a.bits + mine_a.samples"), "total", "wasted", alone=True),
    WrongAnswer("03-a", "the sum as wide as a sample", widths("total", "mine_a.bits"), "total", "total", alone=True),
    WrongAnswer("03-a", "the corner forgotten", widths("product", "mine_a.bits + mine_a.other - 1"), "product", "corner",
                alone=True),
    WrongAnswer("03-a", "the wider factor", widths("product", "mine_a.bits"), "product", "product", alone=True),
    WrongAnswer("03-a", "no wire for the sign", widths("span", 'widths["span"] - 1'), "span", "span", alone=True),
    WrongAnswer("03-a", "16 bits to be safe", widths("span", "16"), "span", "wasted", alone=True),
    # 03-b
    WrongAnswer("03-b", "an ordinary sum", command("self.base + self.trim"), "top", "wrap"),
    WrongAnswer("03-b", "saturated after it wrapped", command(HELD.format("self.base + self.trim")), "bottom", "wrap"),
    WrongAnswer("03-b", "resize without a word", command("resize(wide, signed(mine_b.bits))"), "top", "plain_resize"),
    WrongAnswer("03-b", "a symmetric bottom", command(f"max({HELD.format('wide')}, -top)"), "bottom", "symmetric", alone=True),
    WrongAnswer("03-b", "only the bottom is held",
                command('resize(max(wide, bottom), signed(mine_b.bits), overflow="wrap")'), "top", "wrap", alone=True),
    WrongAnswer("03-b", "only the top is held", command('resize(min(wide, top), signed(mine_b.bits), overflow="wrap")'), "bottom",
                "wrap", alone=True),
    WrongAnswer("03-b", "one too many", command(HELD.format("resize(wide, signed(mine_b.bits + 2)) + 1")), "sum", "sum",
                alone=True),
    # 03-c
    WrongAnswer("03-c", "the bits of the code kept",
                corrected("resize(signed(mine_c.bits)(self.raw), signed(mine_c.bits + 2)) - self.offset"), "upper", "bits_kept",
                alone=True),
    WrongAnswer("03-c", "one bit for the sign only", corrected("signed(mine_c.bits + 1)(self.raw) - self.offset", "mine_c.bits + 1"),
                "upper", "one_more", alone=True),
    WrongAnswer("03-c", "only the register is wide", corrected("signed(mine_c.bits + 1)(self.raw) - self.offset", "mine_c.bits + 2"),
                "upper", "too_late", alone=True),
    WrongAnswer("03-c", "held at the largest code",
                corrected("min(signed(mine_c.bits + 2)(self.raw) - self.offset, 2**(mine_c.bits - 1))"), "upper", "range", alone=True),
    WrongAnswer("03-c", "the offset read without its sign",
                corrected("signed(mine_c.bits + 2)(self.raw) - signed(mine_c.bits + 2)(unsigned(8)(self.offset))"), "negative",
                "byte"),
    WrongAnswer("03-c", "negative offsets ignored", corrected("signed(mine_c.bits + 2)(self.raw) - max(self.offset, 0)"),
                "negative", "negative"),
    WrongAnswer("03-c", "held at 0", corrected("max(signed(mine_c.bits + 2)(self.raw) - self.offset, 0)"), "below", "held",
                alone=True),
    WrongAnswer("03-c", "unsigned below 0", corrected(
        "signed(mine_c.bits + 2)(bits(signed(mine_c.bits + 2)(self.raw) - self.offset, mine_c.bits, 0))"), "below", "below",
        alone=True),
    WrongAnswer("03-c", "the offset added", corrected("signed(mine_c.bits + 2)(self.raw) + self.offset"), "ordinary", "added"),
    WrongAnswer("03-c", "one too low", corrected("signed(mine_c.bits + 2)(self.raw) - self.offset - 1"), "ordinary",
                "ordinary", alone=True),
    # 03-d
    WrongAnswer("03-d", "the lowest 16 bits", scaled('resize(product, signed(16), overflow="wrap")'), "scale", "no_point"),
    WrongAnswer("03-d", "the product saturated without a shift", scaled('resize(product, signed(16), overflow="saturate")'),
                "scale", "no_point"),
    WrongAnswer("03-d", "the highest 16 bits", scaled("signed(16)(bits(product, 31, 16))"), "scale", "habit"),
    WrongAnswer("03-d", "15 by habit", scaled(SHIFTED.format(15, "saturate")), "scale", "habit"),
    WrongAnswer("03-d", "a little too large", scaled('resize((resize(product, signed(34)) + (product >> 8))'
                                                     ' >> mine_d.fraction, signed(16), overflow="saturate")'), "scale", "point"),
    WrongAnswer("03-d", "the sign lost in the shift",
                scaled('resize(signed(33)(unsigned(32)(product) >> mine_d.fraction), signed(16), overflow="saturate")'),
                "signs", "signs", alone=True),
    WrongAnswer("03-d", "the sample shifted before the product",
                scaled('resize((self.sample >> mine_d.fraction) * self.gain, signed(16), overflow="saturate")'), "scale", "too_early"),
    WrongAnswer("03-d", "the gain shifted before the product",
                scaled('resize(self.sample * (self.gain >> mine_d.fraction), signed(16), overflow="saturate")'), "scale", "too_early"),
    WrongAnswer("03-d", "resize without a word", scaled("resize(product >> mine_d.fraction, signed(16))"), "ends", "plain_resize"),
    WrongAnswer("03-d", "wrapped at the end", scaled(SHIFTED.format("mine_d.fraction", "wrap")), "ends", "ends"),
    WrongAnswer("03-d", "only the bottom is held",
                scaled('resize(max(product >> mine_d.fraction, -32768), signed(16), overflow="wrap")'), "ends", "ends",
                alone=True),
    # 03-e
    WrongAnswer("03-e", "it averages out", 'price = {**price, "cut": 0.0}', "cut", "no_average", alone=True),
    WrongAnswer("03-e", "half a step", 'price = {**price, "cut": -0.5}', "cut", "not_half", alone=True),
    WrongAnswer("03-e", "too large instead of too small", 'price = {**price, "cut": -price["cut"]}', "cut", "sign", alone=True),
    WrongAnswer("03-e", "in steps of the input", 'price = {**price, "cut": price["cut"] * 2**mine_e.drop}', "cut", "unit",
                alone=True),
    WrongAnswer("03-e", "a quarter", 'price = {**price, "cut": -0.25}', "cut", "list", alone=True),
    WrongAnswer("03-e", "adding half cures it", 'price = {**price, "half": 0.0}', "half", "tie", alone=True),
    WrongAnswer("03-e", "the mean moved by half an input step and more", 'price = {**price, "half": 0.3}', "half", "list_half",
                alone=True),
    # 03-f
    WrongAnswer("03-f", "a shift", rounder("resize(self.x >> mine_e.drop, narrow)"), "nearest", "floor"),
    WrongAnswer("03-f", "a shift has a bias", rounder("resize(self.x >> mine_e.drop, narrow)"), "bias", "floor"),
    WrongAnswer("03-f", "a division, which cuts towards 0", rounder("resize(self.x / 2**mine_e.drop, narrow)"), "nearest",
                "to_zero", alone=True),
    WrongAnswer("03-f", "half added, and a bit more for it",
                rounder('resize((resize(self.x, signed(17)) + half) >> mine_e.drop, narrow, overflow="saturate")'), "bias", "ties",
                alone=True),
    WrongAnswer("03-f", "half added in 16 bits", rounder("resize((self.x + half) >> mine_e.drop, narrow)"), "top", "top"),
    WrongAnswer("03-f", "wrapped at the top", rounder('resize(scalb(self.x, -mine_e.drop), narrow, overflow="wrap")'), "top", "top",
                alone=True),
    WrongAnswer("03-f", "one step too high", rounder('resize((resize(self.x, signed(17)) + 3 * half) >> mine_e.drop, narrow, '
                                                     'overflow="saturate")'), "nearest", "nearest"),
    # 03-g
    WrongAnswer("03-g", "no magnitudes", level("resize(code, signed(25))"), "mean", "no_magnitude"),
    WrongAnswer("03-g", "the sum, not the mean",
                level(rest="self.level = sum(resize(self.taps[i], signed(40)) for i in range(mine_g.taps))"), "mean", "not_divided",
                alone=True),
    WrongAnswer("03-g", "a mean of each block", """
class Level(Design):
    accel = AnalogIn("fan B bearing")
    level = HostReg(signed(25), access="ro")

    @sequenced
    def measure(self):
        total: signed(30) = 0
        for _ in range(mine_g.taps):
            code = self.accel.read()
            total = total + abs(resize(code, signed(25)))
        self.level = resize(total >> (mine_g.taps.bit_length() - 1), signed(25))
""", "window", "blocks", alone=True),
    WrongAnswer("03-g", "divided before the sum",
                level(WIDE_ABS + " >> (mine_g.taps.bit_length() - 1)",
                      rest="""tick()
        self.level = resize(sum(resize(self.taps[i], signed(40)) for i in range(mine_g.taps)), signed(25))"""), "loud",
                "divided_early"),
    WrongAnswer("03-g", "one sample too many", level(stop="mine_g.taps + 1"), "mean", "mean"),
    WrongAnswer("03-g", "one register too few, the newest one twice",
                level(rest="total = resize(self.taps[0], signed(40)) + sum(resize(self.taps[i], signed(40)) "
                           "for i in range(mine_g.taps - 1))\n        self.level = total >> (mine_g.taps.bit_length() - 1)"),
                "window", "window", alone=True),
    WrongAnswer("03-g", "the sum made before the tick", level().replace("        tick()\n", ""), "window", "late", alone=True),
    WrongAnswer("03-g", "a level that feeds back", level(rest='''self.kept = self.kept + self.taps[0] - (self.kept >> 2)
        tick()
        self.level = self.kept >> 2'''), "window", "fades"),
    WrongAnswer("03-g", "the sum in 24 bits", level("resize(" + WIDE_ABS + ', signed(25), overflow="saturate")', rest='''\
total = sum(resize(self.taps[i], signed(24), overflow="wrap") for i in range(mine_g.taps))
        self.level = resize(total >> (mine_g.taps.bit_length() - 1), signed(40))'''), "loud", "loud", alone=True),
    WrongAnswer("03-g", "abs in 24 bits", level("resize(abs(code), signed(25))"), "lopsided", "negative", alone=True),
    WrongAnswer("03-g", "the most negative code becomes 0",
                level("resize(bits(abs(code), 22, 0), unsigned(24))").replace("signed(25), mine_g", "unsigned(24), mine_g")
                .replace("resize(self.taps[i], signed(40))", "signed(40)(self.taps[i])"), "lopsided", "lopsided", alone=True),
    # 03-h
    WrongAnswer("03-h", "loud at the limit", watch(above=">="), "warn", "at_limit", alone=True),
    WrongAnswer("03-h", "never quiet again", watch().replace("if not loud:\n                self.state = QUIET",
                                                             "if not loud and self.count > 900:\n                self.state = QUIET"),
                "warn", "warn"),
    WrongAnswer("03-h", "twice the time", watch(hold="2 * mine_h.hold"), "hold", "hold"),
    WrongAnswer("03-h", "too early", watch(hold="mine_h.hold - 20"), "hold", "hold", alone=True),
    WrongAnswer("03-h", "the state shown as 3", watch(tripped="3", relay="self.state == 3"), "hold", "state_2", alone=True),
    WrongAnswer("03-h", "the count goes on", watch(quiet="pass"), "again", "again", alone=True),
    WrongAnswer("03-h", "no latch", watch(out="not loud"), "latch", "unlatched"),
    WrongAnswer("03-h", "restarted while loud", watch(out="self.restart"), "latch", "while_loud", alone=True),
    WrongAnswer("03-h", "no way out", watch(out="self.restart and not loud and self.count == 1023"), "latch", "no_way_out",
                alone=True),
    WrongAnswer("03-h", "everything in one loop", ONE_LOOP, "beside", "disturbed", alone=True),
    WrongAnswer("03-h", "one tick too slow", watch(blink="blink + 1"), "beside", "one_tick", alone=True),
    WrongAnswer("03-h", "the lamp only pulses", watch(lamp="self.lamp = 1; tick(); self.lamp = 0"), "beside", "disturbed",
                alone=True),
    WrongAnswer("03-h", "the lamp stays on", watch(lamp="self.lamp = 1"), "beside", "lamp", alone=True),
    # 03-i
    WrongAnswer("03-i", "as Python has it", 'office = {**office, "square": mine_i.peak**2}', "int16", "grown", alone=True),
    WrongAnswer("03-i", "saturated", 'office = {**office, "square": 32767}', "int16", "clipped", alone=True),
    WrongAnswer("03-i", "wrapped at 32768", 'office = {**office, "square": mine_i.peak**2 % 32768 - 32768}', "int16", "int16",
                alone=True),
    WrongAnswer("03-i", "squared in int16", 'office = {**office, "model": np.cumsum(codes**2)}', "before", "narrow_square"),
    WrongAnswer("03-i", "shifted by one sample", 'office = {**office, "model": np.r_[0, office["model"][:-1]]}', "before",
                "wide"),
    WrongAnswer("03-i", "a model without a width",
                'office = {**office, "model": np.cumsum(codes.astype(np.int64) ** 2)}', "after", "no_wrap", alone=True),
    WrongAnswer("03-i", "a model that saturates",
                'office = {**office, "model": np.minimum(np.cumsum(codes.astype(np.int64) ** 2), 2**31 - 1)}', "after", "held",
                alone=True),
    WrongAnswer("03-i", "cut as if without a sign",
                'office = {**office, "model": np.cumsum(codes.astype(np.int64) ** 2) % 2**32}', "after", "cut", alone=True),
    WrongAnswer("03-i", "cut to 31 bits", 'office = {**office, "model": np.where(office["model"] < 0, office["model"] + 2**31, '
                                          'office["model"])}', "after", "cut", alone=True),
]

allowed = [
    Allowed("03-c", "2 -> 3", "any type that holds every value is right"),
    Allowed("03-g", "25 -> 26", "a bit too many costs nothing that the task asks for"),
    Allowed("03-g", "signed(tap_bits) -> signed(tap_bits - 1)", "the task accepts full scale one code too small"),
    Allowed("03-h", "0 -> 1", "the task accepts 6 ticks more or less"),
    Allowed("03-h", "self.count >= mine_h.hold -> self.count > mine_h.hold", "the task accepts 6 ticks more or less"),
]
