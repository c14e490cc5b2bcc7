# wanted: @ multiplies matrices; hardware here multiplies numbers.
# advice: Write x * y and a for loop over the elements.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.n @ self.m  # <-
