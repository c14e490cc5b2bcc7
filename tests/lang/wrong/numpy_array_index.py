# wanted: a Python list can only be indexed by a number known when the design is
# advice: Put the values into a Rom (read takes a tick) or into Regs.
from simkit.lang import *


import numpy as np

TABLE = np.arange(256)


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = TABLE[self.n]  # <-
