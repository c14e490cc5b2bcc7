# wanted: + with unsigned(8): 300 does not fit unsigned(8), which holds 0 to 255.
# advice: Write unsigned(9)(300) or choose a wider type.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @clocked
    def go(self):
        µµ = 3; self.n = self.n + µµ + 300  # <-
