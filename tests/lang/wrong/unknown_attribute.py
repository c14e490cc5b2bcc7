# wanted: Wrong has no register count.
# advice: Declare it in the class: count = Reg(unsigned(8)).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.count = 1  # <-
