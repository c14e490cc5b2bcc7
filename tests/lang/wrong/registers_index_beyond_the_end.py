# wanted: taps has elements 0 to 3; there is no element 4.
# advice: The last one is 3.
from simkit.lang import *


class Wrong(Design):
    taps = Regs(unsigned(8), 4)

    @clocked
    def go(self):
        self.taps[4] = 1  # <-
