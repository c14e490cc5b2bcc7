# wanted: add needs a value for 'y'.
# advice: Write add(x, y).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @operation
    def add(self, x, y):
        return x + y

    @clocked
    def go(self):
        self.n = self.add(self.n)  # <-
