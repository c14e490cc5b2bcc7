# wanted: Python slices count from the left and leave the end out, bits do
# advice: Write bits(x, hi, lo).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.n[3:0]  # <-
