# wanted: step belongs to a class and there is no design here that it could work
# advice: Make one in __init__, self.part = Part(), and call self.part.step(…).
from simkit.lang import *


class Counter(Design):
    n = Reg(unsigned(8))

    @operation
    def step(self):
        self.n = self.n + 1
        return self.n


class Wrong(Design):
    counter = Counter
    m = Reg(unsigned(8))

    @clocked
    def go(self):
        self.m = self.counter.step()  # <-
