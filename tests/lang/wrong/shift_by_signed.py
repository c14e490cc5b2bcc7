# wanted: unsigned(8) << signed(8): the count of a shift is an unsigned signal of
# advice: Write unsigned(8)(n) if it is never negative.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.n << self.s  # <-
