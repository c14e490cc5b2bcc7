"""What learners of lab 08 are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import Allowed, WrongAnswer

STATION = '''
class Station(Design):
    sensor = AnalogIn("fan A bearing")
    newest = HostReg(signed(24), access="ro")
    total = HostReg(signed(40), access="ro")
    before = Reg(signed(24))
    queue = Fifo(signed(24), 16)

    @clocked
    def take(self):
        {take}

    @sequenced
    def book(self):
        {book}
'''
TAKE = "if self.sensor.valid: self.newest = self.sensor.value; self.queue.try_put(self.sensor.value)"
BOOK = "value = self.queue.get(); wait(mine_b.work); self.total = self.total + value"

COUNTED = '''
class Counted(Design):
    sensor = AnalogIn("fan A bearing")
    hold = HostReg(bit)
    clear = HostReg(bit)
    taken = HostReg(unsigned(16), access="ro")
    lost = HostReg(unsigned(8), access="ro")
    overflow = HostReg(bit, access="ro")
    queue = Fifo(signed(24), {depth})

    @clocked
    def reader(self):
        if not self.hold:
            if self.queue.try_get():
                self.taken = self.taken + 1

    @clocked
    def writer(self):
        {clear}
        if self.sensor.valid:
            if not self.queue.try_put(self.sensor.value):
                {loss}
            {always}
'''

STAMP = '''
class Stamp(Design):
    ask = HostReg(bit)
    low = HostReg(unsigned(16), access="ro")
    high = HostReg(unsigned(16), access="ro")
    now = Reg(unsigned(32), reset=mine_f.first)
    before = Reg(bit)
    older = Reg(bit)
    taken = Reg(bit)

    @clocked
    def count(self):
        self.now = self.now + 1

    @clocked
    def stamp(self):
        self.before = self.ask
        self.older = self.before
        {low}
        {high}
'''
LOW = "self.low = bits(self.now, 15, 0)"
HIGH = "self.high = bits(self.now, 31, 16)"
RISES = "if self.ask and not self.before: "

LATE = '''
class Stamp(Design):
    ask = HostReg(bit)
    low = HostReg(unsigned(16), access="ro")
    high = HostReg(unsigned(16), access="ro")
    now = Reg(unsigned(32), reset=mine_f.first)

    @clocked
    def count(self):
        self.now = self.now + 1

    @sequenced
    def stamp(self):
        until(self.ask)
        wait(12)
        self.low = bits(self.now, 15, 0)
        self.high = bits(self.now, 31, 16)
        until(not self.ask)
'''

SINE = '''
words = {words}
class Sine(Design):
    angle = HostReg(unsigned(10))
    out = HostReg(signed(12), access="ro")
    sine = Rom(signed(12), [round(float(x)) for x in mine_g.amplitude * np.sin(2 * np.pi * (words) / 1024)])

    @sequenced
    def look(self):
        value = self.sine.read({index})
        {then}
        self.out = value
'''

SNAPSHOT = '''
class Snapshot(Design):
    sensor = AnalogIn("fan A bearing")
    index = HostReg(unsigned(6))
    word = HostReg(signed(24), access="ro")
    done = HostReg(bit, access="ro")
    store = Ram(signed(24), 64)
    at = Reg(unsigned(6))
    count = Reg(unsigned(7))
    fired = Reg(bit)

    @sequenced
    def show(self):
        value = self.store.read({place})
        self.word = value

    @clocked
    def record(self):
        if self.sensor.valid{stop}:
            self.store[self.at] = self.sensor.value
            self.at = self.at + 1
            if self.fired:
                self.count = self.count - 1
                {done}
            elif self.count < {history}:
                self.count = self.count + 1
            elif self.sensor.value >= mine_h.level:
                self.fired = 1
                self.count = {rest}
'''

SHARING = '''
class Sharing(Design):
    request = HostReg(unsigned(4))
    grant = HostReg(unsigned(4), access="ro")

    @sequenced
    def serve(self):
{serve}
'''
TURNS = '''
        for n in (0, 1, 2, 3):
            if self.request[n]:
                self.grant = {what}
                wait({hold})
        self.grant = 0
'''
FIXED = '''
        if self.request != 0:
            self.grant = 1 if self.request[0] else 2 if self.request[1] else 4 if self.request[2] else 8
            wait(mine_i.hold - 1)
        else:
            self.grant = 0
'''
SLOTS = '''
        for n in (0, 1, 2, 3):
            self.grant = 1 << n if self.request[n] else 0
            wait(mine_i.hold)
'''
PAIRS = '''
        for n in (0, 1):
            if self.request[n] or self.request[n + 2]:
                self.grant = self.request & (5 << n)
                wait(mine_i.hold)
        self.grant = 0
'''
FAVOUR = '''
        for n in (0, 1, 0, 2, 0, 3):
            if self.request[n]:
                self.grant = 1 << n
                wait(mine_i.hold)
        self.grant = 0
'''
LINGERS = '''
        for n in (0, 1, 2, 3):
            if self.request[n]:
                self.grant = 1 << n
                wait(mine_i.hold)
'''


def station(take=TAKE, book=BOOK):
    return STATION.format(take=take, book=book)


def counted(clear="if self.clear: self.overflow = 0", loss="self.overflow = 1; self.lost = min(self.lost, 254) + 1",
            always="pass", depth="mine_d.depth"):
    return COUNTED.format(clear=clear, loss=loss, always=always, depth=depth)


def stamp(low=RISES + LOW, high=RISES + HIGH):
    return STAMP.format(low=low, high=high)


def sine(words="4 * np.arange(256) + 1.5", index="bits(self.angle, 9, 2)", then="pass"):
    return SINE.format(words=words, index=index, then=then)


def snapshot(place="self.at + self.index", stop=" and not self.done", done="self.done = self.count == 1",
             history="mine_h.before", rest="63 - mine_h.before"):
    return SNAPSHOT.format(place=place, stop=stop, done=done, history=history, rest=rest)


def turns(what="1 << n", hold="mine_i.hold"):
    return SHARING.format(serve=TURNS.format(what=what, hold=hold))


TRUE = "mine_a.n * (mine_a.n + 1) // 2"
wrong_answers = [
    # 08-a
    WrongAnswer("08-a", "the slow reader sees every booking", f'sums = {{**sums, "slow": {TRUE}}}', "slow", "every", alone=True),
    WrongAnswer("08-a", "the slow reader gets its share", f'sums = {{**sums, "slow": round({TRUE} / mine_a.slow)}}', "slow", "share",
                alone=True),
    WrongAnswer("08-a", "the fast reader sees each booking once", f'sums = {{**sums, "fast": {TRUE}}}', "fast", "once", alone=True),
    WrongAnswer("08-a", "the first of each group", 'sums = {**sums, "slow": sum(range(1, mine_a.n + 1, mine_a.slow))}', "slow", "slow",
                alone=True),
    WrongAnswer("08-a", "one repeat too many", f'sums = {{**sums, "fast": (mine_a.fast + 1) * {TRUE}}}', "fast", "fast", alone=True),
    # 08-b
    WrongAnswer("08-b", "the newest comes out of the queue", station(
        "if self.sensor.valid: self.queue.try_put(self.sensor.value)",
        "value = self.queue.get(); self.newest = value; wait(mine_b.work); self.total = self.total + value"), "newest",
        alone=True),
    WrongAnswer("08-b", "the slow loop reads the channel itself", station(
        "if self.sensor.valid: self.newest = self.sensor.value",
        "value = self.sensor.read(); wait(mine_b.work); self.total = self.total + value"), "every", "every", alone=True),
    WrongAnswer("08-b", "new is what differs", station(
        "if self.sensor.value != self.before: self.before = self.sensor.value; self.newest = self.sensor.value; "
        "self.queue.try_put(self.sensor.value)"), "every", "alike", alone=True),
    WrongAnswer("08-b", "no work", station(book="value = self.queue.get(); self.total = self.total + value"), "work", "work",
                alone=True),
    WrongAnswer("08-b", "a queue that is too short", station().replace("Fifo(signed(24), 16)", "Fifo(signed(24), 4)"),
                "every", "every", alone=True),
    # 08-c
    WrongAnswer("08-c", "equal in the long run", 'depth = {**depth, "burst": 1}', "burst", "average", alone=True),
    WrongAnswer("08-c", "the words that were taken", 'depth = {**depth, "burst": round(mine_c.burst * mine_c.write / mine_c.read)}',
                "burst", "", alone=True),
    WrongAnswer("08-c", "the whole burst", 'depth = {**depth, "burst": mine_c.burst}', "burst", "spare", alone=True),
    WrongAnswer("08-c", "half of the stall", 'depth = {**depth, "stall": depth["stall"] // 2}', "stall", "stall", alone=True),
    WrongAnswer("08-c", "twice to be safe", 'depth = {**depth, "stall": depth["stall"] * 2}', "stall", "spare", alone=True),
    # 08-d
    WrongAnswer("08-d", "every sample counts as lost", counted(loss="self.overflow = 1",
                always="self.lost = min(self.lost, 254) + 1"), "through", "through"),
    WrongAnswer("08-d", "the flag is 1 from the start", counted().replace("overflow = HostReg(bit, ", "overflow = HostReg(bit, reset=1, "),
                "through", "through", alone=True),
    WrongAnswer("08-d", "nothing is ever put", counted().replace("not self.queue.try_put(self.sensor.value)", "self.hold"),
                "through", "through"),
    WrongAnswer("08-d", "counts by two", counted(loss="self.overflow = 1; self.lost = 255 if self.lost > 253 else self.lost + 2"),
                "count", "count", alone=True),
    WrongAnswer("08-d", "another depth", counted(depth="2 * mine_d.depth"), "count", "depth"),
    WrongAnswer("08-d", "a flag that follows the queue", counted(clear="self.overflow = not self.queue.ready",
                loss="self.lost = min(self.lost, 254) + 1"), "sticky", "sticky"),
    WrongAnswer("08-d", "the flag goes with the next sample",
                counted(clear="if self.clear or (self.sensor.valid and self.queue.ready) or self.queue.count == 0: self.overflow = 0"),
                "sticky", "sticky", alone=True),
    WrongAnswer("08-d", "clear resets the count too", counted(clear="if self.clear: self.overflow = 0; self.lost = 0"), "clear",
                "clear", alone=True),
    WrongAnswer("08-d", "clear does nothing", counted(clear="pass"), "clear", "clear", alone=True),
    WrongAnswer("08-d", "the count wraps", counted(loss="self.overflow = 1; self.lost = self.lost + 1"), "full", "full",
                alone=True),
    # 08-e
    WrongAnswer("08-e", "the counter stood still", 'torn = {**torn, "upper_first": first}', "upper_first", "whole", alone=True),
    WrongAnswer("08-e", "all from the second read", 'torn = {**torn, "lower_first": first + mine_e.gap}', "lower_first", "whole",
                alone=True),
    WrongAnswer("08-e", "the two swapped", 'torn = {"upper_first": torn["lower_first"], "lower_first": torn["upper_first"]}',
                "upper_first", "swapped"),
    WrongAnswer("08-e", "one tick too few", 'torn = {**torn, "upper_first": torn["upper_first"] - 1}', "upper_first", "close", alone=True),
    # 08-f
    WrongAnswer("08-f", "the halves are live", stamp(LOW, HIGH), "still", "still"),
    WrongAnswer("08-f", "the upper half is live", stamp(high=HIGH), "whole", "torn"),
    WrongAnswer("08-f", "the upper half a tick later", stamp(high="if self.before and not self.older: " + HIGH), "whole",
                "torn", alone=True),
    WrongAnswer("08-f", "as long as ask is 1", stamp("if self.ask: " + LOW, "if self.ask: " + HIGH), "still", "still",
                alone=True),
    WrongAnswer("08-f", "only the first request", stamp(
        "if self.ask and not self.taken: self.taken = 1; " + LOW, "if self.ask and not self.taken: " + HIGH), "again",
        "again", alone=True),
    WrongAnswer("08-f", "the request is noticed late", LATE, "fresh", "fresh", alone=True),
    # 08-g
    WrongAnswer("08-g", "right for the first of the four", sine("4 * np.arange(256)"), "shape", "start", alone=True),
    WrongAnswer("08-g", "one quarter, repeated", sine("np.arange(256)", "bits(self.angle, 7, 0)"), "shape", "quarter", alone=True),
    WrongAnswer("08-g", "a table of zeros", sine("0 * np.arange(256)"), "shape", "shape"),
    WrongAnswer("08-g", "waits in the loop", sine(then="wait(10)"), "quick", "quick", alone=True),
    WrongAnswer("08-g", "one word for each angle", sine("np.arange(1024)", "self.angle"), "size", "size", alone=True),
    # 08-h
    WrongAnswer("08-h", "one sample too many after the trigger", snapshot(rest="64 - mine_h.before"), "trigger", "never"),
    WrongAnswer("08-h", "one sample too few after the trigger", snapshot(rest="62 - mine_h.before"), "trigger", "place",
                alone=True),
    WrongAnswer("08-h", "index from place 0", snapshot(place="self.index"), "order", "order"),
    WrongAnswer("08-h", "the places before and after swapped", snapshot(
        place="self.at + self.index if self.index <= mine_h.before else self.at + mine_h.before - self.index"), "order", "order",
        alone=True),
    WrongAnswer("08-h", "any trigger counts", snapshot(history="0"), "early", "early", alone=True),
    WrongAnswer("08-h", "one more sample of history", snapshot(history="mine_h.before + 1"), "early", "early", alone=True),
    WrongAnswer("08-h", "goes on after done", snapshot(stop="", done="self.done = 1 if self.count == 1 else self.done"),
                "frozen", "frozen", alone=True),
    # 08-i
    WrongAnswer("08-i", "everybody who asks", turns(what="self.request"), "one", "one"),
    WrongAnswer("08-i", "two at a time, in turn", SHARING.format(serve=PAIRS), "one", "one", alone=True),
    WrongAnswer("08-i", "three ticks too long", turns(hold="mine_i.hold + 3"), "length", "length", alone=True),
    WrongAnswer("08-i", "a fixed order", SHARING.format(serve=FIXED), "fair", "fair"),
    WrongAnswer("08-i", "one of them in every second turn", SHARING.format(serve=FAVOUR), "fair", "fair", alone=True),
    WrongAnswer("08-i", "a slot for everybody", SHARING.format(serve=SLOTS), "idle", "idle", alone=True),
    WrongAnswer("08-i", "the grant is never taken back", SHARING.format(serve=LINGERS), "idle", "idle", alone=True),
]

allowed = [
    Allowed("08-b", "wait(mine_b.work) -> wait(mine_b.work + 1)", "the task asks for at least so many ticks"),
    Allowed("08-i", "wait(mine_i.hold) -> wait(mine_i.hold + 1)", "the task allows one tick more"),
]
