# wanted: gcd calls itself: hardware cannot copy itself into itself.
# advice: Write a loop with a tick inside. Called: gcd() in line 17.
from simkit.lang import *


@combinational
def gcd(a, b):
    return a if b == 0 else gcd(b, a % b)  # <-


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))

    @clocked
    def go(self):
        self.n = gcd(self.n, self.m)
