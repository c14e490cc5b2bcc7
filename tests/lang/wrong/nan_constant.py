# wanted: f is sfixed(3, -4): nan is not a number that bits can hold.
# advice: Give a finite number.
from simkit.lang import *


class Wrong(Design):
    f = Reg(sfixed(3, -4))

    @clocked
    def go(self):
        self.f = float('nan')  # <-
