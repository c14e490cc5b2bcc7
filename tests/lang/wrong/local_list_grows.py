# wanted: list.append() would make a Python list grow while the hardware runs;
# advice: Keep the last values in Regs, many values in a Ram, or send them on
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x = []
        x.append(self.n)  # <-
        self.n = x[0]
