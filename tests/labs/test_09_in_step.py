"""Lab 09: right answers of another structure pass too, and no check keeps a learner waiting."""

from __future__ import annotations

import functools
import inspect

import pytest

from tests.labs.replay import Replay, replay

LAB = "09_in_step"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


TWO_COUNTERS_DOWN = """
class Together(Design):
    go, switch = HostReg(bit), DigitalIn("switch")
    lamp, lamp_2 = DigitalOut("lamp"), DigitalOut("lamp 2")
    left, running, work = Reg(unsigned(16)), Reg(bit), Reg(unsigned(16))

    @clocked
    def all(self):
        self.running = self.go
        if not self.go or not self.running or self.left == 0:
            self.left = mine_b.period - 1
        else:
            self.left = self.left - 1
        into = mine_b.period - 1 - self.left
        self.lamp = self.go and self.running and into < 10
        self.lamp_2 = self.go and self.running and mine_b.lag <= into < mine_b.lag + 10
"""
TRIGGER_BY_STATES = """
class Trigger(Design):
    accel, switch = AnalogIn("fan B bearing"), DigitalIn("switch")
    level, index = HostReg(signed(24), reset=1000), HostReg(unsigned(4))
    word, stamp = HostReg(signed(24), access="ro"), HostReg(unsigned(32), access="ro")
    done = HostReg(bit, access="ro")
    shift, now, last = Regs(signed(24), 16), Reg(unsigned(32)), Reg(signed(24))

    @clocked
    def tell(self):
        self.now = self.now + 1
        self.word = self.shift[self.index]

    @sequenced
    def go(self):
        for _ in range(mine_c.pre):
            self.take()
        before: signed(24) = 0
        new: signed(24) = 0
        before = self.last
        new = self.take()
        while not (self.switch and before < self.level and new >= self.level):
            before = new
            new = self.take()
        self.stamp = self.now
        for _ in range(15 - mine_c.pre):
            self.take()
        self.done = 1
        until(False)

    @operation
    def take(self):
        v = self.accel.read()
        for i in range(15):
            self.shift[i] = self.shift[i + 1]
        self.shift[15] = v
        self.last = v
        return v
"""
ALIGNED_BY_DIFFERENCE = """
class Aligned(Design):
    fan_a, fan_b = AnalogIn("fan A bearing"), AnalogIn("fan B bearing")
    a, b = HostReg(signed(24), access="ro"), HostReg(signed(24), access="ro")
    taps = Regs(signed(24), 6)

    @clocked
    def align(self):
        if self.fan_a.valid:
            self.taps[0] = self.fan_a.value
            for i in range(1, 6):
                self.taps[i] = self.taps[i - 1]
            near, far = self.taps[mine_e.whole - 1], self.taps[mine_e.whole]
            step = (resize(far, signed(31)) - near) * signed(6)(mine_e.part)
            self.a = resize(near + resize(step >> 4, signed(26)), signed(24))
            self.b = self.fan_b.value
"""
CARRY_BY_HANDSHAKE = """
class Carry(Design):
    switch, seen = DigitalIn("switch"), HostReg(unsigned(16), access="ro")
    before, events, total = Reg(bit), Reg(unsigned(16)), Reg(unsigned(16))
    there, back = Handshake(unsigned(16)), Handshake(unsigned(16))

    @clocked
    def fabric(self):
        self.before = self.switch
        if self.switch and not self.before:
            self.events = self.events + 1
        self.there.try_put(self.events)

    @clocked(clock=slow)
    def card(self):
        if self.there.try_get():
            self.total = self.there.value
        self.back.try_put(self.total)

    @sequenced
    def show(self):
        self.seen = self.back.get()
"""
SAFE_BY_QUEUE = """
class Safe(Design):
    shown, count = HostReg(unsigned(8), access="ro"), Reg(unsigned(8))
    link = Fifo(unsigned(8), 4)

    @sequenced(clock=other)
    def card(self):
        self.count = self.count + 1
        self.link.try_put(self.count)
        wait(4)

    @sequenced
    def fabric(self):
        self.shown = self.link.get()

across = {**across, "design": Safe}
"""
SAFE_BY_HANDSHAKE = SAFE_BY_QUEUE.replace("Fifo(unsigned(8), 4)", "Handshake(unsigned(8))")
LINE_BY_TWO_POINTS = """
i, j = 0, 3
tau = (mine_h.settle_ns[j] - mine_h.settle_ns[i]) / np.log(mine_h.failures[i] / mine_h.failures[j])
last = mine_h.failures[i] * np.exp(-(mine_h.full_ns - mine_h.settle_ns[i]) / tau)
failing = {**failing, "tau_ps": 1000 * tau, "years": 1 / last / 525960}
"""
SECOND_WAYS = {
    "one loop that counts down": ("09-b", TWO_COUNTERS_DOWN),
    "a shift register and steps": ("09-c", "from simkit import operation\n" + TRIGGER_BY_STATES),
    "difference of the neighbours": ("09-e", ALIGNED_BY_DIFFERENCE),
    "a count through a handshake": ("09-f", CARRY_BY_HANDSHAKE),
    "a queue": ("09-g", "from simkit import Fifo\n" + SAFE_BY_QUEUE),
    "a handshake": ("09-g", SAFE_BY_HANDSHAKE),
    "a line by two points": ("09-h", LINE_BY_TWO_POINTS),
    "the other sign": ("09-a", "apart = -apart"),
}


@pytest.mark.parametrize("way", SECOND_WAYS)
def test_a_second_way_passes(way):
    exercise, code = SECOND_WAYS[way]
    verdict = solved().with_code(exercise, code)
    assert verdict.passed, verdict.text()


@pytest.mark.parametrize("name", ["Polled"])
def test_the_design_shown_is_the_design_judged(name):
    """Learner's cell and judge must have the same design, but for its words of explanation."""
    cell = next(
        c.source for c in solved().source.notebook.cells if c.cell_type == "code" and f"class {name}(" in c.source
    )
    judged = inspect.getsource(inspect.getmodule(solved().source.lab["09-a"].judge).Polled)
    body = [line.strip() for line in judged.splitlines()[2:] if line.strip()]
    shown = [line.strip() for line in cell.splitlines()[2:] if line.strip()]
    assert body == shown


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_unprotected_bus_is_found_with_any_seed(seed):
    """The count of failures on the bench hangs on the seed; the check must not."""
    from simkit.check.judging import collect, judge

    names = dict(solved().names["09-g"])
    exercise = solved().source.lab["09-g"]
    verdict = judge(exercise, collect(exercise, {"values": 2, "design": names["Bus"]}), "second", seed)
    assert not next(line for line in verdict.lines if line.name == "steps").passed
