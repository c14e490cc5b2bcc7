# wanted: sfixed(-15, 0): the left end is the higher one; write sfixed(0, -15).
from simkit.lang import *


class Wrong(Design):
    f = Reg(sfixed(-15, 0))  # <-

    @clocked
    def go(self):
        self.f = self.f
