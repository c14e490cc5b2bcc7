# wanted: a word of queue is unsigned(8) and the value is unsigned(9): numbers
# advice: Write resize(x, unsigned(8)), which drops the top bits, or resize(x,
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(9))
    queue = Fifo(unsigned(8), 4)

    @clocked
    def go(self):
        self.queue.try_put(self.n)  # <-
