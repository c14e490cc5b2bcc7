# wanted: a time here is a whole number of ticks, at least 1, not 2e-05.
# advice: Write for example 800, or us(20).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @sequenced(every=20e-6)  # <-
    def go(self):
        self.n = self.n + 1
