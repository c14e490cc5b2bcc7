# wanted: n is unsigned(8): a number of 1329 bits does not fit unsigned(8), which
# advice: Take a type that reaches further, such as unsigned(1329).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = 10**400  # <-
