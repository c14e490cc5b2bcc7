# wanted: a set cannot exist in hardware.
# advice: Use one bit for each element, or compare with each.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x = {self.n, self.m}  # <-
        self.n = 1
