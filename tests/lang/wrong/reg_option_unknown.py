# wanted: Reg: got an unexpected keyword argument 'initial'.
# advice: It takes kind, reset.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8), initial=3)  # <-

    @clocked
    def go(self):
        self.n = self.n + 1
