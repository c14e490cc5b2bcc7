# wanted: m is unsigned(8) and the value is unsigned(16): numbers outside 0 to
# advice: Write resize(x, unsigned(8)), which drops the top bits, or resize(x,
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        x = self.n
        while self.lamp:
            tick()
            x = self.n * self.m
        self.m = x  # <-
