"""Cyclic redundancy checks."""

from __future__ import annotations

from ..dsp.codes import CRCS, reflect
from ..lang import Design, Reg, operation, unsigned


class Checksum(Design):
    """A CRC, one byte at a time, by a name of the RevEng catalogue ("CRC-16/MODBUS").

    ``step(byte)`` takes unsigned(8) into the register; ``clear()`` starts again; ``result()`` is the checksum of the
    bytes since, as unsigned(width).

    Latency 1 tick from ``step`` to ``result``; eight shifts of exclusive-ors in one tick.

    Parameters
    ----------
    name : see ``simkit.dsp.codes.CRCS``
    """

    def __init__(self, name: str = "CRC-16/IBM-3740") -> None:
        if name not in CRCS:
            raise ValueError(f"Checksum: unknown checksum {name!r}; known: {', '.join(CRCS)}")
        self.width, self.poly, init, self.reflected, self.xorout = CRCS[name]
        # A checksum whose bits go lowest first is kept in reverse: its register shifts the other way round.
        self.reversed_poly = reflect(self.poly, self.width)
        self.init = reflect(init, self.width) if self.reflected else init
        self.register = Reg(unsigned(self.width), reset=self.init)

    @operation
    def clear(self):
        self.register = self.init

    @operation
    def step(self, byte):
        r = self.register
        for i in range(8):
            if self.reflected:
                r = (r >> 1) ^ self.reversed_poly if r[0] != byte[i] else r >> 1
            else:
                r = (r << 1) ^ self.poly if r[self.width - 1] != byte[7 - i] else r << 1
        self.register = r

    @operation
    def result(self):
        return self.register ^ self.xorout
