# wanted: self.slow() takes ticks, and a clocked loop has just one.
# advice: Use a sequenced loop; in a clocked loop channels offer .valid and
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @operation
    def slow(self, x):
        tick()
        return x + 1

    @clocked
    def go(self):
        self.n = self.slow(self.n)  # <-
