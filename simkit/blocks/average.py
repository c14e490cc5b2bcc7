"""Averages: over the last n samples, and of their squares."""

from __future__ import annotations

from ..lang import Design, Ram, Reg, Regs, operation, resize, tick, unsigned
from ..netlist import Type, make


def log2_of(n: int, what: str, most: int) -> int:
    """The exponent of a power of two from 2 to ``most``."""
    if n < 2 or n > most or n & (n - 1):
        raise ValueError(f"{what}: n is {n}; a power of two from 2 to {most} is possible")
    return n.bit_length() - 1


def signed_kind(kind: Type, what: str, most: int = 32) -> Type:
    """A signed integer type of at most ``most`` bits."""
    if not isinstance(kind, Type) or kind.kind != "signed" or kind.width > most:
        raise ValueError(f"{what}: samples are signed(n) of at most {most} bits, not {kind}")
    return kind


class MovingAverage(Design):
    """The mean of the last ``n`` samples, in one tick.

    ``step(x)`` returns the mean, rounded down, as ``kind``.  Samples before the first count as 0.

    Latency 0 ticks (combinational adder); group delay (n - 1) / 2 samples.  n registers: for large n take
    :class:`MovingRms`'s way of storing, or a :class:`Cic`.

    Parameters
    ----------
    n : a power of two, 2 to 256
    kind : signed(w), up to 32 bits
    """

    def __init__(self, n: int, kind: Type) -> None:
        signed_kind(kind, "MovingAverage")
        self.bits = log2_of(n, "MovingAverage", 256)
        self.n = n
        self.kind = kind
        self.wide = make("signed", kind.width + self.bits)
        self.taps = Regs(kind, n)
        self.total = Reg(self.wide)

    @operation
    def step(self, x):
        total = self.total + resize(x, self.wide) - resize(self.taps[self.n - 1], self.wide)
        for i in range(1, self.n):
            self.taps[i] = self.taps[i - 1]
        self.taps[0] = x
        self.total = total
        return resize(total >> self.bits, self.kind)


class SquareRoot(Design):
    """The square root of an unsigned value, digit by digit, rounded down.

    ``step(x)`` takes unsigned(width) and returns unsigned(width / 2).  Latency width / 2 ticks (sequenced loops only).

    Parameters
    ----------
    width : even, 2 to 128
    """

    def __init__(self, width: int) -> None:
        if width % 2 or not 2 <= width <= 128:
            raise ValueError(f"SquareRoot: width is {width}; an even number from 2 to 128 is possible")
        self.half = width // 2
        self.word = make("unsigned", width)
        self.small = make("unsigned", self.half)
        self.rest_kind = make("unsigned", self.half + 2)

    @operation
    def step(self, x):
        number = resize(x, self.word)
        rest = self.rest_kind(0)
        root = self.small(0)
        for _ in range(self.half):
            rest = (rest << 2) | resize(number >> (2 * self.half - 2), self.rest_kind)
            trial = (resize(root, self.rest_kind) << 2) | 1
            fits = rest >= trial
            rest = rest - trial if fits else rest
            root = (root << 1) | 1 if fits else root << 1
            number = number << 2
            tick()
        return root


class MovingRms(Design):
    """The root of the mean of the squares of the last ``n`` samples.

    ``step(x)`` returns it as unsigned(w), rounded down; mean of squares rounded down before.  Samples before the first
    count as 0.  A constant part of the signal counts too: take it out before.

    Latency w + 1 ticks (sequenced loops only): one for the memory, one for each digit of the root.

    Parameters
    ----------
    n : a power of two, 2 to 65536; one memory of n squares
    kind : signed(w), up to 32 bits
    """

    def __init__(self, n: int, kind: Type) -> None:
        signed_kind(kind, "MovingRms")
        self.bits = log2_of(n, "MovingRms", 65536)
        self.square = make("unsigned", 2 * kind.width)
        self.wide = make("unsigned", 2 * kind.width + self.bits)
        self.store = Ram(self.square, n)
        self.at = Reg(unsigned(self.bits))
        self.total = Reg(self.wide)
        self.root = SquareRoot(2 * kind.width)

    @operation
    def step(self, x):
        square = self.square(x * x)
        old = self.store.read(self.at)
        total = self.total + resize(square, self.wide) - resize(old, self.wide)
        self.store[self.at] = square
        self.at = self.at + 1
        self.total = total
        mean = resize(total >> self.bits, self.square)
        root = self.root.step(mean)
        return root
