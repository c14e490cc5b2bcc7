# wanted: unsigned: a size is a whole number of bits, not 8.0.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8.0))  # <-

    @clocked
    def go(self):
        self.n = self.n + 1
