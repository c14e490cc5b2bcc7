# wanted: a list of signals is no condition.
# advice: Compare its elements, or write any(…) or all(…).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        if [self.n]:  # <-
            self.n = 1
