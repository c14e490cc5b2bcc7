"""The port link around a design: values go in and out through it, in Icarus Verilog."""

from __future__ import annotations

import subprocess

from simkit import compile_design
from simkit.build.board import make_board, pin_file
from simkit.build.parts import PARTS, pins
from simkit.emit.verilog import emit
from tests.build.designs import Small

BENCH = """
module bench;
    reg clk_0 = 0, link_clk = 0, link_in = 0, link_frame = 0, switch = 0;
    wire link_out, lamp;
    board dut(.clk_0(clk_0), .link_clk(link_clk), .link_in(link_in), .link_frame(link_frame), .link_out(link_out),
              .pin_in_switch(switch), .pin_out_lamp(lamp));
    always #5 clk_0 = ~clk_0;
    integer i; reg [%(top)d:0] got;
    task frame(input [%(top)d:0] word); begin
        link_frame = 1; #200;
        for (i = %(top)d; i >= 0; i = i - 1) begin
            got[i] = link_out; link_in = word[i]; #100 link_clk = 1; #100 link_clk = 0;
        end
        #100 link_frame = 0; #200;
    end endtask
    initial begin
        #100 frame(%(write)s); switch = 1; #2000 switch = 0; #100
        frame(0); $display("%%h", got); $finish;
    end
endmodule
"""


def test_a_host_register_is_written_and_read_through_the_link(tmp_path):
    net = compile_design(Small)
    verilog = emit(net)
    board = make_board(net, verilog, PARTS["25k"])
    into = {f.name: f for f in board.to_chip}
    out = {f.name: f for f in board.from_chip}
    length = max(f.low + f.width for f in (*board.to_chip, *board.from_chip))
    write = (9 << into["step.data"].low) | (1 << into["step.write"].low)
    (tmp_path / "all.v").write_text(
        verilog.text + board.text + BENCH % {"top": length - 1, "write": f"{length}'d{write}"}
    )
    subprocess.run(["iverilog", "-g2005", "-o", "run", "all.v"], cwd=tmp_path, check=True, timeout=60)
    said = subprocess.run(
        ["vvp", "-n", "run"], cwd=tmp_path, check=True, timeout=60, capture_output=True, text=True
    ).stdout
    word = int(said.split()[-1], 16)

    def field(name):
        return word >> out[name].low & (1 << out[name].width) - 1

    assert field("step") == 9
    # 2000 units of time at 10 a tick: the switch was 1 for 200 ticks, each of which added 9.
    assert field("seen") == 200 * 9


def test_every_pin_has_a_ball_of_its_own():
    net = compile_design(Small)
    board = make_board(net, emit(net), PARTS["25k"])
    balls = [ball for _, ball in board.pins]
    known = {pin.ball for pin in pins(PARTS["25k"])}
    assert len(set(balls)) == len(balls) == 7 and set(balls) <= known
    text = pin_file(board, PARTS["25k"], "Small")
    assert all(f'SITE "{ball}"' in text for ball in balls) and text.count("LOCATE") == 7
