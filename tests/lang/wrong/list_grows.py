# wanted: list.append() would make a Python list grow while the hardware runs;
# advice: Keep the last values in Regs, many values in a Ram, or send them on
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    log = []

    @clocked
    def go(self):
        self.log.append(self.n)  # <-
