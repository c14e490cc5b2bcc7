# wanted: the address is unsigned(8) but store has 16 words: an address of more
# advice: Write resize(…, unsigned(4)) if the value stays below 16.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    store = Ram(unsigned(8), 16)

    @clocked
    def go(self):
        self.store[self.n] = 1  # <-
