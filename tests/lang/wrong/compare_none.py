# wanted: None has no value that wires could carry.
# advice: Write a number or a signal.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.lamp = self.n == None  # <-
