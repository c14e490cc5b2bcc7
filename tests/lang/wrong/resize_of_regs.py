# wanted: taps is a Regs and has no value of its own.
# advice: Name one element: self.taps[i].
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    taps = Regs(unsigned(8), 4)

    @clocked
    def go(self):
        self.n = resize(self.taps, unsigned(8))  # <-
