# wanted: there are 2 names here for a signal (unsigned(8)).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @clocked
    def go(self):
        a, b = self.n + 1  # <-
        self.n = a
