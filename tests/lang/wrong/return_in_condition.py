# wanted: a lambda is not hardware.
# advice: Write a @combinational function with a name.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = (lambda: 3)()  # <-
