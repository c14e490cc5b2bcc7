# wanted: w is unsigned(4) and the value is unsigned(8): numbers outside 0 to 15
# advice: Write resize(x, unsigned(4)), which drops the top bits, or resize(x,
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    w = Reg(unsigned(4))

    @clocked
    def go(self):
        self.n = self.w = self.m  # <-
