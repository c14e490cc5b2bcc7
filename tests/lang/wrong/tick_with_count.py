# wanted: tick() takes no value.
# advice: Write wait(n) for n ticks.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        tick(3)  # <-
