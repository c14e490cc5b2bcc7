# wanted: Wrong: missing a required argument: 'limit'.
# advice: Make one yourself and give that: Wrong(…).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    def __init__(self, limit):
        self.limit = limit

    @clocked
    def go(self):
        self.n = self.n + 1
