# wanted: go is not called here, so this would always count as true.
# advice: Add ().
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        if self.go:  # <-
            self.n = 1
