# wanted: the get side of queue belongs to the loop one (line 13) and two uses it
# advice: Give it one loop; let the other one ask by a register or a queue of its
from simkit.lang import *


class Wrong(Design):
    queue = Fifo(unsigned(8), 4)
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))

    @sequenced
    def one(self):
        self.n = self.queue.get()

    @sequenced
    def two(self):
        self.m = self.queue.get()  # <-
