# wanted: Clock: 1234.567890123457 Hz cannot be kept exactly.
# advice: Round it to a nanohertz or coarser.
from simkit.lang import *


class Wrong(Design):
    clock = Clock(1234.56789012345678)  # <-
    n = Reg(unsigned(8))

    @clocked
    def go(self):
        self.n = self.n + 1
