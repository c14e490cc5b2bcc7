# wanted: a memory answers one tick later, so store[…] has no value in this tick.
# advice: Write v = self.store.read(i) on a line of its own in a sequenced loop.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    store = Ram(unsigned(8), 256)

    @clocked
    def go(self):
        self.n = self.store[self.n]  # <-
