# wanted: Wrong would have 21 clocks; a design may have 16.
# advice: Loops of one rate share one Clock.
from simkit.lang import *


class Blinker(Design):
    n = Reg(unsigned(8))

    def __init__(self, hz):
        self.fast = Clock(hz)

    @clocked(clock=lambda design: design.fast)
    def go(self):
        self.n = self.n + 1


class Wrong(Design):
    def __init__(self):
        self.blinkers = [Blinker(1_000_000 + i) for i in range(20)]
