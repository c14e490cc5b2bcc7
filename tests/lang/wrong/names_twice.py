# wanted: two parts of Wrong would both be called bank[1].
# advice: Give them names (or dictionary keys) that differ as text.
from simkit.lang import *


class Wrong(Design):
    def __init__(self):
        self.bank = {1: Reg(unsigned(8)), "1": Reg(unsigned(8)), "a b\n": Reg(bit)}  # <-
        self.lamps = [DigitalOut("lamp"), DigitalOut("lamp 2")]

    @clocked
    def go(self):
        self.bank[1] = self.bank["1"] + 1
        self.lamps[1] = self.bank["a b\n"]
