# wanted: wait() takes an unsigned number of ticks of at most 62 bits, not
# advice: Convert it, for example unsigned(8)(x) or resize(x, unsigned(16)).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        wait(self.s)  # <-
