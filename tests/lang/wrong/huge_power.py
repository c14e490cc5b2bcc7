# wanted: 10 ** 100000000 has more than 100000 bits.
# advice: Use a smaller number.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = 10**10**8  # <-
