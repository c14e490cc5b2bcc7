# wanted: f is sfixed(0, -15): 0.1 is not a value of sfixed(0, -15): its steps
# advice: Write const(0.1, sfixed(0, -15)) for the nearest value, or take more
from simkit.lang import *


class Wrong(Design):
    f = Reg(sfixed(0, -15))

    @clocked
    def go(self):
        self.f = 0.1  # <-
