# wanted: go has no period, so it is never late.
# advice: Only a loop with every= counts late turns.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        self.n = bits(self.go.late, 7, 0)  # <-
