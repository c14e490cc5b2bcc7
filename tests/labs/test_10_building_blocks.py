"""Lab 10: right answers of another structure pass too; its core gives published values; what is shown is what is judged."""

from __future__ import annotations

import binascii
import functools
import inspect

import pytest

from simkit.build.cores import keep_reading, read_core
from simkit.dsp.codes import crc
from tests.labs.replay import ROOT, Replay, replay

LAB = "10_building_blocks"
DATA = ROOT / "solutions" / LAB / "data"


@functools.cache
def solved() -> Replay:
    return replay(LAB, "second", looks=False)


def module():
    return inspect.getmodule(solved().source.lab["10-a"].judge)


def solution(exercise: str, *changes: tuple[str, str]) -> str:
    """The answer cell of the solution, with something replaced."""
    cells = solved().source.notebook.cells
    code = next(c.source for c in cells if c.metadata.get("nbgrader", {}).get("grade_id") == f"{exercise}-answer")
    for old, new in changes:
        assert old in code
        code = code.replace(old, new)
    return code


HOLD_DOWN = """
class Hold(Design):
    def __init__(self, n):
        self.n = n
        self.left = Reg(unsigned(n.bit_length()), reset=n)

    @operation
    def step(self, over):
        left = self.n if not over else self.left - 1 if self.left != 0 else 0
        self.left = left
        return left == 0
"""
SHARED_SEQUENCED = """
class Shared(Design):
    go, channel, mean = HostReg(bit), HostReg(unsigned(4)), HostReg(unsigned(15), access="ro")
    bank, means = Regs(signed(8), 8), Regs(unsigned(15), 8)

    def __init__(self):
        self.x = [HostReg(signed(8)) for _ in range(8)]

    @sequenced
    def run(self):
        until(self.go)
        for k in range(8):
            self.bank[k] = self.x[k]
        tick()
        for i in range(8):
            x = self.bank[i]
            old = self.means[i]
            square = bits(x * x, 14, 0)
            self.means[i] = old - (old >> mine_c.shift) + (square >> mine_c.shift)
            tick()
        until(not self.go)

    @clocked
    def show(self):
        self.mean = self.means[bits(self.channel, 2, 0)]
"""
SHARED_ROTATING = """
class Shared(Design):
    go, channel, mean = HostReg(bit), HostReg(unsigned(4)), HostReg(unsigned(15), access="ro")
    before, left = Reg(bit), Reg(unsigned(4))
    bank, means = Regs(signed(8), 8), Regs(unsigned(15), 8)

    def __init__(self):
        self.x = [HostReg(signed(8)) for _ in range(8)]

    @clocked
    def run(self):
        self.before = self.go
        old, square = self.means[0], bits(self.bank[0] * self.bank[0], 14, 0)
        if self.left != 0:
            self.left = self.left - 1
            for k in range(7):
                self.bank[k] = self.bank[k + 1]
                self.means[k] = self.means[k + 1]
            self.means[7] = old - (old >> mine_c.shift) + (square >> mine_c.shift)
        elif self.go and not self.before:
            self.left = 8
            for k in range(8):
                self.bank[k] = self.x[k]

    @clocked
    def show(self):
        self.mean = self.means[bits(self.channel, 2, 0)]
"""
TEST_BY_RAMP = """
import math

def test(host):
    words = list(range(-32768, 32768, 151)) + [-32768, 32767, 3, -3, 5, -5]
    host.words.write(words)
    try:
        got = list(host.results.read(len(words), timeout=ms(50)))
    except Exception:
        return len(words)
    best = [min(max(math.floor(x * mine_d.gain / 8 + 0.5), -mine_d.limit), mine_d.limit) for x in words]
    return sum(int(a) != b for a, b in zip(got, best, strict=True))
"""
BYTES_CLOCKED = """
class Bytes(Design):
    second = Reg(bit)

    def __init__(self, words, bytes):
        self.words, self.bytes = words, bytes

    @clocked
    def run(self):
        if self.words.valid:
            word = self.words.value
            high, low = bits(word, 15, 8), bits(word, 7, 0)
            first = high if mine_e.first == "high" else low
            other = low if mine_e.first == "high" else high
            if self.bytes.try_put(other if self.second else first):
                self.second = not self.second
                if self.second:
                    self.words.try_get()
"""
SPI_FROM_THE_KIT = """
from simkit.blocks import SpiController

class Reader(Design):
    select, clock = DigitalOut("converter select", reset=1), DigitalOut("converter clock")
    data, out = DigitalIn("converter data"), Reg(bit)
    value = HostReg(signed(16), access="ro")

    def __init__(self):
        self.spi = SpiController(self.clock, self.select, self.out, self.data, width=mine_f.bits, half=mine_f.lag + 4)

    @sequenced(every=1000)
    def go(self):
        word = self.spi.exchange(0)
        self.value = signed(mine_f.bits)(word)
"""
SEALED_BY_COUNT = """
class Sealed(Design):
    text, sums = HostStream(unsigned(9), 64, "from_host"), HostStream(unsigned(16), 16, "to_host")
    age = Reg(unsigned(3))

    def __init__(self):
        self.core = VerilogCore("data/crc16.v")

    @clocked
    def run(self):
        self.core.seed = mine_g.seed
        self.core.take = 0
        self.core.start = 1 if self.age == 0 else 0
        if self.age < 2:
            self.age = self.age + 1
        elif self.age == 2:
            if self.text.try_get():
                self.core.data = bits(self.text.value, 7, 0)
                self.core.take = 1
                if self.text.value[8]:
                    self.age = 3
        elif self.age == 3:
            self.age = 4
        elif self.sums.try_put(self.core.crc ^ mine_g.last):
            self.age = 0
"""


def with_top(exercise: str, block: str, top: str) -> str:
    """Another block, and the top of the solution."""
    code = solution(exercise)
    return block + code[code.index(f"class {top}(") :]


SECOND_WAYS = {
    "a count that goes down": ("10-a", lambda: with_top("10-a", HOLD_DOWN, "Alarms")),
    "steps with a for": ("10-c", lambda: SHARED_SEQUENCED),
    "banks that rotate": ("10-c", lambda: SHARED_ROTATING),
    "a ramp and a float model": ("10-d", lambda: TEST_BY_RAMP),
    "a clocked loop": ("10-e", lambda: with_top("10-e", BYTES_CLOCKED, "Line")),
    "the kit's own block": ("10-f", lambda: SPI_FROM_THE_KIT),
    "a clocked loop around the core": ("10-g", lambda: SEALED_BY_COUNT),
}


@pytest.mark.parametrize("way", SECOND_WAYS)
def test_a_second_way_passes(way):
    exercise, code = SECOND_WAYS[way]
    verdict = solved().with_code(exercise, code())
    assert verdict.passed, verdict.text()


@pytest.mark.parametrize("bug", ["", "floor", "halves", "high", "low", "corner", "lost"])
def test_the_planted_bugs_are_what_the_task_says(bug):
    """Against whole numbers of Python: the right block differs nowhere, each bug somewhere, and not everywhere."""
    from fractions import Fraction
    from math import floor

    from simkit import ms
    from simkit.bench import load

    gain, limit = 7, 9000
    words = [-32768, 32767, *range(-300, 300, 7), 20_000, -20_000]
    rig = load(module().scaler(gain, limit, bug), record=[])
    rig.host.words.write(words)
    rig.run(ms(20))
    got = [int(y) for y in rig.host.results.read()]
    wanted = [max(-limit, min(limit, floor(Fraction(x * gain, 8) + Fraction(1, 2)))) for x in words]
    wrong = sum(a != b for a, b in zip(got, wanted, strict=False)) + len(words) - len(got)
    assert (wrong == 0) == (bug == "") and (wrong < len(words))


def test_published_check_values():
    """CRC RevEng catalogue, entries of these names; ``binascii`` is a second opinion, the kit's own function a third."""
    for seed, last, published in module().CHECKSUMS.values():
        assert binascii.crc_hqx(b"123456789", seed) ^ last == published
    assert crc(b"123456789", "CRC-16/XMODEM") == binascii.crc_hqx(b"123456789", 0) == 0x31C3
    assert crc(b"123456789", "CRC-16/IBM-3740") == 0x29B1


def test_the_core_is_carried_with_its_reading(tmp_path):
    """What lies beside the core is what the tool reads from it now; so it works where there is no tool."""
    (tmp_path / "crc16.v").write_bytes((DATA / "crc16.v").read_bytes())
    keep_reading(tmp_path / "crc16.v")
    assert (tmp_path / "crc16.v.netlist").read_bytes() == (DATA / "crc16.v.netlist").read_bytes()
    assert read_core(DATA / "crc16.v", "crc16").outputs[0].name == "crc"


@pytest.mark.parametrize("name", ["Power", "Copied"])
def test_the_design_shown_is_the_design_judged(name):
    """Learner's cell and judge must have the same design, but for its words of explanation."""
    cell = next(
        c.source for c in solved().source.notebook.cells if c.cell_type == "code" and f"class {name}(" in c.source
    )
    body = [line.strip() for line in inspect.getsource(getattr(module(), name)).splitlines()[2:] if line.strip()]
    assert body == [line.strip() for line in cell.splitlines()[2:] if line.strip()]
