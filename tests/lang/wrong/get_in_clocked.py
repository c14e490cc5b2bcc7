# wanted: queue.get() takes ticks, and a clocked loop has just one.
# advice: Use a sequenced loop; in a clocked loop channels offer .valid and
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    queue = Fifo(unsigned(8), 4)

    @clocked
    def go(self):
        self.n = self.queue.get()  # <-
