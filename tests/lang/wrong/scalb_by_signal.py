# wanted: scalb: the binary point moves by a constant whole number of bits, not
# advice: Write a constant such as scalb(x, -4), or shift by a signal: x >> n.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = scalb(self.n, self.m)  # <-
