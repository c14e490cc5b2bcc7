# wanted: nothing can be assigned to taps: it is a Regs.
# advice: Name one element: self.taps[i].
from simkit.lang import *


class Wrong(Design):
    taps = Regs(unsigned(8), 4)

    @clocked
    def go(self):
        self.taps = 0  # <-
