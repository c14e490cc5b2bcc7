# wanted: n is one register of unsigned(8); its bits cannot be assigned one by
# advice: Put the whole value together, for example with cat(…), or declare
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n[3] = 1  # <-
