# wanted: a module has no attribute 'pie'.
from simkit.lang import *


import math


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = math.pie  # <-
