# wanted: there are 2 names here for 3 values.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        a, b = self.n, self.m, self.n  # <-
        self.n = a
