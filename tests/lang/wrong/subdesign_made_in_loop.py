# wanted: Counter is hardware that would have to appear while the hardware runs.
# advice: Make it an attribute of the design: in the class, or in __init__
from simkit.lang import *


class Counter(Design):
    n = Reg(unsigned(8))

    @operation
    def step(self):
        self.n = self.n + 1
        return self.n


class Wrong(Design):
    m = Reg(unsigned(8))

    @clocked
    def go(self):
        counter = Counter()  # <-
        self.m = counter.step()
