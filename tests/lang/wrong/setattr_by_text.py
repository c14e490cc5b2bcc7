# wanted: setattr() is not part of the language.
# advice: Write the assignment or the expression itself.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        setattr(self, "n", 1)  # <-
