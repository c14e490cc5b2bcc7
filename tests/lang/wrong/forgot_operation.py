# wanted: Wrong.step() is ordinary Python: it would run once, while the design is
# advice: Mark it @operation to make it hardware.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    def step(self):
        self.n = self.n + 1

    @clocked
    def go(self):
        self.step()  # <-
