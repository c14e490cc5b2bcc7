# wanted: more is @combinational, so there is no self in it.
# advice: Mark it @operation instead.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @combinational
    def more(self, x):
        return x + 1

    @clocked
    def go(self):
        self.n = self.more(self.n)  # <-
