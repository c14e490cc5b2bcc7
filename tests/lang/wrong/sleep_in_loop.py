# wanted: sleep() would run once, while the design is built, not in hardware.
# advice: Let time pass with wait(us(20)) or tick() in a sequenced loop.
from simkit.lang import *


import time


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        time.sleep(0.1)  # <-
        self.n = self.n + 1
