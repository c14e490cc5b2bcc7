"""What learners of lab 12 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

SCALE = '''
class Scale(Design):
    accel_a = AnalogIn("fan A bearing")
    accel_b = AnalogIn("fan B bearing")
    a = HostReg(signed(20), access="ro")
    b = HostReg(signed(20), access="ro")

    @sequenced
    def scale_a(self):
        x = self.accel_a.read()
        self.a = {a}

    @sequenced
    def scale_b(self):
        x = self.accel_b.read()
        self.b = {b}
'''


def one(fan, zero="mine_a.zero_{0}", kind="reading", more=""):
    return f"signed(20)(resize((whole(x) - {zero.format(fan)}) * const(mine_a.gain_{fan}, small), {kind}{more}))"


def scale(a=None, b=None):
    return SCALE.format(a=a or one("a"), b=b or one("b"))


VELOCITY = '''
class Mine(Velocity):
    @operation
    def integrate(self, a):
        wide = resize(a, signed(32))
        mean = self.slow >> 9
        self.slow = self.slow + wide - mean
        fresh = {fresh}
        self.total = {total}

class Broadband(Design):
    accel = AnalogIn("fan B bearing")
    velocity = HostReg(unsigned(18), access="ro", unit="µm/s")

    def __init__(self):
        self.block = Mine()

    @sequenced
    def run(self):
        x = self.accel.read()
        self.block.step(x)
        self.velocity = {shown}
'''


def velocity(fresh="wide - mean", total="self.total + (fresh << 2) + fresh - (self.total >> 7)", shown="self.block.rms"):
    return VELOCITY.format(fresh=fresh, total=total, shown=shown)


TURN = '''
class Mine(OneTimes):
    @operation
    def angle(self, rest, per_turn):
        index: unsigned(8) = 0
        for _ in range({bits}):
            rest = rest << 1
            index = index << 1
            if rest >= {per_turn}:
                rest = rest - {per_turn}
                index = index + 1
            tick()
        self.index = index

    @operation
    def add(self, x, c, q, done):
        if done:
            self.real, self.imag, self.count = self.sum_re, self.sum_im, {shown}
        self.sum_re = {re} + (self.wide(0) if done else self.sum_re)
        self.sum_im = (self.wide(0) if done else self.sum_im) {sign} {im}
        self.samples = {count}

class Watch(Design):
    accel, pulse = AnalogIn("fan B bearing"), DigitalIn("fan B pulse")

    def __init__(self):
        self.one = Mine()

    @clocked
    def marks(self):
        self.one.mark(self.pulse)

    @sequenced
    def run(self):
        x = self.accel.read()
        self.one.step(x)
'''


def turn(bits="8", per_turn="per_turn", shown="self.samples", re="resize(x * c, self.wide)", im="resize(x * q, self.wide)", sign="-",
         count="1 if done else self.samples + 1"):
    return TURN.format(bits=bits, per_turn=per_turn, shown=shown, re=re, im=im, sign=sign, count=count)


GUARD = '''
class Guard(Design):
    lamp, tripped, before = Reg(bit), Reg(bit), Reg(bit)
    over = Reg(unsigned(8))

    @operation
    def step(self, level, clear):
        self.lamp = level {alarm} mine_d.alarm
        self.before = clear
        if level <= mine_d.limit:
            {calm}
        elif self.over < mine_d.hold:
            self.over = self.over + 1
        if {trip}:
            self.tripped = 1
        elif {clear}:
            self.tripped = 0

class Protect(Design):
    level = AnalogIn("fan B bearing")
    lamp, trip = DigitalOut("lamp"), DigitalOut("fan B trip")
    clear = HostReg(bit)

    def __init__(self):
        self.guard = Guard()

    @sequenced
    def run(self):
        x = self.level.read()
        self.guard.step(x, self.clear)

    @clocked
    def show(self):
        self.lamp, self.trip = self.guard.lamp, self.guard.tripped
'''


def guard(alarm=">", calm="self.over = 0", trip="level > mine_d.limit and self.over >= mine_d.hold - 1",
          clear="clear and not self.before and level <= mine_d.alarm"):
    return GUARD.format(alarm=alarm, calm=calm, trip=trip, clear=clear)


LOG = '''
class Log(Design):
    accel = AnalogIn("fan B bearing")
    log = HostStream(unsigned(32), {depth}, "to_host")
    number = Reg(unsigned(8))
    old = Reg(unsigned(24))

    @sequenced
    def run(self):
        largest: unsigned(24) = 0
        self.old = 0
        for _ in range(16):
            x = self.accel.read()
            largest = max(largest, unsigned(24)(abs(x)))
            self.old = max(self.old, unsigned(24)(abs(x)))
        {put}
'''


def log(depth="depth", put="self.log.try_put(cat(self.number, largest)); self.number = self.number + 1"):
    return LOG.format(depth=depth, put=put)


BALANCE = '''
w = {weight}
balance = {{"permitted_gmm": {permitted}, "mass_g": abs(w), "angle_deg": np.degrees(np.angle(w)) % 360}}
'''


def balance(weight="correction", permitted="permitted_unbalance(6.3, 1480, mine_f.mass_kg)"):
    return BALANCE.format(weight=weight, permitted=permitted)


MODEL = '''
class FanModel(Design):
    run_line, pulse, vibration = DigitalOut("run"), DigitalOut("pulse"), AnalogOut("vibration")
    command, trip = AnalogIn("command", signed(16)), DigitalIn("trip")
    shake = HostReg(signed(16))
    on, stuck = HostReg(bit), HostReg(bit)
    tripped = HostReg(bit, access="ro")
    speed = Reg(signed(32))
    angle = Reg(unsigned(32), reset=1 << 31)

    @sequenced(every=us(100))
    def turn(self):
        target = {target}
        self.speed = self.speed + ((target - self.speed) >> {k})
        self.vibration = {vibration}
        moved = resize((resize(self.speed, signed(48)) * {gain}) >> 8, signed(33))
        self.angle = self.angle + resize(bits(moved, 31, 0), unsigned(32))
        self.pulse = self.angle < 2**28 and not self.stuck
        self.run_line = self.on
        self.tripped = self.trip
'''


def model(target="signed(32)(0) if self.trip else resize(self.command.value, signed(32)) << 8", k="k", gain="655",
          vibration="-self.shake if self.angle[31] else self.shake"):
    return MODEL.format(target=target, k=k, gain=gain, vibration=vibration)


NEXT = '{"bearing": "loose", "loose": "unbalance", "unbalance": "resonance", "resonance": "bearing"}'


wrong_answers = [
    # 12-a
    WrongAnswer("12-a", "zero forgotten", scale(a=one("a", zero="0")), "a", "zero"),
    WrongAnswer("12-a", "the zero added", scale(a=one("a", zero="-mine_a.zero_a")), "a", "zero"),
    WrongAnswer("12-a", "fan A's constants for both", scale(b=one("a")), "b", "own"),
    WrongAnswer("12-a", "sixteen bits", scale(a=one("a", kind="sfixed(15, 0)", more=', overflow="wrap"')), "ends", "wide", alone=True),
    # 12-b
    WrongAnswer("12-b", "the acceleration", velocity(total="wide"), "fall", "sum"),
    WrongAnswer("12-b", "four instead of five", velocity(total="self.total + (fresh << 2) - (self.total >> 7)"), "tone",
                "integral", alone=True),
    WrongAnswer("12-b", "the peak", velocity(shown="resize((resize(self.block.rms, unsigned(36)) * 1448) >> 10, unsigned(18))"),
                "tone", "peak", alone=True),
    WrongAnswer("12-b", "the mean left in", velocity(fresh="wide"), "offset", "constant", alone=True),
    # 12-c
    WrongAnswer("12-c", "seven bits", turn(bits="7"), "amplitude", "angle"),
    WrongAnswer("12-c", "samples counted twice", turn(count="2 if done else self.samples + 2"), "amplitude", "half", alone=True),
    WrongAnswer("12-c", "the other way round", turn(sign="+"), "phase", "mirrored", alone=True),
    WrongAnswer("12-c", "the first sample of a block lost", turn(re="(self.wide(0) if done else resize(x * c, self.wide))",
                im="(self.wide(0) if done else resize(x * q, self.wide))"), "others", "whole", alone=True),
    WrongAnswer("12-c", "the angle of one speed", turn(per_turn="mine_c.per_turn"), "speed", "count", alone=True),
    WrongAnswer("12-c", "the count of one speed", turn(shown="8 * mine_c.per_turn"), "speed", "count", alone=True),
    # 12-d
    WrongAnswer("12-d", "equal is an alarm", guard(alarm=">="), "alarm", "alarm", alone=True),
    WrongAnswer("12-d", "one level late", guard(trip="level > mine_d.limit and self.over >= mine_d.hold"), "hold", "one_sample",
                alone=True),
    WrongAnswer("12-d", "bursts are added up", guard(calm="pass"), "hold", "bursts"),
    WrongAnswer("12-d", "no latch", guard(clear="level <= mine_d.alarm"), "latch", "latch"),
    WrongAnswer("12-d", "clears while it shakes", guard(trip="level > mine_d.limit and self.over == mine_d.hold - 1",
                clear="clear and not self.before"), "clear", "clear", alone=True),
    WrongAnswer("12-d", "clear is a level", guard(clear="clear and level <= mine_d.alarm"), "dead", "dead", alone=True),
    # 12-e
    WrongAnswer("12-e", "the last sample missed", log(put="self.log.try_put(cat(self.number, self.old)); self.number = self.number + 1"),
                "words", "largest", alone=True),
    WrongAnswer("12-e", "sixteen words", log(depth="16"), "stall", "depth", alone=True),
    WrongAnswer("12-e", "only stored words are numbered", log(put="self.number = self.number + (unsigned(8)(1) if "
                "self.log.try_put(cat(self.number, largest)) else unsigned(8)(0))"), "number", "count", alone=True),
    WrongAnswer("12-e", "much to be safe", log(depth="3 * depth"), "size", "size"),
    # 12-f
    WrongAnswer("12-f", "r/min for rad/s", balance(permitted="1000 * 6.3 * mine_f.mass_kg / 1480"), "permitted", "rpm", alone=True),
    WrongAnswer("12-f", "without the minus sign", balance("-correction"), "better", "twice"),
    WrongAnswer("12-f", "the trial weight's angle forgotten, sizes only",
                balance("phasor(abs(correction) * 0.55, np.degrees(np.angle(correction)))"), "residual", "exact", alone=True),
    # 12-g
    *(WrongAnswer("12-g", f"case {n} taken for another", f'diagnoses = {{**diagnoses, "case_{n}": {NEXT}[diagnoses["case_{n}"]]}}',
                  f"case_{n}", alone=True) for n in (1, 2, 3, 4)),
    # 12-h
    WrongAnswer("12-h", "half the speed", model(target="signed(32)(0) if self.trip else resize(self.command.value, signed(32)) << 7"),
                "speed", "speed", alone=True),
    WrongAnswer("12-h", "twice as slow", model(k="(k + 1)"), "time", "time"),
    WrongAnswer("12-h", "shakes in one direction", model(vibration="self.shake"), "shake", "shake", alone=True),
    WrongAnswer("12-h", "runs on after a trip", model(target="resize(self.command.value, signed(32)) << 8"), "trip", "trip", alone=True),
    # 12-i
    WrongAnswer("12-i", "the other reaction", 'finding = {**finding, "tripped_after_200_ms": 1 - finding["tripped_after_200_ms"]}',
                "early", "early", alone=True),
    WrongAnswer("12-i", "another promise", 'finding = {**finding, "fault": {"deaf": "late", "late": "forgetful", '
                '"forgetful": "blind", "blind": "deaf"}[finding["fault"]]}', "fault", alone=True),
]

COUNT = "one sample in a thousand is within the task's limits"
allowed = [
    Allowed("12-a", "self.accel_a.read() -> self.accel_a.value", "a loop that follows the channel in every tick is right too"),
    Allowed("12-a", "self.accel_b.read() -> self.accel_b.value", "a loop that follows the channel in every tick is right too"),
    Allowed("12-c", "rest >= per_turn -> rest > per_turn", "the angle is a 256th of a turn less, within the task's limits"),
    Allowed("12-c", "1 -> 2", COUNT),
    Allowed("12-c", "1 -> 0", COUNT),
    Allowed("12-c", "0 -> 1", COUNT),
]
