# wanted: store: 4194304 words of 64 bits make 268435456 bits of memory in all.
# advice: A design may have 67108864; a real part has far less.
from simkit.lang import *


class Wrong(Design):
    store = Ram(unsigned(64), 1 << 22)  # <-

    @clocked
    def go(self):
        self.store[0] = 1
