# wanted: an import is done when Python runs, not when hardware does.
# advice: Put it at the top of the cell or file.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        import math  # <-
        self.n = 1
