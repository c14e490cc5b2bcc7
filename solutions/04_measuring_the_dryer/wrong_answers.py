"""What learners of lab 04 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

UNPACK = '''
class Unpack(Design):
    word = HostReg(unsigned(32))
    code = HostReg(signed(32), access="ro")

    @clocked
    def unpack(self):
        low = mine_a.low
        field = bits(self.word, low + 23, low)
        {body}
'''

VOLTS = '''
shift, zero = {shift}, {zero}
gain = round({gain} * 1e9 * 2**shift)

class Volts(Design):
    plenum = ThermocoupleIn("plenum")
    nanovolts = HostReg(signed(32), access="ro", unit="nV")

    @sequenced
    def measure(self):
        code = self.plenum.read()
        product = {product}
        self.nanovolts = resize({result}, signed(32))
'''

TYPE_K = '''
knots = [round(100 * float(temperature_c(i * 2**{k} / 1e6))) for i in range({count})]
class TypeK(Design):
    emf = HostReg(signed(32), unit="nV")
    cold = HostReg(signed(16), unit="0.01 degrees C")
    hot = HostReg(signed(24), access="ro", unit="0.01 degrees C")
    knots = Rom(signed(24), knots)

    @sequenced
    def convert(self):
        total = {total}
        piece, along = bits(total, {k} + 4, {k}), signed({k} + 1)(bits(total, {k} - 1, 0))
        left = self.knots.read({first})
        right = self.knots.read({second})
        self.hot = {result}
'''

PROBE = '''
class Probe(Design):
    plenum = ThermocoupleIn("plenum")
    code = HostReg(signed(24), access="ro")
    open = HostReg(bit, access="ro")

    @sequenced
    def watch(self):
        now = self.plenum.read()
        bad = {bad}
        self.open = {open}
        if {keep}:
            self.code = now
'''

LOUD = '''
class Loud(Design):
    accel = AnalogIn("fan B bearing")
    peak = HostReg(unsigned(24), access="ro")
    clipped = HostReg(unsigned(8), access="ro")
    most = Reg(unsigned(24))
    count = Reg(unsigned(8))

    @sequenced
    def watch(self):
        for _ in range({samples}):
            code = self.accel.read()
            self.most = max(self.most, {magnitude})
            if {clipped}:
                self.count = self.count + 1
        {wait}
        self.peak = self.most
        self.clipped = self.count
        {clear}
'''

LATE = '''
class Loud(Design):
    accel = AnalogIn("fan B bearing")
    peak = HostReg(unsigned(24), access="ro")
    clipped = HostReg(unsigned(8), access="ro")
    most = Reg(unsigned(24))
    count = Reg(unsigned(8))
    number = Reg(unsigned(8))

    @sequenced
    def watch(self):
        code = self.accel.read()
        size = unsigned(24)(abs(code))
        self.most = max(self.most, size)
        if size >= 2**23 - 1:
            self.count = self.count + 1
        self.number = self.number + 1
        if self.number == mine_f.samples:
            self.peak = self.most
            self.clipped = self.count
            self.number = 0
            self.most = 0
            self.count = 0
'''

RAMP = '''
class Ramp(Design):
    speed = AnalogOut("fan A speed")
    switch = DigitalIn("switch", sync={sync})
    millivolts = HostReg(signed(16))

    @sequenced
    def command(self):
        wide = (self.millivolts * signed(19)({gain})) >> 16
        full: signed(16) = resize(wide, signed(16), overflow="{overflow}")
        target: signed(16) = {target}
        left = {left}
        move = min(max(left, -{step}), {step})
        {send}
'''
SEND = 'self.speed.write(resize(self.speed + move, signed(16), overflow="wrap"))'

ALIGNED = '''
class Aligned(Design):
    one = AnalogIn("fan A bearing", signed(12))
    two = AnalogIn("fan B bearing", signed(12))
    a = HostReg(signed(12), access="ro")
    b = HostReg(signed(12), access="ro")
    last = Reg(signed(12))
    older = Reg(signed(12))

    @sequenced
    def pair(self):
        new = self.{clock}.read()
        self.a = {a}
        self.b = {b}
        self.last = new
        self.older = self.last

instant = {{**instant, "design": Aligned}}
'''
MEAN = "resize((resize(self.last, signed(13)) + new) >> 1, signed(12))"


def unpack(body):
    return UNPACK.format(body=body)


def volts(zero="round(unit.zero_code)", gain="unit.volts_per_code", shift="20",
          product="(resize(code, signed(25)) - zero) * signed(26)(gain)", result="product >> shift"):
    return VOLTS.format(zero=zero, gain=gain, shift=shift, product=product, result=result)


def type_k(k=20, count=17, total="self.emf + resize(self.cold * signed(12)(slope), signed(32)) + offset", first="piece",
           second="piece + 1", result=None):
    result = result or f"left + resize(((right - left) * along) >> {k}, signed(24))"
    return TYPE_K.format(k=k, count=count, total=total, first=first, second=second, result=result)


def probe(bad="now > 7_000_000", is_open="bad", keep="not bad"):
    return PROBE.format(bad=bad, open=is_open, keep=keep)


def loud(samples="mine_f.samples", magnitude="bits(abs(resize(code, signed(25))), 23, 0)",
         clipped="code == 2**23 - 1 or code == -(2**23)", pause="tick()", clear="self.most = 0; self.count = 0"):
    return LOUD.format(samples=samples, magnitude=magnitude, clipped=clipped, wait=pause, clear=clear)


def ramp(gain="214_748", overflow="saturate", target="full if self.switch else 0",
         left="resize(target, signed(17)) - self.speed", step="mine_g.step", sync=2, send=SEND):
    return RAMP.format(gain=gain, overflow=overflow, target=target, left=left, step=step, sync=sync, send=send)


def aligned(a=MEAN, b="self.two.value", clock="one"):
    return ALIGNED.format(a=a, b=b, clock=clock)


def changed(answer, name, value):
    return f'{answer} = {{**{answer}, "{name}": {value}}}'


wrong_answers = [
    # 04-a
    WrongAnswer("04-a", "no sign", unpack("self.code = signed(32)(field)"), "negative", "sign"),
    WrongAnswer("04-a", "the sign mask only", unpack("self.code = signed(32)(cat(unsigned(8)(255) if field[23] else "
                                                     "unsigned(8)(0), unsigned(24)(0)))").replace(
        "class", "from simkit import cat\nclass", 1), "positive", "status"),
    WrongAnswer("04-a", "status left in positive codes", unpack(
        "self.code = resize(signed(24)(field), signed(32)) if field[23] else signed(32)(self.word >> low)"), "positive",
        "status", alone=True),
    WrongAnswer("04-a", "one bit short", unpack(
        "self.code = resize(signed(23)(bits(field, 22, 0)), signed(32))"), "ends", "ends", alone=True),
    WrongAnswer("04-a", "sign and magnitude", unpack(
        "size = signed(32)(bits(field, 22, 0))\n        self.code = -size if field[23] and size > 1 and "
        "size < 2**23 - 1 else resize(signed(24)(field), signed(32))"), "negative", "sign", alone=True),
    # 04-b
    WrongAnswer("04-b", "no zero", volts(zero="0"), "zero", "zero", alone=True),
    WrongAnswer("04-b", "zero added", volts(product="(resize(code, signed(25)) + zero) * signed(26)(gain)"), "zero",
                "zero_sign", alone=True),
    WrongAnswer("04-b", "zero taken off the nanovolts", volts(
        product="resize(code, signed(25)) * signed(26)(gain)", result="(product >> shift) - zero"), "zero", "after_gain",
        alone=True),
    WrongAnswer("04-b", "gain of the data sheet", volts(gain="(0.078125 / 2**23)"), "gain", "nominal", alone=True),
    WrongAnswer("04-b", "gain in too few bits", volts(shift="4"), "gain", "gain", alone=True),
    WrongAnswer("04-b", "product too narrow", volts(result='resize(product, signed(46), overflow="wrap") >> shift'), "ends",
                "ends", alone=True),
    # 04-c
    WrongAnswer("04-c", "temperatures added", changed("ways", "right", 'ways["added"]'), "right", "temperatures",
                alone=True),
    WrongAnswer("04-c", "41 uV per degree", changed("ways", "right", 'ways["straight"]'), "right", "straight_line",
                alone=True),
    WrongAnswer("04-c", "no cold junction", changed("ways", "right", "float(temperature_c(mine_c.meter))"), "right",
                "no_junction", alone=True),
    WrongAnswer("04-c", "added is not the short cut", changed("ways", "added", 'ways["right"]'), "added", "added",
                alone=True),
    WrongAnswer("04-c", "straight without the terminals", changed("ways", "straight", "mine_c.meter / 0.041"), "straight",
                "straight", alone=True),
    # 04-d
    WrongAnswer("04-d", "temperatures added", type_k(
        total="max(self.emf, 0)", result="left + resize(((right - left) * along) >> 20, signed(24)) + self.cold"), "curve",
        "temperatures"),
    WrongAnswer("04-d", "41 uV per degree", type_k(
        result="resize((total * signed(19)(round(100 / 41e3 * 2**24))) >> 24, signed(24))"), "curve", "curve"),
    WrongAnswer("04-d", "pieces too long", type_k(k=22, count=5, first="bits(piece, 2, 0)", second="bits(piece + 1, 2, 0)"),
                "curve", "curve", alone=True),
    WrongAnswer("04-d", "room temperature for the terminals", type_k(
        total="self.emf + 2500 * slope + offset").replace("total = self", "total: signed(32) = self"), "cold", "cold"),
    WrongAnswer("04-d", "branch by the voltage at the terminals", type_k(
        result="0 if self.emf < 0 else left + resize(((right - left) * along) >> 20, signed(24))"), "below", "below",
        alone=True),
    WrongAnswer("04-d", "the last knot missing", type_k(count=16, first="bits(piece, 3, 0)", second="bits(piece + 1, 3, 0)"), "end", "end",
                alone=True),
    WrongAnswer("04-d", "no line between the knots", type_k(result="left"), "curve", "curve"),
    # 04-e
    WrongAnswer("04-e", "never open", probe(is_open="0"), "open", "never", alone=True),
    WrongAnswer("04-e", "the code goes on", probe(keep="True"), "open", "code_goes_on", alone=True),
    WrongAnswer("04-e", "the flag asked in its own tick", probe(keep="not self.open"), "open", "old_flag"),
    WrongAnswer("04-e", "frost is open", probe(bad="now > 7_000_000 or now < 0"), "passes", "passes", alone=True),
    WrongAnswer("04-e", "open for ever", probe(is_open="bad or self.open"), "mended", "mended", alone=True),
    WrongAnswer("04-e", "400 degrees are the limit", probe(bad="now > 1_800_000"), "hot", "hot", alone=True),
    # 04-f
    WrongAnswer("04-f", "negative peaks ignored", loud(magnitude="bits(max(code, 0), 23, 0)"), "peak", "peak"),
    WrongAnswer("04-f", "peak of the positive half, except at full scale", loud(
        magnitude="unsigned(24)(8_388_608) if code == -(2**23) else bits(max(code, 0), 23, 0)"), "peak", "peak",
        alone=True),
    WrongAnswer("04-f", "one sample late", LATE, "peak", "late"),
    WrongAnswer("04-f", "upper end only", loud(clipped="code == 2**23 - 1"), "clipped", "one_end", alone=True),
    WrongAnswer("04-f", "clipping hidden", loud(clipped="code > 0 and code < 0"), "clipped", "hidden"),
    WrongAnswer("04-f", "never set back", loud(clear="pass"), "again", "again"),
    WrongAnswer("04-f", "peak for ever", loud(clear="self.count = 0"), "again", "again", alone=True),
    WrongAnswer("04-f", "last sample published too late", loud(pause="pass"), "borders", "borders", alone=True),
    WrongAnswer("04-f", "magnitude in 24 bits", loud(
        magnitude="bits(max(resize(abs(code), signed(25)), 0), 23, 0)"), "lowest", "lowest", alone=True),
    # 04-g
    WrongAnswer("04-g", "one code per millivolt", ramp(gain="65_536"), "scale", "scale"),
    WrongAnswer("04-g", "3 codes per millivolt", ramp(gain="200_000"), "scale", "scale", alone=True),
    WrongAnswer("04-g", "whole steps only", ramp(send="""if target > self.speed:
            self.speed.write(resize(self.speed + mine_g.step, signed(16), overflow="saturate"))
        elif target < self.speed:
            self.speed.write(resize(self.speed - mine_g.step, signed(16), overflow="saturate"))"""), "scale", "last_step"),
    WrongAnswer("04-g", "wraps at the end", ramp(overflow="wrap"), "ends", "wrap", alone=True),
    WrongAnswer("04-g", "a step in every tick", ramp(send=SEND.replace(".write(", " = (")), "ramp", "too_often"),
    WrongAnswer("04-g", "every second update", ramp(send=SEND + "\n        wait(70)"), "ramp", "too_rare", alone=True),
    WrongAnswer("04-g", "steps of another size", ramp(step="(mine_g.step + 1)"), "ramp", "step", alone=True),
    WrongAnswer("04-g", "difference in 16 bits", ramp(left="target - self.speed"), "swing", "swing", alone=True),
    WrongAnswer("04-g", "off at once", ramp(send='self.speed.write(resize(self.speed + move, signed(16), overflow="wrap") '
                                                'if self.switch else 0)'), "permit", "sudden", alone=True),
    WrongAnswer("04-g", "no synchroniser", ramp(sync=0), "permit", "sync", alone=True),
    WrongAnswer("04-g", "no permission asked", ramp(target="full if self.switch or not self.switch else 0"), "permit",
                "permit", alone=True),
    # 04-h
    WrongAnswer("04-h", "looks counted", changed("reading", "different", "mine_h.span_ms * mine_h.loop_hz / 1000"),
                "different", "every_look", alone=True),
    WrongAnswer("04-h", "half of the samples", changed("reading", "different", "mine_h.span_ms / 2"), "different",
                "different", alone=True),
    WrongAnswer("04-h", "the tone stays", changed("reading", "reads_as", "mine_h.tone_hz"), "reads_as", "same_tone",
                alone=True),
    WrongAnswer("04-h", "the wrong way", changed("reading", "reads_as", "mine_h.tone_hz * 1000 / mine_h.loop_hz"),
                "reads_as", "upside_down", alone=True),
    WrongAnswer("04-h", "taken samples", changed("reading", "missed", "mine_h.span_ms / mine_h.work_ms"), "missed",
                "reads_counted", alone=True),
    WrongAnswer("04-h", "none is lost", changed("reading", "missed", "0"), "missed", "missed", alone=True),
    # 04-i
    WrongAnswer("04-i", "a whole round", changed("instant", "skew_us", "2e6 / mine_i.rate"), "skew", "whole_round",
                alone=True),
    WrongAnswer("04-i", "in seconds", changed("instant", "skew_us", "1 / mine_i.rate"), "skew", "unit", alone=True),
    WrongAnswer("04-i", "one row, one instant", aligned(a="new"), "aligned", "not_corrected", alone=True),
    WrongAnswer("04-i", "the mean before", aligned(
        a="resize((resize(self.last, signed(13)) + self.older) >> 1, signed(12))", b="self.two.value"), "aligned",
        "wrong_way", alone=True),
    WrongAnswer("04-i", "mean of both channels for both", aligned(
        a="resize((resize(self.two.value, signed(13)) + new) >> 1, signed(12))",
        b="resize((resize(self.two.value, signed(13)) + new) >> 1, signed(12))"), "own", "own", alone=True),
    WrongAnswer("04-i", "sum in 12 bits", aligned(a="(self.last + new) >> 1"), "full", "full"),
    WrongAnswer("04-i", "the top bit cut", aligned(
        a='resize((resize(self.last, signed(13)) + new) >> 1, signed(12)) if new < 2000 else 1999'), "full", "full",
        alone=True),
]

HELD = "the channel holds the newest sample, and the task wants no more than that"
LINE = "the line of the cold junction may lie a few microvolts off; the task allows 0.3 degrees"
allowed = [
    Allowed("04-b", "self.plenum.read() -> self.plenum.value", HELD),
    Allowed("04-e", "self.plenum.read() -> self.plenum.value", HELD),
    Allowed("04-d", "1000000.0 * float(emf_mv(25)) - 2500 * slope + 2000 -> "
                    "1000000.0 * float(emf_mv(25)) - 2500 * slope - 2000", LINE),
    Allowed("04-d", "2500 -> 2499", LINE),
    Allowed("04-d", "2500 -> 2501", LINE),
    Allowed("04-d", "17 -> 18", "a knot too many is never read"),
]
