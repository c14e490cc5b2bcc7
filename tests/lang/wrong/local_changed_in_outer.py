# wanted: there are no global variables in hardware.
# advice: Declare a Reg.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        global total  # <-
        total = 1
