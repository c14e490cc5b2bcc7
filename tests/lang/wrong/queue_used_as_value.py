# wanted: queue is a Fifo and has no value of its own.
# advice: It offers queue.valid, queue.value, queue.ready, queue.get(…),
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    queue = Fifo(unsigned(8), 4)

    @clocked
    def go(self):
        self.n = self.queue  # <-
