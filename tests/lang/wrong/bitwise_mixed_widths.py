# wanted: unsigned(8) & unsigned(4): bit meets bit in the same place, so both
# advice: Write resize(x, unsigned(8)) around the other side.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    w = Reg(unsigned(4))

    @clocked
    def go(self):
        self.n = self.n & self.w  # <-
