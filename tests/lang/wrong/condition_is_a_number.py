# wanted: a condition is one bit, but this is unsigned(8).
# advice: Compare it, for example with != 0.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        if self.n:  # <-
            self.lamp = 1
