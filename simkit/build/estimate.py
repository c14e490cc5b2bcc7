from __future__ import annotations


def node_delays(netlist):
    cost = {"mul": 4.0, "add": 1.5, "sub": 1.5, "div": 30.0, "rem": 30.0, "mod": 30.0, "lt": 1.5, "le": 1.5, "eq": 0.8,
            "ne": 0.8, "mux": 0.7, "and": 0.4, "or": 0.4, "xor": 0.4, "not": 0.1, "shl": 1.5, "shr": 1.5, "neg": 1.5, "parity": 0.8}
    return [cost.get(n.op, 0.0) for n in netlist.nodes]
