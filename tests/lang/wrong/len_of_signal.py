# wanted: the Reg n has no length.
# advice: How many bits a signal has stands where it is declared.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = len(self.n)  # <-
