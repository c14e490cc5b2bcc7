# wanted: more takes 0 values, not 1.
# advice: The first parameter of an operation is self.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @operation
    def more(x):
        return x + 1

    @clocked
    def go(self):
        self.n = self.more(self.n)  # <-
