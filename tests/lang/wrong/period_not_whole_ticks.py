# wanted: 30 ns is 1.2 ticks of the clock 'fabric', and hardware can only count
# advice: Choose 1 or 2 ticks.
from simkit.lang import *
from simkit.units import ns


class Wrong(Design):
    n = Reg(unsigned(8))

    @sequenced(every=ns(30))  # <-
    def go(self):
        self.n = self.n + 1
