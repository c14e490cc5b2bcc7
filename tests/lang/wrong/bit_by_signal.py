# wanted: a bit is chosen by a number known when the design is built.
# advice: Shift first: bits(x >> i, 0, 0) == 1.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.lamp = self.n[self.m]  # <-
