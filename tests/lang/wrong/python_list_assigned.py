# wanted: [1, 2, 3] cannot change while the hardware runs.
# advice: Use Regs (registers by index) or a Ram.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    table = [1, 2, 3]

    @clocked
    def go(self):
        self.table[0] = self.n  # <-
