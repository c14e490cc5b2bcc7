# wanted: unsigned(8) + signed(8): the top bit of one is a sign and of the other
# advice: Write signed(9)(x) around the left side; the extra bit keeps its value.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.n + self.s  # <-
