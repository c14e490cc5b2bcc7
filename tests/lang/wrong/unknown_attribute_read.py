# wanted: Wrong has no 'counts'.
# advice: Declare it as a class attribute, or set it in __init__.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.counts + 1  # <-
