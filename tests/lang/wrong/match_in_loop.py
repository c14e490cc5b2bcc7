# wanted: match is not part of the language.
# advice: Write if … elif … else.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        match self.n:  # <-
            case 1:
                self.m = 1
