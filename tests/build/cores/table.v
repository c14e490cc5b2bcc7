// A memory with one write and one read port, a small table read at once, and a unit of operators.
module table_and_units (
    input wire clk, input wire we, input wire [7:0] wa, ra, input wire [15:0] wd, input wire [3:0] op,
    output reg [15:0] word, output reg [15:0] result, output wire [7:0] look
);
    reg [15:0] store [0:255];
    reg [7:0] few [0:15];
    integer i;
    initial begin
        for (i = 0; i < 256; i = i + 1) store[i] = i * 3;
        for (i = 0; i < 16; i = i + 1) few[i] = 8'd200 - i;
        word = 0; result = 0;
    end
    always @(posedge clk) begin
        if (we) store[wa] <= wd;
        word <= store[ra];
        if (we) few[wa[3:0]] <= wd[7:0];
    end
    assign look = few[ra[3:0]];
    always @(posedge clk) case (op)
        4'd0: result <= wd + {8'd0, wa};
        4'd1: result <= wd - {8'd0, ra};
        4'd2: result <= wa * ra;
        4'd3: result <= $signed(wd) >>> ra[3:0];
        4'd4: result <= wd << ra[4:0];
        4'd5: result <= {15'd0, $signed(wd) < $signed({ra, wa})};
        4'd6: result <= {&wd, |wd, ^wd, ~^wd, !wd, wd && wa, wd || wa, wa >= ra, wa > ra, wa <= ra, wa == ra, 5'd0};
        4'd7: result <= ra ? wd / {8'd0, ra} : 16'd0;
        4'd8: result <= ra ? wd % {8'd0, ra} : 16'd0;
        4'd9: result <= wd[ra[3:0] +: 4];
        4'd10: result <= ~(wd ^ {wa, ra});
        4'd11: result <= -wd;
        4'd12: result <= {8'd0, wd[wa[3:0]], 7'd0};
        default: result <= {wa, ra} & ~wd;
    endcase
endmodule
