# wanted: wait() takes ticks, and a clocked loop has just one.
# advice: Use a sequenced loop; in a clocked loop channels offer .valid and
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        wait(10)  # <-
        self.n = self.n + 1
