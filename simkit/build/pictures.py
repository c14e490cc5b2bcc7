"""Where the tool put a design on the chip, and what a small design looks like as a circuit."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import networkx
from matplotlib.patches import FancyBboxPatch, Polygon, Rectangle
from matplotlib.ticker import MaxNLocator

from ..netlist import Netlist
from ..view import style
from ..view.picture import Picture, drawn, new

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from .report import Report

# --- placement -------------------------------------------------------------------------------------

TABLES_IN_TILE = 8
"""A logic tile of an ECP5 holds four slices of two tables and two flip-flops."""


def tiles(config: str) -> dict[str, dict[tuple[int, int], int]]:
    """From the place-and-route tool's text to used tables and flip-flops per logic tile, blocks of memory and multipliers per tile."""
    found: dict[str, dict[tuple[int, int], int]] = {"tables": {}, "flip-flops": {}, "block RAM": {}, "multipliers": {}}
    for part in re.split(r"\n\.\w+ ", config)[1:]:
        head, _, body = part.partition("\n")
        place = re.search(r"R(\d+)C(\d+)", head)
        if place is None:
            continue
        at = int(place[2]), int(place[1])
        counts = {
            "tables": len({m for m, bits in re.findall(r"word: (SLICE\w\.K\d)\.INIT ([01]+)", body) if "1" in bits}),
            "flip-flops": len(set(re.findall(r"enum: (SLICE\w\.REG\d)\.", body))),
            "block RAM": len(set(re.findall(r"enum: (EBR\d)\.MODE (?:DP16KD|PDPW16KD)", body))),
            "multipliers": len(set(re.findall(r"enum: (MULT18_\d)\.MODE MULT18X18D", body))),
        }
        for kind, count in counts.items():
            if count:
                found[kind][at] = found[kind].get(at, 0) + count
    return found


@drawn
def placement(report: Report) -> Picture:
    """The chip with its used logic tiles (the fuller, the darker), memories and multipliers, and the slowest path drawn over it."""
    used = tiles(report.configuration().read_text(encoding="utf-8"))
    columns, rows = report.part.grid
    picture = new(style.WIDTH, style.WIDTH * rows / columns * 0.95 + 0.7)
    ax = picture.add_subplot()
    blue, red, green, purple = style.theme().series
    ink = style.theme().ink
    ax.add_patch(Rectangle((0, 0), columns, rows, fill=False, ec=ink, lw=1.2))
    for at in {*used["tables"], *used["flip-flops"]}:
        share = max(used["tables"].get(at, 0), used["flip-flops"].get(at, 0)) / TABLES_IN_TILE
        ax.add_patch(Rectangle(at, 1, 1, fc=blue, alpha=0.25 + 0.75 * min(share, 1), lw=0))
    for kind, colour, hatch in (("block RAM", green, "///"), ("multipliers", purple, "...")):
        for x, y in used[kind]:
            ax.add_patch(Rectangle((x - 0.5, y - 0.5), 2, 2, fc="none", ec=colour, hatch=hatch, lw=1.2))
    for way in report.way_on_chip():
        ax.plot([x + 0.5 for x, _ in way], [y + 0.5 for _, y in way], color=red, lw=1.6, marker="o", ms=3.5)
    _zoom(ax, [at for kind in used.values() for at in kind], columns, rows)
    handles = [
        Rectangle((0, 0), 1, 1, fc=blue, label="logic"),
        Rectangle((0, 0), 1, 1, fc="none", ec=green, hatch="///", label="block RAM"),
        Rectangle((0, 0), 1, 1, fc="none", ec=purple, hatch="...", label="multiplier"),
    ]
    line = ax.plot([], [], color=red, marker="o", ms=3.5, label="slowest path")
    picture.legend(handles=[*handles, *line], loc="outside lower center", ncols=4)
    ax.set_title(f"{report.name} on {report.chip}")
    logic = len({*used["tables"], *used["flip-flops"]})
    picture.alt = (
        f"{report.name} placed on {report.chip}: {logic} of {columns * rows} tiles hold its logic, "
        f"{sum(used['block RAM'].values())} blocks of memory, {sum(used['multipliers'].values())} multipliers."
    )
    return picture


MARGIN = 4
SMALLEST_VIEW = 24


def _zoom(ax: Axes, places: list[tuple[int, int]], columns: int, rows: int) -> None:
    """Show the used part of the chip large, and where it lies on the chip in a corner."""
    ink = style.theme().ink
    xs, ys = [x for x, _ in places] or [0], [y for _, y in places] or [0]
    wide = max(max(xs) - min(xs), (max(ys) - min(ys)) * columns / rows, SMALLEST_VIEW) + 2 * MARGIN
    high = wide * rows / columns
    left, top = min(xs) - MARGIN, min(ys) - MARGIN
    ax.set(xlim=(left, left + wide), ylim=(top + high, top), aspect="equal", xlabel="column", ylabel="row")
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_locator(MaxNLocator(integer=True))
    small = ax.inset_axes((0.79, 0.76, 0.2, 0.23))
    small.add_patch(Rectangle((0, 0), columns, rows, fill=False, ec=ink, lw=1.2))
    small.add_patch(Rectangle((left, top), wide, high, fc=style.theme().series[0], alpha=0.35))
    small.set(xlim=(-2, columns + 2), ylim=(rows + 2, -2), aspect="equal", xticks=[], yticks=[])
    small.set_title("the chip", fontsize=style.SMALL)


# --- circuit ---------------------------------------------------------------------------------------

MOST_BOXES = 60
SIGNS = {
    "add": "+",
    "sub": "−",
    "mul": "×",
    "neg": "−x",
    "div": "/",
    "rem": "rem",
    "mod": "mod",
    "and": "and",
    "or": "or",
    "xor": "xor",
    "not": "not",
    "shl": "<<",
    "shr": ">>",
    "eq": "=",
    "ne": "≠",
    "lt": "<",
    "le": "≤",
    "mux": "select",
    "cat": "join",
    "parity": "parity",
}


ROLES = {"mux": ("if", "then", "else")} | dict.fromkeys(
    ("sub", "div", "rem", "mod", "shl", "shr", "lt", "le", "cat"), ("1st", "2nd", "3rd", "4th")
)
"""What the arguments are to operators for which it matters."""


def circuit_graph(netlist: Netlist) -> networkx.DiGraph:
    """The word-level circuit: a box for each input, register, memory port, operator and output, an edge for each wire.

    A register stands twice: as the value of this tick, and as what takes the value of the next.  Conversions and constants are
    no boxes; constants stand in the text of the operator that takes them.
    """
    graph = networkx.DiGraph()
    ends = [(f"out {o.name}", o.name, "output", [o.node]) for o in netlist.outputs]
    ends += [(f"next {r.name}", r.name, "register", [r.next]) for r in netlist.regs]
    ends += [
        (f"write {i}", netlist.mems[w.mem].name, "memory", [w.addr, w.data, w.enable])
        for i, w in enumerate(netlist.writes)
    ]
    ends += [(f"read {r.name}", r.name, "memory", [r.addr, r.enable]) for r in netlist.reads]
    for key, label, kind, sources in ends:
        graph.add_node(key, label=label, kind=kind, end=True)
        for source in sources:
            _wire(netlist, graph, source, key)
    return graph


def _wire(netlist: Netlist, graph: networkx.DiGraph, index: int, into: str, role: str = "") -> None:
    """Draw the wire from a node, and everything before it."""
    node = netlist.nodes[index]
    while node.op in ("wrap", "bits"):
        index = node.args[0]
        node = netlist.nodes[index]
    if node.op == "const":
        values = graph.nodes[into].setdefault("constants", [])
        values.append(f"{role} {node.type.number(node.attr)}".strip())
        return
    key = f"n{index}"
    new_box = key not in graph
    if new_box:
        label, kind = _label(netlist, index)
        graph.add_node(key, label=label, kind=kind, end=False)
    roles = [role, *graph.get_edge_data(key, into, {}).get("roles", ())]
    graph.add_edge(key, into, width=node.type.width, roles=tuple(r for r in roles if r))
    if new_box:
        names = ROLES.get(node.op, ())
        for place, a in enumerate(node.args):
            _wire(netlist, graph, a, key, names[place] if place < len(names) else "")


def _label(netlist: Netlist, index: int) -> tuple[str, str]:
    node = netlist.nodes[index]
    table: dict[str, tuple[Any, str]] = {
        "reg": (netlist.regs, "register"),
        "input": (netlist.inputs, "input"),
        "rdata": (netlist.reads, "memory"),
        "expired": (netlist.timers, "timer"),
    }
    if node.op in table:
        items, kind = table[node.op]
        name = items[node.attr].name
        return (f"{name} is over" if kind == "timer" else name), kind
    return SIGNS.get(node.op, node.op), "operator"


@drawn
def circuit(netlist: Netlist) -> Picture:
    """The word-level circuit of a small design, from this tick's values on the left to the next tick's on the right.

    Raises ValueError for a design of more than 60 boxes.
    """
    graph = circuit_graph(netlist)
    if len(graph) > MOST_BOXES:
        raise ValueError(
            f"{netlist.name} has {len(graph)} registers, ports and operators; a drawing of more than {MOST_BOXES} cannot be read"
        )
    places = _layout(graph)
    layers = 1 + max(round(x) for x, _ in places.values())
    tallest = max(sum(round(x) == layer for x, _ in places.values()) for layer in range(layers))
    picture = new(max(style.WIDTH, 1.15 * layers), 0.5 * tallest + 0.9)
    ax = picture.add_subplot()
    for a, b, data in graph.edges(data=True):
        _draw_wire(ax, places[a], places[b], data["width"], ", ".join(data["roles"]))
    for key, data in graph.nodes(data=True):
        _draw_box(ax, places[key], data)
    ax.set(xlim=(-0.6, layers - 0.4), ylim=(tallest - 0.4, -0.9))
    ax.axis("off")
    ax.set_title(
        f"{netlist.name}: values of this tick (left), what the next tick gets (right); wires wider than a bit are thick"
    )
    kinds = [data["kind"] for _, data in graph.nodes(data=True)]
    picture.alt = (
        f"Circuit of {netlist.name}: {len(netlist.regs)} registers, {len(netlist.inputs)} inputs, {len(netlist.outputs)} outputs, "
        f"{kinds.count('operator')} operators."
    )
    return picture


def _layout(graph: networkx.DiGraph) -> dict[str, tuple[float, float]]:
    """Layers by distance from the left, ends in the last; within a layer near the boxes that feed it."""
    layer: dict[str, int] = {}
    for key in networkx.topological_sort(graph):
        layer[key] = max((layer[a] + 1 for a in graph.predecessors(key)), default=0)
    last = max(layer.values(), default=0)
    for key, data in graph.nodes(data=True):
        layer[key] = max(last, 1) if data["end"] else layer[key]
    networkx.set_node_attributes(graph, layer, "layer")
    placed = {k: (float(p[0]), float(p[1])) for k, p in networkx.multipartite_layout(graph, subset_key="layer").items()}
    order = {k: p[1] for k, p in placed.items()}
    columns = [[k for k in graph if layer[k] == i] for i in range(max(layer.values(), default=0) + 1)]
    for _ in range(4):
        for column in columns:
            _sort_by_neighbours(graph, column, order)
    return {
        k: (float(i), row + (max(map(len, columns)) - len(column)) / 2)
        for i, column in enumerate(columns)
        for row, k in enumerate(sorted(column, key=order.__getitem__))
    }


def _sort_by_neighbours(graph: networkx.DiGraph, column: list[str], order: dict[str, float]) -> None:
    """Barycentre heuristic (Sugiyama, Tagawa, Toda, IEEE Trans. SMC 11(2), 1981; from memory)."""

    def middle(key: str) -> float:
        around: Iterable[str] = [*graph.predecessors(key), *graph.successors(key)]
        values = [order[k] for k in around]
        return sum(values) / len(values) if values else order[key]

    ranked = sorted(column, key=middle)
    for row, key in enumerate(ranked):
        order[key] = (row + 0.5) / len(ranked)


def _draw_wire(ax: Axes, start: tuple[float, float], end: tuple[float, float], width: int, role: str) -> None:
    (x0, y0), (x1, y1) = start, end
    y1 += {"if": -0.17, "1st": -0.13, "else": 0.17, "2nd": 0.13}.get(role, 0.0)
    if role:
        ax.text(
            x1 - 0.42,
            y1,
            role,
            fontsize=style.SMALL - 2,
            ha="right",
            va="center",
            color="#222222",
            zorder=5,
            bbox={"fc": "#ffffff", "ec": "none", "alpha": 0.8, "pad": 0.6},
        )
    ax.annotate(
        "",
        (x1 - 0.36, y1),
        (x0 + 0.36, y0),
        zorder=1,
        arrowprops={
            "arrowstyle": "-|>",
            "lw": 1.9 if width > 1 else 0.9,
            "color": style.theme().ink,
            "shrinkA": 0,
            "shrinkB": 0,
            "connectionstyle": "arc3,rad=0",
        },
    )


def _draw_box(ax: Axes, place: tuple[float, float], data: dict[str, Any]) -> None:
    x, y = place
    blue, _, green, purple = style.theme().series
    colour = {"register": blue, "memory": green, "timer": blue, "operator": style.theme().ink}.get(data["kind"], purple)
    round_off = (
        "round,pad=0.02,rounding_size=0.15" if data["kind"] in ("operator", "input", "output") else "square,pad=0.02"
    )
    ax.add_patch(
        FancyBboxPatch((x - 0.33, y - 0.27), 0.66, 0.54, boxstyle=round_off, fc="#ffffff", ec=colour, lw=1.4, zorder=2)
    )
    if data["kind"] == "register" and data["end"]:  # the clock mark of IEC 60617
        ax.add_patch(
            Polygon(
                [(x - 0.33, y + 0.25), (x - 0.25, y + 0.18), (x - 0.33, y + 0.11)],
                fc="none",
                ec=colour,
                lw=1.2,
                zorder=3,
            )
        )
    label = " ".join([data["label"], *data.get("constants", [])])
    ax.text(
        x,
        y,
        label if len(label) <= 14 else label[:13] + "…",
        ha="center",
        va="center",
        fontsize=style.SMALL - 1,
        color="#222222",
        zorder=4,
    )
