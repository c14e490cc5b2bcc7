# wanted: the loop go takes only self: nobody calls it.
# advice: Keep constants in __init__ and values that change in registers.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @clocked
    def go(self, step):  # <-
        self.n = self.n + step
