# wanted: queue.try_get is not called here, so this would always count as true.
# advice: Add ().
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    queue = Fifo(unsigned(8), 4)

    @sequenced
    def go(self):
        until(self.queue.try_get)  # <-
        self.n = 1
