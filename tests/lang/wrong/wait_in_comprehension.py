# wanted: queue.get() takes ticks, so it cannot stand inside an expression.
# advice: Give it a line of its own, such as v = …, and use v on the next line.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    queue = Fifo(unsigned(8), 4)

    @sequenced
    def go(self):
        x = [self.queue.get() for i in range(3)]  # <-
        self.n = x[0]
