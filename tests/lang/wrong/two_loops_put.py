# wanted: the put side of queue belongs to the loop one (line 11) and two uses it
# advice: Give it one loop; let the other one ask by a register or a queue of its
from simkit.lang import *


class Wrong(Design):
    queue = Fifo(unsigned(8), 4)

    @clocked
    def one(self):
        self.queue.try_put(1)

    @clocked
    def two(self):
        self.queue.try_put(2)  # <-
