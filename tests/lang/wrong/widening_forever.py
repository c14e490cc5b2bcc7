# wanted: unsigned(8192) has 8192 bits; a value has 1 to 4096.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x = self.n
        for i in range(20):
            x = x * x  # <-
        self.n = resize(x, unsigned(8))
