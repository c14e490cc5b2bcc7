# wanted: config has nothing that can be assigned to.
# advice: Assign to a register of a design.
from simkit.lang import *


class config:
    limit = 3


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        config.limit = self.n  # <-
