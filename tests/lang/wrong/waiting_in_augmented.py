# wanted: the right side takes ticks, so the left side would be read in another
# advice: Give the waiting part a line of its own first.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    queue = Fifo(unsigned(8), 4)

    @sequenced
    def go(self):
        self.n += self.queue.get()  # <-
