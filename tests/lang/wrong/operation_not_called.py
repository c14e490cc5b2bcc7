# wanted: queue.try_get has no value that wires could carry.
# advice: Add () to call it.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    queue = Fifo(unsigned(8), 4)

    @clocked
    def go(self):
        self.n = self.queue.try_get  # <-
