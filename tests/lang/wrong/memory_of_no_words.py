# wanted: Ram: the depth is 0.
# advice: It is a whole number from 1 to 4194304.
from simkit.lang import *


class Wrong(Design):
    store = Ram(unsigned(8), 0)  # <-

    @clocked
    def go(self):
        self.store[0] = 1
