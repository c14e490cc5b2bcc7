# wanted: range() failed while the design was being built: TypeError: 'float'
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        for i in range(2.5):  # <-
            pass
