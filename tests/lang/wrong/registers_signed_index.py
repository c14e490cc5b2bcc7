# wanted: an index of taps is unsigned; this one is signed(3).
# advice: Write unsigned(3)(…) around it if it is never negative.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    s = Reg(signed(3))
    taps = Regs(unsigned(8), 4)

    @clocked
    def go(self):
        self.n = self.taps[self.s]  # <-
