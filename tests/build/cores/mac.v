// Multiply and accumulate, with an asynchronous reset and a clear.
module mac #(parameter WIDTH = 12) (
    input wire clk, input wire rst_n, input wire clear, input wire en,
    input wire signed [WIDTH-1:0] a, input wire signed [WIDTH-1:0] b,
    output reg signed [2*WIDTH+3:0] total, output wire negative
);
    always @(posedge clk or negedge rst_n)
        if (!rst_n) total <= 0;
        else if (clear) total <= 0;
        else if (en) total <= total + a * b;
    assign negative = total[2*WIDTH+3];
endmodule
