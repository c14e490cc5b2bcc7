# wanted: the name count is not known here.
# advice: Did you mean const?
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = count + 1  # <-
