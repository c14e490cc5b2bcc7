# wanted: queue: queue joins two clocks; its depth is 6: a Gray-coded count only
# advice: Make the depth 8.
from simkit.lang import *


class Wrong(Design):
    fast = Clock(100_000_000)
    queue = Fifo(unsigned(8), 6)  # <-
    n = Reg(unsigned(8))

    @clocked(clock=fast)
    def give(self):
        self.queue.try_put(1)

    @sequenced
    def take(self):
        self.n = self.queue.get()
