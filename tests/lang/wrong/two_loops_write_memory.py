# wanted: the write port of store belongs to the loop one (line 11) and two uses
# advice: Give it one loop; let the other one ask by a register or a queue of its
from simkit.lang import *


class Wrong(Design):
    store = Ram(unsigned(8), 16)

    @clocked
    def one(self):
        self.store[0] = 1

    @clocked
    def two(self):
        self.store[1] = 2  # <-
