# wanted: Ram: 3 start values for 2 words.
from simkit.lang import *


class Wrong(Design):
    store = Ram(unsigned(8), 2, init=[1, 2, 3])  # <-

    @clocked
    def go(self):
        self.store[0] = 1
