# wanted: accel.read() takes ticks, so it cannot stand inside an expression.
# advice: Give it a line of its own, such as v = …, and use v on the next line.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    accel = AnalogIn("fan A bearing")

    @sequenced
    def go(self):
        self.n = bits(self.accel.read() + 1, 7, 0)  # <-
