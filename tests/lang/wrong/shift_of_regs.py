# wanted: Python slices count from the left and leave the end out, bits do
# advice: Write bits(x, hi, lo).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    taps = Regs(unsigned(8), 4)

    @clocked
    def go(self):
        self.taps = [self.n] + self.taps[:-1]  # <-
