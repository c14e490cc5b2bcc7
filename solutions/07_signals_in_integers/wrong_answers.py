"""What learners of lab 07 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

MEAN = '''
class Mean(Design):
    accel = AnalogIn("fan A bearing")
    mean = HostReg(signed(24), access="ro")
    taps = Regs(signed(24), n_a)
    total = Reg(signed({bits}))

    @sequenced
    def average(self):
        x = self.accel.read()
        {lines}
        for i in range(1, n_a):
            self.taps[i] = self.taps[i - 1]
        self.taps[0] = x
'''
SUMMED = '''total = self.total + resize(x, signed({bits})) - resize(self.taps[n_a - 1], signed({bits}))
        self.total = total
        self.mean = resize({shown} >> shift_a, signed(24))'''

RMS = '''
class Rms(Design):
    accel = AnalogIn("fan A bearing")
    rms = HostReg(unsigned(28), access="ro")
    total = Reg(unsigned({bits}))

    def __init__(self):
        self.root = SquareRoot(56)

    @sequenced
    def level(self):
        {begin}
        for _ in range({count}):
            x = self.accel.read()
            self.total = self.total + resize(unsigned(48)(x * x), unsigned({bits}))
        {middle}
        {root}
'''

SMOOTH = '''
class Smooth(Design):
    accel = AnalogIn("fan A bearing")
    level = HostReg(signed(24), access="ro")
    scaled = Reg(signed({bits}))

    @sequenced
    def smooth(self):
        x = self.accel.read()
        {lines}
'''
KEPT = '''scaled = self.scaled + resize(x, signed({bits})) - (self.scaled >> {k})
        self.scaled = scaled
        self.level = resize(scaled >> {k}, signed(24))'''

SECTION = '''
state = sfixed({left}, -{fraction})

class Section(Design):
    accel = AnalogIn("fan A bearing")
    out = HostReg(signed(24), access="ro")
    x1, x2 = Reg(signed(24)), Reg(signed(24))
    y1, y2 = Reg(state), Reg(state)

    @sequenced
    def run(self):
        x = self.accel.read()
        y = resize({formula}, state{wrap})
        self.x1, self.x2 = x, self.x1
        self.y1, self.y2 = y, self.y1
        self.out = signed(24)(resize(y, whole{wrap}))
'''
FORMULA = "b0 * (whole(x) - whole(self.x2)) - a1 * self.y1 - a2 * self.y2"

CIC = '''
class Decimator(Design):
    accel = AnalogIn("fan A bearing")
    value = HostReg(signed({width}), access="ro")
    sums = Regs(signed({width}), 3)
    before = Regs(signed({width}), 3)
    at = Reg(unsigned(6))

    @sequenced
    def run(self):
        x = self.accel.read()
        v = resize(x, signed({width}))
        for i in range(3):
            v = {add}
            self.sums[i] = v
        self.at = 0 if self.at == {last} else self.at + 1
        if self.at == {last}:
            for i in range(3):
                difference = v - self.before[i]
                {keep}
                v = difference
            self.value = v
'''
SATURATE = "resize(scalb(resize(self.sums[i], signed({w} + 1)) + resize(v, signed({w} + 1)), 0), signed({w}), overflow='saturate')"

LINE = '''
turn = 2 * np.pi * {line} / 256
twice, cosine, sine = (const(float(c), sfixed(1, -16)) for c in (2 * np.cos(turn), np.cos(turn), np.sin(turn)))

class Line(Design):
    accel = AnalogIn("fan A bearing")
    real = HostReg(signed(25), access="ro")
    imag = HostReg(signed(25), access="ro")
    weights = Rom(sfixed(1, -16), [round(w * 2**16) / 2**16 for w in signal.get_window("hann", 256)])
    s1, s2 = Reg(inner), Reg(inner)

    @sequenced
    def listen(self):
        for i in range(256):
            x = self.accel.read()
            w = self.weights.read(i)
            weighted = {weighted}
            tick()
            self.step(weighted, i == 255)

    @operation
    def step(self, x, last):
        s = resize(x + twice * self.s1 - self.s2, inner)
        self.s1, self.s2 = {after}
        if last:
            re = signed(25)(resize(scalb(cosine * s - {older}, -{scale}), part))
            im = signed(25)(resize(scalb(sine * s, -{scale}), part))
            self.real, self.imag = re, im
'''

TURN = '''
class OneTimes(OneTimes):
    @operation
    def add(self, x, c, s, done):
        if done:
            self.real, self.imag, self.count = self.sum_re, self.sum_im, self.samples
{lines}
'''
FIRST = "(wide(0) if done else self.{})"

CONTROL = '''
class Control(Design):
    setpoint = HostReg(signed(16))
    speed = HostReg(signed(16))
    command = HostReg(signed(24), access="ro")
    total = Reg(signed(32))

    @sequenced(every=50)
    def cycle(self):
        error = resize(self.setpoint, signed(32)) - resize(self.speed, signed(32))
        summed = self.total + {step}
        wanted = {p} + {integral}
        high, low = wanted > 32767, wanted < 0
        self.command = {command}
        if {keep}:
            self.total = summed
'''


def mean(lines=None, bits="total_bits", shown="total"):
    return MEAN.format(bits=bits, lines=lines or SUMMED.format(bits=bits, shown=shown))


def rms(begin="self.total = 0", middle="tick()", root="self.rms = self.root.step(self.total << 2)", bits=56, count=64):
    return RMS.format(begin=begin, middle=middle, root=root, bits=bits, count=count)


def smooth(lines=None, bits="scaled_bits", k="k"):
    return SMOOTH.format(bits=bits, lines=lines or KEPT.format(bits=bits, k=k))


def section(formula=FORMULA, fraction=8, left=24, wrap=""):
    return SECTION.format(formula=formula, fraction=fraction, left=left, wrap=wrap)


def cic(width="width", last="r - 1", add="self.sums[i] + v", keep="self.before[i] = v"):
    return CIC.format(width=width, last=last, add=add, keep=keep)


def line(line="line", weighted="w * sfixed(23, 0)(x)", after="(0 if last else s), (0 if last else self.s1)", older="self.s1",
         scale=6):
    return LINE.format(line=line, weighted=weighted, after=after, older=older, scale=scale)


def turn(re="resize(x * c, wide)", im="resize(x * s, wide)", sign="-", count="1 if done else self.samples + 1"):
    return TURN.format(lines=f'''        self.sum_re = {FIRST.format("sum_re")} + {re}
        self.sum_im = {FIRST.format("sum_im")} {sign} {im}
        self.samples = {count}''')


def control(step="resize(ki * error, signed(32))", p="resize(kp * error, signed(32))", integral="(summed >> 8)",
            command="signed(24)(32767) if high else signed(24)(0) if low else resize(wanted, signed(24))",
            keep="not (high and error > 0) and not (low and error < 0)"):
    return CONTROL.format(step=step, p=p, integral=integral, command=command, keep=keep)


wrong_answers = [
    # 07-a
    WrongAnswer("07-a", "the quotients added up", mean("self.total = self.total + ((resize(x, signed(total_bits)) - resize("
                "self.taps[n_a - 1], signed(total_bits))) >> shift_a)\n        self.mean = resize(self.total + ((resize(x, "
                "signed(total_bits)) - resize(self.taps[n_a - 1], signed(total_bits))) >> shift_a), signed(24))"),
                "drift", "drift", alone=True),
    WrongAnswer("07-a", "the sum in 24 bits", mean(bits=24).replace("resize(x, signed(24))", "x"), "full", "full", alone=True),
    WrongAnswer("07-a", "the old sum shown", mean(shown="self.total"), "mean", "late", alone=True),
    WrongAnswer("07-a", "one sample too few", mean().replace("self.taps[n_a - 1]", "self.taps[n_a - 2]"), "mean", "mean"),
    # 07-b
    WrongAnswer("07-b", "the root first, then sixteenths", rms(root="root = self.root.step(self.total >> 6)\n"
                "        self.rms = resize(root, unsigned(28)) << 4"), "small", "fraction"),
    WrongAnswer("07-b", "the root of the old total", rms(middle="pass"), "small", "fraction"),
    WrongAnswer("07-b", "never set back", rms(begin="pass"), "blocks", "afresh", alone=True),
    WrongAnswer("07-b", "the total in 48 bits", rms(bits=48, root="self.rms = self.root.step(resize(self.total, unsigned(56)) "
                "<< 2)"), "large", "wide", alone=True),
    # 07-c
    WrongAnswer("07-c", "the state in whole codes", smooth("self.level = self.level + ((x - self.level) >> k)"), "rise",
                "dead", alone=True),
    WrongAnswer("07-c", "rounded up", smooth("self.level = self.level + ((x - self.level + (2**k - 1)) >> k)"), "fall",
                "dead", alone=True),
    WrongAnswer("07-c", "twice as fast", smooth(k="(k - 1)"), "time", "speed", alone=True),
    WrongAnswer("07-c", "two bits too few", smooth(bits="(scaled_bits - 2)"), "full", "wide", alone=True),
    WrongAnswer("07-c", "64 bits to be safe", smooth(bits=64), "size", "size", alone=True),
    # 07-d
    WrongAnswer("07-d", "the exact roots", 'poles = {**poles, "direct": np.abs(np.roots(long_a)).max()}', "direct", "exact",
                alone=True),
    WrongAnswer("07-d", "as many bits as the sections", 'poles = {**poles, "direct": np.abs(np.roots(quantised(long_a, 8)))'
                '.max()}', "direct", "roots", alone=True),
    WrongAnswer("07-d", "the first section only", 'poles = {**poles, "sections": np.abs(np.roots(quantised(rows[0][3:], 14)))'
                '.max()}', "sections", "one_section", alone=True),
    WrongAnswer("07-d", "the zeros of the sections", 'poles = {**poles, "sections": 1.0}', "sections", "rows", alone=True),
    WrongAnswer("07-d", "the one that explodes", 'poles = {**poles, "choice": "direct"}', "choice", "stable", alone=True),
    # 07-e
    WrongAnswer("07-e", "the other sign", section("b0 * (whole(x) - whole(self.x2)) + a1 * self.y1 + a2 * self.y2"),
                "response", "signs"),
    WrongAnswer("07-e", "without x2", section("b0 * whole(x) - a1 * self.y1 - a2 * self.y2"), "response", "formula"),
    WrongAnswer("07-e", "x1 instead of x2", section("b0 * (whole(x) - whole(self.x1)) - a1 * self.y1 - a2 * self.y2"),
                "response", "formula", alone=True),
    WrongAnswer("07-e", "whole codes", section(fraction=0), "rest", "hum", alone=True),
    WrongAnswer("07-e", "wraps at the end", section(left=23, wrap=', overflow="wrap"'), "full", "wraps", alone=True),
    # 07-f
    WrongAnswer("07-f", "r + 1 samples", cic(last="r"), "rate", "count"),
    WrongAnswer("07-f", "combs without a memory", cic(keep="pass"), "filter", "order"),
    WrongAnswer("07-f", "combs that keep the difference", cic(keep="self.before[i] = difference"), "filter", "order"),
    WrongAnswer("07-f", "a stage too few", cic().replace("range(3)", "range(2)"), "filter", "order"),
    WrongAnswer("07-f", "one bit too few", cic(width="(width - 1)"), "full", "wide", alone=True),
    WrongAnswer("07-f", "64 bits to be safe", cic(width=64), "size", "narrow", alone=True),
    # 07-g
    WrongAnswer("07-g", "the line next to it", line(line="(line + 1)"), "line", "fold", alone=True),
    WrongAnswer("07-g", "counted on from half the rate", line(line="(mine_g.hz * 256 / RATE - 128)"), "line", "mirror", alone=True),
    WrongAnswer("07-g", "no factor 2 for the negative frequency", line(scale=7), "scale", "half", alone=True),
    WrongAnswer("07-g", "an eighth", line(scale=9), "scale", "scale"),
    WrongAnswer("07-g", "rings on", line(after="s, self.s1"), "again", "afresh", alone=True),
    WrongAnswer("07-g", "no window", line(weighted="sfixed(23, 0)(x)", scale=7), "window", "window", alone=True),
    WrongAnswer("07-g", "the RMS", line(weighted="resize(const(2**-0.5, sfixed(1, -16)) * (w * sfixed(23, 0)(x)), sfixed(24, -16))"),
                "scale", "rms", alone=True),
    # 07-h
    WrongAnswer("07-h", "samples counted twice", turn(count="2 if done else self.samples + 2"), "amplitude", "half",
                alone=True),
    WrongAnswer("07-h", "the other way round", turn(sign="+"), "phase", "mirrored", alone=True),
    WrongAnswer("07-h", "the first sample of a block lost", turn(re="(wide(0) if done else resize(x * c, wide))",
                im="(wide(0) if done else resize(x * s, wide))"), "others", "whole", alone=True),
    WrongAnswer("07-h", "the count of one speed", turn().replace("self.sum_im, self.samples", "self.sum_im, 8 * mine_h.per_turn"),
                "speed", "count", alone=True),
    # 07-i
    WrongAnswer("07-i", "the error the other way round", control().replace("error = resize(self.setpoint, signed(32)) - "
                "resize(self.speed, signed(32))", "error = resize(self.speed, signed(32)) - resize(self.setpoint, signed(32))"),
                "response", "rule"),
    WrongAnswer("07-i", "without the proportional part", control(p="signed(32)(0)"), "response", "rule"),
    WrongAnswer("07-i", "the integral cut in each cycle", control(step="resize((ki * error) >> 8, signed(32))",
                integral="summed"), "small", "small"),
    WrongAnswer("07-i", "no limits", control(command="resize(wanted, signed(24))"), "limits", "limits", alone=True),
    WrongAnswer("07-i", "winds up", control(keep="self.total < 2**30 and self.total > -2**30"), "windup", "windup", alone=True),
]

FINER = "a bit more or less after the point stays within the task's limits"
COUNT = "one sample in a thousand is within the task's limits"
allowed = [
    Allowed("07-e", "8 -> 9", FINER),
    Allowed("07-e", "8 -> 7", FINER),
    Allowed("07-f", "24 -> 25", "the check leaves room for other structures"),
    Allowed("07-f", "1 -> 2", "which of the r samples is shown is free"),
    Allowed("07-g", "RATE - mine_g.hz -> RATE + mine_g.hz", "another number of the same line"),
    Allowed("07-h", "1 -> 2", COUNT),
    Allowed("07-h", "1 -> 0", COUNT),
    Allowed("07-h", "0 -> 1", COUNT),
    Allowed("07-i", "32767 -> 32766", "a code below the limit is within it"),
    Allowed("07-i", "0 -> 1", "a code above the limit is within it"),
]
