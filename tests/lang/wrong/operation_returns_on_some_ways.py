# wanted: limited returns a value on some ways only.
# advice: End it with a return on every way.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @operation
    def limited(self, x):
        if x > 10:
            return 10

    @clocked
    def go(self):
        self.n = self.limited(self.n)  # <-
