# wanted: this line computes a value that goes nowhere.
# advice: Assign it to something, or leave it out.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n + 1  # <-
