# wanted: taps has elements 0 to 3; there is no element 'a'.
# advice: The last one is 3.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    taps = Regs(unsigned(8), 4)

    @clocked
    def go(self):
        self.n = self.taps["a"]  # <-
