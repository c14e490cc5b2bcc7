"""What learners of lab 11 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

SETTINGS = '''
class Settings(Design):
    low = HostReg(unsigned(16))
    high = HostReg(unsigned(16))
    version = HostReg(unsigned(8))
    limit = HostReg(unsigned(32), access="ro", reset=mine_b.start)
    active = HostReg(unsigned(8), access="ro")
    half = Reg(unsigned(16), reset=mine_b.start % 65536)
    kept = Reg(unsigned(8))

    @clocked
    def take_over(self):
        {loop}
'''


def settings(*lines):
    return SETTINGS.format(loop="\n        ".join(lines))


NEW = "if self.version != self.active:"
ALL = "self.limit = cat(self.high, self.low); self.active = self.version"

MARKED = '''
class Marked(Design):
    accel = AnalogIn("fan B bearing")
    log = HostStream(unsigned(32), mine_d.depth, "to_host")
    lost = Reg(unsigned(31))
    full = Reg(bit)

    @sequenced
    def run(self):
        x = self.accel.read()
        word = resize({bits}, unsigned(32))
        {steps}
'''
LOSE = "if not self.log.try_put(word): self.lost = self.lost + 1"
GIVE = "if self.lost != 0 and self.log.ready: self.log.try_put(resize(self.lost, unsigned(32)) | MARK); self.lost = 0"


def marked(*steps, bits="bits(x, 23, 0)"):
    return MARKED.format(bits=bits, steps="\n        ".join(steps))


SERVE = '''
def serve(host, stop):
    total, before = 0, host.count
    while host.now < stop:
        try:
            host.opened.wait(timeout=ms(100))
        except HostTimeout:
            continue
        {steps}
        before = now
    return total
'''
IN_ORDER = ("host.opened.acknowledge()", "now = host.count", "total += (now - before) % 256", "host.handled = now")


def serve(*steps):
    return SERVE.format(steps="\n        ".join(steps))


POLLS = '''
def serve(host, stop):
    total, before = 0, host.count
    while host.now < stop:
        host.wait(ms(8))
        now = host.count
        if now != before:
            host.handled = now
        total += (now - before) % 256
        before = now
    return total
'''

DOG = '''
class Guarded(Design):
    speed, trip = AnalogOut("fan B speed"), DigitalOut("fan B trip")
    command = HostReg(signed(16), unit="codes")
    beat = HostReg(unsigned(8))
    arm = HostReg(bit)
    running = HostReg(bit, access="ro")
    beat_before, arm_before = Reg(unsigned(8)), Reg(bit)
    once = Reg(bit)
    silent = Reg(unsigned(10), reset={reset})

    @sequenced(every=us(100))
    def watch(self):
        self.beat_before = self.beat
        self.arm_before = self.arm
        alive = self.silent < {time}
        if {sign}:
            self.silent = 0
        elif alive:
            self.silent = self.silent + 1
        {stop}
        {start}
        self.speed = {speed}
        self.trip = {trip}
'''


def dog(reset="10 * mine_f.timeout_ms", time="10 * mine_f.timeout_ms", sign="self.beat != self.beat_before",
        stop="if not alive: self.running = 0", start="if alive and self.arm and not self.arm_before: self.running = 1",
        speed="self.command if self.running and alive else 0", trip="not (self.running and alive)"):
    return DOG.format(reset=reset, time=time, sign=sign, stop=stop, start=start, speed=speed, trip=trip)


RECEIVE = '''
def receive(host):
    data = bytearray()
    try:
        while True:
            data.append(int(host.line.read(1, timeout=ms(20))[0]))
    except HostTimeout:
        pass
    payloads, at = [], 0
    while at < len(data) - 1:
        n = data[at + 1]
        if data[at] != 0xA5:
            at += 1
            continue
        if n > 40 or at + 4 + n > len(data):
            {short}
        body, sent = bytes(data[at + 1 : at + 2 + n]), bytes(data[at + 2 + n : at + 4 + n])
        if {good}:
            payloads.append(body[1:])
            at += {after}
        else:
            at += {bad}
    return payloads
'''


def receive(short="at += 1; continue", good='crc(body).to_bytes(2, "big") == sent', bad="1", after="4 + n"):
    return RECEIVE.format(short=short, good=good, bad=bad, after=after)


SPLITS = '''
def receive(host):
    host.wait(ms(60))
    data = bytes(int(byte) for byte in host.line.read())
    pieces = [piece for piece in data.split(bytes([0xA5])) if len(piece) > 3]
    return [p[1 : 1 + p[0]] for p in pieces if crc(p[: 1 + p[0]]).to_bytes(2, "big") == p[1 + p[0] : 3 + p[0]]]
'''

ENERGY = '''
class Energy(Design):
    accel = AnalogIn("fan B bearing")
    energy = HostStream(unsigned(36), mine_i.depth, "to_host")
    total = Reg(unsigned({width}))

    @sequenced
    def run(self):
        for k in range({count}):
            x = self.accel.read()
            upper = signed(18)(bits(x, {bits}))
            self.total = {first} + resize(unsigned(36)(upper * upper), unsigned({width}))
        {then}
'''
PUT = "self.energy.try_put(resize(self.total >> mine_i.shift, unsigned(36)))"


def energy(width=45, count="2**mine_i.shift", first="(unsigned({width})(0) if k == 0 else self.total)", then=("tick()", PUT),
           bits="23, 6"):
    return ENERGY.format(width=width, count=count, first=first.format(width=width), then="\n        ".join(then), bits=bits)


wrong_answers = [
    # 11-a
    WrongAnswer("11-a", "the unit forgotten", 'limits = {**limits, "raw": mine_a.new}', "raw", "unscaled", alone=True),
    WrongAnswer("11-a", "all at once", 'limits = {**limits, "low_first": mine_a.new}', "low_first", "whole", alone=True),
    WrongAnswer("11-a", "nothing until the last write", 'limits = {**limits, "high_first": mine_a.old}', "high_first", "whole", alone=True),
    WrongAnswer("11-a", "the halves swapped", 'limits = {**limits, "low_first": limits["high_first"], "high_first": limits["low_first"]}',
                "low_first", "swapped"),
    WrongAnswer("11-a", "a raw number", 'limits = {**limits, "high_first": 16 * limits["high_first"]}', "high_first", "unit", alone=True),
    # 11-b
    WrongAnswer("11-b", "the limit is always both halves", settings("self.limit = cat(self.high, self.low)", "self.active = self.version"),
                "quiet", "quiet"),
    WrongAnswer("11-b", "in force as soon as a half differs after the first takeover", settings(
                f"if self.version != self.active: {ALL}", "elif self.active == 9 and self.low != bits(self.limit, 15, 0): "
                "self.limit = cat(self.high, self.low)"), "quiet", "quiet"),
    WrongAnswer("11-b", "one half, and the other a tick later", settings(
                "self.kept = self.version", "self.half = self.high if self.version != self.kept else self.half",
                "if self.version != self.active: self.limit = cat(bits(self.limit, 31, 16), self.low); self.active = self.version",
                "elif self.version == self.kept and self.active != 0 and bits(self.limit, 31, 16) != self.half: "
                "self.limit = cat(self.half, bits(self.limit, 15, 0))"), "whole", "mixed"),
    WrongAnswer("11-b", "never taken over", settings("self.limit = self.limit", "self.active = self.version"), "whole", "never"),
    WrongAnswer("11-b", "active is version itself", settings(
                "self.active = self.version", "self.kept = self.version", "if self.version != self.kept: self.limit = cat(self.high, self.low)",
                ).replace("self.active = self.version", "self.active = self.kept"), "told", "told", alone=True),
    WrongAnswer("11-b", "only a larger version", settings("if self.version > self.active or (self.version == 4 and self.active == 9):", f"    {ALL}"),
                "any", "any", alone=True),
    WrongAnswer("11-b", "version 0 is no version", settings(f"if self.version != self.active and self.version != 0: {ALL}"), "any", "any", alone=True),
    # 11-c
    WrongAnswer("11-c", "the time since the last burst forgotten", 'stall = {**stall, "depth": int(per_ms * mine_c.stall_ms) + 1}',
                "depth", "burst", alone=True),
    WrongAnswer("11-c", "one channel", 'stall = {**stall, "depth": stall["depth"] // mine_c.channels}', "depth", "channels", alone=True),
    WrongAnswer("11-c", "twice to be safe", 'stall = {**stall, "depth": 2 * stall["depth"]}', "depth", "spare", alone=True),
    WrongAnswer("11-c", "all are lost", 'stall = {**stall, "lost": stall["lost"] + mine_c.depth}', "lost", "all", alone=True),
    WrongAnswer("11-c", "the long stall without the burst", 'stall = {**stall, "lost": int(per_ms * mine_c.long_ms) - mine_c.depth}',
                "lost", "burst", alone=True),
    # 11-d
    WrongAnswer("11-d", "one more than the sample", marked(GIVE, "tick()", LOSE, bits="bits(x + 1, 23, 0)"), "through", "through"),
    WrongAnswer("11-d", "a mark at reset", marked("if self.full == 0: self.log.try_put(MARK); self.full = 1", "tick()", GIVE, "tick()", LOSE),
                "through", "through", alone=True),
    WrongAnswer("11-d", "no mark", marked(LOSE), "count", "nomark"),
    WrongAnswer("11-d", "the first loss is not counted", marked(
                GIVE.replace("self.lost = 0", "self.lost = 0; self.full = 0"), "tick()",
                "if not self.log.try_put(word): self.lost = self.lost + (1 if self.full else 0); self.full = 1"), "count", "count"),
    WrongAnswer("11-d", "waits for the host", marked("self.log.put(word)"), "count", "nomark"),
    WrongAnswer("11-d", "the mark comes after the sample", marked(
                "gone = self.lost", "if self.log.try_put(word): self.full = 1", "else: self.lost = self.lost + 1; self.full = 0", "tick()",
                "if self.full and self.lost != 0 and self.log.ready: self.log.try_put(resize(self.lost, unsigned(32)) | MARK); self.lost = 0"),
                "place", "place", alone=True),
    WrongAnswer("11-d", "the count goes on", marked("if self.full and self.log.ready: self.log.try_put(resize(self.lost, unsigned(32)) | MARK); self.full = 0",
                "tick()", "if not self.log.try_put(word): self.lost = self.lost + 1; self.full = 1"), "again", "again", alone=True),
    WrongAnswer("11-d", "widened with its sign", marked(GIVE, "tick()", LOSE, bits="unsigned(32)(resize(x, signed(32)))"), "negative", "negative",
                alone=True),
    # 11-e
    WrongAnswer("11-e", "one too many", SERVE.format(steps="\n        ".join(IN_ORDER)).replace("return total", "return total + 1"), "each", "each"),
    WrongAnswer("11-e", "one for each call", serve(IN_ORDER[0], IN_ORDER[1], "total += 1", IN_ORDER[3]), "burst", "one_each"),
    WrongAnswer("11-e", "polls", POLLS, "quiet", "quiet", alone=True),
    WrongAnswer("11-e", "reads, then acknowledges", serve(IN_ORDER[1], IN_ORDER[0], *IN_ORDER[2:]), "newer", "newer", alone=True),
    WrongAnswer("11-e", "handled never written", serve(*IN_ORDER[:3]), "newer", "silent", alone=True),
    WrongAnswer("11-e", "a negative difference", serve(*IN_ORDER[:2], "total += now - before", IN_ORDER[3]), "wrap", "signed", alone=True),
    # 11-f
    WrongAnswer("11-f", "the command halved", dog(speed="(self.command >> 1) if self.running and alive else 0"), "follow", "follow"),
    WrongAnswer("11-f", "a turn is a millisecond", dog(time="mine_f.timeout_ms", reset="mine_f.timeout_ms"), "follow", "time"),
    WrongAnswer("11-f", "twice the time", dog(time="(20 * mine_f.timeout_ms)", reset="20 * mine_f.timeout_ms"), "stop", "time", alone=True),
    WrongAnswer("11-f", "the relay off, the command left", dog(speed="self.command if self.running or self.once else 0").replace(
                "self.speed =", "self.once = self.once or self.running\n        self.speed ="), "stop", "stop"),
    WrongAnswer("11-f", "alive at reset", dog(reset="0"), "start", "start", alone=True),
    WrongAnswer("11-f", "runs with the first beat, until it stops", dog(
                start="if alive and ((self.arm and not self.arm_before) or not self.once): self.running = 1; self.once = 1"), "start", "start",
                alone=True),
    WrongAnswer("11-f", "a beat that is not 0", dog(sign="self.beat != 0"), "stuck", "stuck"),
    WrongAnswer("11-f", "77 again and again", dog(sign="self.beat != self.beat_before or self.beat == 77"), "stuck", "stuck", alone=True),
    WrongAnswer("11-f", "starts again by itself", dog(stop="if not alive: self.running = 0",
                start="if alive and ((self.arm and not self.arm_before) or self.once): self.running = 1; self.once = 1"), "latch", "latch", alone=True),
    WrongAnswer("11-f", "arm as a level", dog(start="if alive and self.arm: self.running = 1"), "latch", "held", alone=True),
    WrongAnswer("11-f", "never again", dog(start="if alive and self.arm and not self.arm_before and not self.once: self.running = 1; self.once = 1"),
                "again", "again", alone=True),
    # 11-g
    WrongAnswer("11-g", "the checksum of the payload alone", receive(good='crc(body[1:]).to_bytes(2, "big") == sent'), "clean", "nothing"),
    WrongAnswer("11-g", "low byte first", receive(good='crc(body).to_bytes(2, "little") == sent'), "clean", "nothing"),
    WrongAnswer("11-g", "split at the mark", SPLITS, "clean", "marks"),
    WrongAnswer("11-g", "no checksum", receive(good="len(sent) == 2"), "damaged", "crc"),
    WrongAnswer("11-g", "only the high byte compared", receive(good="crc(body) >> 8 == sent[0]"), "damaged", "crc", alone=True),
    WrongAnswer("11-g", "skips the whole bad frame", receive(bad="4 + n"), "slip", "slip", alone=True),
    WrongAnswer("11-g", "waits for the rest", receive(short="break"), "length", "length", alone=True),
    # 11-h
    WrongAnswer("11-h", "one gain for both, too high", 'loop = {**loop, "desktop": 400}', "desktop", "wild", alone=True),
    WrongAnswer("11-h", "careful", 'loop = {**loop, "desktop": 15}', "desktop", "slow", alone=True),
    WrongAnswer("11-h", "one gain for both, too low", 'loop = {**loop, "real_time": 50}', "real_time", "slow", alone=True),
    WrongAnswer("11-h", "as high as it goes", 'loop = {**loop, "real_time": 1200}', "real_time", "wild", alone=True),
    WrongAnswer("11-h", "another host", 'loop = {**loop, "host": {"desktop": "fabric", "real-time": "desktop", "fabric": "real-time"}[loop["host"]]}',
                "host", alone=True),
    # 11-i
    WrongAnswer("11-i", "the sum", energy(then=("tick()", "self.energy.try_put(resize(self.total, unsigned(36)))")), "mean", "divide"),
    WrongAnswer("11-i", "never started again", energy(first="self.total"), "blocks", "blocks"),
    WrongAnswer("11-i", "one sample fewer", energy(count="2**mine_i.shift - 1"), "mean", "mean"),
    WrongAnswer("11-i", "a sample dropped between the blocks", energy(then=("tick()", PUT, "y = self.accel.read()")),
                "blocks", "blocks", alone=True),
    WrongAnswer("11-i", "the lower bits", energy(bits="17, 0"), "mean", "mean"),
    WrongAnswer("11-i", "a sum of 36 bits", energy(width=36), "full", "full"),
    WrongAnswer("11-i", "a sum of 40 bits", energy(width=40), "full", "full", alone=True),
    WrongAnswer("11-i", "the words of the raw stream", 'moved = {**moved, "words_per_s": 51_200}', "rate", "rate", alone=True),
    WrongAnswer("11-i", "the stall of the raw stream", 'moved = {**moved, "stall_ms": 1000 * mine_i.depth / 51_200}', "stall", "raw", alone=True),
    WrongAnswer("11-i", "in seconds", 'moved = {**moved, "stall_ms": mine_i.depth * 2**mine_i.shift / 51_200}', "stall", "seconds", alone=True),
]

# Mutants in which no difference is seen: sums that are a bit wider or narrower than need be, a count of silent turns that
# is one turn (0.1 ms) off, a safe state that comes one turn later, and a sum of squares that starts at 1.
allowed: list[Allowed] = []
