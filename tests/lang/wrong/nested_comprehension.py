# wanted: a comprehension here has one plain loop variable.
# advice: Write for loops, one inside the other.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x = [i + j for i in range(4) for j in range(4)]  # <-
        self.n = sum(x)
