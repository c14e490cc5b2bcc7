# wanted: a time here is a whole number of ticks, at least 1, not
# advice: Write for example 800, or us(20).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        wait(2**70)  # <-
