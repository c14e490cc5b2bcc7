# wanted: 1.5 does not fit sfixed(0, -15), which holds -1 to 0.999969482421875 in
# advice: Write const(1.5, sfixed(1, -15)).
from simkit.lang import *


class Wrong(Design):
    f = Reg(sfixed(0, -15))

    @clocked
    def go(self):
        self.f = const(1.5, sfixed(0, -15))  # <-
